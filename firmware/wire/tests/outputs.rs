//! Rates of what is sent.

use core::time::Duration;

use cringle_core::time::Timestamp;
use cringle_wire::outputs::{Outgoing, Scheduler};

fn at(millis: u64) -> Timestamp {
    Timestamp::from_millis(millis)
}

fn every(millis: u64) -> Option<Duration> {
    Some(Duration::from_millis(millis))
}

#[test]
fn nothing_is_sent_until_a_rate_is_set() {
    let mut scheduler = Scheduler::new();
    assert_eq!(scheduler.next_deadline(), None);
    assert!(scheduler.due(at(1_000_000)).is_empty());
}

#[test]
fn each_sentence_keeps_its_own_rate() {
    let mut scheduler = Scheduler::new();
    scheduler.set(Outgoing::TrueWind, every(200), at(0));
    scheduler.set(Outgoing::AlertList, every(30_000), at(0));
    let mut sent = [0, 0];
    for millis in (0..60_000).step_by(50) {
        for what in scheduler.due(at(millis)) {
            sent[usize::from(what == Outgoing::AlertList)] += 1;
        }
    }
    assert_eq!(sent, [300, 2]);
}

#[test]
fn a_late_call_sends_once_and_keeps_step() {
    let mut scheduler = Scheduler::new();
    scheduler.set(Outgoing::TrueWind, every(1000), at(0));
    assert_eq!(scheduler.due(at(0)).len(), 1);
    assert_eq!(scheduler.due(at(1300)).len(), 1);
    assert_eq!(scheduler.next_deadline(), Some(at(2000)));
    assert_eq!(scheduler.due(at(9500)).len(), 1);
    assert_eq!(scheduler.next_deadline(), Some(at(10_500)));
}

#[test]
fn a_change_hurries_only_what_is_sent() {
    let mut scheduler = Scheduler::new();
    scheduler.set(Outgoing::AlertList, every(30_000), at(0));
    scheduler.due(at(0));
    scheduler.hurry(Outgoing::AlertList, at(100));
    scheduler.hurry(Outgoing::Heartbeat, at(100));
    assert_eq!(scheduler.due(at(100)).as_slice(), [Outgoing::AlertList]);
    scheduler.set(Outgoing::AlertList, None, at(200));
    assert_eq!(scheduler.next_deadline(), None);
}

#[test]
fn no_rate_is_faster_than_a_line_carries() {
    let mut scheduler = Scheduler::new();
    scheduler.set(Outgoing::TrueWind, every(0), at(0));
    scheduler.due(at(0));
    assert!(scheduler.next_deadline() > Some(at(0)));
}
