//! Power cuts at every operation of the store: what another start finds is the last
//! state that was surely kept, or a later one, and never a half.

use std::path::Path;
use std::sync::Arc;

use cringle::before::state_before;
use cringle::clock::Clock;
use cringle::engine::Engine;
use cringle::receipt::Receipt;
use cringle::state::{State, Unsure};
use cringle::store::{Store, StoreSettings, Urgency};
use cringle_core::act::Act;
use cringle_core::ladder::PlanId;
use cringle_core::time::Timestamp;

use super::disk::SimDisk;
use super::example;
use super::luck::Luck;
use super::world::STATE;

/// States that are written one after the other.
const STATES: usize = 12;
/// Ways in which each cut may tear what was not synced.
const WAYS: u64 = 24;

/// What was surely kept when the power went: states and events.
struct Kept {
    states: usize,
    events: usize,
}

/// Writes states and events until the power goes.
fn work(disk: &SimDisk, lines: &[String]) -> Kept {
    let (_, clock) = Clock::by_hand();
    let settings = StoreSettings {
        log_bytes: 60,
        ..StoreSettings::new(STATE.into())
    };
    let (store, mut keeper) = Store::apart(settings, Arc::new(disk.clone()), clock);
    let mut kept = Kept {
        states: 0,
        events: 0,
    };
    for (number, line) in lines.iter().enumerate() {
        let (receipt, given) = Receipt::new();
        store.state(line.clone());
        store.event(format!("{{\"seq\":{number}}}"), Urgency::Now);
        store.receipt(receipt);
        keeper.turn();
        if *given.borrow() {
            kept = Kept {
                states: number + 1,
                events: number + 1,
            };
        }
    }
    drop(keeper);
    kept
}

fn events_on(disk: &SimDisk) -> String {
    let mut logs: Vec<_> = disk.files();
    logs.retain(|(path, _)| path.to_string_lossy().contains("events"));
    let words = logs
        .iter()
        .map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned());
    words.collect()
}

#[test]
fn a_thousand_torn_states_are_none_of_them_believed_by_half() {
    let boat_file = example();
    let mut engine = Engine::new(&boat_file.boat, Vec::new(), None, Timestamp::ZERO);
    let mut lines = Vec::new();
    let mut plans = Vec::new();
    for number in 0..STATES {
        let plan = PlanId((number % 3) as u8);
        engine.act(Act::Plan(plan), Timestamp::from_secs(number as u64 + 1));
        let state = State {
            saved: engine.saved(),
            saved_unix_ms: None,
        };
        lines.push(state.write(&boat_file.boat));
        plans.push(plan);
    }
    let whole = SimDisk::default();
    assert_eq!(work(&whole, &lines).states, STATES);
    let mut tried = 0;
    for cut in 1..=whole.operations() {
        let disk = SimDisk::default();
        disk.die_at(cut);
        let kept = work(&disk, &lines);
        for way in 0..WAYS {
            let after = disk.after_a_cut(&mut Luck::new(cut * 1000 + way));
            let (state, unsure) = state_before(&after, &boat_file, Path::new(STATE), None);
            let found = state.map(|state| state.saved.plan);
            let may_be = &plans[kept.states.saturating_sub(1)..];
            match found {
                Some(plan) => assert!(
                    unsure == [Unsure::Trend] && may_be.contains(&plan),
                    "cut {cut}, way {way}: {plan:?}, kept {}",
                    kept.states
                ),
                None => assert_eq!(kept.states, 0, "cut {cut}, way {way}: the state is gone"),
            }
            // The oldest logs go by their number.
            let events = events_on(&after);
            for seq in kept.events.saturating_sub(8)..kept.events {
                let line = format!("{{\"seq\":{seq}}}\n");
                assert!(
                    events.contains(&line),
                    "cut {cut}, way {way}: event {seq} is gone"
                );
            }
            tried += 1;
        }
    }
    println!("{tried} torn states, 0 lost");
    assert!(tried >= 1000, "{tried}");
}
