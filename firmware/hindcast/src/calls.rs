//! Calls at one setting as the crew would hear them: held through lulls as
//! the alert holds them, with the moments at which they begin.
//!
//! * **Nuisance call**: all its standing time was idle.
//! * **Sounded needlessly**: it began at an idle moment, whatever came of it
//!   later. A **wake** is one that begins between 22 and 06 local.
//! * **Lead**: how long a call had stood without a break at the crossing.
//! * **Too early**: warned, but it had stood longer than 2T + 30 min.
//! * **Over**: from each crossing until the change would be done had the crew
//!   begun at the call (at the crossing where there was none), the time that
//!   the wind was at or over the limit.
//! * **Squall**: at or over the limit for 1 to 30 min after 30 min under it,
//!   on series of a minute; warned where a call stood T, and 2 min, before.

use core::time::Duration;

use cringle_core::alert::hold::Hold;
use cringle_core::alert::judge::{Asked, let_go_odds};
use cringle_core::event::Call;
use cringle_core::time::Timestamp;

use super::cells::{Caller, Judged};

/// A fixed pre-alarm lets go so far under its setting: as the alert does
/// under a limit.
const LET_GO_KN: f64 = 1.0;
/// Squalls end within so long.
const SQUALL_S: u32 = 1800;
/// The second moment at which a squall may be warned of.
const SHORTLY_S: u32 = 120;
/// Finer than this or equal, and squalls can be seen.
const SQUALL_STEP_S: u32 = 60;

/// How calls are held and told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    /// A call stands at least so long, seconds.
    pub least_standing_s: u32,
    /// Where the local hour is reckoned from.
    pub longitude_deg: f64,
}

/// What became of one cell in one block of time, or in all: sums only, so
/// that blocks can be added.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally {
    /// Days heard.
    pub days: f64,
    /// Crossings.
    pub crossings: f64,
    /// Crossings warned of in time.
    pub warned: f64,
    /// Warned, but far too early.
    pub too_early: f64,
    /// Idle minutes.
    pub idle_min: f64,
    /// Nuisance calls.
    pub nuisance: f64,
    /// Calls sounded needlessly.
    pub sounded: f64,
    /// Those of them by night.
    pub wakes: f64,
    /// Minutes over the limit before the change was done.
    pub over_min: f64,
    /// Squalls.
    pub squalls: f64,
    /// With a call the call time before.
    pub squalls_warned: f64,
    /// With a call two minutes before.
    pub squalls_shortly: f64,
}

impl Tally {
    /// Adds another, so many times.
    pub fn add(&mut self, more: &Tally, times: f64) {
        let pairs = self.parts().into_iter().zip(more.values());
        for (sum, value) in pairs {
            *sum += times * value;
        }
    }

    fn parts(&mut self) -> [&mut f64; 12] {
        [
            &mut self.days,
            &mut self.crossings,
            &mut self.warned,
            &mut self.too_early,
            &mut self.idle_min,
            &mut self.nuisance,
            &mut self.sounded,
            &mut self.wakes,
            &mut self.over_min,
            &mut self.squalls,
            &mut self.squalls_warned,
            &mut self.squalls_shortly,
        ]
    }

    fn values(mut self) -> [f64; 12] {
        self.parts().map(|part| *part)
    }
}

/// What became of one cell at one setting.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// Sums by block of time, by the blocks' numbers.
    pub blocks: Vec<(i64, Tally)>,
    /// Seconds of lead at each crossing, with its block.
    pub leads: Vec<(i64, f64)>,
}

impl Outcome {
    /// All blocks together.
    pub fn total(&self) -> Tally {
        let mut total = Tally::default();
        for (_, tally) in &self.blocks {
            total.add(tally, 1.0);
        }
        total
    }

    /// The sums of a block. Moments come in order, so it is the last or new.
    fn of(&mut self, block: i64) -> &mut Tally {
        let place = self.blocks.binary_search_by_key(&block, |(it, _)| *it);
        let place = place.unwrap_or_else(|place| {
            self.blocks.insert(place, (block, Tally::default()));
            place
        });
        &mut self.blocks[place].1
    }
}

/// Judges a cell at one setting. `block_s` is the length of a block of time.
pub fn judge(it: &Judged, caller: Caller, setting: f64, manner: &Manner, block_s: i64) -> Outcome {
    let begun = held(it, caller, setting, manner);
    let mut outcome = Outcome::default();
    let block = |slot: usize| it.at_s(slot).div_euclid(block_s);
    let step_s = it.limit.step_s;
    for (slot, since) in begun.iter().enumerate() {
        if !it.keep[slot] || it.limit.wind[slot].is_nan() {
            continue;
        }
        let tally = outcome.of(block(slot));
        tally.days += f64::from(step_s) / super::DAY_S;
        if it.idle[slot] && since.is_some() {
            tally.idle_min += f64::from(step_s) / 60.0;
        }
    }
    count_calls(it, &begun, manner, |slot, what| {
        what(outcome.of(block(slot)))
    });
    for &crossing in &it.crossings {
        let (one, lead_s) = at_crossing(it, &begun, crossing);
        outcome.of(block(crossing)).add(&one, 1.0);
        outcome.leads.push((block(crossing), lead_s));
    }
    if step_s <= SQUALL_STEP_S {
        for (onset, one) in squalls(it, &begun) {
            outcome.of(block(onset)).add(&one, 1.0);
        }
    }
    outcome
}

/// For each slot where a call stands, the slot in which it began.
fn held(it: &Judged, caller: Caller, setting: f64, manner: &Manner) -> Vec<Option<usize>> {
    let let_go = match caller {
        Caller::Logistic | Caller::Odds | Caller::Aboard => let_go_odds(setting),
        Caller::Fraction => setting - LET_GO_KN / it.limit.limit_kn,
        Caller::Knots => setting - LET_GO_KN,
    };
    let least = Duration::from_secs(u64::from(manner.least_standing_s));
    let mut hold = Hold::new(least, Timestamp::ZERO);
    let step_s = u64::from(it.limit.step_s);
    let mut since = None;
    (0..it.odds.len())
        .map(|slot| {
            let at = |second: u64| Timestamp::from_secs(slot as u64 * step_s + second);
            let score = it.score(caller, slot);
            if score.is_nan() {
                // Without wind it is blind: what stood stands no more.
                hold.set(Call::None, at(0));
            } else {
                let mut asked = asked(score, setting, let_go);
                if caller == Caller::Aboard && it.beside(slot).keeps {
                    asked.keep = Call::Prepare;
                }
                hold.update(asked, at(0));
                // Nothing new is heard until the next slot.
                hold.update(asked, at(step_s - 1));
            }
            since = match hold.call() {
                Call::None => None,
                _ => since.or(Some(slot)),
            };
            since
        })
        .collect()
}

fn asked(score: f64, setting: f64, let_go: f64) -> Asked {
    let when = |holds| if holds { Call::Prepare } else { Call::None };
    Asked {
        raise: when(score >= setting),
        keep: when(score >= let_go),
    }
}

fn count_calls(
    it: &Judged,
    begun: &[Option<usize>],
    manner: &Manner,
    mut count: impl FnMut(usize, &mut dyn FnMut(&mut Tally)),
) {
    for run in begun.chunk_by(|a, b| a == b) {
        let Some(&Some(first)) = run.first() else {
            continue;
        };
        let slots = first..(first + run.len()).min(it.idle.len());
        if !it.idle[first] {
            continue;
        }
        let nuisance = it.idle[slots].iter().all(|idle| *idle);
        let wake = is_night(it.at_s(first), manner.longitude_deg);
        count(first, &mut |tally| {
            tally.sounded += 1.0;
            tally.nuisance += f64::from(u8::from(nuisance));
            tally.wakes += f64::from(u8::from(wake));
        });
    }
}

/// Between 22 and 06 by the sun's mean time at this longitude.
fn is_night(unix_s: i64, longitude_deg: f64) -> bool {
    let local_s = unix_s as f64 + longitude_deg / 360.0 * super::DAY_S;
    let hour = local_s.rem_euclid(super::DAY_S) / 3600.0;
    !(6.0..22.0).contains(&hour)
}

fn at_crossing(it: &Judged, begun: &[Option<usize>], crossing: usize) -> (Tally, f64) {
    let step_s = f64::from(it.limit.step_s);
    let call_time_s = f64::from(it.call_time_s);
    let since = |slot: Option<usize>| slot.and_then(|slot| begun[slot]);
    let stood_s = |begin: usize| (crossing - begin) as f64 * step_s;
    let lead_s = since(crossing.checked_sub(1)).map_or(0.0, stood_s);
    let warned_by = since(it.due(crossing)).map(stood_s);
    let too_early = warned_by.is_some_and(|stood| stood > 2.0 * call_time_s + 1800.0);
    let mut left_s = (call_time_s - lead_s).max(0.0);
    let mut over_s = 0.0;
    for kn in &it.limit.wind[crossing..] {
        if left_s <= 0.0 {
            break;
        }
        if *kn >= it.limit.limit_kn {
            over_s += left_s.min(step_s);
        }
        left_s -= step_s;
    }
    let one = Tally {
        crossings: 1.0,
        warned: f64::from(u8::from(warned_by.is_some())),
        too_early: f64::from(u8::from(too_early)),
        over_min: over_s / 60.0,
        ..Tally::default()
    };
    (one, lead_s)
}

fn squalls<'a>(
    it: &'a Judged,
    begun: &'a [Option<usize>],
) -> impl Iterator<Item = (usize, Tally)> + 'a {
    let step_s = it.limit.step_s;
    let over = |slot: &usize| it.limit.wind[*slot] >= it.limit.limit_kn;
    let slots = 0..it.keep.len();
    let onsets = slots
        .clone()
        .filter(move |k| it.keep[*k] && it.limit.settled[*k] && over(k));
    let longest = (SQUALL_S / step_s) as usize;
    onsets
        .filter(move |k| (*k..slots.end).take_while(over).take(longest + 1).count() <= longest)
        .map(move |onset| {
            let stood = |before_s: u32| {
                let slot = onset.checked_sub(before_s.div_ceil(step_s) as usize);
                f64::from(u8::from(slot.is_some_and(|slot| begun[slot].is_some())))
            };
            let one = Tally {
                squalls: 1.0,
                squalls_warned: stood(it.call_time_s),
                squalls_shortly: stood(SHORTLY_S),
                ..Tally::default()
            };
            (onset, one)
        })
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::cells::{Cell, Limit};
    use crate::series::Series;

    const MANNER: Manner = Manner {
        least_standing_s: 300,
        longitude_deg: 0.0,
    };

    fn judged(wind: &[f64], step_s: u32, call_time_s: u32) -> Judged {
        let shared: Arc<[f64]> = wind.into();
        let series = Series {
            name: String::new(),
            start_s: 0,
            step_s,
            slots: vec![None; wind.len()],
        };
        let limit = Arc::new(Limit::new(&shared, 20.0, step_s));
        let keep: Arc<[bool]> = vec![true; wind.len()].into();
        let cell = Cell::new(20.0, call_time_s);
        let odds = vec![f64::NAN; wind.len()];
        Judged::new((0, &series), (0, &cell), &limit, &keep, odds)
    }

    fn total(it: &Judged, knots: f64) -> (Tally, Vec<f64>) {
        let outcome = judge(it, Caller::Knots, knots, &MANNER, 86_400);
        let leads = outcome.leads.iter().map(|(_, lead)| *lead).collect();
        (outcome.total(), leads)
    }

    #[test]
    fn a_call_before_a_crossing_is_counted_with_its_lead() {
        let mut wind = vec![10.0; 20];
        wind[8..10].fill(18.0);
        wind[10..14].fill(22.0);
        let (tally, leads) = total(&judged(&wind, 600, 1200), -3.0);
        assert_eq!(
            (tally.crossings, tally.warned, tally.too_early),
            (1.0, 1.0, 0.0)
        );
        assert_eq!(leads, [1200.0]);
        assert_eq!((tally.over_min, tally.idle_min), (0.0, 0.0));
    }

    #[test]
    fn without_a_call_the_change_is_made_over_the_limit() {
        let mut wind = vec![10.0; 20];
        wind[10..14].fill(22.0);
        wind[11] = 19.0;
        let (tally, leads) = total(&judged(&wind, 600, 1800), -0.5);
        assert_eq!((tally.warned, leads), (0.0, vec![0.0]));
        assert_eq!(tally.over_min, 20.0);
    }

    #[test]
    fn readiness_that_led_to_nothing_is_idle_and_one_nuisance_call() {
        let mut wind = vec![10.0; 40];
        wind[8..11].fill(18.0);
        let (tally, _) = total(&judged(&wind, 600, 600), -3.0);
        assert_eq!(
            (tally.nuisance, tally.sounded, tally.idle_min),
            (1.0, 1.0, 30.0)
        );
        // 01:20 is night.
        assert_eq!(tally.wakes, 1.0);
    }

    #[test]
    fn standing_for_hours_before_is_too_early() {
        let mut wind = vec![18.0; 40];
        wind[30..].fill(22.0);
        let (tally, _) = total(&judged(&wind, 600, 600), -3.0);
        assert_eq!((tally.warned, tally.too_early), (1.0, 1.0));
    }

    #[test]
    fn a_short_blow_after_half_an_hour_is_a_squall() {
        let mut wind = vec![10.0; 120];
        wind[50..60].fill(25.0);
        wind[47..50].fill(18.0);
        let (tally, _) = total(&judged(&wind, 60, 600), -3.0);
        assert_eq!((tally.squalls, tally.squalls_warned), (1.0, 0.0));
        assert_eq!(tally.squalls_shortly, 1.0);
        // Half an hour and more is no squall.
        wind[50..85].fill(25.0);
        assert_eq!(total(&judged(&wind, 60, 600), -3.0).0.squalls, 0.0);
    }

    #[test]
    fn a_gap_ends_a_call() {
        let mut wind = vec![18.0; 40];
        wind[10] = f64::NAN;
        let (tally, _) = total(&judged(&wind, 600, 600), -3.0);
        assert_eq!(tally.sounded, 2.0);
    }

    #[test]
    fn night_is_by_local_hour() {
        assert!(is_night(23 * 3600, 0.0));
        assert!(!is_night(12 * 3600, 0.0));
        assert!(is_night(12 * 3600, 180.0));
    }
}
