//! One limit and call time on one series: who must be warned, what is idle.
//!
//! * **Judged wind**: the mean of the last ten minutes, where at least seven of
//!   ten are known; of a coarser series each sample as it is. A limit by gust is
//!   judged by the highest gust of the same ten minutes.
//! * **Crossing**: the first moment at which the judged wind is at or over the
//!   limit, after 30 min all known and under it, and it is there for at least
//!   half of the 30 min that follow. A gap before voids it.
//! * **Lingering**: a moment within 30 min after one at or over the limit. Any
//!   sane alarm stands there, so it is neither idle nor anybody's merit: a
//!   crossing whose call time falls into it is left out.
//! * **Warned in time**: a call stood the call time T before the crossing.
//! * **Idle**: a call stands, the judged wind is under the limit, it does not
//!   linger, and no crossing follows within T + 60 min, of which at least three
//!   quarters are known.
//! * **Squall**: each time the one-minute wind is at or over the limit for 1 to
//!   30 min after 30 min under it.

use std::sync::Arc;

use crate::DAY_S;
use crate::series::Series;

/// Under the limit before, mostly over it after, and lingering, for so long.
const SETTLE_S: u32 = 1800;
/// A call that is followed by a crossing so long after the call time was for
/// something.
const IDLE_AFTER_S: u32 = 3600;
/// The wind that must cross is the mean of so long.
const MEAN_S: u32 = 600;
/// Of that at least so much must be known.
const MEAN_KNOWN: f64 = 0.7;
/// Of the time after a minute at least so much must be known for it to be idle.
const AHEAD_KNOWN: f64 = 0.75;
/// Finer than this or equal, and squalls can be seen.
const SQUALL_STEP_S: u32 = 60;

/// A limit with the time that it takes to be done before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// The limit, knots.
    pub limit_kn: f64,
    /// The call time, seconds.
    pub call_time_s: u32,
    /// Plan and light where it comes of a ladder.
    pub name: String,
    /// By what wind the limit is.
    pub by: By,
}

/// By what wind a limit is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum By {
    /// The mean.
    #[default]
    Mean,
    /// The gust of each interval.
    Gust,
}

impl Cell {
    /// A cell without a ladder.
    pub fn new(limit_kn: f64, call_time_s: u32) -> Cell {
        Cell {
            limit_kn,
            call_time_s,
            name: String::new(),
            by: By::Mean,
        }
    }

    /// "24 kn, 20 min", with the plan where there is one.
    pub fn words(&self) -> String {
        let minutes = f64::from(self.call_time_s) / 60.0;
        let of = match self.by {
            By::Mean => "kn",
            By::Gust => "kn of gust",
        };
        let bare = format!("{} {of}, {:.0} min", self.limit_kn, minutes);
        match self.name.is_empty() {
            true => bare,
            false => format!("{bare}, {}", self.name),
        }
    }
}

/// What a limit means on a series, whatever the call time.
#[derive(Clone, Debug)]
pub struct Limit {
    /// The limit, knots.
    pub limit_kn: f64,
    /// Step of the series.
    pub step_s: u32,
    /// The judged wind by slot; not a number where it is not known.
    pub wind: Arc<[f64]>,
    /// Slots at which it is crossed.
    pub crossings: Vec<usize>,
    /// Over, or within 30 min after it, by slot.
    pub lingers: Vec<bool>,
    /// Slots at which a squall begins.
    pub squalls: Vec<usize>,
}

impl Limit {
    /// Finds the crossings of a limit. `each` is the wind of each slot by
    /// itself.
    pub fn new(wind: &Arc<[f64]>, each: &[f64], limit_kn: f64, step_s: u32) -> Limit {
        let settle = (SETTLE_S / step_s) as usize;
        let over: Vec<bool> = wind.iter().map(|kn| *kn >= limit_kn).collect();
        let mut lingers = vec![false; wind.len()];
        for slot in (0..wind.len()).filter(|slot| over[*slot]) {
            let end = (slot + settle + 1).min(wind.len());
            lingers[slot..end].fill(true);
        }
        Limit {
            limit_kn,
            step_s,
            crossings: crossings(wind, &over, limit_kn, settle),
            squalls: match step_s <= SQUALL_STEP_S {
                true => squalls(each, limit_kn, settle),
                false => Vec::new(),
            },
            wind: wind.clone(),
            lingers,
        }
    }

    /// How many slots a call time before a crossing is, at least one.
    pub fn slots(&self, seconds: u32) -> usize {
        let slots = f64::from(seconds) / f64::from(self.step_s);
        (slots.round_ties_even() as usize).max(1)
    }
}

/// A cell on a series, with the odds of every slot.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Which series.
    pub series: usize,
    /// Which cell.
    pub cell: usize,
    /// The call time, seconds.
    pub call_time_s: u32,
    /// What the limit means here.
    pub limit: Arc<Limit>,
    /// Unix seconds at which the first slot begins.
    pub start_s: i64,
    /// Crossings in the judged part.
    pub crossings: Vec<usize>,
    /// Those of them that an alarm could miss: their call time does not linger.
    pub missable: Vec<usize>,
    /// Slots that would be idle if a call stood.
    pub idle: Vec<bool>,
    /// Slots that are judged.
    pub keep: Arc<[bool]>,
    /// Days that were known in the judged part.
    pub days: f64,
    /// Odds that the limit is passed within the call time; not a number where
    /// they cannot be told.
    pub odds: Vec<f64>,
}

impl Judged {
    /// Joins a cell, what its limit means, and the odds.
    pub fn new(
        (series, source): (usize, &Series),
        (cell, asked): (usize, &Cell),
        limit: &Arc<Limit>,
        keep: &Arc<[bool]>,
        odds: Vec<f64>,
    ) -> Judged {
        let before = limit.slots(asked.call_time_s);
        let due = |crossing: &usize| crossing.checked_sub(before);
        let open = |crossing: &usize| due(crossing).is_some_and(|slot| !limit.lingers[slot]);
        let kept = limit.crossings.iter().copied().filter(|slot| keep[*slot]);
        let crossings: Vec<usize> = kept.collect();
        let known = limit.wind.iter().zip(keep.iter());
        let known = known.filter(|(wind, keep)| **keep && !wind.is_nan());
        Judged {
            series,
            cell,
            call_time_s: asked.call_time_s,
            start_s: source.start_s,
            missable: crossings.iter().copied().filter(open).collect(),
            crossings,
            idle: idle(limit, before, keep),
            keep: keep.clone(),
            days: known.count() as f64 * f64::from(limit.step_s) / DAY_S,
            limit: limit.clone(),
            odds,
        }
    }

    /// The slot at which a call must stand to warn of a crossing in time.
    pub fn due(&self, crossing: usize) -> Option<usize> {
        crossing.checked_sub(self.limit.slots(self.call_time_s))
    }

    /// Unix seconds at which a slot begins.
    pub fn at_s(&self, slot: usize) -> i64 {
        self.start_s + slot as i64 * i64::from(self.limit.step_s)
    }

    /// The slots in which it was open whether the limit would be passed within
    /// the call time, with the odds that were said and what came.
    pub fn outcomes(&self) -> impl Iterator<Item = (usize, f64, bool)> {
        let within = self.limit.slots(self.call_time_s);
        let over: Vec<bool> = self
            .limit
            .wind
            .iter()
            .map(|kn| *kn >= self.limit.limit_kn)
            .collect();
        let passed = any_within(&over, within);
        let unknown = unknown_ahead(&self.limit.wind, within);
        (0..self.odds.len())
            .filter(move |&k| self.keep[k] && self.limit.wind[k] < self.limit.limit_kn)
            .filter(move |&k| !self.limit.lingers[k] && !unknown[k])
            .map(move |k| (k, self.odds[k], passed[k]))
            .filter(|(_, odds, _)| !odds.is_nan())
    }
}

/// The judged wind of a mean: see the module.
pub fn running_mean(wind: &[f64], step_s: u32) -> Vec<f64> {
    let sum = |known: &[f64]| known.iter().sum::<f64>() / known.len() as f64;
    running(wind, step_s, sum)
}

/// The judged wind of gusts.
pub fn running_most(gust: &[f64], step_s: u32) -> Vec<f64> {
    let most = |known: &[f64]| known.iter().copied().fold(0.0, f64::max);
    running(gust, step_s, most)
}

fn running(values: &[f64], step_s: u32, figure: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let each = (MEAN_S / step_s) as usize;
    if each <= 1 {
        return values.to_vec();
    }
    let mut known = Vec::with_capacity(each);
    let one = |slot: usize| {
        let Some(first) = (slot + 1).checked_sub(each) else {
            return f64::NAN;
        };
        known.clear();
        known.extend(
            values[first..=slot]
                .iter()
                .copied()
                .filter(|it| !it.is_nan()),
        );
        match known.len() as f64 >= MEAN_KNOWN * each as f64 {
            // Equal winds are equal, in whatever order they were added.
            true => (figure(&known) * 1e9).round() / 1e9,
            false => f64::NAN,
        }
    };
    (0..values.len()).map(one).collect()
}

fn crossings(wind: &[f64], over: &[bool], limit_kn: f64, settle: usize) -> Vec<usize> {
    let under = totals(wind.iter().map(|kn| *kn < limit_kn));
    let overs = totals(over.iter().copied());
    let need = settle.div_ceil(2);
    (settle..(wind.len() + 1).saturating_sub(settle))
        .filter(|&k| over.get(k) == Some(&true))
        .filter(|&k| (under[k] - under[k - settle]) as usize == settle)
        .filter(|&k| (overs[k + settle] - overs[k]) as usize >= need)
        .collect()
}

fn squalls(wind: &[f64], limit_kn: f64, settle: usize) -> Vec<usize> {
    let under = totals(wind.iter().map(|kn| *kn < limit_kn));
    let over = |slot: &usize| wind[*slot] >= limit_kn;
    let lasts = |slot: usize| (slot..wind.len()).take_while(over).take(settle + 1).count();
    (settle..wind.len())
        .filter(over)
        .filter(|&k| (under[k] - under[k - settle]) as usize == settle)
        .filter(|&k| lasts(k) <= settle)
        .collect()
}

fn idle(limit: &Limit, before: usize, keep: &[bool]) -> Vec<bool> {
    let ahead = before + (IDLE_AFTER_S / limit.step_s) as usize;
    let mut crossed = vec![false; limit.wind.len()];
    for slot in &limit.crossings {
        crossed[*slot] = true;
    }
    let soon = any_within(&crossed, ahead);
    let unknown = unknown_ahead(&limit.wind, ahead);
    (0..limit.wind.len())
        .map(|k| {
            let is_under = limit.wind[k] < limit.limit_kn;
            keep[k] && is_under && !limit.lingers[k] && !soon[k] && !unknown[k]
        })
        .collect()
}

/// Slots of whose next `slots` too few are known.
fn unknown_ahead(wind: &[f64], slots: usize) -> Vec<bool> {
    let known = totals(wind.iter().map(|kn| !kn.is_nan()));
    let need = AHEAD_KNOWN * slots as f64;
    let ahead = |k: usize| known[(k + 1 + slots).min(wind.len())] - known[k + 1];
    (0..wind.len())
        .map(|k| f64::from(ahead(k)) < need)
        .collect()
}

/// For each slot whether a flag holds anywhere in the `steps` after it.
fn any_within(flags: &[bool], steps: usize) -> Vec<bool> {
    let totals = totals(flags.iter().copied());
    let last = flags.len();
    (0..last)
        .map(|k| totals[(k + steps + 1).min(last)] > totals[k + 1])
        .collect()
}

/// How many hold before each place, and in all.
fn totals(flags: impl Iterator<Item = bool>) -> Vec<u32> {
    let mut totals = vec![0];
    let mut total = 0;
    for flag in flags {
        total += u32::from(flag);
        totals.push(total);
    }
    totals
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(wind: &[f64], step_s: u32) -> Limit {
        Limit::new(&wind.into(), wind, 20.0, step_s)
    }

    fn crossings(wind: &[f64]) -> Vec<usize> {
        limit(wind, 600).crossings
    }

    fn judged(wind: &[f64], step_s: u32, call_time_s: u32) -> Judged {
        let series = Series {
            name: String::new(),
            start_s: 0,
            step_s,
            slots: vec![None; wind.len()],
        };
        let keep: Arc<[bool]> = vec![true; wind.len()].into();
        let cell = Cell::new(20.0, call_time_s);
        let odds = vec![f64::NAN; wind.len()];
        let limit = Arc::new(limit(wind, step_s));
        Judged::new((0, &series), (0, &cell), &limit, &keep, odds)
    }

    #[test]
    fn a_crossing_needs_half_an_hour_under_and_two_of_three_over() {
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 20.0, 9.0, 9.0]), [3]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 9.0, 20.0, 9.0]), [3]);
        // A lone gust, and too short a lull.
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 9.0, 9.0]), [0; 0]);
        assert_eq!(crossings(&[9.0, 9.0, 20.0, 20.0, 20.0]), [0; 0]);
    }

    #[test]
    fn a_gap_before_voids_a_crossing_and_after_counts_as_not_over() {
        let gap = f64::NAN;
        assert_eq!(crossings(&[9.0, gap, 9.0, 20.0, 20.0, 20.0]), [0; 0]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, gap, 20.0]), [3]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, gap, gap]), [0; 0]);
    }

    #[test]
    fn a_quarter_of_an_hour_is_judged_by_two_samples() {
        let wind = [9.0, 9.0, 20.0, 9.0, 9.0];
        assert_eq!(limit(&wind, 900).crossings, [2]);
        assert_eq!(limit(&wind, 900).slots(600), 1);
        assert_eq!(limit(&wind, 900).slots(2400), 3);
    }

    #[test]
    fn the_judged_wind_needs_seven_of_ten_minutes() {
        let mut wind = vec![10.0; 10];
        wind.extend([20.0; 10]);
        let mean = running_mean(&wind, 60);
        assert!(mean[8].is_nan());
        assert_eq!((mean[9], mean[14], mean[19]), (10.0, 15.0, 20.0));
        wind[12..15].fill(f64::NAN);
        assert_eq!(running_mean(&wind, 60)[19], 20.0);
        wind[15] = f64::NAN;
        assert!(running_mean(&wind, 60)[19].is_nan());
        assert_eq!(running_mean(&[3.0, 4.0], 900), [3.0, 4.0]);
    }

    #[test]
    fn half_an_hour_after_the_wind_was_over_is_neither_idle_nor_a_merit() {
        // Over, 40 min under, over for good.
        let mut wind = vec![10.0; 60];
        wind[20] = 21.0;
        wind[25..].fill(21.0);
        let it = judged(&wind, 600, 1200);
        assert_eq!(it.crossings, [25]);
        assert_eq!(it.missable, [0; 0], "it lingers at slot 23");
        assert!(it.limit.lingers[20..=23].iter().all(|lingers| *lingers));
        assert!(!it.limit.lingers[24]);
        assert_eq!(judged(&wind, 600, 600).missable, [25]);
    }

    #[test]
    fn minutes_of_whose_future_little_is_known_are_not_idle() {
        let mut wind = vec![10.0; 40];
        assert!(judged(&wind, 600, 1200).idle[0]);
        assert!(!judged(&wind, 600, 1200).idle[39]);
        wind[11..14].fill(f64::NAN);
        // Of eight to come six are known before the gap, five in it.
        let idle = judged(&wind, 600, 1200).idle;
        assert!(idle[4] && !idle[5] && !idle[11]);
    }

    #[test]
    fn a_short_blow_after_half_an_hour_is_a_squall() {
        let mut wind = vec![10.0; 120];
        wind[50..60].fill(25.0);
        assert_eq!(limit(&wind, 60).squalls, [50]);
        wind[50..85].fill(25.0);
        assert_eq!(limit(&wind, 60).squalls, [0; 0]);
    }
}
