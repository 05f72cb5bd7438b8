//! The outlook run over whole series: the odds behind every judgement.
//!
//! The curve against a limit is worked once a slot and asked for all call
//! times. A limit by gust is asked as aboard: over the gust factor of the
//! moment. Series and limits are shared out over all processors.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use cringle_core::outlook::{LONGEST_INTERVAL_S, Outlook, Summary};
use rayon::prelude::*;

use crate::judged::{By, Cell, Judged, Limit, running_mean, running_most};
use crate::series::{Part, Series};

/// Works all cells on all series. `progress` is told how many of how many
/// parts of the work are done.
pub fn evaluate(
    series: &[Series],
    cells: &[Cell],
    part: &Part,
    progress: impl Fn(usize, usize) + Sync,
) -> Vec<Judged> {
    let limits = limits(cells);
    let prepared: Vec<Prepared<'_>> = series.iter().map(|it| Prepared::new(it, part)).collect();
    let work: Vec<(usize, (f64, By))> = (0..series.len())
        .flat_map(|place| limits.iter().map(move |limit| (place, *limit)))
        .collect();
    let done = AtomicUsize::new(0);
    let judged: Vec<Vec<Judged>> = work
        .par_iter()
        .map(|(place, limit)| {
            let judged = prepared[*place].judge(*place, *limit, cells);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, work.len());
            judged
        })
        .collect();
    let mut judged: Vec<Judged> = judged.into_iter().flatten().collect();
    judged.sort_by_key(|it| (it.series, it.cell));
    judged
}

/// Writes the odds of all judged slots, to the last digit: one line for each
/// slot that was heard, limit and call time; odds that cannot be told are left
/// empty. Where there are several series a fifth column names them.
pub fn write(judged: &[Judged], series: &[Series], out: &mut impl Write) -> std::io::Result<()> {
    let several = series.len() > 1;
    let more = if several { ",series" } else { "" };
    writeln!(out, "unix_s,limit_kn,call_time_s,odds{more}")?;
    for it in judged {
        let Series { name, slots, .. } = &series[it.series];
        for (slot, odds) in it.odds.iter().enumerate() {
            if !it.keep[slot] || slots[slot].is_none() {
                continue;
            }
            let (at_s, limit_kn) = (it.at_s(slot), it.limit.limit_kn);
            write!(out, "{at_s},{limit_kn},{},", it.call_time_s)?;
            if !odds.is_nan() {
                write!(out, "{odds}")?;
            }
            match several {
                true => writeln!(out, ",\"{name}\"")?,
                false => writeln!(out)?,
            }
        }
    }
    Ok(())
}

/// The different limits, lowest first.
fn limits(cells: &[Cell]) -> Vec<(f64, By)> {
    let mut limits: Vec<(f64, By)> = cells.iter().map(|cell| (cell.limit_kn, cell.by)).collect();
    limits.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    limits.dedup();
    limits
}

/// A series with what all its limits share.
struct Prepared<'a> {
    series: &'a Series,
    /// Mean and gust of each slot by itself.
    each: [Vec<f64>; 2],
    /// The judged wind by mean and by gust.
    judged: [Arc<[f64]>; 2],
    keep: Arc<[bool]>,
}

impl<'a> Prepared<'a> {
    fn new(series: &'a Series, part: &Part) -> Prepared<'a> {
        let (wind, gust) = (series.wind(), series.gust());
        Prepared {
            series,
            judged: [
                running_mean(&wind, series.step_s).into(),
                running_most(&gust, series.step_s).into(),
            ],
            each: [wind, gust],
            keep: series.keep(part).into(),
        }
    }

    fn judge(&self, place: usize, (limit_kn, by): (f64, By), cells: &[Cell]) -> Vec<Judged> {
        let is_it = |cell: &Cell| cell.limit_kn == limit_kn && cell.by == by;
        let asked = cells.iter().enumerate().filter(|(_, cell)| is_it(cell));
        let asked: Vec<(usize, &Cell)> = asked.collect();
        let [wind, each] = match by {
            By::Mean => [&self.judged[0], &Arc::from(&self.each[0][..])],
            By::Gust => [&self.judged[1], &Arc::from(&self.each[1][..])],
        };
        let limit = Arc::new(Limit::new(wind, each, limit_kn, self.series.step_s));
        let odds = self.odds((limit_kn, by), &asked);
        let joined = asked.into_iter().zip(odds);
        joined
            .map(|(cell, odds)| Judged::new((place, self.series), cell, &limit, &self.keep, odds))
            .collect()
    }

    /// The limit by the mean that stands for this one at a slot, as aboard: by
    /// the gust factor of ten minutes, in hundredths.
    fn by_mean(&self, (limit_kn, by): (f64, By), slot: usize) -> f64 {
        let [mean, gust] = [0, 1].map(|k| self.judged[k][slot]);
        match by {
            By::Mean => limit_kn,
            By::Gust => limit_kn / ((100.0 * (gust / mean).max(1.0)).round() / 100.0),
        }
    }

    /// Odds by slot for each cell of one limit: that it is passed within the
    /// call time and one slot more.
    fn odds(&self, limit: (f64, By), cells: &[(usize, &Cell)]) -> Vec<Vec<f64>> {
        let step_s = self.series.step_s;
        let slots = &self.series.slots;
        let mut odds = vec![vec![f64::NAN; slots.len()]; cells.len()];
        let mut outlook = Outlook::new();
        for (slot, summary) in slots.iter().enumerate() {
            let Some(summary) = summary else {
                continue;
            };
            step(&mut outlook, slot as u64 * u64::from(step_s), summary);
            let limit_kn = self.by_mean(limit, slot);
            let Some(curve) = outlook.curve(limit_kn) else {
                continue;
            };
            for (odds, (_, cell)) in odds.iter_mut().zip(cells) {
                odds[slot] = curve.odds(cell.call_time_s + step_s);
            }
        }
        odds
    }
}

/// Gives a summary to the outlook; one that is longer than it takes in like
/// parts, of whole minutes where that can be.
fn step(outlook: &mut Outlook, at_s: u64, summary: &Summary) {
    let least = summary.interval_s.div_ceil(LONGEST_INTERVAL_S).max(1);
    let is_whole = |parts: &u32| summary.interval_s.is_multiple_of(60 * parts);
    let parts = (least..=4 * least).find(is_whole).unwrap_or(least);
    let interval_s = summary.interval_s / parts;
    for part in 0..parts {
        let part_at_s = at_s + u64::from(part * interval_s);
        let part = Summary {
            interval_s,
            ..*summary
        };
        // Reading has checked the speed, and the grid gives the order.
        let _ = outlook.step(part_at_s, &part);
    }
}
