//! The outlook run over whole series: the odds behind every judgement.
//!
//! The curve against a limit is worked once a slot and asked for all call
//! times. Series and limits are shared out over all processors.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use cringle_core::outlook::Outlook;
use rayon::prelude::*;

use super::cells::{Cell, Judged, Limit};
use super::series::{Part, Series};

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
    let work: Vec<(usize, f64)> = (0..series.len())
        .flat_map(|place| limits.iter().map(move |limit| (place, *limit)))
        .collect();
    let done = AtomicUsize::new(0);
    let judged: Vec<Vec<Judged>> = work
        .par_iter()
        .map(|(place, limit_kn)| {
            let judged = prepared[*place].judge(*place, *limit_kn, cells);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, work.len());
            judged
        })
        .collect();
    let mut judged: Vec<Judged> = judged.into_iter().flatten().collect();
    judged.sort_by_key(|it| (it.series, it.cell));
    judged
}

/// Writes the odds of all judged slots: one line for each slot that was
/// heard, limit and call time; odds that cannot be told are left empty. Where
/// there are several series a fifth column names them.
pub fn write(judged: &[Judged], series: &[Series], out: &mut impl Write) -> std::io::Result<()> {
    let several = series.len() > 1;
    let more = if several { ",series" } else { "" };
    writeln!(out, "unix_s,limit_kn,call_time_s,odds{more}")?;
    for it in judged {
        let name = &series[it.series].name;
        for (slot, odds) in it.odds.iter().enumerate() {
            if !it.keep[slot] || it.limit.wind[slot].is_nan() {
                continue;
            }
            write!(
                out,
                "{},{},{},",
                it.at_s(slot),
                it.limit.limit_kn,
                it.call_time_s
            )?;
            if !odds.is_nan() {
                write!(out, "{odds:.6}")?;
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
fn limits(cells: &[Cell]) -> Vec<f64> {
    let mut limits: Vec<f64> = cells.iter().map(|cell| cell.limit_kn).collect();
    limits.sort_by(f64::total_cmp);
    limits.dedup();
    limits
}

/// A series with what all its limits share.
struct Prepared<'a> {
    series: &'a Series,
    wind: Arc<[f64]>,
    keep: Arc<[bool]>,
}

impl<'a> Prepared<'a> {
    fn new(series: &'a Series, part: &Part) -> Prepared<'a> {
        Prepared {
            series,
            wind: series.wind().into(),
            keep: series.keep(part).into(),
        }
    }

    fn judge(&self, place: usize, limit_kn: f64, cells: &[Cell]) -> Vec<Judged> {
        let asked: Vec<(usize, &Cell)> = cells
            .iter()
            .enumerate()
            .filter(|(_, cell)| cell.limit_kn == limit_kn)
            .collect();
        let limit = Arc::new(Limit::new(&self.wind, limit_kn, self.series.step_s));
        let odds = self.odds(limit_kn, &asked);
        asked
            .into_iter()
            .zip(odds)
            .map(|(cell, odds)| Judged::new((place, self.series), cell, &limit, &self.keep, odds))
            .collect()
    }

    /// Odds by slot for each cell of one limit. Slots that no judgement looks
    /// at stay without.
    fn odds(&self, limit_kn: f64, cells: &[(usize, &Cell)]) -> Vec<Vec<f64>> {
        let step_s = self.series.step_s;
        let slots = &self.series.slots;
        let longest_s = cells.iter().map(|(_, cell)| cell.call_time_s).max();
        let warm = longest_s.unwrap_or(0).div_ceil(step_s) as usize + 1;
        let first = self.keep.iter().position(|keep| *keep);
        let first = first.unwrap_or(slots.len()).saturating_sub(warm);
        let mut odds = vec![vec![f64::NAN; slots.len()]; cells.len()];
        let mut outlook = Outlook::new();
        for (slot, summary) in slots.iter().enumerate() {
            let Some(summary) = summary else {
                continue;
            };
            let at_s = slot as u64 * u64::from(step_s);
            // Reading has checked the speed, and the grid gives the order.
            if outlook.step(at_s, summary).is_err() || slot < first {
                continue;
            }
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
