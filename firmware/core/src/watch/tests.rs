//! The whole core, with time wound by hand.

use super::*;
use crate::act::{Doing, Hands, Helm, NotNow, Readiness, Sea};
use crate::angle::BowAngle;
use crate::boat::{Calling, Crew, Start};
use crate::event::{Call, EventKind, Hint, Saying};
use crate::instruments::{Confirmation, Instruments};
use crate::ladder::{Change, HandsMinutes, ItemId, Ladder, Limit, Limits, Plan, PlanId, SetupItem};
use crate::reading::{Heard, Measure, Quantity, Rank, SourceId};
use crate::text::text;
use crate::units::{Degrees, Knots, SignedKnots};
use crate::view::{AlertState, MinutesInHand};

pub(super) const WIND: SourceId = SourceId(1);
pub(super) const LOG: SourceId = SourceId(2);

pub(super) fn at(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

pub(super) fn plan(short: &str, limit: Option<f64>) -> Plan {
    let limit = Limit {
        mean: limit.and_then(|kn| Knots::new(kn).ok()),
        gust: None,
    };
    Plan {
        name: text(short),
        short: text(short),
        area_m2: 50.0,
        limits: Limits {
            close_hauled: limit,
            reaching: limit,
            running: limit,
        },
        heel_limit: Degrees::new(25.0).ok(),
        ..Plan::default()
    }
}

pub(super) fn change(from: u8, to: u8, item: Option<u8>) -> Change {
    let mut change = Change {
        from: PlanId(from),
        to: PlanId(to),
        ..Change::default()
    };
    let _ = change.minutes.push(HandsMinutes {
        hands: 1,
        minutes: 6.0,
    });
    if let Some(item) = item {
        let _ = change.setup.push(ItemId(item));
    }
    change
}

/// Three plans; the second change needs a pendant led.
pub(super) fn boat() -> Boat {
    let mut ladder = Ladder::default();
    for plan in [
        plan("full", Some(18.0)),
        plan("reef 1", Some(24.0)),
        plan("reef 2", None),
    ] {
        let _ = ladder.plans.push(plan);
    }
    let _ = ladder.setup.push(SetupItem {
        name: text("second pendant"),
        minutes: 5.0,
        hands: 1,
        ..SetupItem::default()
    });
    for change in [change(0, 1, None), change(1, 2, Some(0))] {
        let _ = ladder.changes.push(change);
    }
    Boat {
        name: text("Test"),
        instruments: Instruments {
            wind_confirmed: Confirmation::Confirmed,
            ..Instruments::default()
        },
        ladder,
        crew: Crew::default(),
        calling: Calling {
            limits: Confirmation::Confirmed,
            ..Calling::default()
        },
        start: Start {
            plan: PlanId(0),
            hands: Hands {
                on_deck: 1,
                below: 1,
            },
            helm: Helm::Pilot,
            doing: Doing::Sailing,
        },
        forecast: None,
        bill: None,
        costs: Default::default(),
    }
}

/// A boat lying still, so that apparent wind is true wind.
pub(super) fn hear_wind(watch: &mut Watch, kn: f64, second: u64) {
    hear(watch, WIND, wind(kn, second), second);
    let still = SignedKnots::new(0.0).map(Measure::WaterSpeed).ok();
    hear(watch, LOG, still, second);
}

/// A vane that never moved would be called stuck.
pub(super) fn wind(kn: f64, second: u64) -> Option<Measure> {
    Some(Measure::ApparentWind {
        angle: BowAngle::new(40.0 + 4.0 * libm::sin(second as f64 / 7.0))?,
        speed: Knots::new(kn).ok()?,
    })
}

pub(super) fn hear(watch: &mut Watch, source: SourceId, measure: Option<Measure>, second: u64) {
    let Some(measure) = measure else {
        return;
    };
    let now = at(second);
    watch.hear(
        &Reading {
            source,
            rank: Rank::AUTOMATIC,
            at: now,
            heard: Heard::Value(measure),
        },
        now,
    );
}

/// Steady wind with a gust every 20 s, so that spreads are not zero.
pub(super) fn gusty(kn: f64, second: u64) -> f64 {
    let wave = libm::sin(second as f64 / 20.0 * core::f64::consts::TAU);
    kn * (1.0 + 0.06 * wave)
}

pub(super) fn run(
    watch: &mut Watch,
    from: u64,
    to: u64,
    kn: impl Fn(u64) -> f64,
) -> std::vec::Vec<Event> {
    let mut events = std::vec::Vec::new();
    for second in from..to {
        hear_wind(watch, gusty(kn(second), second), second);
        while let Some(event) = watch.next_event() {
            events.push(event);
        }
    }
    events
}

/// Rises until the first limit is near.
pub(super) fn threatening(second: u64) -> f64 {
    12.0 + 6.6 * second as f64 / 3600.0
}

pub(super) fn calls(events: &[Event]) -> std::vec::Vec<Call> {
    events
        .iter()
        .filter(|event| event.kind == EventKind::Call)
        .map(|event| event.call)
        .collect()
}

#[test]
fn all_of_it_fits_in_what_the_house_allows() {
    let size = size_of::<Watch>();
    assert!(size <= 128 * 1024, "{size} bytes");
}

#[test]
fn a_rising_wind_prepares_then_reduces_then_is_past() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let rising = |second: u64| 10.0 + (second.saturating_sub(1800) as f64) / 3600.0 * 9.0;
    let events = run(&mut watch, 0, 6000, rising);
    let calls = calls(&events);
    let places: std::vec::Vec<_> = [Call::Prepare, Call::Reduce, Call::Past]
        .iter()
        .map(|call| calls.iter().position(|c| c == call))
        .collect();
    assert!(
        places.iter().all(Option::is_some) && places.is_sorted(),
        "{calls:?}"
    );
}

#[test]
fn nothing_heard_is_blind_and_never_calm() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.tick(at(1));
    assert_eq!(watch.view().call.call, Call::Blind);
    assert_eq!(watch.view().sounds.cockpit, None, "still listening");
    watch.tick(at(60));
    assert_eq!(watch.view().call.call, Call::Blind);
    assert!(watch.view().sounds.cockpit.is_some());
    assert_eq!(watch.view().call.minutes_in_hand, MinutesInHand::Unknown);
}

#[test]
fn wind_that_falls_silent_turns_blind_and_its_numbers_vanish() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 12.0);
    assert_eq!(watch.view().call.call, Call::None);
    watch.tick(at(1230));
    let view = watch.view();
    assert_eq!(view.call.call, Call::Blind);
    assert_eq!(view.wind.tws_kn, None);
    assert_eq!(view.call.minutes_in_hand, MinutesInHand::Unknown);
    assert!(view.call.why.contains("apparent wind"), "{}", view.call.why);
    assert!(view.call.outlook_age_s.is_some());
    let events = run(&mut watch, 1231, 1400, |_| 12.0);
    assert_eq!(calls(&events).last(), Some(&Call::None), "{events:?}");
}

#[test]
fn extra_ticks_never_change_an_event() {
    let boat = boat();
    let rising = |second: u64| 12.0 + second as f64 / 600.0;
    let mut plain = Watch::new(&boat, None, at(0));
    let told = run(&mut plain, 0, 3000, rising);
    let mut ticked = Watch::new(&boat, None, at(0));
    let mut told_ticked = std::vec::Vec::new();
    for second in 0..3000 {
        for part in (0..4).filter(|_| second > 0) {
            ticked.tick(Timestamp::from_millis(second * 1000 - 900 + part * 200));
        }
        told_ticked.extend(run(&mut ticked, second, second + 1, rising));
    }
    assert_eq!(told, told_ticked);
}

#[test]
fn a_reduction_entered_rests_the_call_and_asks_for_the_next_set_up_at_once() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, threatening);
    assert!(watch.view().call.call.is_threat());
    watch.press(Act::Plan(PlanId(1)), at(3600));
    let view = watch.view();
    assert_eq!(view.call.call, Call::None);
    assert_eq!(view.setup.len(), 1);
    assert!(view.setup[0].buys_min > 0.0);
    let mut hinted = false;
    while let Some(event) = watch.next_event() {
        hinted |= event.kind == EventKind::Hint(Hint::OpenSetup(ItemId(0)));
    }
    assert!(hinted);
}

#[test]
fn a_ticked_item_shortens_the_call_time() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(1)), at(1));
    run(&mut watch, 2, 600, |_| 12.0);
    let total = |watch: &Watch| watch.view().call.call_time.map(|time| time.total_s());
    let before = total(&watch);
    let ready = Act::Setup {
        item: ItemId(0),
        readiness: Readiness::Ready,
    };
    watch.press(ready, at(600));
    assert!(total(&watch) < before, "{before:?}");
}

#[test]
fn acknowledging_stills_the_sound_and_keeps_the_call() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, threatening);
    assert!(watch.view().sounds.cockpit.is_some());
    watch.press(Act::Acknowledge, at(3600));
    let view = watch.view();
    assert_eq!(view.sounds.cockpit, None);
    assert!(view.call.call.is_threat());
    assert_eq!(view.call.alert, AlertState::Acknowledged);
}

#[test]
fn an_alarm_cannot_be_put_off() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    assert_eq!(watch.view().call.call, Call::Past);
    let off = Act::NotNow {
        minutes: 30,
        because: NotNow::Lull,
    };
    watch.press(off, at(1800));
    assert_eq!(watch.view().not_now, None);
    assert!(watch.view().sounds.cockpit.is_some());
}

#[test]
fn a_change_begun_is_shown_and_sounds_only_when_it_takes_too_long() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, threatening);
    watch.press(Act::Started, at(1800));
    let booked = watch.view().manoeuvre.map_or(0.0, |m| m.booked_s);
    assert!(booked > 0.0);
    let crossed = 1800 + (booked as u64);
    run(&mut watch, 1801, crossed, |_| 21.0);
    assert_eq!(watch.view().call.call, Call::Past);
    // Worse than when it was begun: that may have been a mistake.
    assert!(watch.view().sounds.cockpit.is_some());
    watch.press(Act::Acknowledge, at(crossed));
    assert_eq!(watch.view().sounds.cockpit, None);
    run(&mut watch, crossed, crossed + 10, |_| 21.0);
    assert!(watch.view().sounds.cockpit.is_some(), "set?");
    watch.press(Act::Acknowledge, at(crossed + 10));
    let late = 1800 + (booked * 1.5) as u64 + 5;
    run(&mut watch, crossed + 11, late + 10, |_| 21.0);
    assert!(watch.view().sounds.cockpit.is_some());
}

#[test]
fn under_engine_nothing_sounds_not_even_blindness() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Doing(Doing::Motoring), at(1));
    run(&mut watch, 2, 1800, |_| 30.0);
    assert_eq!(watch.view().call.call, Call::None);
    assert_eq!(watch.view().sounds, Default::default());
    watch.tick(at(4000));
    assert_eq!(watch.view().sounds, Default::default());
    assert!(watch.view().call.why.contains("not watching"));
}

#[test]
fn a_squall_seen_calls_by_itself() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    assert_eq!(watch.view().call.call, Call::None);
    watch.press(
        Act::SquallSeen {
            minutes: 10,
            strength: None,
        },
        at(1200),
    );
    let view = watch.view();
    assert!(view.call.call.is_threat());
    assert_eq!(view.call.cause, Some(crate::event::Cause::Squall));
    run(&mut watch, 1200, 1260, |_| 9.0);
    watch.press(Act::PlanDown, at(1260));
    assert_eq!(watch.view().call.call, Call::None);
}

#[test]
fn a_sudden_onset_reduces_before_the_minute_mean_is_there() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, |_| 9.0);
    let events = run(&mut watch, 3600, 3660, |_| 33.0);
    let first = events
        .iter()
        .find(|event| event.call >= Call::Reduce)
        .map(|event| event.at.secs_since(at(3600)));
    assert!(first.is_some_and(|s| s <= 30.0), "{first:?}");
}

#[test]
fn heel_alone_goes_on_watching_when_the_wind_is_lost() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 600, |_| 9.0);
    for second in 600..1200 {
        let heel = Degrees::new(29.0).map(Measure::Heel).ok();
        hear(&mut watch, SourceId(3), heel, second);
    }
    let view = watch.view();
    assert_eq!(view.call.call, Call::Past);
    assert_eq!(view.call.cause, Some(crate::event::Cause::Heel));
    let lost = crate::fault::Fault::Lost(Quantity::ApparentWind);
    assert!(view.faults.contains(&lost), "{:?}", view.faults);
}

#[test]
fn a_constant_added_to_the_whole_wind_never_lowers_the_call() {
    let boat = boat();
    let shape = |second: u64| 11.0 + 2.0 * libm::sin(second as f64 / 900.0);
    let mut before: Option<std::vec::Vec<Call>> = None;
    for added in 0..6 {
        let mut watch = Watch::new(&boat, None, at(0));
        let mut stood = std::vec::Vec::new();
        for second in 0..3600 {
            // The same gusts on each: only the level differs.
            let gust = gusty(11.0, second) - 11.0;
            hear_wind(&mut watch, shape(second) + gust + f64::from(added), second);
            stood.push(watch.view_call());
        }
        if let Some(lower) = &before {
            for (second, (low, high)) in lower.iter().zip(&stood).enumerate() {
                assert!(
                    high >= low,
                    "{added} kn more at {second} s: {low:?} {high:?}"
                );
            }
        }
        before = Some(stood);
    }
}

#[test]
fn what_the_crew_says_is_told_for_the_logbook() {
    let mut watch = Watch::new(&boat(), None, at(0));
    for (act, kind) in [
        (Act::Wake, EventKind::Said(Saying::Woken)),
        (Act::Helm(Helm::Hand), EventKind::Helm(Helm::Hand)),
        (
            Act::Sea(Some(Sea::Rough)),
            EventKind::Said(Saying::Sea(Some(Sea::Rough))),
        ),
        (
            Act::SquallSeen {
                minutes: 0,
                strength: None,
            },
            EventKind::Said(Saying::SquallSeen(0, None)),
        ),
        (Act::ConfirmLimits, EventKind::Said(Saying::LimitsConfirmed)),
        (
            Act::DeclineBeforeDark,
            EventKind::Said(Saying::DarkDeclined),
        ),
    ] {
        watch.press(act, at(1));
        let told = core::iter::from_fn(|| watch.next_event()).any(|it| it.kind == kind);
        assert!(told, "{kind:?}");
    }
    // There is no call yet that could be put off.
    let put_off = Act::NotNow {
        minutes: 30,
        because: NotNow::Lull,
    };
    watch.press(put_off, at(2));
    assert_eq!(watch.next_event(), None);
}

#[test]
fn a_change_given_up_is_logged_as_given_up_and_not_as_begun() {
    let mut watch = Watch::new(&boat(), None, at(0));
    for second in 0..900 {
        hear_wind(&mut watch, gusty(11.0, second), second);
    }
    watch.press(Act::GivenUp, at(901));
    watch.press(Act::Started, at(902));
    watch.press(Act::GivenUp, at(903));
    let told: std::vec::Vec<_> = core::iter::from_fn(|| watch.next_event())
        .filter(|it| matches!(it.kind, EventKind::Start | EventKind::GivenUp))
        .map(|it| (it.kind, it.why.as_str() == "the crew has begun"))
        .collect();
    assert_eq!(
        told,
        [(EventKind::Start, true), (EventKind::GivenUp, false),],
        "what was not begun cannot be given up"
    );
}

#[test]
fn the_log_names_who_steers_and_which_sea_was_set() {
    let mut watch = Watch::new(&boat(), None, at(0));
    for (act, why) in [
        (Act::Helm(Helm::Hand), "steering: by hand"),
        (Act::Helm(Helm::Pilot), "steering: pilot"),
        (Act::Sea(Some(Sea::Rough)), "sea state set by hand"),
        (Act::Sea(None), "sea state judged by wind and motion"),
    ] {
        watch.press(act, at(1));
        let told = core::iter::from_fn(|| watch.next_event()).last();
        assert_eq!(told.unwrap().why.as_str(), why);
    }
}

#[test]
fn what_was_saved_comes_back() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(1)), at(1));
    let ready = Act::Setup {
        item: ItemId(0),
        readiness: Readiness::Ready,
    };
    watch.press(ready, at(2));
    let saved = watch.saved();
    let again = Watch::new(&boat, Some(&saved), at(0));
    assert_eq!(again.saved(), saved);
    assert_eq!(again.view().plan.id, PlanId(1));
    assert_eq!(
        again.view().plan.confirmed,
        None,
        "nobody has said so since"
    );
}

impl Watch {
    fn view_call(&self) -> Call {
        self.shown_call()
    }
}
