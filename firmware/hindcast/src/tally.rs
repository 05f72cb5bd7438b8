//! What became of calls that stood: counts that can be added.
//!
//! * **Nuisance call**: all its standing time was idle.
//! * **Sounded needlessly**: it was raised at an idle moment, whatever came of
//!   it later. A **wake** is one that is raised between 22 and 06 local.
//! * **Raised**: calls raised from none; one that comes and goes five times is
//!   five calls.
//! * **Lead**: how long a call had stood without a break at the crossing.
//! * **Too early**: warned, but it had stood longer than 2T + 30 min.
//! * **Hours a night**: how long a call stands between 22 and 06 local, idle or
//!   not, and how much of that in silence.
//! * **Squall warned**: a call stood T, and 2 min, before.

use crate::DAY_S;
use crate::judged::Judged;

/// The second moment at which a squall may be warned of.
const SHORTLY_S: u32 = 120;

/// Whether a call stands in a slot.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Stands {
    /// None.
    #[default]
    Not,
    /// One that makes no sound.
    Silent,
    /// One that sounds until it is answered.
    Sounding,
}

/// What became of one cell in one block of time, or in all: sums only, so
/// that blocks can be added.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally {
    /// Days known; each has a night.
    pub days: f64,
    /// Crossings that could be missed.
    pub crossings: f64,
    /// Of those, warned in time.
    pub warned: f64,
    /// Warned, but far too early.
    pub too_early: f64,
    /// All crossings.
    pub all_crossings: f64,
    /// Calls raised from none.
    pub raised: f64,
    /// Idle minutes.
    pub idle_min: f64,
    /// Nuisance calls.
    pub nuisance: f64,
    /// Calls sounded needlessly.
    pub sounded: f64,
    /// Those of them by night.
    pub wakes: f64,
    /// Hours of the night in which a call stood.
    pub night_h: f64,
    /// Those of them in silence.
    pub silent_night_h: f64,
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
        let mut more = *more;
        for (sum, value) in self.parts().into_iter().zip(more.parts()) {
            *sum += times * *value;
        }
    }

    fn parts(&mut self) -> [&mut f64; 15] {
        [
            &mut self.days,
            &mut self.crossings,
            &mut self.warned,
            &mut self.too_early,
            &mut self.all_crossings,
            &mut self.raised,
            &mut self.idle_min,
            &mut self.nuisance,
            &mut self.sounded,
            &mut self.wakes,
            &mut self.night_h,
            &mut self.silent_night_h,
            &mut self.squalls,
            &mut self.squalls_warned,
            &mut self.squalls_shortly,
        ]
    }
}

/// What became of one cell.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// Sums by block of time, by the blocks' numbers.
    pub blocks: Vec<(i64, Tally)>,
    /// Minutes of lead at each crossing that could be missed, with its block.
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

    /// The sums of a block.
    fn of(&mut self, block: i64) -> &mut Tally {
        let place = self.blocks.binary_search_by_key(&block, |(it, _)| *it);
        let place = place.unwrap_or_else(|place| {
            self.blocks.insert(place, (block, Tally::default()));
            place
        });
        &mut self.blocks[place].1
    }
}

/// Counts calls that stood in these slots. `block_s` is the length of a block
/// of time; nights are reckoned by the sun's mean time at the longitude.
pub fn count(it: &Judged, stands: &[Stands], longitude_deg: f64, block_s: i64) -> Outcome {
    let mut outcome = Outcome::default();
    let block = |slot: usize| it.at_s(slot).div_euclid(block_s);
    let hours = f64::from(it.limit.step_s) / 3600.0;
    for (slot, stands) in stands.iter().enumerate() {
        if !it.keep[slot] || it.limit.wind[slot].is_nan() {
            continue;
        }
        let tally = outcome.of(block(slot));
        tally.days += hours / 24.0;
        if *stands == Stands::Not {
            continue;
        }
        if it.idle[slot] {
            tally.idle_min += 60.0 * hours;
        }
        if is_night(it.at_s(slot), longitude_deg) {
            tally.night_h += hours;
            tally.silent_night_h += match stands {
                Stands::Silent => hours,
                Stands::Sounding | Stands::Not => 0.0,
            };
        }
    }
    let begun = begun(stands);
    count_calls(it, &begun, longitude_deg, |slot, call| {
        outcome.of(block(slot)).add(call, 1.0);
    });
    for &crossing in &it.crossings {
        outcome.of(block(crossing)).all_crossings += 1.0;
    }
    for &crossing in &it.missable {
        let (one, lead_min) = at_crossing(it, &begun, crossing);
        outcome.of(block(crossing)).add(&one, 1.0);
        outcome.leads.push((block(crossing), lead_min));
    }
    for &onset in it.limit.squalls.iter().filter(|slot| it.keep[**slot]) {
        outcome
            .of(block(onset))
            .add(&at_squall(it, &begun, onset), 1.0);
    }
    outcome
}

/// For each slot where a call stands, the slot in which it began.
fn begun(stands: &[Stands]) -> Vec<Option<usize>> {
    let mut since = None;
    let one = |(slot, stands): (usize, &Stands)| {
        since = match stands {
            Stands::Not => None,
            Stands::Silent | Stands::Sounding => since.or(Some(slot)),
        };
        since
    };
    stands.iter().enumerate().map(one).collect()
}

fn count_calls(
    it: &Judged,
    begun: &[Option<usize>],
    longitude_deg: f64,
    mut count: impl FnMut(usize, &Tally),
) {
    for run in begun.chunk_by(|a, b| a == b) {
        let Some(&Some(first)) = run.first() else {
            continue;
        };
        if !it.keep[first] {
            continue;
        }
        let number = |holds: bool| f64::from(u8::from(holds));
        let is_idle = it.idle[first];
        let slots = first..first + run.len();
        let call = Tally {
            raised: 1.0,
            sounded: number(is_idle),
            nuisance: number(it.idle[slots].iter().all(|idle| *idle)),
            wakes: number(is_idle && is_night(it.at_s(first), longitude_deg)),
            ..Tally::default()
        };
        count(first, &call);
    }
}

/// Between 22 and 06 by the sun's mean time at this longitude.
fn is_night(unix_s: i64, longitude_deg: f64) -> bool {
    let local_s = unix_s as f64 + longitude_deg / 360.0 * DAY_S;
    let hour = local_s.rem_euclid(DAY_S) / 3600.0;
    !(6.0..22.0).contains(&hour)
}

fn at_crossing(it: &Judged, begun: &[Option<usize>], crossing: usize) -> (Tally, f64) {
    let step_min = f64::from(it.limit.step_s) / 60.0;
    let call_time_min = f64::from(it.call_time_s) / 60.0;
    let since = |slot: Option<usize>| slot.and_then(|slot| begun[slot]);
    let stood_min = |begin: usize| (crossing - begin) as f64 * step_min;
    let lead_min = since(crossing.checked_sub(1)).map_or(0.0, stood_min);
    let warned_by = since(it.due(crossing)).map(stood_min);
    let too_early = warned_by.is_some_and(|stood| stood > 2.0 * call_time_min + 30.0);
    let one = Tally {
        crossings: 1.0,
        warned: f64::from(u8::from(warned_by.is_some())),
        too_early: f64::from(u8::from(too_early)),
        ..Tally::default()
    };
    (one, lead_min)
}

fn at_squall(it: &Judged, begun: &[Option<usize>], onset: usize) -> Tally {
    let stood = |before_s: u32| {
        let slot = onset.checked_sub(it.limit.slots(before_s));
        f64::from(u8::from(slot.is_some_and(|slot| begun[slot].is_some())))
    };
    Tally {
        squalls: 1.0,
        squalls_warned: stood(it.call_time_s),
        squalls_shortly: stood(SHORTLY_S),
        ..Tally::default()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::judged::{Cell, Limit};
    use crate::series::Series;

    /// Calls stand where the wind is at or over 17 kn, of a limit of 20.
    fn total(wind: &[f64], step_s: u32, call_time_s: u32) -> (Tally, Vec<f64>) {
        let series = Series {
            name: String::new(),
            start_s: 0,
            step_s,
            slots: vec![None; wind.len()],
        };
        let limit = Arc::new(Limit::new(&wind.into(), wind, 20.0, step_s));
        let keep: Arc<[bool]> = vec![true; wind.len()].into();
        let cell = Cell::new(20.0, call_time_s);
        let it = Judged::new((0, &series), (0, &cell), &limit, &keep, Vec::new());
        let stands: Vec<Stands> = wind
            .iter()
            .map(|kn| match *kn >= 17.0 {
                true => Stands::Sounding,
                false => Stands::Not,
            })
            .collect();
        let outcome = count(&it, &stands, 0.0, 86_400);
        let leads = outcome.leads.iter().map(|(_, lead)| *lead).collect();
        (outcome.total(), leads)
    }

    #[test]
    fn a_call_before_a_crossing_is_counted_with_its_lead() {
        let mut wind = vec![10.0; 20];
        wind[8..10].fill(18.0);
        wind[10..14].fill(22.0);
        let (tally, leads) = total(&wind, 600, 1200);
        assert_eq!(
            (tally.crossings, tally.warned, tally.too_early),
            (1.0, 1.0, 0.0)
        );
        assert_eq!((tally.raised, tally.idle_min), (1.0, 0.0));
        assert_eq!(leads, [20.0]);
    }

    #[test]
    fn readiness_that_led_to_nothing_is_idle_and_one_nuisance_call() {
        let mut wind = vec![10.0; 40];
        wind[8..11].fill(18.0);
        let (tally, _) = total(&wind, 600, 600);
        assert_eq!(
            (tally.nuisance, tally.sounded, tally.idle_min),
            (1.0, 1.0, 30.0)
        );
        // From 01:20 to 01:50 is night.
        assert_eq!((tally.wakes, tally.night_h), (1.0, 0.5));
    }

    #[test]
    fn standing_for_hours_before_is_too_early() {
        let mut wind = vec![18.0; 40];
        wind[30..].fill(22.0);
        let (tally, _) = total(&wind, 600, 600);
        assert_eq!((tally.warned, tally.too_early), (1.0, 1.0));
    }

    #[test]
    fn a_call_that_comes_and_goes_is_as_many_calls() {
        let mut wind = vec![10.0; 60];
        for slot in [20, 22, 24, 26, 28] {
            wind[slot] = 18.0;
        }
        wind[30..].fill(22.0);
        let (tally, _) = total(&wind, 600, 600);
        assert_eq!((tally.raised, tally.all_crossings), (6.0, 1.0));
    }

    #[test]
    fn a_squall_is_warned_of_by_a_call_before_it() {
        let mut wind = vec![10.0; 120];
        wind[50..60].fill(25.0);
        wind[47..50].fill(18.0);
        let (tally, _) = total(&wind, 60, 600);
        assert_eq!((tally.squalls, tally.squalls_warned), (1.0, 0.0));
        assert_eq!(tally.squalls_shortly, 1.0);
    }

    #[test]
    fn night_is_by_local_hour() {
        assert!(is_night(23 * 3600, 0.0));
        assert!(!is_night(12 * 3600, 0.0));
        assert!(is_night(12 * 3600, 180.0));
    }
}
