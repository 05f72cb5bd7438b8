//! The safety net: recorded inputs of every story, and the events they gave.
//!
//! Here one seed tells each story; all five are played by
//!
//! ```sh
//! CRINGLE_NET=all cargo test -p cringle-tests --test net
//! ```
//!
//! and written anew, in either form, by `CRINGLE_BLESS=1`.

use std::sync::Mutex;

use cringle_tests::net::{SEEDS, events, folder, inputs, replayed, stories};
use cringle_tests::snapshot;

#[test]
fn every_story_gives_the_events_it_gave() {
    let seeds = if snapshot::is_long() { SEEDS } else { 1 };
    let runs = stories().flat_map(|story| (1..=seeds).map(move |seed| (story, seed)));
    let runs = Mutex::new(runs);
    let differences = Mutex::new(Vec::new());
    let work = || {
        let next = || runs.lock().unwrap().next();
        while let Some((story, seed)) = next() {
            let text = replayed(&inputs(&folder(), story, seed)).unwrap();
            let path = events(&folder(), story, seed);
            let difference = snapshot::difference(&path, &text);
            differences.lock().unwrap().extend(difference);
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(work);
        }
    });
    let mut differences = differences.into_inner().unwrap();
    differences.sort();
    let command = "cargo test -p cringle-tests --test net";
    snapshot::none_moved(&differences, command);
}
