//! The whole core with a forecast: it brings calls forward and says why, and
//! whatever it says, no call is lower than without it.

use cringle_core::act::{Act, NotNow};
use cringle_core::angle::BowAngle;
use cringle_core::boat::Boat;
use cringle_core::event::{Call, Cause, Event, EventKind, Hint};
use cringle_core::forecast::{Row, Sure, Table};
use cringle_core::instruments::Confirmation;
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_core::units::{Knots, Position, SignedKnots};
use cringle_core::view::{AlertState, ForecastStanding, MinutesInHand, View};
use cringle_core::watch::Watch;
use proptest::prelude::*;

/// 2026-06-20T12:00Z by `date -u +%s` of GNU coreutils.
pub(crate) const NOON_S: i64 = 1_781_956_800;

fn boat() -> Boat {
    let mut boat = cringle_boat::example().expect("in order").boat;
    boat.calling.limits = Confirmation::Confirmed;
    boat.instruments.wind_confirmed = Confirmation::Confirmed;
    boat.instruments.masthead_height = None;
    boat
}

pub(crate) fn at(second: u64) -> Timestamp {
    Timestamp::from_secs(second)
}

fn table(knots: &[f64], step_s: i64, sure: f64) -> Table {
    let rows: Vec<Row> = (0..)
        .zip(knots)
        .map(|(place, kn)| Row {
            unix_s: NOON_S + place * step_s,
            wind: Knots::new(*kn).expect("a wind"),
            gust: None,
            from_deg: None,
            sure: Sure::Share(sure),
            current: None,
        })
        .collect();
    Table::new(&rows).expect("a sound table")
}

/// A watch that lies still, with UTC known from the start.
fn watch(table: Option<Table>) -> Watch {
    let mut watch = Watch::new(&boat(), None, at(0));
    watch.set_utc(
        UtcFix {
            unix_ms: NOON_S * 1000,
            at: at(0),
            quality: UtcQuality::Gnss,
        },
        at(0),
    );
    watch.set_forecast(table, at(0));
    watch
}

/// Wind every two seconds, gusty, from a vane that moves.
fn hear(watch: &mut Watch, second: u64, kn: f64) {
    let wave = (second as f64 / 20.0 * std::f64::consts::TAU).sin();
    let wind = Measure::ApparentWind {
        angle: BowAngle::new(40.0 + 4.0 * (second as f64 / 7.0).sin()).expect("an angle"),
        speed: Knots::new(kn * (1.0 + 0.06 * wave)).expect("a wind"),
    };
    let still = Measure::WaterSpeed(SignedKnots::new(0.0).expect("still"));
    for (source, measure) in [(1, wind), (2, still)] {
        let reading = Reading {
            source: SourceId(source),
            rank: Rank::AUTOMATIC,
            at: at(second),
            heard: Heard::Value(measure),
        };
        watch.hear(&reading, at(second));
    }
}

fn events(watch: &mut Watch) -> Vec<Event> {
    std::iter::from_fn(|| watch.next_event()).collect()
}

/// Runs steady wind and gives all events.
fn run(watch: &mut Watch, from_s: u64, to_s: u64, kn: f64) -> Vec<Event> {
    let mut all = Vec::new();
    for second in (from_s..to_s).step_by(2) {
        hear(watch, second, kn);
        all.extend(events(watch));
    }
    all
}

/// 9 kn, then a front of 27 kn more two hours after noon.
pub(crate) fn front() -> Table {
    table(&[9.0, 9.0, 9.0, 9.0, 36.0, 36.0, 36.0], 1800, 0.9)
}

fn first_call(events: &[Event]) -> Option<&Event> {
    let mut calls = events.iter().filter(|event| event.kind == EventKind::Call);
    calls.find(|event| event.call == Call::Prepare)
}

#[test]
fn a_front_that_is_due_is_called_before_the_wind_stirs() {
    let mut with = watch(Some(front()));
    let told = run(&mut with, 0, 2 * 3600 - 600, 9.0);
    let call = first_call(&told).expect("a call");
    assert_eq!(call.cause, Some(Cause::Forecast));
    assert!(call.why.starts_with("forecast: "), "{}", call.why);
    let view = with.view();
    assert_eq!(view.forecast.standing, ForecastStanding::Used);
    assert!(!view.forecast.words.is_empty());
    // It never asks for more than readiness, and shows no less time.
    assert!(told.iter().all(|event| event.call <= Call::Prepare));
    assert!(matches!(view.call.minutes_in_hand, MinutesInHand::Minutes(min) if min >= 0.0));

    let mut without = watch(None);
    let told = run(&mut without, 0, 2 * 3600 - 600, 9.0);
    assert!(first_call(&told).is_none());
    assert_eq!(without.view().forecast.standing, ForecastStanding::None);
}

#[test]
fn without_utc_a_forecast_waits_and_nothing_is_missing() {
    let mut watch = Watch::new(&boat(), None, at(0));
    watch.set_forecast(Some(front()), at(0));
    let told = run(&mut watch, 0, 2 * 3600 - 600, 9.0);
    assert!(first_call(&told).is_none());
    assert_eq!(watch.view().forecast.standing, ForecastStanding::NoUtc);
    assert_eq!(watch.view().call.call, Call::None);
}

#[test]
fn an_answer_to_the_forecast_is_no_answer_to_the_wind() {
    for answer in [
        Act::Acknowledge,
        Act::NotNow {
            minutes: 60,
            because: NotNow::Lull,
        },
    ] {
        let mut watch = watch(Some(front()));
        let mut second = 0;
        while watch.view().call.call != Call::Prepare {
            hear(&mut watch, second, 9.0);
            second += 2;
            assert!(second < 7200, "no call");
        }
        watch.press(answer, at(second));
        run(&mut watch, second, second + 60, 9.0);
        assert_eq!(watch.view().call.alert, AlertState::Acknowledged);
        assert_eq!(watch.view().sounds.cockpit, None);
        events(&mut watch);
        // The wind itself now rises, and the call that it raises sounds.
        let mut sounded = None;
        for step in 0..1800 {
            let now = second + 60 + step * 2;
            hear(&mut watch, now, 9.0 + step as f64 / 1800.0 * 9.0);
            let told = events(&mut watch);
            let anew = told
                .iter()
                .find(|event| event.kind == EventKind::Call && event.cause == Some(Cause::Wind));
            if let Some(anew) = anew {
                sounded = Some((anew.call, watch.view().sounds.cockpit));
                break;
            }
        }
        let (call, sound) = sounded.expect("the wind never called");
        assert!(call >= Call::Prepare);
        assert!(sound.is_some(), "{answer:?}");
    }
}

#[test]
fn a_forecast_for_the_dark_hours_makes_dusk_the_last_good_moment() {
    let mut hints = [false; 2];
    for (hint, night_kn) in hints.iter_mut().zip([36.0, 9.0]) {
        // 45 north on the prime meridian: the sun sets about a quarter to
        // eight, civil twilight ends half an hour later. From 16 h on.
        let knots: Vec<f64> = (0..16)
            .map(|hour| if hour < 11 { 9.0 } else { night_kn })
            .collect();
        let mut watch = watch(Some(table(&knots, 3600, 0.9)));
        let position = Position::new(45.0, 0.0).expect("a place");
        for second in (6 * 3600..9 * 3600).step_by(2) {
            let reading = Reading {
                source: SourceId(3),
                rank: Rank::AUTOMATIC,
                at: at(second),
                heard: Heard::Value(Measure::Position(position)),
            };
            watch.hear(&reading, at(second));
            hear(&mut watch, second, 9.0);
            *hint |= events(&mut watch)
                .iter()
                .any(|event| matches!(event.kind, EventKind::Hint(Hint::ReduceNow(_))));
        }
    }
    assert_eq!(hints, [true, false]);
}

/// Wind in knots by the quarter of an hour, bent by what a series of numbers
/// says.
fn wind_kn(second: u64, bends: &[f64]) -> f64 {
    let place = second as f64 / 900.0;
    let at = |place: usize| bends.get(place).or(bends.last()).copied().unwrap_or(0.0);
    let (before, part) = (place as usize, place.fract());
    at(before) + part * (at(before + 1) - at(before))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, ..ProptestConfig::default() })]

    #[test]
    fn with_any_forecast_no_call_is_lower_than_without(
        bends in prop::collection::vec(8.0..32.0_f64, 8),
        told in prop::collection::vec(0.0..70.0_f64, 1..24),
        step_s in 600..7200_i64,
        sure in 0.0..1.0_f64,
        answered in prop::option::of(0..7200_u64),
        down in prop::option::of(0..7200_u64),
    ) {
        let mut with = watch(Some(table(&told, step_s, sure)));
        let mut without = watch(None);
        for second in (0..7200).step_by(2) {
            let kn = wind_kn(second, &bends);
            for watch in [&mut with, &mut without] {
                hear(watch, second, kn);
                for (moment, act) in [(answered, Act::Acknowledge), (down, Act::PlanDown)] {
                    if moment.is_some_and(|moment| moment / 2 * 2 == second) {
                        watch.press(act, at(second));
                    }
                }
                events(watch);
            }
            if second % 30 == 0 {
                let (with, without) = (with.view(), without.view());
                // One press takes the plan that is ordered; what follows is said of
                // two boats under different sail.
                if with.plan.id != without.plan.id {
                    break;
                }
                prop_assert!(
                    with.call.call >= without.call.call,
                    "at {} s: {:?} under {:?}", second, with.call.call, without.call.call
                );
                // Odds are those within the work, and a target that was frozen while
                // the forecast called may be less of it.
                let work_s = |view: &View| view.call.call_time.map(|work| work.total_s());
                let is_no_less = work_s(&with) >= work_s(&without);
                if let (true, Some(with), Some(without)) =
                    (is_no_less, with.call.odds, without.call.odds)
                {
                    prop_assert!(with >= without, "at {} s", second);
                }
            }
        }
    }
}
