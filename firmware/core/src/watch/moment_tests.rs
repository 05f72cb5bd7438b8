//! The last good moment aboard: when it is said, when not, and the watch bill.

use std::vec::Vec;

use super::Watch;
use super::tests::{boat, gusty, hear, hear_wind};
use crate::act::{Act, Hands};
use crate::bill::{DeckTurn, Role, WatchBill};
use crate::boat::Boat;
use crate::event::{Event, EventKind, Hint};
use crate::ladder::{HandsMinutes, PlanId};
use crate::moment::{HintSound, Turning};
use crate::reading::{Measure, SourceId};
use crate::text::text;
use crate::time::{Timestamp, UtcFix, UtcQuality};
use crate::units::Position;

const GNSS: SourceId = SourceId(9);

fn at(second: u64) -> Timestamp {
    Timestamp::from_secs(second)
}

/// Two people, three hours on and three off.
fn with_bill(begins_unix_s: Option<i64>) -> Boat {
    let role = |name| Role {
        name: text(name),
        hands: 1,
    };
    let turn = |on_deck| DeckTurn {
        minutes: 180,
        on_deck,
    };
    let roles = [role("skipper"), role("mate")];
    let bill = WatchBill::new(&roles, &[turn(1), turn(2)], begins_unix_s, 15);
    let mut boat = boat();
    // Two are quicker, if both are up.
    for change in &mut boat.ladder.changes {
        let _ = change.minutes.push(HandsMinutes {
            hands: 2,
            minutes: 3.0,
        });
    }
    Boat {
        bill: bill.ok(),
        ..boat
    }
}

/// Runs a watch at 50 north in late November, from a moment of the day on
/// (UTC is the sun's time there): civil dusk is at about 16:40.
fn run(watch: &mut Watch, hours: core::ops::Range<f64>, kn: f64) -> Vec<Event> {
    let mut events = Vec::new();
    let seconds = |hour: f64| (hour * 3600.0) as u64;
    for second in seconds(hours.start)..seconds(hours.end) {
        if second % 60 == 0 {
            let fix = UtcFix {
                unix_ms: 20_420 * 86_400_000 + second as i64 * 1000,
                at: at(second),
                quality: UtcQuality::Gnss,
            };
            watch.set_utc(fix, at(second));
            let place = Position::new(50.0, 0.0).map(Measure::Position).ok();
            hear(watch, GNSS, place, second);
        }
        hear_wind(watch, gusty(kn, second), second);
        while let Some(event) = watch.next_event() {
            events.push(event);
        }
    }
    events
}

fn said(events: &[Event]) -> Vec<(Hint, u64, std::string::String)> {
    let hints = events.iter().filter_map(|event| match event.kind {
        EventKind::Hint(hint @ (Hint::ReduceNow(_) | Hint::CanWait(_) | Hint::WatchDue)) => {
            let minute = event.at.as_millis() / 60_000;
            Some((hint, minute, event.why.as_str().into()))
        }
        _ => None,
    });
    hints.collect()
}

#[test]
fn before_a_night_in_which_the_limit_is_likely_it_speaks_once() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(12 * 3600));
    let events = run(&mut watch, 12.0..16.9, 14.0);
    let said = said(&events);
    let [(Hint::ReduceNow(PlanId(1)), minute, words)] = said.as_slice() else {
        panic!("{said:?}");
    };
    // Half an hour and the work before dusk, about 16:40.
    assert!((15 * 60 + 40..16 * 60 + 20).contains(minute), "{minute}");
    assert!(words.starts_with("reef 1 now: 1 up, light, "), "{words}");
    assert!(words.contains("dark") && words.contains("in 10"), "{words}");
}

#[test]
fn far_under_the_limit_nothing_is_said_of_the_night() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(12 * 3600));
    let events = run(&mut watch, 12.0..16.9, 7.0);
    assert_eq!(said(&events), []);
}

#[test]
fn declined_it_is_silent_for_the_day() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(14 * 3600));
    run(&mut watch, 14.0..15.0, 14.0);
    watch.press(Act::DeclineBeforeDark, at(15 * 3600));
    let events = run(&mut watch, 15.0..16.9, 14.0);
    assert_eq!(said(&events), []);
}

#[test]
fn it_never_stands_beside_a_call() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(15 * 3600));
    run(&mut watch, 15.0..16.2, 14.0);
    assert!(!watch.view().moment.rows.is_empty());
    watch.press(
        Act::SquallSeen {
            minutes: 10,
            strength: None,
        },
        at(16 * 3600 + 720),
    );
    run(&mut watch, 16.2..16.25, 14.0);
    let view = watch.view();
    assert!(view.call.call.is_threat());
    assert!(view.moment.rows.is_empty() && view.moment.lines[0].is_empty());
    let moment = |hint: &Hint| matches!(hint, Hint::ReduceNow(_) | Hint::CanWait(_));
    assert!(!view.hints.iter().any(moment));
}

#[test]
fn it_sounds_only_where_the_boat_file_says_so() {
    for (hint, sounds) in [(HintSound::Silent, false), (HintSound::Sounded, true)] {
        let mut boat = boat();
        boat.costs.hint = hint;
        let mut watch = Watch::new(&boat, None, at(14 * 3600));
        let mut sounded = false;
        for quarter in 56..67 {
            let hour = f64::from(quarter) / 4.0;
            run(&mut watch, hour..hour + 0.25, 14.0);
            sounded |= watch.view().sounds.cockpit.is_some();
        }
        assert_eq!(sounded, sounds, "{hint:?}");
        watch.press(Act::Acknowledge, at(17 * 3600));
        assert_eq!(watch.view().sounds.cockpit, None);
    }
}

#[test]
fn the_watch_bill_asks_once_and_one_press_enters_the_hands() {
    let mut boat = with_bill(None);
    boat.start.hands = Hands {
        on_deck: 2,
        below: 0,
    };
    let mut watch = Watch::new(&boat, None, at(12 * 3600));
    run(&mut watch, 12.0..12.1, 9.0);
    watch.press(Act::WatchChanged, at(12 * 3600 + 360));
    let alone = Hands {
        on_deck: 1,
        below: 1,
    };
    assert_eq!(watch.view().people.hands, alone);
    let events = run(&mut watch, 12.1..15.3, 9.0);
    assert_eq!(
        said(&events)
            .iter()
            .map(|it| (it.0, it.1))
            .collect::<Vec<_>>(),
        [(Hint::WatchDue, 15 * 60 + 6)]
    );
    assert!(watch.view().hints.contains(&Hint::WatchDue));
    watch.press(Act::WatchChanged, at(15 * 3600 + 1200));
    assert!(!watch.view().hints.contains(&Hint::WatchDue));
}

#[test]
fn without_a_bill_the_key_changes_nothing() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    let before = watch.view().people.hands;
    watch.press(Act::WatchChanged, at(1));
    assert_eq!(watch.view().people.hands, before);
    assert!(
        watch
            .next_event()
            .is_none_or(|event| !matches!(event.kind, EventKind::Hands(..)))
    );
}

#[test]
fn the_bill_by_utc_puts_the_changes_among_the_moments_ahead() {
    let boat = with_bill(Some(20_420 * 86_400 + 12 * 3600));
    let mut watch = Watch::new(&boat, None, at(12 * 3600));
    run(&mut watch, 12.0..13.5, 14.0);
    let moment = watch.view().moment;
    let changes =
        |row: &&crate::view::MomentRow| matches!(row.begun_by, Some(Turning::WatchChanges(_)));
    let first = moment.rows.iter().find(changes).map(|row| row.in_s);
    assert!(
        first.is_some_and(|in_s| (in_s - 5400.0).abs() < 65.0),
        "{first:?}"
    );
    assert!(
        moment
            .rows
            .iter()
            .any(|row| row.begun_by == Some(Turning::Nightfall))
    );
    let odds: Vec<f64> = moment.rows.iter().map(|row| row.odds_by_end).collect();
    assert!(odds.is_sorted(), "{odds:?}");
}
