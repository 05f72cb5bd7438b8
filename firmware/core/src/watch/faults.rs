//! What was once wrong with the call, each by its name with the input that
//! showed it.

use super::tests::{at, boat, calls, gusty, hear, hear_wind, run, threatening};
use super::*;
use crate::act::Readiness;
use crate::angle::BowAngle;
use crate::event::{Call, Cause, ClockTurn, EventKind};
use crate::ladder::{ItemId, Limit, Limits, PlanId};
use crate::reading::{Measure, SourceId};
use crate::time::UtcQuality;
use crate::units::{Degrees, Knots};
use crate::view::{AlertState, MinutesInHand};

fn everywhere(mean: Option<f64>, gust: Option<f64>) -> Limits {
    let kn = |kn: f64| Knots::new(kn).ok();
    let limit = Limit {
        mean: mean.and_then(kn),
        gust: gust.and_then(kn),
    };
    Limits {
        close_hauled: limit,
        reaching: limit,
        running: limit,
    }
}

/// A boat with a limit of 14 kn under full sail.
fn of_14_kn() -> Boat {
    let mut boat = boat();
    if let Some(full) = boat.ladder.plans.first_mut() {
        full.limits = everywhere(Some(14.0), None);
    }
    boat
}

/// Ids of the calls told, blindness left out.
fn ids(events: &[Event]) -> std::vec::Vec<u32> {
    let told = events.iter().filter(|it| it.kind == EventKind::Call);
    told.filter(|it| it.call.is_threat())
        .map(|it| it.id)
        .collect()
}

#[test]
fn wind_that_eases_far_under_the_limit_ends_the_call_and_never_tells_minutes_under_reduce() {
    let boat = of_14_kn();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 14.5);
    assert!(watch.view().call.call >= Call::Reduce);
    let mut ended = None;
    for second in 1800..5000 {
        hear_wind(&mut watch, gusty(9.0, second), second);
        let call = watch.view().call;
        if call.call >= Call::Reduce {
            assert_eq!(
                call.minutes_in_hand,
                MinutesInHand::Minutes(0.0),
                "{second}"
            );
        }
        if call.call == Call::None {
            ended = ended.or(Some(second - 1800));
        }
    }
    assert!(ended.is_some_and(|s| s <= 600), "{ended:?}");
}

#[test]
fn a_gap_of_seconds_leaves_an_acknowledged_call_with_its_id() {
    for gap in [7, 12, 30, 45, 120] {
        let boat = boat();
        let mut watch = Watch::new(&boat, None, at(0));
        run(&mut watch, 0, 1800, |_| 21.0);
        assert_eq!(watch.view().call.call, Call::Past);
        watch.press(Act::Acknowledge, at(1800));
        let id = watch.view().call.id;
        let events = run(&mut watch, 1800 + gap, 2100, |_| 21.0);
        let call = watch.view().call;
        assert_eq!((call.call, call.id), (Call::Past, id), "{gap} s");
        assert_eq!(call.alert, AlertState::Acknowledged, "{gap} s");
        assert!(ids(&events).iter().all(|it| *it == id), "{gap} s");
        let view = watch.view();
        assert_eq!((view.sounds.cockpit, view.sounds.bunk), (None, None));
    }
}

#[test]
fn blindness_has_an_id_of_its_own_and_the_call_keeps_its() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    let id = watch.view().call.id;
    watch.press(Act::Acknowledge, at(1800));
    watch.tick(at(1835));
    let blind = watch.view().call;
    assert_eq!(blind.call, Call::Blind);
    assert_ne!(blind.id, id);
    assert_ne!(blind.id, 0);
    run(&mut watch, 1836, 1900, |_| 21.0);
    assert_eq!(watch.view().call.id, id);
}

#[test]
fn trim_and_heel_let_go_in_degrees() {
    let mut boat = boat();
    for plan in &mut boat.ladder.plans {
        plan.trim_limit = Degrees::new(4.0).ok();
    }
    let mut watch = Watch::new(&boat, None, at(0));
    let mut second = 0;
    let mut sail = |watch: &mut Watch, down: f64, seconds: u64| {
        for _ in 0..seconds {
            hear_wind(watch, gusty(9.0, second), second);
            let pitch = Degrees::new(-down).map(Measure::Pitch).ok();
            hear(watch, SourceId(3), pitch, second);
            second += 1;
        }
    };
    sail(&mut watch, 4.4, 600);
    assert_eq!(watch.view().call.call, Call::Past);
    // A knot under "4" would have been 3 degrees, and stood for ever here.
    sail(&mut watch, 3.4, 600);
    assert!(watch.view().call.call < Call::Past);
}

#[test]
fn a_squall_that_has_gone_is_no_overload_on_a_plan_without_limit() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(1)), at(0));
    watch.press(Act::Plan(PlanId(2)), at(1));
    run(&mut watch, 1, 600, |_| 12.0);
    watch.press(
        Act::SquallSeen {
            minutes: 5,
            strength: None,
        },
        at(600),
    );
    let events = run(&mut watch, 601, 4000, |_| 6.0);
    assert!(events.iter().all(|it| it.call != Call::Past), "{events:?}");
    assert_eq!(watch.view().call.call, Call::None);
}

#[test]
fn the_last_plan_past_its_limit_is_never_calm() {
    let mut boat = boat();
    if let Some(last) = boat.ladder.plans.last_mut() {
        last.limits = everywhere(Some(40.0), None);
    }
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(2)), at(0));
    // 41 kn with gusts of 52.
    for second in 1..1200 {
        let kn = if second % 60 < 6 { 52.0 } else { 40.0 };
        hear_wind(&mut watch, kn, second);
    }
    let call = watch.view().call;
    assert_eq!(call.call, Call::Past);
    // No plan is left, but there is something to do.
    assert_eq!(watch.view().next, None);
    assert!(call.at_once.is_some());
    assert!(call.why.starts_with("at once: "), "{}", call.why);
    assert!(!call.why.contains("change"), "{}", call.why);
}

#[test]
fn a_squall_under_bare_poles_orders_what_can_be_done_at_once() {
    let mut boat = boat();
    if let Some(last) = boat.ladder.plans.last_mut() {
        last.limits = Limits::default();
        last.area_m2 = 0.0;
    }
    let mut watch = Watch::new(&boat, None, at(0));
    watch.press(Act::Plan(PlanId(2)), at(0));
    run(&mut watch, 1, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 8,
            strength: None,
        },
        at(1200),
    );
    let events = run(&mut watch, 1200, 1800, |_| 9.0);
    let called = events.iter().filter(|it| it.call.is_threat());
    for event in called.clone() {
        let why = event.why.as_str();
        assert_eq!(event.next, None);
        let at_once = event.at_once.map(|id| boat.ladder.at_once(id).name);
        assert_eq!(at_once.as_deref(), Some("clip on, steer"));
        assert!(!why.contains("change"), "{why}");
        assert!(why.contains("it takes 2"), "{why}");
    }
    assert!(called.clone().any(|it| it.call == Call::Prepare));
    assert!(called.clone().any(|it| it.call == Call::Reduce));
}

/// The whole number in a sentence after a word.
fn number_after(words: &str, mark: &str) -> Option<u32> {
    let rest = words.split_once(mark)?.1;
    rest.split(' ').next()?.parse().ok()
}

#[test]
fn a_change_that_no_longer_fits_gives_way_to_what_can_be_done_at_once() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 15,
            strength: None,
        },
        at(1200),
    );
    let mut ordered = None;
    for second in 1200..2100 {
        hear_wind(&mut watch, 9.0, second);
        let call = watch.view().call;
        if call.at_once.is_some() && ordered.is_none() {
            ordered = Some(call.why.clone());
            // As the same sentence tells it.
            let told = |mark: &str| number_after(&call.why, mark);
            assert!(told("squall in ") < told("change "), "{}", call.why);
        }
    }
    let why = ordered.unwrap_or_default();
    assert!(why.starts_with("at once: "), "{why}");
    // Once they have begun, that is what they do.
    watch.press(Act::Started, at(2100));
    assert_eq!(watch.view().call.at_once, None);
}

#[test]
fn the_figure_under_reduce_and_past_is_a_time_and_no_length_of_work() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..3000 {
        let kn = 14.0 + second as f64 / 300.0;
        hear_wind(&mut watch, gusty(kn, second), second);
        let call = watch.view().call;
        if call.call >= Call::Reduce && call.call != Call::Blind {
            assert_eq!(call.minutes_in_hand, MinutesInHand::Minutes(0.0));
        }
        if call.call == Call::Past {
            let over_s = call.passed_at.map(|it| at(second).secs_since(it));
            assert!(over_s.is_some_and(|s| s <= second as f64));
        }
    }
    assert_eq!(watch.view().call.call, Call::Past);
}

#[test]
fn past_the_limit_shows_and_sounds_while_a_change_is_being_made() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 12.0);
    // By mistake.
    watch.press(Act::Started, at(1200));
    assert!(watch.view().manoeuvre.is_some());
    run(&mut watch, 1200, 1500, |_| 21.0);
    let view = watch.view();
    assert_eq!(view.call.call, Call::Past);
    assert!(view.sounds.cockpit.is_some());
}

#[test]
fn a_squall_gives_the_minutes_that_were_entered_and_one_order() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 12,
            strength: None,
        },
        at(1200),
    );
    let first = watch.view();
    assert_eq!(first.call.soonest_s, Some(720.0));
    let events = run(&mut watch, 1200, 1900, |_| 9.0);
    let orders: std::vec::Vec<_> = events
        .iter()
        .filter(|it| it.call.is_threat())
        .map(|it| it.next)
        .collect();
    assert!(orders.iter().all(|it| *it == first.next), "{orders:?}");
    // It came to nothing: its clock runs out, and it was never an overload.
    let events = run(&mut watch, 1900, 4400, |_| 9.0);
    assert!(events.iter().all(|it| it.call != Call::Past));
    assert_eq!(watch.view().call.call, Call::None);
}

/// Limits of 18, 24, 32 and 45 kn, and a last plan without one.
fn of_five_plans() -> Boat {
    let mut boat = boat();
    let limits = [Some(18.0), Some(24.0), Some(32.0), Some(45.0), None];
    boat.ladder.plans = limits
        .iter()
        .zip(["full", "reef 1", "reef 2", "trysail", "poles"])
        .map(|(limit, short)| super::tests::plan(short, *limit))
        .collect();
    boat.ladder.changes = (0..4)
        .map(|from| super::tests::change(from, from + 1, None))
        .collect();
    boat
}

fn squall(minutes: u8, kn: Option<f64>) -> Act {
    Act::SquallSeen {
        minutes,
        strength: kn.and_then(|kn| Knots::new(kn).ok()),
    }
}

#[test]
fn a_squalls_target_is_the_first_plan_that_stands_its_strength() {
    let boat = of_five_plans();
    for (kn, target) in [
        (Some(22.0), Some(1)),
        (Some(30.0), Some(2)),
        (Some(41.0), Some(3)),
        (Some(60.0), Some(4)),
        // Nobody can tell: as the boat file reckons, 35 kn.
        (None, Some(3)),
        // What she stands as she is calls nobody.
        (Some(17.0), None),
    ] {
        let mut watch = Watch::new(&boat, None, at(0));
        run(&mut watch, 0, 1200, |_| 9.0);
        watch.press(squall(75, kn), at(1200));
        let mut second = 1200;
        while second < 5700 && !watch.view().call.call.is_threat() {
            run(&mut watch, second, second + 10, |_| 9.0);
            second += 10;
        }
        let view = watch.view();
        let ordered = view.next.filter(|_| view.call.call.is_threat());
        assert_eq!(ordered, target.map(PlanId), "{kn:?}");
    }
}

#[test]
fn where_the_time_is_short_a_squalls_target_is_what_can_be_set_before() {
    let boat = of_five_plans();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(squall(25, Some(60.0)), at(1200));
    let view = watch.view();
    assert_eq!(view.call.call, Call::Prepare, "{}", view.call.why);
    assert!(view.next > Some(PlanId(0)) && view.next < Some(PlanId(4)));
    assert_eq!(view.call.at_once, None);
}

/// The wind comes up under the squall, by gusts of 15 to 21 kn.
#[test]
fn a_squalls_order_stays_though_the_wind_comes_up() {
    let boat = of_five_plans();
    for kn in [None, Some(22.0), Some(30.0), Some(41.0)] {
        let mut watch = Watch::new(&boat, None, at(0));
        run(&mut watch, 0, 1200, |_| 9.0);
        watch.press(squall(12, kn), at(1200));
        let ordered = watch.view().next;
        for second in 1200..1920 {
            let up = (second - 1200) as f64 / 120.0;
            let gust = if second % 60 < 8 { 6.0 } else { 0.0 };
            hear_wind(&mut watch, gusty(9.0 + up + gust, second), second);
            let view = watch.view();
            assert_eq!(view.next, ordered, "{kn:?} at {second} s");
            assert!(view.call.call < Call::Past, "{kn:?} at {second} s");
        }
    }
}

#[test]
fn another_strength_entered_is_a_new_sounded_order() {
    let boat = of_five_plans();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(squall(12, Some(22.0)), at(1200));
    watch.press(Act::Acknowledge, at(1201));
    assert_eq!(watch.view().next, Some(PlanId(1)));
    assert_eq!(watch.view().sounds.cockpit, None);
    watch.press(squall(60, Some(41.0)), at(1320));
    let view = watch.view();
    assert_eq!(view.next, Some(PlanId(3)));
    assert!(view.sounds.cockpit.is_some());
    assert!(
        view.call
            .why
            .starts_with("not reef 1: trysail. squall of 41 kn")
    );
}

#[test]
fn a_plan_that_stands_the_squall_meets_it_and_a_lesser_one_does_not() {
    let boat = of_five_plans();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(squall(20, Some(30.0)), at(1200));
    watch.press(Act::Plan(PlanId(1)), at(1300));
    watch.tick(at(1302));
    assert_eq!(watch.view().call.cause, Some(Cause::Squall));
    assert_eq!(watch.view().next, Some(PlanId(2)));
    watch.press(Act::Plan(PlanId(2)), at(1400));
    run(&mut watch, 1400, 1500, |_| 9.0);
    assert_eq!(watch.view().call.call, Call::None);
}

#[test]
fn a_squall_that_came_and_went_is_over() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    watch.press(
        Act::SquallSeen {
            minutes: 5,
            strength: None,
        },
        at(1200),
    );
    run(&mut watch, 1200, 1500, |_| 9.0);
    run(&mut watch, 1500, 1800, |_| 24.0);
    assert!(watch.view().call.call >= Call::Reduce);
    run(&mut watch, 1800, 2460, |_| 9.0);
    assert_eq!(watch.view().call.call, Call::None);
    assert_eq!(watch.view().squall_due, None);
}

#[test]
fn what_the_crew_gets_ready_stays_the_order() {
    let mut boat = boat();
    // From full to reef 1 at once, or with the pendant led to reef 2.
    let _ = boat
        .ladder
        .changes
        .push(super::tests::change(0, 2, Some(0)));
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 3600, |second| threatening(second) + 6.0);
    let mut second = 3600;
    while !watch.view().call.call.is_threat() {
        run(&mut watch, second, second + 10, |_| 18.0);
        second += 10;
    }
    watch.press(Act::Acknowledge, at(second));
    let ordered = watch.view().next;
    let ready = Act::Setup {
        item: ItemId(0),
        readiness: Readiness::Ready,
    };
    watch.press(ready, at(second));
    run(&mut watch, second, second + 120, |_| 18.5);
    assert_eq!(watch.view().next, ordered);
    watch.press(Act::Started, at(second + 120));
    assert_eq!(watch.view().manoeuvre.map(|it| it.to), ordered);
}

#[test]
fn silence_pressed_again_and_again_does_not_keep_the_bunk_asleep() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let mut second = 0;
    while watch.view().call.call != Call::Prepare {
        run(&mut watch, second, second + 10, threatening);
        second += 10;
        assert!(second < 7200);
    }
    let mut woken = false;
    for step in 0..6 {
        watch.press(Act::Silence, at(second));
        run(&mut watch, second, second + 31, |_| threatening(second));
        second += 31;
        woken |= watch.view().sounds.bunk.is_some();
        assert!(step < 5 || woken, "never reached the bunk");
    }
    assert!(woken);
    // And once there it is heard until somebody answers at the bunk.
    run(&mut watch, second, second + 31, |_| threatening(second));
    assert!(watch.view().sounds.bunk.is_some());
    watch.press(Act::UpAtBunk, at(second + 31));
    assert_eq!(watch.view().sounds.bunk, None);
    assert_eq!(watch.view().call.alert, AlertState::Acknowledged);
}

/// 11 kn, a gust limit of 19, one puff of 21 kn for 4 s.
#[test]
fn a_single_puff_is_no_call_and_no_limit_is_told_that_nobody_entered() {
    let mut boat = boat();
    if let Some(full) = boat.ladder.plans.first_mut() {
        full.limits = everywhere(None, Some(19.0));
    }
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..3600 {
        let kn = match second {
            1800..1804 => 21.0,
            _ => gusty(11.0, second),
        };
        hear_wind(&mut watch, kn, second);
        assert!(watch.view().call.call < Call::Reduce, "{second} s");
    }
    let events: std::vec::Vec<Event> = core::iter::from_fn(|| watch.next_event()).collect();
    assert_eq!(calls(&events).iter().filter(|it| it.is_threat()).count(), 0);
    assert_eq!(
        watch.view().ladder.first().and_then(|it| it.limit_kn),
        Some(19.0)
    );
    // Gust upon gust is another matter.
    for second in 3600..4600 {
        let kn = if second % 60 < 6 { 21.0 } else { 11.0 };
        hear_wind(&mut watch, kn, second);
    }
    let call = watch.view().call;
    assert!(call.call >= Call::Reduce);
    assert!(call.why.contains("19.0"), "{}", call.why);
}

#[test]
fn the_sentence_is_true_of_the_wind_of_now() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..9000 {
        let kn = 18.0 + 1.6 * libm::sin(second as f64 / 500.0);
        hear_wind(&mut watch, gusty(kn, second), second);
        let view = watch.view();
        let Some(level) = view.wind.mean_1min_kn else {
            continue;
        };
        let why = view.call.why.as_str();
        if why.contains("over the limit") {
            assert!(level >= 18.0, "{level} {why}");
        }
        if why.contains("may be passed") {
            assert!(level < 18.0, "{level} {why}");
        }
    }
}

#[test]
fn a_restart_keeps_the_call_its_acknowledgement_and_the_change() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    watch.press(Act::Acknowledge, at(1800));
    watch.press(Act::Started, at(1800));
    run(&mut watch, 1800, 1900, |_| 21.0);
    let (before, saved) = (watch.view(), watch.saved());
    let mut again = Watch::new(&boat, Some(&saved), at(0));
    run(&mut again, 0, 30, |_| 21.0);
    let after = again.view();
    assert_eq!(after.call.id, before.call.id);
    assert_eq!(after.call.call, before.call.call);
    assert_eq!(after.call.alert, AlertState::Acknowledged);
    assert_eq!(after.sounds.cockpit, None);
    let to = |view: &View| view.manoeuvre.map(|it| it.to);
    assert_eq!(to(&after), to(&before));
    // Power off for longer than the work: the call is not believed, and
    // whether the change is set is asked aloud.
    let old = saved.aged(Duration::from_secs(7200));
    let mut again = Watch::new(&boat, Some(&old), at(0));
    again.tick(at(2));
    assert!(!again.view().call.call.is_threat());
    assert_eq!(to(&again.view()), None);
    assert!(again.view().sounds.cockpit.is_some());
}

#[test]
fn at_a_mooring_no_call_has_come_and_gone() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    assert!(watch.view().call.call.is_threat());
    watch.press(Act::Doing(crate::act::Doing::Moored), at(1800));
    let call = watch.view().call;
    assert_eq!((call.call, call.alert), (Call::None, AlertState::Normal));
}

#[test]
fn calm_never_has_less_than_the_work_in_hand() {
    let boat = boat();
    for rate in [1.0, 3.0, 6.0, 10.0] {
        let mut watch = Watch::new(&boat, None, at(0));
        for second in 0..5400 {
            let kn = 12.0 + rate * second as f64 / 3600.0;
            hear_wind(&mut watch, gusty(kn, second), second);
            let call = watch.view().call;
            if call.call == Call::None {
                assert!(
                    call.slack_s.is_none_or(|s| s >= 0.0),
                    "{rate} kn/h, {second} s"
                );
            }
        }
    }
}

/// 13 kn, the angle wandering 6 degrees about 60; the plan stands 12 kn close
/// hauled and 16 on a reach.
#[test]
fn an_angle_that_wanders_about_a_point_of_sail_sounds_nothing_again() {
    let mut boat = boat();
    if let Some(full) = boat.ladder.plans.first_mut() {
        full.limits = everywhere(Some(16.0), None);
        full.limits.close_hauled.mean = Knots::new(12.0).ok();
    }
    let mut watch = Watch::new(&boat, None, at(0));
    let mut limits = std::vec::Vec::new();
    let mut sounded = 0;
    let mut was = false;
    for second in 0..3200_u64 {
        let angle = 60.0 + 6.0 * libm::sin(second as f64 / 40.0);
        let wind = BowAngle::new(angle).zip(Knots::new(gusty(13.0, second)).ok());
        let wind = wind.map(|(angle, speed)| Measure::ApparentWind { angle, speed });
        hear(&mut watch, super::tests::WIND, wind, second);
        let still = crate::units::SignedKnots::new(0.0)
            .map(Measure::WaterSpeed)
            .ok();
        hear(&mut watch, super::tests::LOG, still, second);
        let view = watch.view();
        if second == 1500 {
            watch.press(Act::Acknowledge, at(second));
            limits.clear();
            sounded = 0;
        }
        limits.push(view.ladder.first().and_then(|it| it.limit_kn));
        let is = view.sounds.cockpit.is_some();
        sounded += u32::from(is && !was && second > 1500);
        was = is;
    }
    let flips = limits.windows(2).filter(|pair| pair[0] != pair[1]).count();
    assert!(flips <= 1, "{flips}");
    assert_eq!(sounded, 0);
}

/// 2026-11-08 12:00 UTC.
const NOON_MS: i64 = 1_794_139_200_000;

fn told_utc(watch: &mut Watch, off_ms: i64, second: u64) {
    let fix = UtcFix {
        unix_ms: NOON_MS + second as i64 * 1000 + off_ms,
        at: at(second),
        quality: UtcQuality::Gnss,
    };
    watch.set_utc(fix, at(second));
}

/// A clock that is 12 h ahead from the 600th second on, or for 60 s only.
#[test]
fn a_jump_of_the_clock_is_told_and_followed_only_once_it_is_confirmed() {
    for lasts in [60, 3600] {
        let boat = boat();
        let mut watch = Watch::new(&boat, None, at(0));
        let mut followed_at = None;
        for second in 0..1200 {
            let is_off = (600..600 + lasts).contains(&second);
            told_utc(&mut watch, if is_off { 43_200_000 } else { 0 }, second);
            let off_ms = watch.unix_ms().unwrap_or(0) - NOON_MS - second as i64 * 1000;
            assert!(off_ms == 0 || off_ms == 43_200_000, "{off_ms} ms off");
            if off_ms != 0 {
                followed_at = followed_at.or(Some(second));
            }
            assert_eq!(
                watch.view().other_unix_ms.is_some(),
                is_off && followed_at.is_none()
            );
        }
        let events: std::vec::Vec<Event> = core::iter::from_fn(|| watch.next_event()).collect();
        let turns: std::vec::Vec<_> = events
            .iter()
            .filter_map(|it| match it.kind {
                EventKind::Clock(turn, jump) => Some((turn, jump.told_ms - jump.held_ms)),
                _ => None,
            })
            .collect();
        let last = match lasts {
            60 => ClockTurn::Withdrawn,
            _ => ClockTurn::Followed,
        };
        let expected = [(ClockTurn::Contradicted, 43_200_000), (last, 43_200_000)];
        assert_eq!(turns, expected, "{lasts} s");
        let is_followed = lasts == 3600;
        assert_eq!(followed_at, is_followed.then_some(780), "{lasts} s");
    }
}

/// A second's jitter, and steps of two seconds each minute.
#[test]
fn a_clock_that_creeps_is_not_followed_step_by_step() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    for second in 0..600 {
        told_utc(&mut watch, (second as i64 % 2) * 1000, second);
    }
    let before = watch.unix_ms().unwrap_or(0) - NOON_MS - 599_000;
    assert!(before.abs() <= 1000, "{before} ms");
    let mut told = 0;
    for second in 600..1800 {
        told_utc(&mut watch, (second as i64 / 60 - 9) * 1900, second);
        while let Some(event) = watch.next_event() {
            told += u32::from(matches!(event.kind, EventKind::Clock(..)));
        }
    }
    assert!(told > 0);
}
