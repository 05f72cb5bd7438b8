//! Properties of the whole watch over random wind, faults and keys.

use cringle_core::act::{
    Act, Condition, Doing, Hands, Helm, NotNow, PointOfSail, Question, Readiness, Reply, Rigging,
    Sea,
};
use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::boat::{Boat, Calling, Crew, Start};
use cringle_core::event::{Call, Cause, Event};
use cringle_core::instruments::{Instruments, Switch};
use cringle_core::ladder::{
    Change, HandsMinutes, ItemId, Ladder, Limit, Limits, Plan, PlanId, RiggedId, RiggedItem,
    SetupItem,
};
use cringle_core::reading::{Heard, Measure, Quantity, Rank, Reading, SourceId};
use cringle_core::text::text;
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_core::units::{Degrees, Hectopascals, Knots, Metres, Position, Rpm, SignedKnots};
use cringle_core::view::{MinutesInHand, View};
use cringle_core::watch::Watch;
use proptest::prelude::*;

fn limit(mean: Option<f64>, gust: Option<f64>) -> Limit {
    Limit {
        mean: mean.and_then(|kn| Knots::new(kn).ok()),
        gust: gust.and_then(|kn| Knots::new(kn).ok()),
    }
}

fn plan(short: &str, area: f64, limit: Limit) -> Plan {
    Plan {
        name: text(short),
        short: text(short),
        area_m2: area,
        limits: Limits {
            close_hauled: limit,
            reaching: limit,
            running: limit,
        },
        heel_limit: Degrees::new(25.0).ok(),
        ..Plan::default()
    }
}

fn change(from: u8, to: u8, hands: &[(u8, f64)], item: Option<u8>) -> Change {
    let mut change = Change {
        from: PlanId(from),
        to: PlanId(to),
        ..Change::default()
    };
    for (hands, minutes) in hands {
        let _ = change.minutes.push(HandsMinutes {
            hands: *hands,
            minutes: *minutes,
        });
    }
    if let Some(item) = item {
        let _ = change.setup.push(ItemId(item));
    }
    change
}

/// Boats of several kinds, so that a property is not one boat's.
fn boats(which: usize) -> Boat {
    match which {
        0 => boat(),
        1 => multihull(),
        2 => in_mast(),
        _ => many_hands(),
    }
}

const BOATS: usize = 4;

/// A multihull: gusts and trim, never heel; the second reef may be skipped to.
fn multihull() -> Boat {
    let mut boat = boat();
    let ladder = &mut boat.ladder;
    ladder.plans.clear();
    ladder.changes.clear();
    for mut plan in [
        plan("full", 90.0, limit(None, Some(23.0))),
        plan("reef 1", 70.0, limit(Some(24.0), Some(29.0))),
        plan("reef 2", 50.0, limit(None, Some(36.0))),
        plan("jib alone", 20.0, limit(None, None)),
    ] {
        plan.heel_limit = None;
        plan.trim_limit = Degrees::new(4.0).ok();
        let _ = ladder.plans.push(plan);
    }
    for change in [
        change(0, 1, &[(1, 9.0), (2, 5.0)], None),
        change(0, 2, &[(1, 14.0), (2, 8.0)], Some(0)),
        change(1, 2, &[(1, 10.0), (2, 6.0)], Some(0)),
        change(2, 3, &[(1, 8.0)], None),
    ] {
        let _ = ladder.changes.push(change);
    }
    boat
}

/// In-mast and furling sails: many small steps that one can make, the last of
/// them not in a strong wind.
fn in_mast() -> Boat {
    let mut boat = boat();
    let ladder = &mut boat.ladder;
    ladder.plans.clear();
    ladder.changes.clear();
    for (short, area, kn) in [
        ("all out", 80.0, Some(17.0)),
        ("three quarters", 62.0, Some(22.0)),
        ("half", 42.0, Some(27.0)),
        ("a third", 28.0, Some(34.0)),
        ("none", 5.0, None),
    ] {
        let _ = ladder.plans.push(plan(short, area, limit(kn, None)));
    }
    for from in 0..4 {
        let mut change = change(from, from + 1, &[(1, 4.0), (2, 2.0)], None);
        if from == 3 {
            let _ = change.setup.push(ItemId(0));
            change.highest_wind = Knots::new(32.0).ok();
        }
        let _ = ladder.changes.push(change);
    }
    boat.start.hands = Hands {
        on_deck: 1,
        below: 1,
    };
    boat
}

/// A big boat: changes that need many, and take them long.
fn many_hands() -> Boat {
    let mut boat = boat();
    for change in &mut boat.ladder.changes {
        for step in &mut change.minutes {
            step.minutes *= 1.5;
        }
        let alone = change.minutes.first().map_or(20.0, |step| step.minutes);
        let _ = change.minutes.push(HandsMinutes {
            hands: 4,
            minutes: alone / 4.0,
        });
    }
    boat.start.hands = Hands {
        on_deck: 3,
        below: 3,
    };
    boat
}

/// Four plans, a pendant to be led, a preventer in the way.
fn boat() -> Boat {
    let mut ladder = Ladder::default();
    for plan in [
        plan("full", 60.0, limit(Some(18.0), None)),
        plan("reef 1", 45.0, limit(Some(24.0), Some(31.0))),
        plan("reef 2", 33.0, limit(None, Some(38.0))),
        plan("storm", 12.0, limit(None, None)),
    ] {
        let _ = ladder.plans.push(plan);
    }
    let _ = ladder.setup.push(SetupItem {
        name: text("second pendant"),
        minutes: 5.0,
        hands: 1,
        ..SetupItem::default()
    });
    let _ = ladder.rigged.push(RiggedItem {
        name: text("preventer"),
        minutes: 3.0,
        hands: 1,
        ..RiggedItem::default()
    });
    for change in [
        change(0, 1, &[(1, 12.0), (2, 6.0)], None),
        change(1, 2, &[(1, 15.0), (2, 8.0)], Some(0)),
        change(2, 3, &[(2, 25.0)], None),
    ] {
        let _ = ladder.changes.push(change);
    }
    Boat {
        name: text("Properties"),
        instruments: Instruments {
            heel_correction: Switch::On,
            leeway_k: Some(12.0),
            ..Instruments::default()
        },
        ladder,
        crew: Crew::default(),
        calling: Calling::default(),
        forecast: None,
        bill: None,
        costs: Default::default(),
        start: Start {
            plan: PlanId(0),
            hands: Hands {
                on_deck: 2,
                below: 2,
            },
            helm: Helm::Pilot,
            doing: Doing::Sailing,
        },
    }
}

fn say(watch: &mut Watch, source: u32, heard: Heard, at: Timestamp, now: Timestamp) {
    let reading = Reading {
        source: SourceId(source),
        rank: Rank::AUTOMATIC,
        at,
        heard,
    };
    watch.hear(&reading, now);
}

/// Apparent wind of a boat lying still: true wind.
fn hear_wind(watch: &mut Watch, kn: f64, now: Timestamp) {
    let phase = now.as_secs_f64() / 7.0;
    let (Some(angle), Ok(speed)) = (
        BowAngle::new(40.0 + 4.0 * phase.sin()),
        Knots::new(kn.clamp(0.0, 200.0)),
    ) else {
        return;
    };
    let wind = Measure::ApparentWind { angle, speed };
    say(watch, 1, Heard::Value(wind), now, now);
    if let Ok(still) = SignedKnots::new(0.0) {
        let log = Measure::WaterSpeed(still);
        say(watch, 2, Heard::Value(log), now, now);
    }
}

fn events(watch: &mut Watch) -> Vec<Event> {
    core::iter::from_fn(|| watch.next_event()).collect()
}

fn secs(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

// A wind that wanders: each step is for two minutes, with a gust about it.
fn wind_at(steps: &[f64], second: u64) -> f64 {
    let place = (second / 120) as usize;
    let share = (second % 120) as f64 / 120.0;
    let at = |place: usize| steps.get(place).or(steps.last()).copied().unwrap_or(10.0);
    let mean = at(place) + (at(place + 1) - at(place)) * share;
    mean + 0.9 * (second as f64 * 0.31).sin()
}

fn winds() -> impl Strategy<Value = Vec<f64>> {
    (4.0..24.0_f64, prop::collection::vec(-2.0..3.0_f64, 12)).prop_map(|(start, steps)| {
        steps
            .iter()
            .scan(start, |level, step| {
                *level = (*level + step).clamp(2.0, 60.0);
                Some(*level)
            })
            .collect()
    })
}

fn measures() -> impl Strategy<Value = Measure> {
    let any = |least: f64, most: f64| prop_oneof![least..most, Just(least), Just(most), Just(0.0)];
    prop_oneof![
        (any(-180.0, 180.0), any(0.0, 500.0)).prop_filter_map("wind", |(angle, kn)| {
            Some(Measure::ApparentWind {
                angle: BowAngle::new(angle)?,
                speed: Knots::new(kn).ok()?,
            })
        }),
        (-180.0..180.0_f64, 0.0..45.0_f64).prop_filter_map("wind", |(angle, kn)| {
            Some(Measure::ApparentWind {
                angle: BowAngle::new(angle)?,
                speed: Knots::new(kn).ok()?,
            })
        }),
        (any(-180.0, 180.0), any(0.0, 500.0)).prop_filter_map("wind", |(angle, kn)| {
            Some(Measure::TrueWind {
                angle: BowAngle::new(angle)?,
                speed: Knots::new(kn).ok()?,
            })
        }),
        (any(0.0, 360.0), any(0.0, 500.0)).prop_filter_map("wind", |(from, kn)| {
            Some(Measure::GroundWind {
                direction: Bearing::new(from)?,
                speed: Knots::new(kn).ok()?,
            })
        }),
        any(-500.0, 500.0).prop_filter_map("stw", |kn| Some(Measure::WaterSpeed(
            SignedKnots::new(kn).ok()?
        ))),
        any(-360.0, 360.0)
            .prop_filter_map("heel", |deg| Some(Measure::Heel(Degrees::new(deg).ok()?))),
        any(-360.0, 360.0)
            .prop_filter_map("pitch", |deg| Some(Measure::Pitch(Degrees::new(deg).ok()?))),
        any(-360.0, 360.0).prop_filter_map("var", |deg| Some(Measure::Variation(
            Degrees::new(deg).ok()?
        ))),
        any(0.0, 360.0)
            .prop_filter_map("hdg", |deg| Some(Measure::HeadingTrue(Bearing::new(deg)?))),
        any(0.0, 360.0).prop_filter_map("hdg", |deg| Some(Measure::HeadingMagnetic(Bearing::new(
            deg
        )?))),
        (any(0.0, 500.0), prop::option::of(any(0.0, 360.0))).prop_filter_map("sog", |(kn, cog)| {
            Some(Measure::GroundMotion {
                speed: Knots::new(kn).ok()?,
                course: cog.and_then(Bearing::new),
            })
        }),
        any(850.0, 1100.0).prop_filter_map("hpa", |hpa| Some(Measure::Pressure(
            Hectopascals::new(hpa).ok()?
        ))),
        any(-20_000.0, 20_000.0)
            .prop_filter_map("rpm", |rpm| Some(Measure::EngineTurns(Rpm::new(rpm).ok()?))),
        any(0.0, 12_000.0).prop_filter_map("depth", |m| Some(Measure::Depth(Metres::new(m).ok()?))),
        (any(-90.0, 90.0), any(-180.0, 180.0)).prop_filter_map("place", |(n, e)| Some(
            Measure::Position(Position::new(n, e).ok()?)
        )),
    ]
}

fn acts() -> impl Strategy<Value = Act> {
    let doing = prop_oneof![
        4 => Just(Doing::Sailing),
        1 => Just(Doing::MotorSailing),
        1 => Just(Doing::Motoring),
        1 => Just(Doing::HoveTo),
        1 => Just(Doing::Anchored),
        1 => Just(Doing::Moored),
    ];
    let sea = prop::option::of(prop_oneof![Just(Sea::Smooth), Just(Sea::VeryRough)]);
    prop_oneof![
        Just(Act::Acknowledge),
        Just(Act::Silence),
        Just(Act::Started),
        Just(Act::GivenUp),
        (0_u8..7).prop_map(|plan| Act::Plan(PlanId(plan))),
        Just(Act::Plan(PlanId(255))),
        Just(Act::PlanDown),
        Just(Act::PlanUp),
        any::<u8>().prop_map(|minutes| Act::NotNow {
            minutes,
            because: NotNow::Rest,
        }),
        prop_oneof![Just(0_u8), Just(255), any::<u8>()].prop_map(|minutes| Act::SquallSeen {
            minutes,
            strength: None
        }),
        (any::<u8>(), any::<bool>()).prop_map(|(item, ready)| Act::Setup {
            item: ItemId(item % 3),
            readiness: if ready {
                Readiness::Ready
            } else {
                Readiness::Open
            },
        }),
        (any::<u8>(), any::<bool>()).prop_map(|(item, up)| Act::Rigged {
            item: RiggedId(item % 3),
            rigging: if up {
                Rigging::Rigged
            } else {
                Rigging::Cleared
            },
        }),
        (0_u8..6, 0_u8..6).prop_map(|(on_deck, below)| Act::Hands(Hands { on_deck, below })),
        Just(Act::Hands(Hands {
            on_deck: 255,
            below: 255,
        })),
        Just(Act::Condition(Condition::WornOut)),
        Just(Act::Helm(Helm::Hand)),
        doing.prop_map(Act::Doing),
        sea.prop_map(Act::Sea),
        (0.0..120.0_f64).prop_map(|kn| Act::WindByHand {
            speed: Knots::new(kn).unwrap_or_default(),
            side: PointOfSail::Reaching,
        }),
        Just(Act::Wake),
        Just(Act::UpAtBunk),
        Just(Act::OnDeck),
        (0..Question::ALL.len(), any::<bool>()).prop_map(|(which, yes)| Act::Answer {
            to: Question::ALL[which],
            reply: if yes { Reply::Yes } else { Reply::No },
        }),
        Just(Act::ConfirmLimits),
        Just(Act::ConfirmWind),
        Just(Act::WatchChanged),
        Just(Act::DeclineBeforeDark),
    ]
}

/// What can come in.
#[derive(Clone, Debug)]
enum Input {
    Say(u32, Measure, u64),
    Invalid(u32, Quantity),
    Press(Act),
    Utc(i64, UtcQuality),
    Wait(u64),
}

fn inputs() -> impl Strategy<Value = Input> {
    prop_oneof![
        20 => (0_u32..3, measures(), 0_u64..2000).prop_map(|(s, m, late)| Input::Say(s, m, late)),
        2 => (0_u32..3, 0..Quantity::COUNT).prop_map(|(s, q)| Input::Invalid(s, Quantity::ALL[q])),
        6 => acts().prop_map(Input::Press),
        1 => any::<i64>().prop_map(|ms| Input::Utc(ms, UtcQuality::Gnss)),
        1 => (1_600_000_000_000..1_900_000_000_000_i64)
            .prop_map(|ms| Input::Utc(ms, UtcQuality::Gnss)),
        6 => (0_u64..3000).prop_map(Input::Wait),
        1 => (0_u64..120_000).prop_map(Input::Wait),
    ]
}

fn apply(watch: &mut Watch, input: &Input, now: &mut u64) {
    let moment = Timestamp::from_millis(*now);
    match input {
        Input::Say(source, measure, late) => {
            *now = now.saturating_add(100);
            let moment = Timestamp::from_millis(*now);
            let at = Timestamp::from_millis(now.saturating_sub(*late));
            say(watch, *source, Heard::Value(*measure), at, moment);
        }
        Input::Invalid(source, quantity) => {
            say(watch, *source, Heard::Invalid(*quantity), moment, moment);
        }
        Input::Press(act) => watch.press(*act, moment),
        Input::Utc(unix_ms, quality) => {
            let fix = UtcFix {
                unix_ms: *unix_ms,
                at: moment,
                quality: *quality,
            };
            watch.set_utc(fix, moment);
        }
        Input::Wait(ms) => {
            *now = now.saturating_add(*ms);
            watch.tick(Timestamp::from_millis(*now));
        }
    }
}

/// No number in it is infinite or none at all.
#[track_caller]
fn all_finite(words: &str) {
    for bad in ["NaN", " inf", "(inf", "-inf", "[inf"] {
        assert!(!words.contains(bad), "{bad} in {words}");
    }
}

#[track_caller]
fn sane(view: &View) {
    all_finite(&format!("{view:?}"));
    if view.call.call == Call::Blind {
        assert_eq!(view.call.minutes_in_hand, MinutesInHand::Unknown);
    }
    if !view.doing.is_under_sail() {
        assert_eq!(view.call.call, Call::None);
        assert_eq!(view.sounds.cockpit, None);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn nothing_heard_or_pressed_breaks_it(
        start in prop_oneof![Just(0_u64), Just(u64::MAX - 5000), any::<u64>()],
        inputs in prop::collection::vec(inputs(), 1..120),
        silence in 0_u64..21_600_000,
    ) {
        let mut now = start;
        let mut watch = Watch::new(&boat(), None, Timestamp::from_millis(start));
        for input in &inputs {
            apply(&mut watch, input, &mut now);
            sane(&watch.view());
            for event in events(&mut watch) {
                all_finite(&format!("{event:?}"));
            }
        }
        watch.tick(Timestamp::from_millis(now.saturating_add(silence)));
        sane(&watch.view());
    }

    #[test]
    fn extra_ticks_change_no_event(
        inputs in prop::collection::vec(inputs(), 1..100),
        part in 1_u64..700,
    ) {
        let mut plain = Watch::new(&boat(), None, secs(0));
        let mut split = Watch::new(&boat(), None, secs(0));
        let (mut now, mut split_now) = (0, 0);
        for input in &inputs {
            apply(&mut plain, input, &mut now);
            let until = match input {
                Input::Wait(ms) => split_now + ms,
                Input::Say(..) => split_now + 100,
                _ => split_now,
            };
            let mut tick = split_now;
            let mut told = Vec::new();
            while tick + part < until {
                tick += part;
                split.tick(Timestamp::from_millis(tick));
                told.extend(events(&mut split));
            }
            apply(&mut split, input, &mut split_now);
            told.extend(events(&mut split));
            let all = events(&mut plain);
            // What is not fetched for long is lost, oldest first.
            let kept = told.len().saturating_sub(all.len());
            prop_assert_eq!(&told[kept..], &all[..]);
        }
        prop_assert_eq!(format!("{:?}", plain.view()), format!("{:?}", split.view()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]

    #[test]
    fn a_minute_without_wind_is_never_calm(
        steps in winds(),
        silent_from in 5_u64..1200,
        heel in 0.0..35.0_f64,
        squall in prop::option::of(any::<u8>()),
    ) {
        let mut watch = Watch::new(&boat(), None, secs(0));
        for second in 0..silent_from + 240 {
            if second < silent_from {
                hear_wind(&mut watch, wind_at(&steps, second), secs(second));
            }
            if let Ok(heel) = Degrees::new(heel) {
                say(&mut watch, 3, Heard::Value(Measure::Heel(heel)), secs(second), secs(second));
            }
            if let Some(minutes) = squall.filter(|_| second == silent_from + 30) {
                watch.press(Act::SquallSeen { minutes, strength: None }, secs(second));
            }
            if second > silent_from + 60 {
                let view = watch.view();
                prop_assert_ne!(view.call.call, Call::None);
                prop_assert_eq!(view.wind.tws_kn, None);
                if view.call.minutes_in_hand != MinutesInHand::Unknown {
                    prop_assert!(view.call.call.is_threat());
                    prop_assert!(matches!(view.call.cause, Some(Cause::Heel | Cause::Squall)));
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn more_wind_never_lowers_the_call(
        steps in winds(),
        added in 0.1..8.0_f64,
        which in 0..BOATS,
    ) {
        let mut less = Watch::new(&boats(which), None, secs(0));
        let mut more = Watch::new(&boats(which), None, secs(0));
        for second in 0..1440 {
            let kn = wind_at(&steps, second);
            hear_wind(&mut less, kn, secs(second));
            hear_wind(&mut more, kn + added, secs(second));
            let calls = (less.view().call.call, more.view().call.call);
            prop_assert!(calls.1 >= calls.0, "boat {which}: {calls:?} at {second} s");
        }
    }

    #[test]
    fn worse_circumstances_never_make_a_call_later(
        steps in winds(),
        which in 0_usize..6,
        boat in 0..BOATS,
    ) {
        let noon = 1_782_907_200_000; // 2026-07-01 12:00 UTC
        let hands = boats(boat).start.hands;
        let fewer = Hands { on_deck: hands.on_deck.saturating_sub(1).max(1), below: hands.below };
        let run = |worse: bool| {
            let mut watch = Watch::new(&boats(boat), None, secs(0));
            let night = worse && which == 0;
            let fix = UtcFix {
                unix_ms: if night { noon + 43_200_000 } else { noon },
                at: secs(0),
                quality: UtcQuality::Gnss,
            };
            watch.set_utc(fix, secs(0));
            watch.press(Act::Sea(Some(Sea::Slight)), secs(0));
            let ready = Act::Setup { item: ItemId(0), readiness: Readiness::Ready };
            watch.press(Act::Plan(PlanId(1)), secs(0));
            watch.press(ready, secs(0));
            if worse {
                watch.press(match which {
                    1 => Act::Hands(fewer),
                    2 => Act::Hands(Hands { on_deck: 1, below: 0 }),
                    3 => Act::Setup { item: ItemId(0), readiness: Readiness::Open },
                    4 => Act::Sea(Some(Sea::VeryRough)),
                    5 => Act::Rigged { item: RiggedId(0), rigging: Rigging::Rigged },
                    _ => Act::Wake,
                }, secs(0));
            }
            let mut first = [u64::MAX; 3];
            for second in 0..1440 {
                if let (true, Ok(place)) = (second % 10 == 0, Position::new(50.0, 0.0)) {
                    let place = Heard::Value(Measure::Position(place));
                    say(&mut watch, 5, place, secs(second), secs(second));
                }
                hear_wind(&mut watch, wind_at(&steps, second) + 6.0, secs(second));
                let call = watch.view().call.call;
                for (first, level) in first.iter_mut().zip([Call::Prepare, Call::Reduce, Call::Past]) {
                    if call >= level {
                        *first = second.min(*first);
                    }
                }
            }
            first
        };
        let (fair, worse) = (run(false), run(true));
        for (fair, worse) in fair.iter().zip(&worse) {
            prop_assert!(worse <= fair, "boat {boat}, {which}: {fair} {worse}");
        }
    }

    #[test]
    fn a_reduction_entered_is_judged_by_its_own_limits(steps in winds(), which in 0..BOATS) {
        let mut watch = Watch::new(&boats(which), None, secs(0));
        let last = PlanId(boats(which).ladder.plans.len() as u8 - 1);
        for second in 0..1440 {
            hear_wind(&mut watch, wind_at(&steps, second), secs(second));
            if second % 300 == 299 {
                let before = watch.view().plan.id;
                watch.press(Act::PlanDown, secs(second));
                let view = watch.view();
                prop_assert!(view.plan.id > before || before == last);
                prop_assert!(view.next.is_none_or(|next| next > view.plan.id));
                prop_assert_ne!(view.call.call, Call::Past);
                let limit = view.ladder.get(usize::from(view.plan.id.0)).and_then(|r| r.limit_kn);
                if limit.is_none() {
                    prop_assert_eq!(view.call.call, Call::None);
                }
            }
        }
    }
}
