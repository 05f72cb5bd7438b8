//! What must hold for every ladder and every crew: fewer hands, darkness, an
//! open set-up item, more sea or weariness never make a call later.

use cringle_core::act::{Condition, Hands, Helm, PointOfSail, Readiness, Rigging, Sea};
use cringle_core::boat::Crew;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::{
    Buys, Change, Choice, Circumstances, Course, Feasibility, HandsMinutes, ItemId, Ladder, Limit,
    Limits, MAX_ITEMS, MAX_RIGGED, Plan, PlanId, RiggedItem, SetupItem, Standing, buys, call_time,
    choose, deadline, wanted_items,
};
use cringle_core::units::Knots;
use cringle_core::view::Light;
use proptest::prelude::*;

const SEAS: [Sea; 5] = [
    Sea::Smooth,
    Sea::Slight,
    Sea::Moderate,
    Sea::Rough,
    Sea::VeryRough,
];

fn maybe_knots() -> impl Strategy<Value = Option<Knots>> {
    proptest::option::of((10.0..60.0_f64).prop_map(|speed| Knots::new(speed).unwrap()))
}

fn change(plans: u8, items: u8) -> impl Strategy<Value = Change> {
    let minutes = proptest::collection::vec((1..6_u8, 1.0..40.0_f64), 1..4);
    let setup = proptest::collection::vec(0..items, 0..3);
    let ends = (0..plans, 0..plans);
    (
        ends,
        minutes,
        setup,
        maybe_knots(),
        maybe_knots(),
        any::<bool>(),
    )
        .prop_map(
            |((from, to), minutes, setup, highest_wind, round_up, holds)| Change {
                from: PlanId(from),
                to: PlanId(to),
                minutes: minutes
                    .into_iter()
                    .map(|(hands, minutes)| HandsMinutes { hands, minutes })
                    .collect(),
                setup: setup.into_iter().map(ItemId).collect(),
                highest_wind,
                course: if holds {
                    Course::Holds
                } else {
                    Course::ComesUp
                },
                round_up,
            },
        )
}

fn plan(place: usize) -> impl Strategy<Value = Plan> {
    let alternative = any::<bool>();
    (maybe_knots(), alternative).prop_map(move |(mean, alternative)| {
        let limit = Limit { mean, gust: None };
        Plan {
            limits: Limits {
                close_hauled: limit,
                reaching: limit,
                running: limit,
            },
            alternative_to: (alternative && place > 0).then(|| PlanId(place as u8 - 1)),
            ..Plan::default()
        }
    })
}

fn item() -> impl Strategy<Value = SetupItem> {
    (0.0..30.0_f64, 1..5_u8, maybe_knots(), any::<bool>()).prop_map(
        |(minutes, hands, highest_wind, permanent)| SetupItem {
            minutes,
            hands,
            highest_wind,
            standing: if permanent {
                Standing::Permanent
            } else {
                Standing::WhenNeeded
            },
            ..SetupItem::default()
        },
    )
}

fn ladder() -> impl Strategy<Value = Ladder> {
    const PLANS: usize = 5;
    const ITEMS: usize = 4;
    let plans = [0, 1, 2, 3, 4].map(plan);
    let rigged = (0.0..15.0_f64, 1..4_u8, maybe_knots());
    (
        plans,
        proptest::collection::vec(change(PLANS as u8, ITEMS as u8), 1..14),
        proptest::collection::vec(item(), ITEMS),
        rigged,
    )
        .prop_map(|(plans, changes, setup, rigged)| Ladder {
            at_once: Default::default(),
            plans: plans.into_iter().collect(),
            changes: changes.into_iter().collect(),
            setup: setup.into_iter().collect(),
            rigged: core::iter::once(RiggedItem {
                minutes: rigged.0,
                hands: rigged.1,
                highest_wind: rigged.2,
                ..RiggedItem::default()
            })
            .collect(),
        })
}

fn crew() -> impl Strategy<Value = Crew> {
    let factors = proptest::array::uniform5(0.5..3.0_f64);
    let minutes = (0.0..15.0_f64, 0.0..5.0_f64);
    let pilot = proptest::option::of(10.0..50.0_f64);
    (
        minutes,
        0.5..2.0_f64,
        0.5..2.0_f64,
        factors,
        0.0..0.6_f64,
        pilot,
    )
        .prop_map(
            |(minutes, night_factor, worn_factor, sea_factors, spread, pilot_limit_kn)| Crew {
                muster_minutes: minutes.0,
                ready_minutes: minutes.1,
                night_factor,
                worn_factor,
                sea_factors,
                spread,
                pilot_limit_kn,
            },
        )
}

fn circumstances() -> impl Strategy<Value = Circumstances> {
    let hands = (0..5_u8, 0..5_u8);
    let states = (any::<bool>(), any::<bool>(), any::<bool>(), 0..5_usize);
    let wind = proptest::option::of(5.0..60.0_f64);
    let ready = proptest::array::uniform::<_, MAX_ITEMS>(any::<bool>());
    (hands, states, wind, ready, any::<bool>()).prop_map(|(hands, states, tws_kn, ready, up)| {
        let (worn, hand, night, sea) = states;
        Circumstances {
            condition: if worn {
                Condition::WornOut
            } else {
                Condition::Fresh
            },
            helm: if hand { Helm::Hand } else { Helm::Pilot },
            light: if night { Light::Night } else { Light::Day },
            sea: SEAS[sea],
            point: Some(PointOfSail::CloseHauled),
            tws_kn,
            readiness: ready.map(|ready| {
                if ready {
                    Readiness::Ready
                } else {
                    Readiness::Open
                }
            }),
            rigging: [if up {
                Rigging::Rigged
            } else {
                Rigging::Cleared
            }; MAX_RIGGED],
            confirmed: Confirmation::Confirmed,
            ..Circumstances::fair(Hands {
                on_deck: hands.0,
                below: hands.1,
            })
        }
    })
}

/// One thing that makes it harder.
#[derive(Clone, Copy, Debug)]
enum Harder {
    OneFewerOnDeck,
    OneFewerBelow,
    OneGoneBelow,
    Dark,
    LightUnknown,
    WornOut,
    MoreSea,
    Opened(u8),
    HandSteers,
    Rigged,
    Unconfirmed,
}

fn harder() -> impl Strategy<Value = Harder> {
    prop_oneof![
        Just(Harder::OneFewerOnDeck),
        Just(Harder::OneFewerBelow),
        Just(Harder::OneGoneBelow),
        Just(Harder::Dark),
        Just(Harder::LightUnknown),
        Just(Harder::WornOut),
        Just(Harder::MoreSea),
        (0..4_u8).prop_map(Harder::Opened),
        Just(Harder::HandSteers),
        Just(Harder::Rigged),
        Just(Harder::Unconfirmed),
    ]
}

fn made(harder: Harder, easy: &Circumstances) -> Circumstances {
    let mut hard = *easy;
    match harder {
        Harder::OneFewerOnDeck => hard.hands.on_deck = hard.hands.on_deck.saturating_sub(1),
        Harder::OneFewerBelow => hard.hands.below = hard.hands.below.saturating_sub(1),
        Harder::OneGoneBelow if hard.hands.on_deck > 0 => {
            hard.hands.on_deck -= 1;
            hard.hands.below += 1;
        }
        Harder::OneGoneBelow => {}
        Harder::Dark => hard.light = Light::Night,
        Harder::LightUnknown => hard.light = Light::Unknown,
        Harder::WornOut => hard.condition = Condition::WornOut,
        Harder::MoreSea => {
            let place = SEAS.iter().position(|sea| *sea == hard.sea).unwrap();
            hard.sea = SEAS[(place + 1).min(4)];
        }
        Harder::Opened(item) => hard = hard.with_item(ItemId(item), Readiness::Open),
        Harder::HandSteers => hard.helm = Helm::Hand,
        Harder::Rigged => hard.rigging = [Rigging::Rigged; MAX_RIGGED],
        Harder::Unconfirmed => hard.confirmed = Confirmation::Unconfirmed,
    }
    hard
}

/// Seconds, and seconds with one spread more; infinite where it cannot be done.
fn seconds(feasibility: &Feasibility) -> (f64, f64) {
    feasibility
        .job()
        .map_or((f64::INFINITY, f64::INFINITY), |job| {
            let whole = job.time.total_s();
            (whole, whole + job.time.spread_s)
        })
}

fn wind_of(below: Option<Knots>) -> f64 {
    below.map_or(f64::INFINITY, Knots::get)
}

fn chosen(ladder: &Ladder, crew: &Crew, now: &Circumstances, lasts: &[f64; 5]) -> Option<Choice> {
    let lasts = |id: PlanId| lasts.get(id.0 as usize).copied().unwrap_or(0.0);
    choose(ladder, crew, PlanId(0), now, lasts)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_harder_makes_a_change_shorter(
        ladder in ladder(), crew in crew(), easy in circumstances(), harder in harder(),
    ) {
        let hard = made(harder, &easy);
        for change in &ladder.changes {
            let before = seconds(&call_time(&ladder, &crew, change, &easy));
            let after = seconds(&call_time(&ladder, &crew, change, &hard));
            prop_assert!(after.0 >= before.0 - 1e-9, "{before:?} {after:?}");
            prop_assert!(after.1 >= before.1 - 1e-9, "{before:?} {after:?}");
        }
    }

    #[test]
    fn fewer_hands_or_an_open_item_never_raise_the_wind_for_a_change(
        ladder in ladder(), crew in crew(), easy in circumstances(), harder in harder(),
    ) {
        // Once a hand steers anyhow, the pilot's limit counts no more.
        if matches!(harder, Harder::HandSteers) {
            return Ok(());
        }
        let hard = made(harder, &easy);
        for change in &ladder.changes {
            let before = wind_of(deadline(&ladder, &crew, &[change], &easy));
            let after = wind_of(deadline(&ladder, &crew, &[change], &hard));
            prop_assert!(after <= before);
        }
    }

    /// The call of a choice comes when its reckoned time no longer fits before
    /// the lower of the limit and its own deadline: neither may ease.
    #[test]
    fn nothing_harder_makes_the_chosen_call_later(
        ladder in ladder(), crew in crew(), easy in circumstances(), harder in harder(),
        lasts in proptest::array::uniform5(prop_oneof![Just(f64::INFINITY), 0.0..90.0_f64]),
    ) {
        let hard = made(harder, &easy);
        let before = chosen(&ladder, &crew, &easy, &lasts);
        let after = chosen(&ladder, &crew, &hard, &lasts);
        prop_assert_eq!(before.is_some(), after.is_some());
        if let (Some(before), Some(after)) = (before, after) {
            prop_assert!(
                after.reckoned_s() >= before.reckoned_s() - 1e-6,
                "{:?}\n{:?}", before, after
            );
            let eased =
                wind_of(after.must_be_done_below) > wind_of(before.must_be_done_below) + 1e-9;
            // Once a hand steers anyhow, the pilot's limit counts no more.
            prop_assert!(
                !eased || matches!(harder, Harder::HandSteers),
                "{:?}\n{:?}", before, after
            );
        }
    }

    #[test]
    fn readiness_never_costs_time(
        ladder in ladder(), crew in crew(), now in circumstances(), item in 0..4_u8,
    ) {
        for change in &ladder.changes {
            match buys(&ladder, &crew, &[change], ItemId(item), &now) {
                Buys::Minutes(minutes) => prop_assert!(minutes >= -1e-9),
                Buys::Opens | Buys::Nothing => {}
            }
        }
    }

    #[test]
    fn a_choice_can_be_followed_step_by_step(
        ladder in ladder(), crew in crew(), now in circumstances(),
    ) {
        if let Some(choice) = chosen(&ladder, &crew, &now, &[f64::INFINITY; 5]) {
            let route = choice.route(&ladder);
            prop_assert_eq!(route.len(), choice.steps.len());
            prop_assert_eq!(route.first().map(|c| c.from), Some(PlanId(0)));
            prop_assert_eq!(route.last().map(|c| c.to), Some(choice.to));
            prop_assert!(route.windows(2).all(|pair| pair[0].to == pair[1].from));
            for (id, _) in wanted_items(&ladder, PlanId(0), Some(&choice)) {
                prop_assert!(ladder.item(id).is_some());
            }
        }
    }
}
