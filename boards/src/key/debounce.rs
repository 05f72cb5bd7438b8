//! From the raw contact of one key to presses.
//!
//! ```text
//!            closed 30 ms                 held 0.9 s
//!  Released ---------------> Pressed ----------------> Held -- 10 s --> Stuck
//!     ^                         |  open 60 ms: Short    | open 60 ms      |
//!     +-------------------------+-----------------------+-----------------+
//! ```
//!
//! A wet or gloved press makes and breaks; a break under 60 ms is still the
//! same press. There is no double press: two presses are two presses. A long
//! press tells while the key is still down, so that the hand knows when to
//! let go. A key that is down when we first look does nothing until it was
//! up once, and a key down for ten seconds is reported as stuck: that is salt
//! water or a lashing on it, not a wish.

use core::time::Duration;

use cringle_core::time::Timestamp;

use super::Contact;

/// How long a contact must be made to count; rubber keys bounce for under
/// 20 ms (common practice, no source).
const MAKE: Duration = Duration::from_millis(30);
/// How long it must be open to count: longer, as a glove slips.
const BREAK: Duration = Duration::from_millis(60);
/// From here on a press is long: longer than a glove that leans.
pub const LONG: Duration = Duration::from_millis(900);
/// From here on a key is stuck.
pub const STUCK: Duration = Duration::from_secs(10);

/// What a key did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// Down and up again within [`LONG`].
    Short,
    /// Down for [`LONG`]; told while it is still down.
    Long,
    /// Down for [`STUCK`]; told once.
    Stuck,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum KeyState {
    /// Not seen open since we began to look.
    Unknown {
        since: Option<Timestamp>,
    },
    Released,
    Pressed {
        since: Timestamp,
    },
    Held {
        since: Timestamp,
    },
    Stuck,
}

/// One key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Debounce {
    state: KeyState,
    /// Since when the raw contact has been other than `state` says.
    differs: Option<Timestamp>,
    contact: Contact,
}

impl Default for Debounce {
    fn default() -> Self {
        Self::new()
    }
}

impl Debounce {
    /// A key we have not looked at yet.
    pub const fn new() -> Self {
        Debounce {
            state: KeyState::Unknown { since: None },
            differs: None,
            contact: Contact::Closed,
        }
    }

    /// Takes the contact as it is now. Runs what became due since the last
    /// call first, so it does not matter how often it is called in between.
    pub fn update(&mut self, contact: Contact, now: Timestamp) -> Option<Press> {
        if self.state == (KeyState::Unknown { since: None }) {
            self.state = KeyState::Unknown { since: Some(now) };
        }
        let due = self.run_due(now);
        if contact != self.contact {
            self.contact = contact;
            self.differs = (contact != self.settled()).then_some(now);
        }
        due
    }

    /// Whether it is stuck, as long as it is.
    pub fn is_stuck(&self) -> bool {
        self.state == KeyState::Stuck
    }

    /// When something becomes due though the contact stays as it is.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        let settles = self.settles_at();
        let grows = match self.state {
            KeyState::Pressed { since } => Some(since.after(LONG)),
            KeyState::Held { since } => Some(since.after(STUCK)),
            KeyState::Unknown { since } => since.map(|since| since.after(STUCK)),
            KeyState::Released | KeyState::Stuck => None,
        };
        match (settles, grows) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }

    /// Up to two steps can be due at once, a press settling and growing long
    /// in one late call; only one of them is ever told, the last.
    fn run_due(&mut self, now: Timestamp) -> Option<Press> {
        let mut told = None;
        while let Some(deadline) = self.next_deadline().filter(|at| *at <= now) {
            told = self.step(deadline).or(told);
        }
        told
    }

    fn step(&mut self, at: Timestamp) -> Option<Press> {
        if self.settles_at() == Some(at) {
            return self.settle(at);
        }
        match self.state {
            KeyState::Pressed { since } => {
                self.state = KeyState::Held { since };
                Some(Press::Long)
            }
            KeyState::Held { .. } | KeyState::Unknown { .. } => {
                self.state = KeyState::Stuck;
                Some(Press::Stuck)
            }
            KeyState::Released | KeyState::Stuck => None,
        }
    }

    /// The raw contact has been other than we say for long enough: believe it.
    fn settle(&mut self, at: Timestamp) -> Option<Press> {
        let since = self.differs.take().unwrap_or(at);
        match (self.contact, self.state) {
            (Contact::Closed, _) => {
                self.state = KeyState::Pressed { since };
                None
            }
            (Contact::Open, KeyState::Pressed { .. }) => {
                self.state = KeyState::Released;
                Some(Press::Short)
            }
            (Contact::Open, _) => {
                self.state = KeyState::Released;
                None
            }
        }
    }

    fn settles_at(&self) -> Option<Timestamp> {
        let wait = match self.contact {
            Contact::Closed => MAKE,
            Contact::Open => BREAK,
        };
        self.differs.map(|since| since.after(wait))
    }

    fn settled(&self) -> Contact {
        match self.state {
            KeyState::Released => Contact::Open,
            KeyState::Unknown { .. }
            | KeyState::Pressed { .. }
            | KeyState::Held { .. }
            | KeyState::Stuck => Contact::Closed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Contact::{Closed, Open};
    use super::*;

    fn at(millis: u64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    /// Plays contact changes and looks again every `every` ms to the end.
    fn play(changes: &[(u64, Contact)], end: u64, every: u64) -> Vec<(u64, Press)> {
        let mut key = Debounce::new();
        assert_eq!(key.update(Open, at(0)), None);
        let mut contact = Open;
        let mut told = Vec::new();
        for millis in 1..=end {
            let change = changes.iter().find(|(when, _)| *when == millis);
            contact = change.map_or(contact, |(_, to)| *to);
            if change.is_some() || millis % every == 0 {
                told.extend(key.update(contact, at(millis)).map(|press| (millis, press)));
            }
        }
        told
    }

    #[test]
    fn short_press_is_told_when_it_is_surely_over() {
        let told = play(&[(1000, Closed), (1300, Open)], 3000, 1);
        assert_eq!(told, [(1360, Press::Short)]);
    }

    #[test]
    fn long_press_is_told_while_the_key_is_still_down_and_only_once() {
        let told = play(&[(1000, Closed), (3000, Open)], 5000, 1);
        assert_eq!(told, [(1900, Press::Long)]);
    }

    #[test]
    fn a_press_just_under_the_long_one_is_short() {
        let told = play(&[(1000, Closed), (1839, Open)], 3000, 1);
        assert_eq!(told, [(1899, Press::Short)]);
    }

    #[test]
    fn a_touch_shorter_than_30_ms_is_nothing() {
        assert_eq!(play(&[(1000, Closed), (1029, Open)], 3000, 1), []);
        assert_eq!(
            play(&[(1000, Closed), (1031, Open)], 3000, 1),
            [(1091, Press::Short)]
        );
    }

    #[test]
    fn bounces_at_both_ends_make_one_press() {
        let mut changes = Vec::new();
        for bounce in 0..8 {
            changes.push((
                1000 + bounce * 4,
                if bounce % 2 == 0 { Closed } else { Open },
            ));
        }
        changes.push((1040, Closed));
        for bounce in 0..8 {
            changes.push((
                1400 + bounce * 4,
                if bounce % 2 == 0 { Open } else { Closed },
            ));
        }
        changes.push((1440, Open));
        assert_eq!(play(&changes, 3000, 1), [(1500, Press::Short)]);
    }

    #[test]
    fn a_slipping_glove_does_not_split_a_press() {
        let told = play(
            &[(1000, Closed), (1200, Open), (1255, Closed), (2500, Open)],
            4000,
            1,
        );
        assert_eq!(told, [(1900, Press::Long)]);
    }

    #[test]
    fn two_presses_are_two_presses() {
        let told = play(
            &[(1000, Closed), (1100, Open), (1200, Closed), (1300, Open)],
            3000,
            1,
        );
        assert_eq!(told, [(1160, Press::Short), (1360, Press::Short)]);
    }

    #[test]
    fn a_key_under_water_is_stuck_once_and_good_again_when_dry() {
        let told = play(
            &[
                (1000, Closed),
                (60_000, Open),
                (61_000, Closed),
                (61_200, Open),
            ],
            63_000,
            1,
        );
        assert_eq!(
            told,
            [
                (1900, Press::Long),
                (11_000, Press::Stuck),
                (61_260, Press::Short)
            ]
        );
    }

    #[test]
    fn a_key_held_at_the_start_is_stuck_and_does_nothing_until_it_was_up_once() {
        let mut key = Debounce::new();
        for millis in (0..20_000).step_by(10) {
            let told = (millis == 10_000).then_some(Press::Stuck);
            assert_eq!(key.update(Closed, at(millis)), told);
        }
        assert!(key.is_stuck());
        key.update(Open, at(20_000));
        key.update(Open, at(20_100));
        assert!(!key.is_stuck());
        key.update(Closed, at(20_200));
        assert_eq!(key.update(Closed, at(21_100)), Some(Press::Long));
    }

    #[test]
    fn looking_more_often_changes_no_press() {
        let changes = [
            (1000, Closed),
            (1010, Open),
            (1020, Closed),
            (1500, Open),
            (2000, Closed),
            (4000, Open),
        ];
        let kinds = |every| -> Vec<Press> {
            play(&changes, 6000, every)
                .into_iter()
                .map(|(_, press)| press)
                .collect()
        };
        assert_eq!(kinds(1), [Press::Short, Press::Long]);
        for every in [7, 50, 333] {
            assert_eq!(kinds(every), kinds(1), "looking every {every} ms");
        }
    }

    #[test]
    fn deadline_is_when_the_next_press_would_be_told() {
        let mut key = Debounce::new();
        key.update(Open, at(0));
        assert_eq!(key.next_deadline(), Some(at(60)));
        key.update(Open, at(60));
        assert_eq!(key.next_deadline(), None);
        key.update(Closed, at(100));
        assert_eq!(key.next_deadline(), Some(at(130)));
        key.update(Closed, at(130));
        assert_eq!(key.next_deadline(), Some(at(1000)));
    }
}
