//! What goes on until somebody answers: the wake, and the questions.

use core::time::Duration;

use super::tests::{at, boat, hear_wind, run, threatening};
use super::*;
use crate::act::{Hands, Question, Reply};
use crate::event::{Call, EventKind, Saying};
use crate::ladder::PlanId;
use crate::view::{AlertState, Pace, Preparation};

/// One on deck, one below, and each change takes two.
fn boat_for_two() -> Boat {
    let mut boat = boat();
    for change in &mut boat.ladder.changes {
        for minutes in &mut change.minutes {
            minutes.hands = 2;
        }
    }
    boat
}

/// Sails until `prepare` stands; gives the second after it.
fn prepared(watch: &mut Watch) -> u64 {
    let mut second = 0;
    while watch.view().call.call != Call::Prepare {
        run(watch, second, second + 10, threatening);
        second += 10;
        assert!(second < 7200);
    }
    second
}

fn work_s(watch: &Watch) -> f64 {
    watch.view().call.call_time.map_or(0.0, |it| it.total_s())
}

fn asked(events: &[Event], question: Question) -> usize {
    let asks = events.iter().map(|it| &it.kind);
    asks.filter(|it| **it == EventKind::Ask(question)).count()
}

/// How often it has asked whether to go on since last looked at.
fn drain(watch: &mut Watch) -> usize {
    let events: std::vec::Vec<Event> = core::iter::from_fn(|| watch.next_event()).collect();
    asked(&events, Question::CarryOn)
}

fn answer(to: Question, reply: Reply) -> Act {
    Act::Answer { to, reply }
}

#[test]
fn a_wake_sounds_at_the_bunk_until_somebody_answers_there() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 300, |_| 8.0);
    watch.press(Act::Wake, at(300));
    for minute in 5..35 {
        // The key in the cockpit is not the bunk's.
        watch.press(Act::Acknowledge, at(minute * 60));
        watch.press(Act::Silence, at(minute * 60));
        run(&mut watch, minute * 60, minute * 60 + 60, |_| 8.0);
        assert!(watch.view().sounds.bunk.is_some(), "{minute} min");
    }
    watch.press(Act::UpAtBunk, at(2100));
    assert_eq!(watch.view().sounds.bunk, None);
    assert!(watch.view().muster_left_s.is_some());
    let events: std::vec::Vec<Event> = core::iter::from_fn(|| watch.next_event()).collect();
    let is_up = |it: &Event| matches!(it.kind, EventKind::Said(Saying::UpAtBunk(s)) if s > 0);
    assert!(events.iter().any(is_up));
}

#[test]
fn an_escalated_call_is_acknowledged_at_the_bunk_and_the_muster_runs_down() {
    let boat = boat_for_two();
    let mut watch = Watch::new(&boat, None, at(0));
    let second = prepared(&mut watch);
    let kn = threatening(second);
    run(&mut watch, second, second + 40, |_| kn);
    let view = watch.view();
    assert!(view.sounds.bunk.is_some() && view.to_call == 1);
    let before = work_s(&watch);
    watch.press(Act::UpAtBunk, at(second + 40));
    let view = watch.view();
    assert_eq!(view.call.alert, AlertState::Acknowledged);
    assert_eq!((view.sounds.cockpit, view.sounds.bunk), (None, None));
    let muster_s = view.muster_left_s.unwrap_or(0.0);
    assert!(muster_s > 120.0, "{muster_s}");
    let on = second + 40 + 120;
    run(&mut watch, second + 40, on + 1, |_| kn);
    let gone = before - work_s(&watch);
    assert!((gone - 120.0).abs() < 3.0, "{gone} s less work");
    // Asked for on deck when it has run; one key moves the hands.
    let due = second + 40 + muster_s as u64;
    let early = run(&mut watch, on + 1, due - 1, |_| kn);
    assert_eq!(asked(&early, Question::OnDeck), 0);
    let late = run(&mut watch, due - 1, due + 5, |_| kn);
    assert_eq!(asked(&late, Question::OnDeck), 1);
    assert_eq!(watch.view().question, Some(Question::OnDeck));
    assert!(watch.view().sounds.cockpit.is_some());
    watch.press(answer(Question::OnDeck, Reply::No), at(due + 5));
    assert_eq!(watch.view().question, None);
    let again = run(&mut watch, due + 5, due + 310, |_| kn);
    assert_eq!(asked(&again, Question::OnDeck), 1);
    watch.press(Act::OnDeck, at(due + 310));
    let view = watch.view();
    let hands = Hands {
        on_deck: 2,
        below: 0,
    };
    assert_eq!(view.people.hands, hands);
    assert_eq!((view.question, view.muster_left_s), (None, None));
    assert_eq!(view.to_call, 0);
}

#[test]
fn the_key_at_a_still_bunk_is_an_elbow() {
    let boat = boat_for_two();
    let mut watch = Watch::new(&boat, None, at(0));
    let second = prepared(&mut watch);
    watch.press(Act::UpAtBunk, at(second));
    let view = watch.view();
    assert_eq!(view.call.alert, AlertState::Unacknowledged);
    assert_eq!(view.muster_left_s, None);
    // Nor does "on deck" move anybody who was not called.
    watch.press(Act::OnDeck, at(second));
    assert_eq!(watch.view().people.hands, boat.start.hands);
}

#[test]
fn at_the_booked_time_it_asks_aloud_and_goes_on_past_one_and_a_half() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 12.0);
    watch.press(Act::Started, at(1800));
    let booked = watch.view().manoeuvre.map_or(0.0, |it| it.booked_s) as u64;
    let before = run(&mut watch, 1800, 1800 + booked, |_| 12.0);
    assert_eq!(asked(&before, Question::IsItSet), 0);
    let mut second = 1800 + booked;
    for wait in [booked / 2, 300, 300, 300] {
        let events = run(&mut watch, second, second + 5, |_| 12.0);
        assert_eq!(asked(&events, Question::IsItSet), 1, "{second} s");
        let view = watch.view();
        assert!(view.question_words.contains("is reef 1 set?"));
        assert!(view.sounds.cockpit.is_some());
        watch.press(answer(Question::IsItSet, Reply::No), at(second + 5));
        assert_eq!(watch.view().sounds.cockpit, None);
        let quiet = run(&mut watch, second + 5, second + wait, |_| 12.0);
        assert_eq!(asked(&quiet, Question::IsItSet), 0);
        second += wait;
    }
    // One press: set.
    run(&mut watch, second, second + 5, |_| 12.0);
    watch.press(answer(Question::IsItSet, Reply::Yes), at(second + 5));
    assert_eq!(watch.view().plan.id, PlanId(1));
    assert_eq!(watch.view().manoeuvre, None);
    // A press too late changes nothing.
    watch.press(answer(Question::IsItSet, Reply::Yes), at(second + 6));
    assert_eq!(watch.view().plan.id, PlanId(1));
}

/// Past, acknowledged and begun; then two hours without power.
fn hours_old() -> (Boat, Saved) {
    let mut boat = boat();
    boat.start.hands = Hands {
        on_deck: 2,
        below: 1,
    };
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1800, |_| 21.0);
    watch.press(Act::Acknowledge, at(1800));
    watch.press(Act::Started, at(1800));
    run(&mut watch, 1800, 1900, |_| 21.0);
    let saved = watch.saved().aged(Duration::from_secs(7200));
    (boat, saved)
}

#[test]
fn what_is_restored_and_older_than_its_own_work_is_asked_for_and_not_believed() {
    let (boat, saved) = hours_old();
    let all = TooOld {
        call: true,
        change: true,
        hands: true,
    };
    assert_eq!(saved.too_old, all);
    let mut watch = Watch::new(&boat, Some(&saved), at(0));
    watch.tick(at(2));
    let view = watch.view();
    assert!(!view.call.call.is_threat());
    assert_eq!(view.manoeuvre, None);
    // The same people, but as few on deck as there can be.
    let cautious = Hands {
        on_deck: 1,
        below: 2,
    };
    assert_eq!(view.people.hands, cautious);
    assert!(view.sounds.cockpit.is_some());
    // Power lost again before anybody answered: still asked.
    let again = Watch::new(&boat, Some(&watch.saved()), at(0)).saved();
    assert_eq!((again.too_old, again.hands), (all, boat.start.hands));
    // Stilled, the questions stay on the screen.
    watch.press(Act::Acknowledge, at(2));
    for question in [Question::OldChange, Question::OldCall, Question::OldHands] {
        assert_eq!(watch.view().question, Some(question));
        watch.press(answer(question, Reply::No), at(3));
    }
    let view = watch.view();
    assert_eq!((view.question, view.plan.id), (None, PlanId(0)));
    assert_eq!(view.people.hands, cautious);
    assert_eq!(watch.saved().too_old, TooOld::default());
}

#[test]
fn what_is_restored_and_vouched_for_stands_again() {
    let (boat, saved) = hours_old();
    let ask = |question, reply| {
        let mut watch = Watch::new(&boat, Some(&saved), at(0));
        watch.tick(at(2));
        watch.press(answer(Question::OldChange, Reply::No), at(2));
        watch.press(answer(question, reply), at(2));
        watch
    };
    let kept = ask(Question::OldCall, Reply::Yes).saved();
    assert!(!kept.too_old.call);
    assert!(
        kept.call
            .is_some_and(|it| it.call == Call::Past && it.acknowledged)
    );
    let hands = ask(Question::OldHands, Reply::Yes).view().people.hands;
    assert_eq!(hands, boat.start.hands);
    let mut watch = Watch::new(&boat, Some(&saved), at(0));
    watch.tick(at(2));
    watch.press(answer(Question::OldChange, Reply::Yes), at(2));
    assert_eq!(watch.view().plan.id, PlanId(1));
    // A call of the wind of now answers for the one of then.
    let mut watch = Watch::new(&boat, Some(&saved), at(0));
    run(&mut watch, 0, 300, |_| 21.0);
    assert!(watch.view().call.call.is_threat());
    assert!(!watch.saved().too_old.call);
}

#[test]
fn ready_and_hovering_is_silent_and_asks_once_after_half_an_hour() {
    let boat = boat();
    let hovering = |watch: &mut Watch| {
        for second in 0..3600 {
            hear_wind(watch, 16.6 + 0.2 * libm::sin(second as f64 / 60.0), second);
            if watch.view().call.alert == AlertState::Unacknowledged {
                watch.press(Act::Acknowledge, at(second));
            }
        }
        let call = watch.view().call;
        assert_eq!(
            (call.call, call.preparation),
            (Call::Prepare, Preparation::Ready)
        );
    };
    for (reply, begun) in [(Reply::Yes, true), (Reply::No, false)] {
        let mut watch = Watch::new(&boat, None, at(0));
        hovering(&mut watch);
        let each = |watch: &mut Watch| {
            let open = watch.view().question;
            if open.is_some() {
                assert_eq!(open, Some(Question::CarryOn));
                assert!(watch.view().question_words.contains("or carry on?"));
                assert_eq!(watch.view().call.alert, AlertState::Acknowledged);
                let now = watch.view().now;
                watch.press(answer(Question::CarryOn, reply), now);
                return true;
            }
            false
        };
        let mut answered = false;
        let mut questions = 0;
        for second in 3600..9000 {
            hear_wind(
                &mut watch,
                16.6 + 0.2 * libm::sin(second as f64 / 60.0),
                second,
            );
            answered |= each(&mut watch);
            questions += drain(&mut watch);
            if answered && begun {
                break;
            }
            assert_eq!(watch.view().sounds.cockpit, None, "{second} s");
        }
        assert!(answered);
        assert_eq!(watch.view().manoeuvre.is_some(), begun);
        assert_eq!(questions, 1);
    }
}

#[test]
fn minutes_run_by_a_clock_only_where_there_is_one() {
    let boat = boat();
    let mut watch = Watch::new(&boat, None, at(0));
    run(&mut watch, 0, 1200, |_| 9.0);
    assert_eq!(watch.view().call.pace, Pace::Wind);
    // Not called for yet, but the figure is the squall's.
    watch.press(
        Act::SquallSeen {
            minutes: 60,
            strength: None,
        },
        at(1200),
    );
    assert_eq!(watch.view().call.call, Call::None);
    assert_eq!(watch.view().call.pace, Pace::Clock);
    watch.press(
        Act::SquallSeen {
            minutes: 0,
            strength: None,
        },
        at(1201),
    );
    assert_eq!(watch.view().call.pace, Pace::Wind);
    // A squall far off does not make a clock of a wind that is nearer.
    let mut watch = Watch::new(&boat, None, at(0));
    let second = prepared(&mut watch);
    watch.press(
        Act::SquallSeen {
            minutes: 90,
            strength: None,
        },
        at(second),
    );
    assert_eq!(watch.view().call.pace, Pace::Wind);
}
