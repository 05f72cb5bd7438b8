//! What once broke, each by the name of what broke.

use super::tests::{at, boat, calls, gusty, hear, hear_wind, run, threatening};
use super::*;
use crate::act::{Doing, Hands, NotNow, PointOfSail};
use crate::event::{Call, Cause, EventKind, Hint};
use crate::ladder::PlanId;
use crate::reading::{Measure, SourceId};
use crate::units::{Degrees, Knots, Position, Rpm, SignedKnots};
use crate::view::{AlertState, MinutesInHand};

const LATER: Act = Act::NotNow {
    minutes: 60,
    because: NotNow::Rest,
};

fn heel(watch: &mut Watch, degrees: f64, second: u64) {
    let heel = Degrees::new(degrees).map(Measure::Heel).ok();
    hear(watch, SourceId(3), heel, second);
}

fn by_hand(kn: f64) -> Act {
    Act::WindByHand {
        speed: Knots::new(kn).unwrap_or_default(),
        side: PointOfSail::Reaching,
    }
}

/// A watch on which `prepare` stands, and the second it is.
fn prepared(boat: &Boat) -> (Watch, u64) {
    let mut watch = Watch::new(boat, None, at(0));
    let mut second = 0;
    while watch.view().call.call != Call::Prepare {
        run(&mut watch, second, second + 60, threatening);
        second += 60;
        assert!(second < 7200, "never prepared");
    }
    (watch, second)
}

#[test]
fn time_at_its_end_does_not_hang_the_watch() {
    let boat = boat();
    let mut late = Watch::new(&boat, None, Timestamp::from_millis(u64::MAX));
    late.tick(Timestamp::from_millis(u64::MAX));
}

#[test]
fn hours_of_silence_are_blind_and_the_first_wind_after_them_ends_it() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 12.0);
    let hours = 5 * 3600;
    watch.tick(at(hours));
    let view = watch.view();
    assert_eq!(view.call.call, Call::Blind);
    assert!(view.sounds.cockpit.is_some());
    let events = run(&mut watch, hours + 1, hours + 400, |_| 12.0);
    assert_eq!(calls(&events).last(), Some(&Call::None));
}

#[test]
fn worse_than_put_off_ends_the_put_off() {
    let boat = boat();
    let (mut watch, second) = prepared(&boat);
    watch.press(LATER, at(second));
    assert_eq!(watch.view().sounds.cockpit, None);
    run(&mut watch, second, second + 1800, |at| {
        threatening(second) + (at - second) as f64 / 300.0
    });
    assert!(watch.view().sounds.cockpit.is_some());
    assert_eq!(watch.view().not_now, None);
}

#[test]
fn nothing_is_put_off_before_it_is_called() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(LATER, at(1200));
    assert_eq!(watch.view().not_now, None);
    watch.press(
        Act::SquallSeen {
            minutes: 10,
            strength: None,
        },
        at(1201),
    );
    assert!(watch.view().sounds.cockpit.is_some());
}

#[test]
fn an_alarm_by_heel_cannot_be_put_off_while_the_wind_is_lost() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 600, |_| 9.0);
    for second in 600..900 {
        heel(&mut watch, 29.0, second);
    }
    assert_eq!(watch.view().call.call, Call::Past);
    watch.press(LATER, at(900));
    assert_eq!(watch.view().not_now, None);
    assert!(watch.view().sounds.cockpit.is_some());
}

#[test]
fn what_was_answered_before_a_gap_is_not_called_again_the_second_after() {
    let boat = boat();
    let (mut watch, second) = prepared(&boat);
    watch.press(Act::Acknowledge, at(second));
    watch.tick(at(second + 45));
    assert_eq!(watch.view().call.call, Call::Blind);
    let events = run(&mut watch, second + 45, second + 60, |_| {
        threatening(second)
    });
    assert_eq!(watch.view().call.call, Call::Prepare, "{events:?}");
    assert_eq!(watch.view().call.alert, AlertState::Acknowledged);
}

#[test]
fn an_unanswered_alarm_is_not_stilled_by_losing_the_wind() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    assert_eq!(watch.view().call.call, Call::Past);
    for second in 1801..1860 {
        watch.tick(at(second));
        assert!(watch.view().sounds.cockpit.is_some(), "silent at {second}");
    }
    assert_eq!(watch.view().call.call, Call::Blind);
}

#[test]
fn heel_about_its_limit_does_not_chatter_while_the_wind_is_lost() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 600, |_| 9.0);
    let mut told = std::vec::Vec::new();
    for second in 600..4200 {
        let wave = libm::sin(second as f64 / 300.0 * core::f64::consts::TAU);
        heel(&mut watch, 25.2 + 1.5 * wave, second);
        while let Some(event) = watch.next_event() {
            told.push(event);
        }
    }
    let told = calls(&told);
    assert!(told.len() <= 5, "{told:?}");
}

#[test]
fn wind_by_hand_is_not_judged_by_an_outlook_of_hours_ago() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, |_| 9.0);
    watch.tick(at(5 * 3600));
    watch.press(by_hand(16.0), at(5 * 3600));
    // The same level without any past tells the same.
    let mut new = Watch::new(&boat, None, at(0));
    new.press(by_hand(16.0), at(5 * 3600));
    let (old, new) = (watch.view().call, new.view().call);
    assert!(old.odds.is_some());
    assert_eq!(old.odds, new.odds);
    assert_eq!(old.minutes_in_hand, new.minutes_in_hand);
}

#[test]
fn wind_that_is_back_is_not_judged_by_an_outlook_of_hours_ago() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, |_| 9.0);
    watch.tick(at(5 * 3600));
    run(&mut watch, 5 * 3600, 5 * 3600 + 20, |_| 16.0);
    let view = watch.view();
    assert_eq!(view.call.call, Call::None);
    assert_eq!(view.call.minutes_in_hand, MinutesInHand::Unknown);
}

#[test]
fn wind_by_hand_stands_in_for_cups_that_are_doubted() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..1200 {
        hear_wind(&mut watch, 0.0, second);
        sog(&mut watch, 6.0, second);
    }
    assert_eq!(watch.view().call.call, Call::Blind);
    watch.press(by_hand(21.0), at(1200));
    for second in 1200..1300 {
        hear_wind(&mut watch, 0.0, second);
        sog(&mut watch, 6.0, second);
    }
    assert_eq!(watch.view().call.call, Call::Past);
}

#[test]
fn past_the_limit_of_the_last_plan_never_shows_time_in_hand() {
    let mut boat = boat();
    if let Some(last) = boat.ladder.plans.last_mut() {
        last.limits = tests_limits(30.0);
    }
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(2)), at(0));
    run(&mut watch, 1, 1800, |_| 35.0);
    let view = watch.view();
    assert_eq!(view.call.call, Call::Past);
    assert_eq!(view.call.minutes_in_hand, MinutesInHand::Minutes(0.0));
}

fn tests_limits(kn: f64) -> crate::ladder::Limits {
    let limit = crate::ladder::Limit {
        mean: Knots::new(kn).ok(),
        gust: None,
    };
    crate::ladder::Limits {
        close_hauled: limit,
        reaching: limit,
        running: limit,
    }
}

#[test]
fn a_plan_whose_limit_is_passed_already_is_not_called_for() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, |_| 9.0);
    run(&mut watch, 3600, 3670, |_| 33.0);
    let view = watch.view();
    assert!(view.call.call >= Call::Reduce);
    assert_eq!(view.next, Some(PlanId(2)), "reef 1 stands only 24 kn");
}

#[test]
fn entering_the_plan_that_is_set_already_rests_no_call() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 600, |_| 9.0);
    for second in 600..900 {
        heel(&mut watch, 29.0, second);
        hear_wind(&mut watch, gusty(9.0, second), second);
    }
    assert_eq!(watch.view().call.call, Call::Past);
    watch.press(Act::Plan(PlanId(0)), at(900));
    assert_eq!(watch.view().call.call, Call::Past);
    assert_eq!(watch.view().plan.confirmed, Some(at(900)));
}

#[test]
fn started_again_does_not_buy_silence_for_ever() {
    let boat = boat();
    let (mut watch, second) = prepared(&boat);
    watch.press(Act::Started, at(second));
    watch.press(Act::Started, at(second + 300));
    assert_eq!(watch.view().manoeuvre.map(|m| m.since), Some(at(second)));
}

#[test]
fn leaving_sail_ends_a_change_and_a_put_off() {
    let boat = boat();
    let (mut watch, second) = prepared(&boat);
    watch.press(LATER, at(second));
    watch.press(Act::Started, at(second));
    watch.press(Act::Doing(Doing::Motoring), at(second + 1));
    let view = watch.view();
    assert_eq!((view.manoeuvre, view.not_now), (None, None));
}

#[test]
fn a_lull_under_engine_does_not_count_for_shaking_out() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(1)), at(0));
    watch.hinted.lull_since = Some(at(1));
    watch.press(Act::Doing(Doing::Motoring), at(2));
    watch.tick(at(4));
    assert_eq!(watch.hinted.lull_since, None);
}

#[test]
fn sail_made_again_before_a_squall_leaves_the_squall_to_be_met() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 10,
            strength: None,
        },
        at(1200),
    );
    watch.press(Act::PlanDown, at(1201));
    assert_eq!(watch.view().call.call, Call::None);
    watch.press(Act::PlanUp, at(1202));
    assert_eq!(watch.view().call.cause, Some(Cause::Squall));
}

#[test]
fn a_day_before_dark_is_the_suns_and_not_utcs() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let fix = crate::time::UtcFix {
        unix_ms: (20_000 * 24 - 1) * 3_600_000,
        at: at(0),
        quality: crate::time::UtcQuality::Gnss,
    };
    let place = Position::new(-18.0, 178.0).map(Measure::Position).ok();
    hear(&mut watch, SourceId(9), place, 0);
    // Midnight UTC is noon in Fiji.
    watch.set_utc(fix, at(0));
    watch.tick(at(1));
    let before = watch.day();
    // Two hours on it is another day by UTC, and not in Fiji.
    watch.tick(at(7200));
    assert_eq!(watch.day(), before);
}

#[test]
fn an_event_never_gives_minutes_that_the_screen_would_not() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 600, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 255,
            strength: None,
        },
        at(600),
    );
    watch.tick(at(640));
    let events = core::iter::from_fn(|| watch.next_event());
    for event in events {
        let minutes = event.minutes_in_hand;
        assert!(minutes.is_none_or(|m| m <= 90.0), "{event:?}");
    }
}

#[test]
fn nobody_aboard_and_no_key_ever_pressed_still_calls_and_rests() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let nobody = Hands {
        on_deck: 0,
        below: 0,
    };
    watch.press(Act::Hands(nobody), at(0));
    let events = run(&mut watch, 0, 1800, |_| 21.0);
    assert_eq!(calls(&events).last(), Some(&Call::Past));
    assert!(watch.view().sounds.bunk.is_some());
    let events = run(&mut watch, 1800, 7200, |_| 8.0);
    assert_eq!(calls(&events).last(), Some(&Call::None));
    assert_eq!(watch.view().sounds, Default::default());
}

#[test]
fn a_log_that_reads_far_too_much_does_not_hide_the_wind() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..600 {
        hear(
            &mut watch,
            super::tests::WIND,
            super::tests::wind(27.0, second),
            second,
        );
        let absurd = SignedKnots::new(19.0).map(Measure::WaterSpeed).ok();
        hear(&mut watch, super::tests::LOG, absurd, second);
        sog(&mut watch, 6.0, second);
    }
    let view = watch.view();
    assert!(view.faults.contains(&crate::fault::Fault::NoWaterSpeed));
    assert!(view.call.call >= Call::Reduce, "{:?}", view.wind.tws_kn);
}

/// Hints told in a run of seconds.
fn hints_told(
    watch: &mut Watch,
    from: u64,
    to: u64,
    mut each: impl FnMut(&mut Watch, u64),
) -> std::vec::Vec<Hint> {
    let mut told = std::vec::Vec::new();
    for second in from..to {
        each(watch, second);
        while let Some(event) = watch.next_event() {
            if let EventKind::Hint(hint) = event.kind {
                told.push(hint);
            }
        }
    }
    told
}

#[test]
fn engine_turns_are_known_to_the_picture() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let turns = Rpm::new(1500.0).map(Measure::EngineTurns).ok();
    hear(&mut watch, SourceId(7), turns, 0);
    assert_eq!(watch.picture.engine_rpm(at(1)), Some(1500.0));
    assert_eq!(watch.picture.engine_rpm(at(120)), None);
}

/// Sails at heel that goes with wind squared, on the wind.
fn sail(watch: &mut Watch, stiffness: f64, second: u64) {
    let kn = gusty(14.0, second);
    hear_wind(watch, kn, second);
    heel(watch, stiffness * kn * kn, second);
}

#[test]
fn a_plan_set_and_not_entered_is_asked_about_once() {
    let mut boat = boat();
    for (place, plan) in boat.ladder.plans.iter_mut().enumerate() {
        plan.area_m2 = 50.0 * libm::pow(0.75, place as f64);
    }
    let mut watch = Watch::new(&boat, None, at(0));
    let before = hints_told(&mut watch, 0, 3600, |watch, s| sail(watch, 0.06, s));
    assert!(!before.contains(&Hint::PlanDoubted));
    let after = hints_told(&mut watch, 3600, 9000, |watch, s| sail(watch, 0.038, s));
    let asked = after.iter().filter(|h| **h == Hint::PlanDoubted).count();
    assert_eq!(asked, 1, "{after:?}");
    assert!(watch.view().hints.contains(&Hint::PlanDoubted));
    watch.press(Act::Plan(PlanId(1)), at(9000));
    assert!(!watch.view().hints.contains(&Hint::PlanDoubted));
    let entered = hints_told(&mut watch, 9000, 14_000, |watch, s| sail(watch, 0.038, s));
    assert!(!entered.contains(&Hint::PlanDoubted));
}

#[test]
fn a_plan_entered_as_it_was_set_is_not_doubted() {
    let mut boat = boat();
    for (place, plan) in boat.ladder.plans.iter_mut().enumerate() {
        plan.area_m2 = 50.0 * libm::pow(0.75, place as f64);
    }
    let mut watch = Watch::new(&boat, None, at(0));
    hints_told(&mut watch, 0, 3600, |watch, s| sail(watch, 0.06, s));
    watch.press(Act::Plan(PlanId(1)), at(3600));
    let after = hints_told(&mut watch, 3600, 9000, |watch, s| sail(watch, 0.042, s));
    assert!(!after.contains(&Hint::PlanDoubted), "{after:?}");
}

fn sog(watch: &mut Watch, kn: f64, second: u64) {
    let sog = Measure::GroundMotion {
        speed: Knots::new(kn).unwrap_or_default(),
        course: None,
    };
    hear(watch, SourceId(4), Some(sog), second);
}

fn turns(watch: &mut Watch, rpm: f64, second: u64) {
    let turns = Rpm::new(rpm).map(Measure::EngineTurns).ok();
    hear(watch, SourceId(7), turns, second);
}

/// How often it is asked whether she does this, in ten minutes of that.
#[track_caller]
fn asked_in(doing: Doing, each: impl FnMut(&mut Watch, u64)) -> usize {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Doing(doing), at(0));
    let told = hints_told(&mut watch, 0, 600, each);
    let asked = told.iter().filter(|h| **h == Hint::DoingDoubted).count();
    assert_eq!(watch.view().hints.contains(&Hint::DoingDoubted), asked > 0);
    assert!(watch.view().sounds.cockpit.is_none() || doing.is_under_sail());
    asked
}

#[test]
fn sailing_said_to_be_motoring_is_asked_about_once() {
    let heeled = |watch: &mut Watch, s: u64| {
        heel(watch, 15.0, s);
        sog(watch, 6.0, s);
    };
    assert_eq!(asked_in(Doing::Motoring, heeled), 1);
    let with_engine = |watch: &mut Watch, s: u64| {
        heeled(watch, s);
        turns(watch, 1800.0, s);
    };
    assert_eq!(asked_in(Doing::Motoring, with_engine), 0);
    let without = |watch: &mut Watch, s: u64| {
        heeled(watch, s);
        turns(watch, 0.0, s);
    };
    assert_eq!(asked_in(Doing::Motoring, without), 1);
}

#[test]
fn motoring_said_to_be_sailing_is_asked_about_once() {
    assert_eq!(asked_in(Doing::Sailing, |w, s| turns(w, 1800.0, s)), 1);
    assert_eq!(asked_in(Doing::Sailing, |w, s| turns(w, 0.0, s)), 0);
    assert_eq!(asked_in(Doing::MotorSailing, |w, s| turns(w, 1800.0, s)), 0);
}

#[test]
fn under_way_said_to_be_anchored_is_asked_about_once() {
    assert_eq!(asked_in(Doing::Anchored, |w, s| sog(w, 4.0, s)), 1);
    assert_eq!(asked_in(Doing::Anchored, |w, s| sog(w, 1.0, s)), 0);
    assert_eq!(asked_in(Doing::Moored, |w, s| sog(w, 4.0, s)), 1);
}

#[test]
fn a_step_of_utc_by_itself_changes_no_call() {
    let boat = boat();
    let run_with = |steps: &[(u64, i64)]| {
        let mut watch = Watch::new(&boat, None, at(0));
        let mut told = std::vec::Vec::new();
        for second in 0..5400 {
            for (_, step_ms) in steps.iter().filter(|(when, _)| *when == second) {
                let fix = crate::time::UtcFix {
                    unix_ms: 1_764_050_000_000 + second as i64 * 1000 + step_ms,
                    at: at(second),
                    quality: crate::time::UtcQuality::Gnss,
                };
                watch.set_utc(fix, at(second));
            }
            told.extend(run(&mut watch, second, second + 1, threatening));
        }
        told.iter()
            .filter(|event| event.kind == EventKind::Call)
            .map(|event| (event.at, event.call))
            .collect::<std::vec::Vec<_>>()
    };
    let steady = run_with(&[(0, 0)]);
    assert!(!steady.is_empty());
    let stepped = run_with(&[
        (0, 0),
        (2000, 3_600_000),
        (2500, -86_400_000),
        (3000, i64::MAX / 2),
    ]);
    assert_eq!(steady, stepped);
}
