//! One limit and call time on one series: who must be warned, what is idle.
//!
//! With the step `dt` and `n` = 30 min in steps, rounded up:
//!
//! * **Crossing** at slot k: wind at or over the limit; the n slots before all
//!   heard and under it; of the n slots from k on at least half at or over it.
//! * **Warned in time**: a call stood `T` before, at slot k - T/dt.
//! * **Idle**: a call stands, the wind is under the limit, and no crossing
//!   follows within T + 60 min. Slots whose look-ahead runs past the end of
//!   the series are left out.
//!
//! A slot that was not heard is neither over nor under, and has no call.

use std::sync::Arc;

use super::DAY_S;
use super::series::Series;

/// Under the limit before, and mostly over it after, for so long.
const SETTLE_S: u32 = 1800;
/// A call that is followed by a crossing so long after the call time was for
/// something.
const IDLE_AFTER_S: u32 = 3600;
/// The ten-minute wind, whose sustained passing the odds speak of.
const TEN_MINUTES_S: u32 = 600;

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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
    /// Wind by slot.
    pub wind: Arc<[f64]>,
    /// The limit, knots.
    pub limit_kn: f64,
    /// Step of the series.
    pub step_s: u32,
    /// Slots at which it is crossed.
    pub crossings: Vec<usize>,
    /// 30 min under it before, by slot.
    pub settled: Vec<bool>,
    /// The event of the odds, by slot.
    pub passed: Vec<bool>,
}

impl Limit {
    /// Finds the crossings of a limit.
    pub fn new(wind: &Arc<[f64]>, limit_kn: f64, step_s: u32) -> Limit {
        let (good, settled) = windows(wind, limit_kn, step_s);
        let both = |(good, settled): (&bool, &bool)| *good && *settled;
        let crossed: Vec<bool> = good.iter().zip(&settled).map(both).collect();
        let passed = match step_s < TEN_MINUTES_S {
            true => sustained(wind, limit_kn, step_s),
            false => crossed.clone(),
        };
        let slots = crossed.iter().enumerate();
        Limit {
            wind: wind.clone(),
            limit_kn,
            step_s,
            crossings: slots.filter(|(_, it)| **it).map(|(k, _)| k).collect(),
            settled,
            passed,
        }
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
    /// Slots that would be idle if a call stood.
    pub idle: Vec<bool>,
    /// Slots that are judged.
    pub keep: Arc<[bool]>,
    /// Days that were heard in the judged part.
    pub days: f64,
    /// Odds that the limit is passed for good within the call time and one
    /// slot more; not a number where they cannot be told.
    pub odds: Vec<f64>,
    /// The same by the logistic reference, where it was worked.
    pub logistic: Option<Vec<f64>>,
    /// What else calls aboard, on series fine enough for it.
    pub aboard: Option<Vec<Aboard>>,
}

/// What the rules that stand beside the odds aboard say of a slot: a fast
/// build, a sudden onset, a watch just begun, a minute at the limit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Aboard {
    /// They call, whatever the odds.
    pub calls: bool,
    /// They do not let a call go.
    pub keeps: bool,
    /// Odds of a level that has no past yet; 0 elsewhere.
    pub young_odds: f64,
}

/// Who calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caller {
    /// The fixed pre-alarm at a fraction of the limit.
    Fraction,
    /// The fixed pre-alarm so many knots below the limit.
    Knots,
    /// The logistic reference.
    Logistic,
    /// The odds.
    Odds,
    /// All that calls aboard by the wind: the odds, and what stands beside.
    Aboard,
}

/// The score of a call that comes whatever the setting.
const CERTAIN: f64 = 2.0;

impl Caller {
    /// All of them, in the order of the tables.
    pub const ALL: [Caller; 5] = [
        Caller::Fraction,
        Caller::Knots,
        Caller::Logistic,
        Caller::Odds,
        Caller::Aboard,
    ];

    /// Those that were worked for all of these.
    pub fn of(judged: &[&Judged]) -> Vec<Caller> {
        let known = |caller: &Caller| match caller {
            Caller::Fraction | Caller::Knots | Caller::Odds => true,
            Caller::Logistic => judged.iter().all(|it| it.logistic.is_some()),
            Caller::Aboard => judged.iter().all(|it| it.aboard.is_some()),
        };
        Caller::ALL.into_iter().filter(known).collect()
    }

    /// Who calls by the one setting: what runs aboard, as far as these tell.
    pub fn by_setting(judged: &[&Judged]) -> Caller {
        match Caller::of(judged).contains(&Caller::Aboard) {
            true => Caller::Aboard,
            false => Caller::Odds,
        }
    }

    /// Whether it is Cringle that calls.
    pub const fn is_ours(self) -> bool {
        matches!(self, Caller::Odds | Caller::Aboard)
    }

    /// As a table names it.
    pub const fn words(self) -> &'static str {
        match self {
            Caller::Fraction => "fixed, fraction of limit",
            Caller::Knots => "fixed, knots below limit",
            Caller::Logistic => "logistic reference",
            Caller::Odds => "odds",
            Caller::Aboard => "aboard: odds and last minutes",
        }
    }

    /// As the head of a narrow column names it.
    pub const fn short(self) -> &'static str {
        match self {
            Caller::Fraction => "fraction",
            Caller::Knots => "knots",
            Caller::Logistic => "logistic",
            Caller::Odds => "odds",
            Caller::Aboard => "aboard",
        }
    }

    /// As a key.
    pub const fn key(self) -> &'static str {
        match self {
            Caller::Fraction => "fixed_fraction",
            Caller::Knots => "fixed_knots",
            Caller::Logistic => "logistic",
            Caller::Odds => "odds",
            Caller::Aboard => "aboard",
        }
    }

    /// A score as the crew would set it: knots *below* the limit.
    pub fn shown(self, setting: f64) -> f64 {
        match self {
            Caller::Fraction | Caller::Logistic | Caller::Odds | Caller::Aboard => setting,
            Caller::Knots => -setting,
        }
    }
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
        let step_s = limit.step_s;
        let steps = ((asked.call_time_s + IDLE_AFTER_S) / step_s) as usize;
        let mut flags = vec![false; limit.wind.len()];
        for slot in &limit.crossings {
            flags[*slot] = true;
        }
        let ahead = any_within(&flags, steps);
        let judged_to = limit.wind.len().saturating_sub(steps);
        let idle = (0..limit.wind.len())
            .map(|k| keep[k] && k < judged_to && limit.wind[k] < limit.limit_kn && !ahead[k])
            .collect();
        let kept = limit.crossings.iter().copied();
        let heard = limit.wind.iter().zip(keep.iter());
        let heard = heard.filter(|(wind, keep)| **keep && !wind.is_nan());
        Judged {
            series,
            cell,
            call_time_s: asked.call_time_s,
            limit: limit.clone(),
            start_s: source.start_s,
            crossings: kept.filter(|slot| keep[*slot]).collect(),
            idle,
            keep: keep.clone(),
            days: heard.count() as f64 * f64::from(step_s) / DAY_S,
            odds,
            logistic: None,
            aboard: None,
        }
    }

    /// The score on which a caller calls: higher is sooner. Not a number where
    /// it cannot call.
    pub fn score(&self, caller: Caller, slot: usize) -> f64 {
        let wind = self.limit.wind[slot];
        match caller {
            Caller::Fraction => wind / self.limit.limit_kn,
            Caller::Knots => wind - self.limit.limit_kn,
            Caller::Logistic => self.logistic.as_ref().map_or(f64::NAN, |it| it[slot]),
            Caller::Odds => self.odds[slot],
            Caller::Aboard => match self.beside(slot) {
                // Without wind it is blind.
                _ if wind.is_nan() => f64::NAN,
                beside if beside.calls => CERTAIN,
                beside if beside.young_odds > 0.0 => beside.young_odds.max(self.odds[slot]),
                _ => self.odds[slot],
            },
        }
    }

    /// What stands beside the odds aboard.
    pub fn beside(&self, slot: usize) -> Aboard {
        let aboard = self.aboard.as_ref().and_then(|all| all.get(slot));
        aboard.copied().unwrap_or_default()
    }

    /// The slot at which a call must stand to warn of a crossing in time.
    /// A call time between two slots takes the earlier.
    pub fn due(&self, crossing: usize) -> Option<usize> {
        crossing.checked_sub(self.call_time_s.div_ceil(self.limit.step_s) as usize)
    }

    /// Unix seconds at which a slot begins.
    pub fn at_s(&self, slot: usize) -> i64 {
        self.start_s + slot as i64 * i64::from(self.limit.step_s)
    }

    /// The slots for which the outcome of the odds is known, and whether the
    /// wind was under the limit so that it was open.
    pub fn outcomes(&self) -> impl Iterator<Item = (usize, f64, bool)> {
        let step_s = self.limit.step_s;
        let ahead = any_within(&self.limit.passed, (self.call_time_s / step_s) as usize + 1);
        let margin = (self.call_time_s / step_s + 1 + SETTLE_S / step_s) as usize;
        let known_to = self.odds.len().saturating_sub(margin);
        (0..known_to)
            .filter(|&k| self.keep[k] && self.limit.wind[k] < self.limit.limit_kn)
            .map(move |k| (k, self.odds[k], ahead[k]))
            .filter(|(_, odds, _)| !odds.is_nan())
    }
}

/// For each slot: over for good from it on; and 30 min all under before it.
fn windows(wind: &[f64], limit_kn: f64, step_s: u32) -> (Vec<bool>, Vec<bool>) {
    let n = SETTLE_S.div_ceil(step_s) as usize;
    let over = totals(wind.iter().map(|kn| *kn >= limit_kn));
    let under = totals(wind.iter().map(|kn| *kn < limit_kn));
    let last = wind.len();
    let good = (0..last)
        .map(|k| wind[k] >= limit_kn && 2 * (over[(k + n).min(last)] - over[k]) as usize >= n);
    let settled = (0..last).map(|k| k >= n && (under[k] - under[k - n]) as usize == n);
    (good.collect(), settled.collect())
}

/// The crossing of the ten-minute mean *from the moment on*, which is what
/// the odds were fitted to on series finer than that.
fn sustained(wind: &[f64], limit_kn: f64, step_s: u32) -> Vec<bool> {
    let n = (TEN_MINUTES_S / step_s) as usize;
    let mut sums = vec![0.0];
    let mut counts = vec![0_usize];
    for kn in wind {
        let heard = !kn.is_nan();
        sums.push(sums[sums.len() - 1] + if heard { *kn } else { 0.0 });
        counts.push(counts[counts.len() - 1] + usize::from(heard));
    }
    let last = wind.len();
    let mean = |k: usize| {
        let end = (k + n).min(last);
        let count = counts[end] - counts[k];
        match 2 * count >= n {
            true => (sums[end] - sums[k]) / count as f64,
            false => f64::NAN,
        }
    };
    let means: Vec<f64> = (0..last).map(mean).collect();
    let (good, settled) = windows(&means, limit_kn, step_s);
    good.iter().zip(&settled).map(|(a, b)| *a && *b).collect()
}

/// For each slot whether a flag holds anywhere in the `steps` after it.
pub fn any_within(flags: &[bool], steps: usize) -> Vec<bool> {
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

    fn crossings(wind: &[f64], limit_kn: f64) -> Vec<usize> {
        Limit::new(&wind.into(), limit_kn, 600).crossings
    }

    #[test]
    fn a_crossing_needs_half_an_hour_under_and_two_of_three_over() {
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 20.0, 9.0, 9.0], 20.0), [3]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 9.0, 20.0, 9.0], 20.0), [3]);
        // A lone gust, and too short a lull.
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, 9.0, 9.0], 20.0), [0; 0]);
        assert_eq!(crossings(&[9.0, 9.0, 20.0, 20.0, 20.0], 20.0), [0; 0]);
    }

    #[test]
    fn a_gap_before_voids_a_crossing_and_after_counts_as_not_over() {
        let gap = f64::NAN;
        assert_eq!(crossings(&[9.0, gap, 9.0, 20.0, 20.0, 20.0], 20.0), [0; 0]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, gap, 20.0], 20.0), [3]);
        assert_eq!(crossings(&[9.0, 9.0, 9.0, 20.0, gap, gap], 20.0), [0; 0]);
    }

    #[test]
    fn looking_ahead_leaves_out_the_moment_itself() {
        let flags = [true, false, false, true, false];
        assert_eq!(any_within(&flags, 2), [false, true, true, false, false]);
    }

    #[test]
    fn a_call_time_between_two_slots_takes_the_earlier() {
        let wind: Arc<[f64]> = vec![9.0; 8].into();
        let series = Series {
            name: String::new(),
            start_s: 0,
            step_s: 600,
            slots: vec![None; 8],
        };
        let limit = Arc::new(Limit::new(&wind, 20.0, 600));
        let keep: Arc<[bool]> = vec![true; 8].into();
        let due = |call_time_s| {
            let cell = Cell::new(20.0, call_time_s);
            Judged::new((0, &series), (0, &cell), &limit, &keep, vec![0.0; 8]).due(4)
        };
        assert_eq!(due(600), Some(3));
        assert_eq!(due(660), Some(2));
        assert_eq!(due(3000), None);
    }
}
