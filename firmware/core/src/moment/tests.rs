//! Worked examples, reckoned by hand, and what holds for all.

use super::*;
use crate::act::Hands;
use proptest::prelude::*;

const HOUR: f64 = 3600.0;

fn possible(minutes: f64, wakes: u8, dark: Darkness) -> Work {
    Work::Possible {
        minutes,
        wakes,
        dark,
    }
}

fn day(minutes: f64) -> Work {
    possible(minutes, 0, Darkness::Light)
}

fn question(spans: &[(f64, Work, f64)]) -> Question {
    let mut from_s = 0.0;
    let mut question = Question {
        undo_cost: 8.0,
        pressing_odds: 0.1,
        ..Question::default()
    };
    for (hours, work, odds_by_end) in spans {
        let to_s = from_s + hours * HOUR;
        question.push(Span {
            from_s,
            to_s,
            work: *work,
            odds_by_end: *odds_by_end,
        });
        from_s = to_s;
    }
    question
}

#[track_caller]
fn near(figure: f64, by_hand: f64) {
    assert!(
        (figure - by_hand).abs() < 1e-9,
        "{figure}, by hand {by_hand}"
    );
}

/// Two up by day, 8 min; in half an hour alone and dark, 26 min and a wake;
/// 4 in 10 by midnight. Common practice: reef before dark, before the watch
/// goes below.
#[test]
fn two_up_by_daylight_before_a_night_alone_is_now() {
    let night = possible(26.0, 1, Darkness::Dark);
    let question = question(&[(0.5, day(8.0), 0.05), (3.0, night, 0.4)]);
    let costs = Costs::default();
    // Now: 8, and 0.6 of never wanting it times 8 to undo it.
    near(question.cost_at(0.0, 0, &costs), 8.0 + 0.6 * 8.0);
    // Called: a quarter of the work past the limit at 4. By day 8 + 8 = 16; at
    // night 26 twice, 30 for the wake and 26, so 108.
    near(
        question.called_before(f64::INFINITY, &costs),
        0.05 * 16.0 + 0.35 * 108.0,
    );
    assert_eq!(question.compare(&costs), Advice::Now { before: 1 });
}

/// The same with five hours of day left: not yet.
#[test]
fn the_same_night_hours_away_is_not_spoken_of_yet() {
    let night = possible(26.0, 1, Darkness::Dark);
    let question = question(&[(5.0, day(8.0), 0.1), (3.0, night, 0.4)]);
    assert_eq!(question.compare(&Costs::default()), Advice::Nothing);
}

/// Alone in the dark, 26 min and a wake; in 25 min the watch changes and
/// three are up for a quarter of an hour, 10 min. Common practice: reef at
/// the change of watch.
#[test]
fn a_change_of_watch_in_twenty_five_minutes_is_worth_waiting_for() {
    let alone = possible(26.0, 1, Darkness::Dark);
    let both = possible(10.0, 0, Darkness::Dark);
    let question = question(&[
        (25.0 / 60.0, alone, 0.02),
        (0.25, both, 0.05),
        (3.0, alone, 0.5),
    ]);
    let costs = Costs::default();
    // Now 52 + 30 + 0.5 * 8 = 86. At the change: 0.02 called at 108, else 20,
    // and 4 to undo.
    near(question.cost_at(0.0, 0, &costs), 86.0);
    near(
        question.cost_at(25.0 * 60.0, 1, &costs),
        0.02 * 108.0 + 0.98 * 20.0 + 4.0,
    );
    assert_eq!(question.compare(&costs), Advice::CanWait { until: 1 });
    let pressing = Question {
        pressing_odds: 0.01,
        ..question
    };
    assert_eq!(pressing.compare(&costs), Advice::Nothing);
}

/// Daylight is eleven hours away, and 3 in 10 come before it: nobody waits for
/// that.
#[test]
fn a_better_hour_that_is_far_off_is_not_waited_for() {
    let night = possible(30.0, 1, Darkness::Dark);
    let question = question(&[(11.0, night, 0.3), (1.0, day(20.0), 0.32)]);
    assert_eq!(question.compare(&Costs::default()), Advice::Nothing);
}

/// A change that takes two, and the second goes off the bill: later nobody
/// can do it.
#[test]
fn a_change_that_later_cannot_be_made_is_now() {
    let question = question(&[(0.5, day(12.0), 0.02), (4.0, Work::Impossible, 0.25)]);
    assert_eq!(
        question.compare(&Costs::default()),
        Advice::Now { before: 1 }
    );
}

/// What cannot be made now is never called "now".
#[test]
fn what_cannot_be_made_now_can_wait_at_most() {
    let question = question(&[(0.5, Work::Impossible, 0.02), (4.0, day(12.0), 0.25)]);
    assert_eq!(
        question.compare(&Costs::default()),
        Advice::CanWait { until: 1 }
    );
}

#[test]
fn a_change_hardly_ever_wanted_is_not_spoken_of() {
    let night = possible(60.0, 3, Darkness::Dark);
    let question = question(&[(0.5, day(5.0), 0.01), (6.0, night, 0.15)]);
    assert_eq!(question.compare(&Costs::default()), Advice::Nothing);
}

#[test]
fn stretches_begin_where_something_known_changes() {
    let hands = |on_deck, below| Hands { on_deck, below };
    let now = Conditions {
        hands: hands(1, 1),
        dark: Darkness::Light,
        forecast_kn: None,
    };
    let mut turnings = Turnings::default();
    turnings.add(2.0 * HOUR, Turning::Nightfall);
    turnings.add(HOUR, Turning::WatchChanges(hands(2, 0)));
    turnings.add(1.25 * HOUR, Turning::WatchBelow(hands(1, 1)));
    turnings.add(-5.0, Turning::Daylight);
    turnings.add(3.0 * HOUR, Turning::WatchBelow(hands(1, 1)));
    turnings.add(20.0 * HOUR, Turning::Daylight);
    let stretches = turnings.stretches(now, 6.0 * HOUR);
    let begins: std::vec::Vec<f64> = stretches.iter().map(|it| it.from_s / HOUR).collect();
    assert_eq!(begins, [0.0, 1.0, 1.25, 2.0]);
    let last = stretches.last().map(|it| (it.conditions, it.to_s));
    let night = Conditions {
        dark: Darkness::Dark,
        ..now
    };
    assert_eq!(last, Some((night, 6.0 * HOUR)));
}

/// A night made from what a crew knows: nightfall, watch changes, how long
/// the change takes, how likely it is.
#[derive(Clone, Debug)]
struct Night {
    dusk_h: f64,
    changes_h: std::vec::Vec<(f64, u8)>,
    minutes: f64,
    night_factor: f64,
    level: f64,
    limit: f64,
    undo: f64,
}

impl Night {
    fn question(&self) -> Question {
        let hands = |below| Hands { on_deck: 1, below };
        let now = Conditions {
            hands: hands(0),
            dark: Darkness::Light,
            forecast_kn: None,
        };
        let mut turnings = Turnings::default();
        turnings.add(self.dusk_h * HOUR, Turning::Nightfall);
        for (at, wakes) in &self.changes_h {
            turnings.add(at * HOUR, Turning::WatchBelow(hands(*wakes)));
        }
        let stretches = turnings.stretches(now, HORIZON_S);
        let spans = stretches.iter().map(|it| Span {
            from_s: it.from_s,
            to_s: it.to_s,
            work: self.work(&it.conditions),
            odds_by_end: persistence::odds(self.level, self.limit, it.to_s),
        });
        let mut question = Question {
            undo_cost: self.undo,
            pressing_odds: 0.1,
            ..Question::default()
        };
        spans.for_each(|span| question.push(span));
        question
    }

    fn work(&self, it: &Conditions) -> Work {
        match it.dark {
            Darkness::Light => possible(self.minutes, it.hands.below, Darkness::Light),
            Darkness::Dark => possible(
                self.minutes * self.night_factor,
                it.hands.below,
                Darkness::Dark,
            ),
        }
    }
}

fn nights() -> impl Strategy<Value = Night> {
    (
        0.05..11.0f64,
        proptest::collection::vec((0.1..11.5f64, 0u8..3), 0..6),
        3.0..40.0f64,
        1.0..2.0f64,
        8.0..30.0f64,
        1.02..2.0f64,
        0.0..40.0f64,
    )
        .prop_map(
            |(dusk_h, changes_h, minutes, night_factor, level, over, undo)| Night {
                dusk_h,
                changes_h,
                minutes,
                night_factor,
                level,
                limit: level * over,
                undo,
            },
        )
}

/// Sooner is less.
fn lateness(advice: Advice) -> u8 {
    match advice {
        Advice::Now { .. } => 0,
        Advice::Nothing => 1,
        Advice::CanWait { .. } => 2,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn a_wake_more_never_makes_waiting_look_better(
        night in nights(), place in 1usize..8, more in 1u8..3,
    ) {
        let costs = Costs::default();
        let fewer = night.question();
        let mut with_more = fewer.clone();
        if let Some(Span { work: Work::Possible { wakes, .. }, .. }) =
            with_more.spans.get_mut(place)
        {
            *wakes += more;
        }
        prop_assert!(with_more.best_later(&costs).cost >= fewer.best_later(&costs).cost - 1e-9);
        prop_assert!(lateness(with_more.compare(&costs)) <= lateness(fewer.compare(&costs)));
    }

    #[test]
    fn darkness_sooner_is_never_later_advice(night in nights(), share in 0.02..1.0f64) {
        let costs = Costs::default();
        // Dusk before a change of hands where it was after it is another moment to
        // wait for, still with the hands of now: that may be worth waiting for.
        let mut night = night;
        let between = night.dusk_h * share..=night.dusk_h;
        night.changes_h.retain(|(at_h, _)| !between.contains(at_h));
        let sooner = Night { dusk_h: night.dusk_h * share, ..night.clone() };
        let (late, soon) = (night.question(), sooner.question());
        prop_assert!(
            lateness(soon.compare(&costs)) <= lateness(late.compare(&costs)),
            "{:?} then {:?}", late.compare(&costs), soon.compare(&costs)
        );
    }

    #[test]
    fn where_all_moments_are_alike_nothing_is_said(
        night in nights(), work_min in 1.0..120.0f64, wakes in 0u8..4,
    ) {
        let alike = night.question().with_all_as(possible(work_min, wakes, Darkness::Dark));
        prop_assert_eq!(alike.compare(&Costs::default()), Advice::Nothing);
    }

    #[test]
    fn more_likely_wanted_is_never_dearer_to_do_now(night in nights(), over in 1.0..1.3f64) {
        let costs = Costs::default();
        let likelier = Night { limit: night.limit / over, ..night.clone() };
        let now = |night: &Night| night.question().cost_at(0.0, 0, &costs);
        prop_assert!(now(&likelier) <= now(&night) + 1e-9);
    }
}
