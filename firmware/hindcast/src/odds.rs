//! The outlook run over whole series: the odds behind every judgement, and
//! beside them what else would have called aboard, by the core's own code.
//!
//! A limit by gust is asked as aboard: over the gust factor of the moment.
//!
//! The curve against a limit is worked once a slot and asked for all call
//! times. Series and limits are shared out over all processors.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use cringle_core::ahead::Ahead;
use cringle_core::{near, outlook};
use rayon::prelude::*;

use super::cells::{Aboard, By, Cell, Judged, Limit};
use super::logistic::{self, Seen};
use super::series::{Part, Series};

const TEN_MINUTES_S: u32 = 600;
/// What stands beside the odds aboard looks at minutes.
const MINUTE_S: u32 = 60;

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
fn limits(cells: &[Cell]) -> Vec<(f64, By)> {
    let mut limits: Vec<(f64, By)> = cells.iter().map(|cell| (cell.limit_kn, cell.by)).collect();
    limits.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1 as u8).cmp(&(b.1 as u8))));
    limits.dedup();
    limits
}

/// A series with what all its limits share.
struct Prepared<'a> {
    series: &'a Series,
    wind: Arc<[f64]>,
    gust: Arc<[f64]>,
    /// Gust over mean by slot, over ten minutes as aboard.
    gust_factor: Vec<f64>,
    /// Means of ten minutes.
    ten: Vec<f64>,
    seen: Vec<Option<Seen>>,
    keep: Arc<[bool]>,
}

/// What was worked out for one cell, by slot.
struct Worked {
    odds: Vec<f64>,
    logistic: Vec<f64>,
    aboard: Vec<Aboard>,
}

impl<'a> Prepared<'a> {
    fn new(series: &'a Series, part: &Part) -> Prepared<'a> {
        let wind = series.wind();
        let gust = series.gust();
        let each = (TEN_MINUTES_S / series.step_s).max(1) as usize;
        let ten = trailing(&wind, each, |known| {
            known.iter().sum::<f64>() / known.len() as f64
        });
        let most = trailing(&gust, each, |known| {
            known.iter().copied().fold(0.0, f64::max)
        });
        let factor = |slot: usize| {
            let mean = ten[slot].max(wind[slot]);
            // By hundredths, as aboard.
            (100.0 * (most[slot] / mean).max(1.0)).round() / 100.0
        };
        Prepared {
            series,
            gust_factor: (0..wind.len()).map(factor).collect(),
            seen: logistic::look(&wind, series.step_s),
            ten,
            wind: wind.into(),
            gust: gust.into(),
            keep: series.keep(part).into(),
        }
    }

    fn judge(&self, place: usize, (limit_kn, by): (f64, By), cells: &[Cell]) -> Vec<Judged> {
        let asked: Vec<(usize, &Cell)> = cells
            .iter()
            .enumerate()
            .filter(|(_, cell)| cell.limit_kn == limit_kn && cell.by == by)
            .collect();
        let wind = match by {
            By::Mean => &self.wind,
            By::Gust => &self.gust,
        };
        let limit = Arc::new(Limit::new(wind, limit_kn, self.series.step_s));
        let worked = self.work((limit_kn, by), &asked);
        let is_fine = self.series.step_s <= MINUTE_S;
        asked
            .into_iter()
            .zip(worked)
            .map(|(cell, it)| {
                let source = (place, self.series);
                Judged {
                    logistic: Some(it.logistic),
                    aboard: is_fine.then_some(it.aboard),
                    ..Judged::new(source, cell, &limit, &self.keep, it.odds)
                }
            })
            .collect()
    }

    /// The limit by the mean that stands for this one at a slot, as aboard.
    fn by_mean(&self, (limit_kn, by): (f64, By), slot: usize) -> f64 {
        match by {
            By::Mean => limit_kn,
            By::Gust => limit_kn / self.gust_factor[slot],
        }
    }

    /// Odds by slot for each cell of one limit. Slots that no judgement looks
    /// at stay without.
    fn work(&self, limit: (f64, By), cells: &[(usize, &Cell)]) -> Vec<Worked> {
        let step_s = self.series.step_s;
        let slots = &self.series.slots;
        let longest_s = cells.iter().map(|(_, cell)| cell.call_time_s).max();
        let warm = longest_s.unwrap_or(0).div_ceil(step_s) as usize + 1;
        let first = self.keep.iter().position(|keep| *keep);
        let first = first.unwrap_or(slots.len()).saturating_sub(warm);
        let new = |_| Worked {
            odds: vec![f64::NAN; slots.len()],
            logistic: vec![f64::NAN; slots.len()],
            aboard: vec![Aboard::default(); slots.len()],
        };
        let mut worked: Vec<Worked> = cells.iter().map(new).collect();
        let mut ahead = Ahead::new();
        for (slot, summary) in slots.iter().enumerate() {
            let Some(summary) = summary else {
                continue;
            };
            // Reading has checked the speed, and the grid gives the order.
            ahead.step(slot as u64 * u64::from(step_s), summary);
            let limit_kn = self.by_mean(limit, slot);
            if slot < first || limit_kn.is_nan() {
                continue;
            }
            let curve = ahead.outlook().curve(limit_kn);
            for (it, (_, cell)) in worked.iter_mut().zip(cells) {
                let horizon_s = cell.call_time_s + step_s;
                if let Some(curve) = curve {
                    it.odds[slot] = curve.odds(horizon_s);
                }
                if let Some(seen) = self.seen[slot] {
                    it.logistic[slot] = seen.odds(limit_kn, cell.call_time_s);
                }
                it.aboard[slot] = self.beside(&ahead, slot, limit_kn, horizon_s);
            }
        }
        worked
    }

    /// What else would call aboard at this slot.
    fn beside(&self, ahead: &Ahead, slot: usize, limit_kn: f64, horizon_s: u32) -> Aboard {
        let (kn, near) = (self.wind[slot], ahead.near());
        let build = near.odds(limit_kn, horizon_s).unwrap_or(0.0);
        let is_over = kn >= limit_kn || near::is_onset(kn, self.ten[slot], limit_kn);
        let young = near
            .young_level_kn()
            .and_then(|level_kn| outlook::untrended(level_kn, limit_kn));
        Aboard {
            calls: is_over || build >= near::RAISE_ODDS,
            keeps: is_over || build >= near::LET_GO_ODDS,
            young_odds: young.map_or(0.0, |curve| curve.odds(horizon_s)),
        }
    }
}

/// A figure of what is known of the last `each` slots, where half is.
fn trailing(values: &[f64], each: usize, figure: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let one = |slot: usize| {
        let window = &values[(slot + 1).saturating_sub(each)..=slot];
        let known: Vec<f64> = window.iter().copied().filter(|it| !it.is_nan()).collect();
        match 2 * known.len() >= each && !known.is_empty() {
            true => figure(&known),
            false => f64::NAN,
        }
    };
    (0..values.len()).map(one).collect()
}
