//! Presses of the board's keys, read on a thread of their own.

use std::time::Duration;

use cringle_boards::key::{self, KeyEvent, KeyName, KeySource};
use cringle_core::act::Act;
use cringle_core::time::Timestamp;
use cringle_screen::ui::{Key, Press};
use tokio::sync::mpsc;

use super::Wall;
use super::faults::Faults;
use super::moment::Latest;
use crate::face::Input;

/// The longest wait, so that the end of the watch is noticed.
const LONGEST_WAIT: Duration = Duration::from_millis(200);
/// And the shortest, so that a deadline in the past never spins.
const SHORTEST_WAIT: Duration = Duration::from_millis(1);

/// Who listens to the keys.
pub(super) struct Listener {
    keys: Box<dyn KeySource>,
    faults: Faults,
}

impl Listener {
    pub(super) fn new(keys: Box<dyn KeySource>, faults: Faults) -> Listener {
        Listener { keys, faults }
    }

    /// Listens until the watch ends.
    pub(super) fn run(
        &mut self,
        latest: &Latest,
        inputs: &mpsc::Sender<Input>,
        wall: &Wall,
    ) -> std::io::Result<()> {
        while !latest.look().ends {
            for input in self.presses(wall()) {
                if inputs.blocking_send(input).is_err() {
                    return Ok(());
                }
            }
            self.keys.wait(self.patience(wall()));
        }
        Ok(())
    }

    /// The presses up to now; keys that cannot be read, or are held by
    /// something that is no hand, are faults.
    pub(super) fn presses(&mut self, now: Timestamp) -> Vec<Input> {
        match self.keys.presses(now) {
            Ok(events) => {
                self.faults.set("keys", stuck_words(&self.keys.stuck()));
                events.into_iter().filter_map(input).collect()
            }
            Err(fault) => {
                self.faults.set("keys", Some(fault.to_string()));
                Vec::new()
            }
        }
    }

    fn patience(&self, now: Timestamp) -> Duration {
        let due = self.keys.next_deadline();
        let left = due.map_or(LONGEST_WAIT, |due| due.since(now));
        left.clamp(SHORTEST_WAIT, LONGEST_WAIT)
    }
}

fn stuck_words(stuck: &[KeyName]) -> Option<String> {
    let names: Vec<_> = stuck.iter().map(|it| it.as_str()).collect();
    (!names.is_empty()).then(|| format!("key stuck: {}", names.join(", ")))
}

fn input(event: KeyEvent) -> Option<Input> {
    let key = match event.key {
        KeyName::Left => Key::Left,
        KeyName::Middle => Key::Middle,
        KeyName::Right => Key::Right,
        // Whoever is half asleep may hold it: any press but a lashing counts.
        KeyName::Bunk => {
            let is_hand = event.press != key::Press::Stuck;
            return is_hand.then_some(Input::Act(Act::UpAtBunk));
        }
    };
    match event.press {
        key::Press::Short => Some(Input::Key(key, Press::Short)),
        key::Press::Long => Some(Input::Key(key, Press::Long)),
        key::Press::Stuck => None,
    }
}
