//! Steps of the clock, restarts, and what a person reads off: none of them is
//! wind, and each has once been taken for it.

use core::time::Duration;

use super::tests::{at, hear, hear_wind, run, threatening};
use super::*;
use crate::act::PointOfSail;
use crate::event::{Call, EventKind};
use crate::forecast::{Row, Sure, Table};
use crate::reading::{Measure, SourceId};
use crate::time::UtcQuality;
use crate::units::{Knots, Position};
use crate::view::{Light, MinutesInHand};

/// By the work alone: the lead is the same by day and by night. In the dark it
/// takes three times as long, so that day and night part by some tenths of a knot.
fn boat() -> Boat {
    let mut boat = super::tests::boat();
    boat.calling.lead_s = 0;
    boat.crew.night_factor = 3.0;
    boat
}

/// 2026-07-01 12:00 UTC.
const NOON_MS: i64 = 1_782_907_200_000;
const HALF_DAY_MS: i64 = 43_200_000;
/// The wind rises so long, then it is steady.
const RISES: u64 = 2400;

/// A wind that comes to `kn` at 3 kn an hour.
fn rising_to(kn: f64, second: u64) -> f64 {
    kn - 3.0 * (RISES.saturating_sub(second)) as f64 / 3600.0
}

fn place(watch: &mut Watch, second: u64) {
    let place = Position::new(50.0, 0.0).map(Measure::Position).ok();
    hear(watch, SourceId(5), place, second);
}

fn utc(watch: &mut Watch, unix_ms: i64, second: u64) {
    let fix = UtcFix {
        unix_ms,
        at: at(second),
        quality: UtcQuality::Gnss,
    };
    watch.set_utc(fix, at(second));
}

/// The clock goes on telling the time that it told last.
fn go_on_telling(watch: &mut Watch, second: u64) {
    let told = watch.utc.told_ms(at(second)).or(watch.unix_ms());
    if let Some(told) = told {
        utc(watch, told, second);
    }
}

/// Calls from `from` to `to`, with position and time every 10 s.
fn sail(watch: &mut Watch, kn: f64, from: u64, to: u64) -> std::vec::Vec<(Timestamp, Call)> {
    let mut told = std::vec::Vec::new();
    for second in from..to {
        if second % 10 == 0 {
            watch.tick(at(second));
            place(watch, second);
            go_on_telling(watch, second);
        }
        let events = run(watch, second, second + 1, |second| rising_to(kn, second));
        let calls = events.iter().filter(|it| it.kind == EventKind::Call);
        told.extend(calls.map(|event| (event.at, event.call)));
    }
    told
}

/// A wind in which the same boat calls by night and not by day.
fn between() -> f64 {
    let stands = |kn: f64, unix_ms: i64| {
        let mut watch = Watch::new(&boat(), None, at(0));
        utc(&mut watch, unix_ms, 0);
        sail(&mut watch, kn, 0, RISES);
        watch.view().call.call.is_threat()
    };
    let (mut quiet, mut called) = (120, 180);
    while called - quiet > 1 {
        let middle = (quiet + called) / 2;
        match stands(f64::from(middle) / 10.0, NOON_MS + HALF_DAY_MS) {
            true => called = middle,
            false => quiet = middle,
        }
    }
    let kn = f64::from(called) / 10.0;
    assert!(!stands(kn, NOON_MS), "{kn} kn calls by day too");
    kn
}

#[test]
fn a_step_from_day_to_night_or_back_raises_and_hides_no_call() {
    let kn = between();
    let after = |begin: i64, step: i64| {
        let mut watch = Watch::new(&boat(), None, at(0));
        utc(&mut watch, begin, 0);
        sail(&mut watch, kn, 0, RISES);
        let stood = watch.view().call.call;
        utc(&mut watch, begin + step + RISES as i64 * 1000, RISES);
        (stood, sail(&mut watch, kn, RISES, RISES + 1500))
    };
    let by_day = after(NOON_MS, 0);
    assert_eq!(by_day, (Call::None, std::vec![]));
    assert_eq!(after(NOON_MS, HALF_DAY_MS), by_day);
    let by_night = after(NOON_MS + HALF_DAY_MS, 0);
    assert!(by_night.0.is_threat());
    assert_eq!(after(NOON_MS + HALF_DAY_MS, HALF_DAY_MS), by_night);
    // And taken at once it would have called.
    let mut watch = Watch::new(&boat(), None, at(0));
    utc(&mut watch, NOON_MS + HALF_DAY_MS, 0);
    assert_ne!(sail(&mut watch, kn, 0, 2 * RISES).last(), None);
}

#[test]
fn where_it_changes_no_call_the_light_of_a_step_is_taken_soon() {
    let mut watch = Watch::new(&boat(), None, at(0));
    utc(&mut watch, NOON_MS, 0);
    sail(&mut watch, 6.0, 0, 1200);
    assert_eq!(watch.view().call.call, Call::None);
    assert_eq!(watch.view().people.light, Light::Day);
    for (unix_ms, second, light) in [
        (NOON_MS + HALF_DAY_MS, 1200, Light::Night),
        (NOON_MS, 2400, Light::Day),
    ] {
        utc(&mut watch, unix_ms, second);
        assert_eq!(sail(&mut watch, 6.0, second, second + 500), []);
        assert_ne!(watch.view().people.light, light);
        assert_eq!(sail(&mut watch, 6.0, second + 500, second + 1200), []);
        assert_eq!(watch.view().people.light, light);
    }
}

#[test]
fn a_dusk_that_falls_by_itself_brings_the_call_forward() {
    let kn = between();
    let mut watch = Watch::new(&boat(), None, at(0));
    let here = Position::new(50.0, 0.0).ok();
    let dusk = here.and_then(|here| crate::sun::next_dusk(here, NOON_MS));
    let dusk = dusk.unwrap_or(NOON_MS);
    utc(&mut watch, dusk - RISES as i64 * 1000, 0);
    sail(&mut watch, kn, 0, RISES - 10);
    assert_eq!(watch.view().call.call, Call::None);
    let told = sail(&mut watch, kn, RISES - 10, RISES + 30);
    assert!(
        told.iter().any(|(_, call)| *call == Call::Prepare),
        "{told:?}"
    );
}

#[test]
fn a_position_that_is_lost_in_daylight_makes_no_night() {
    let mut watch = Watch::new(&boat(), None, at(0));
    utc(&mut watch, NOON_MS, 0);
    sail(&mut watch, 6.0, 0, 600);
    run(&mut watch, 600, 1800, |_| 6.0);
    assert_eq!(watch.view().people.light, Light::Day);
}

#[test]
fn the_first_seconds_after_a_restart_are_not_past_the_limit() {
    for kn in [19.0, 24.0, 40.0] {
        let mut watch = Watch::new(&boat(), None, at(0));
        let mut called = Call::None;
        for second in 0..120 {
            hear_wind(&mut watch, kn, second);
            let view = watch.view();
            if view.wind.mean_1min_kn.is_none() {
                assert_ne!(view.call.call, Call::Past, "{kn} kn at {second} s");
            }
            called = called.max(view.call.call);
        }
        assert_eq!(called, Call::Past, "{kn} kn");
    }
}

#[test]
fn a_wind_read_off_by_hand_prepares() {
    let mut first = None;
    for tenths in 80..180 {
        let mut watch = Watch::new(&boat(), None, at(0));
        let act = Act::WindByHand {
            speed: Knots::new(f64::from(tenths) / 10.0).unwrap_or_default(),
            side: PointOfSail::Reaching,
        };
        watch.press(act, at(600));
        let call = watch.view().call;
        if call.call == Call::Prepare {
            first = first.or(Some(tenths));
            assert!(call.odds.is_some() && call.odds_ahead.is_some());
            assert!(matches!(call.minutes_in_hand, MinutesInHand::Minutes(m) if m > 0.0));
        }
        // More wind never calls less.
        assert!(first.is_none() || call.call >= Call::Prepare, "{tenths}");
        // It ends with the reading, not into a calm.
        watch.tick(at(600 + 1801));
        assert_eq!(watch.view().call.call, Call::Blind, "{tenths}");
    }
    // Between two thirds of the limit of 18 kn and half a knot under it.
    assert!(
        first.is_some_and(|kn| (120..175).contains(&kn)),
        "{first:?}"
    );
}

#[test]
fn a_squall_that_went_by_is_taken_back() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 10,
            strength: None,
        },
        at(1199),
    );
    assert!(watch.view().call.call.is_threat());
    watch.press(
        Act::SquallSeen {
            minutes: 0,
            strength: None,
        },
        at(1200),
    );
    let view = watch.view();
    assert_eq!((view.call.call, view.squall_due), (Call::None, None));
    // What the wind calls for by itself stands.
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, threatening);
    let stood = watch.view().call.call;
    assert!(stood.is_threat());
    watch.press(
        Act::SquallSeen {
            minutes: 60,
            strength: None,
        },
        at(3600),
    );
    watch.press(
        Act::SquallSeen {
            minutes: 0,
            strength: None,
        },
        at(3601),
    );
    assert_eq!(watch.view().call.call, stood);
}

#[test]
fn a_squall_in_sight_outlives_a_restart_with_its_time() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(
        Act::SquallSeen {
            minutes: 30,
            strength: None,
        },
        at(100),
    );
    run(&mut watch, 100, 400, |_| 9.0);
    let due = |saved: &Saved| {
        let again = Watch::new(&boat, Some(saved), at(7));
        again.view().squall_due.map(|due| due.secs_since(at(7)))
    };
    let saved = watch.saved();
    assert_eq!(due(&saved), Some(25.0 * 60.0));
    // Ten minutes without power are ten minutes less.
    let later = |minutes: u64| saved.clone().aged(Duration::from_secs(60 * minutes));
    assert_eq!(due(&later(10)), Some(15.0 * 60.0));
    assert_eq!(due(&later(40)), Some(0.0), "due and not over");
    assert_eq!(due(&later(60)), None);
    // It calls for what is left of its half hour.
    let mut again = Watch::new(&boat, Some(&later(45)), at(0));
    again.tick(at(599));
    assert!(again.view().squall_due.is_some());
    again.tick(at(601));
    assert_eq!(again.view().squall_due, None);
}

#[test]
fn a_forecast_entered_on_the_way_outlives_a_restart() {
    let row = Row {
        unix_s: 1_764_050_000,
        wind: Knots::new(25.0).unwrap_or_default(),
        gust: None,
        from_deg: None,
        sure: Sure::default(),
        current: None,
    };
    let of_the_boat = Table::new(&[row]).ok();
    let later = Row {
        unix_s: row.unix_s + 3600,
        ..row
    };
    let entered = Table::new(&[row, later]).ok();
    let boat = Boat {
        forecast: of_the_boat.clone(),
        ..boat()
    };
    let mut watch = Watch::new(&boat, None, at(0));
    assert_eq!(watch.saved().forecast, SavedForecast::OfTheBoat);
    for forecast in [entered, None, of_the_boat] {
        watch.set_forecast(forecast.clone(), at(5));
        let saved = watch.saved();
        assert_eq!(saved.forecast, SavedForecast::Entered(forecast));
        let again = Watch::new(&boat, Some(&saved), at(0));
        assert_eq!(again.saved(), saved);
    }
}
