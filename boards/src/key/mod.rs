//! Keys under gloves: short and long presses, and keys that are stuck.
//!
//! [`Debounce`] turns the raw contact of one key into presses. [`Keys`] does
//! that for all keys of a board over any [`Contacts`]: the GPIO lines aboard
//! ([`crate::gpio::KeyLines`]), a list in tests.

mod debounce;

use std::time::Duration;

use cringle_core::time::Timestamp;

use crate::backoff::Backoff;
use crate::board::BoardFile;
use crate::gpio::KeyLines;

pub use debounce::{Debounce, LONG, Press, STUCK};

/// Whether the contact of a key is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Not pressed.
    Open,
    /// Pressed.
    Closed,
}

/// Which key, by its place under the panel. What a short and a long press of
/// it does is for the screen to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum KeyName {
    /// The left one.
    Left,
    /// The middle one; it answers a call.
    Middle,
    /// The right one.
    Right,
    /// Not under the panel: at the bunk. Any press of it is "I am up".
    Bunk,
}

impl KeyName {
    /// Every key there can be.
    pub const ALL: [KeyName; 4] = [
        KeyName::Left,
        KeyName::Middle,
        KeyName::Right,
        KeyName::Bunk,
    ];

    /// As the board file writes it.
    pub const fn as_str(self) -> &'static str {
        match self {
            KeyName::Left => "left",
            KeyName::Middle => "middle",
            KeyName::Right => "right",
            KeyName::Bunk => "bunk",
        }
    }
}

/// One thing a key did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyEvent {
    /// Which key.
    pub key: KeyName,
    /// What it did.
    pub press: Press,
}

/// The raw contacts of a board's keys.
pub trait Contacts: Send {
    /// All contacts, in the order of the board file.
    fn read(&mut self) -> Result<Vec<Contact>, String>;

    /// Waits until a contact may have changed, at most so long. Blocks.
    fn wait(&mut self, at_most: Duration) -> Result<(), String>;
}

/// Where key presses come from.
pub trait KeySource: Send {
    /// Waits for presses, at most so long. Blocks.
    fn wait(&mut self, at_most: Duration);

    /// The presses up to now. After a fault the lines are opened again later;
    /// a key held meanwhile counts for nothing until it is let go.
    fn presses(&mut self, now: Timestamp) -> Result<Vec<KeyEvent>, KeyFault>;

    /// Keys that are held down by something that is no hand.
    fn stuck(&self) -> Vec<KeyName>;

    /// When to ask again though no contact changed.
    fn next_deadline(&self) -> Option<Timestamp>;
}

/// The keys cannot be read: none of them works.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyFault {
    /// What the lines said.
    pub why: String,
}

impl core::fmt::Display for KeyFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "keys cannot be read: {}", self.why)
    }
}

impl std::error::Error for KeyFault {}

/// Opens the lines, anew after each fault.
pub type Opener<C> = Box<dyn FnMut() -> Result<C, String> + Send>;

/// The keys of a board file, if it has any, on this computer's lines.
pub fn open(board: &BoardFile) -> Option<Keys<KeyLines>> {
    let names: Vec<KeyName> = board.keys.iter().map(|(name, _)| *name).collect();
    let wired: Vec<_> = board.keys.iter().map(|(_, line)| line.clone()).collect();
    let open = move || KeyLines::open(&wired).map_err(|error| error.to_string());
    (!names.is_empty()).then(|| Keys::new(&names, Box::new(open)))
}

/// All keys of a board.
pub struct Keys<C> {
    open: Opener<C>,
    contacts: Option<C>,
    keys: Vec<(KeyName, Debounce)>,
    backoff: Backoff,
    fault: Option<KeyFault>,
}

impl<C: Contacts> Keys<C> {
    /// Keys in the order in which `open` gives their contacts.
    pub fn new(names: &[KeyName], open: Opener<C>) -> Self {
        Keys {
            open,
            contacts: None,
            keys: names.iter().map(|name| (*name, Debounce::new())).collect(),
            backoff: Backoff::new(),
            fault: None,
        }
    }

    fn read(&mut self) -> Result<Vec<Contact>, String> {
        let contacts = match &mut self.contacts {
            Some(contacts) => contacts,
            empty => empty.insert((self.open)()?),
        };
        let levels = contacts.read()?;
        if levels.len() == self.keys.len() {
            Ok(levels)
        } else {
            Err(format!(
                "{} lines for {} keys",
                levels.len(),
                self.keys.len()
            ))
        }
    }

    fn went_wrong(&mut self, why: String, now: Timestamp) -> KeyFault {
        self.contacts = None;
        self.backoff.failed(now);
        for (_, key) in &mut self.keys {
            *key = Debounce::new();
        }
        let fault = KeyFault { why };
        self.fault = Some(fault.clone());
        fault
    }
}

impl<C: Contacts> KeySource for Keys<C> {
    fn wait(&mut self, at_most: Duration) {
        let waited = self
            .contacts
            .as_mut()
            .map(|contacts| contacts.wait(at_most));
        // A fault here shows at the read that follows; only never spin on it.
        if !matches!(waited, Some(Ok(()))) {
            std::thread::sleep(at_most);
        }
    }

    fn presses(&mut self, now: Timestamp) -> Result<Vec<KeyEvent>, KeyFault> {
        if let Some(fault) = self.fault.clone().filter(|_| self.backoff.is_waiting(now)) {
            return Err(fault);
        }
        let levels = self.read().map_err(|why| self.went_wrong(why, now))?;
        self.fault = None;
        self.backoff.worked();
        let mut events = Vec::new();
        for ((name, key), contact) in self.keys.iter_mut().zip(levels) {
            let press = key.update(contact, now);
            events.extend(press.map(|press| KeyEvent { key: *name, press }));
        }
        Ok(events)
    }

    fn stuck(&self) -> Vec<KeyName> {
        let stuck = self.keys.iter().filter(|(_, key)| key.is_stuck());
        stuck.map(|(name, _)| *name).collect()
    }

    fn next_deadline(&self) -> Option<Timestamp> {
        let keys = self.keys.iter().filter_map(|(_, key)| key.next_deadline());
        self.backoff.next_try().or(keys.min())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    /// A bench with wires: contacts set by hand, and a plug that can be pulled.
    #[derive(Clone)]
    struct Bench(Arc<Mutex<Result<Vec<Contact>, String>>>);

    impl Contacts for Bench {
        fn read(&mut self) -> Result<Vec<Contact>, String> {
            self.0.lock().unwrap().clone()
        }

        fn wait(&mut self, _: Duration) -> Result<(), String> {
            Ok(())
        }
    }

    fn keys(names: &[KeyName]) -> (Bench, Keys<Bench>) {
        let bench = Bench(Arc::new(Mutex::new(Ok(vec![Contact::Open; names.len()]))));
        let wires = bench.clone();
        (bench, Keys::new(names, Box::new(move || Ok(wires.clone()))))
    }

    fn set(bench: &Bench, contacts: &[Contact]) {
        *bench.0.lock().unwrap() = Ok(contacts.to_vec());
    }

    fn at(millis: u64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    #[test]
    fn two_keys_at_once_are_two_presses() {
        let (bench, mut keys) = keys(&[KeyName::Left, KeyName::Right]);
        assert_eq!(keys.presses(at(0)).unwrap(), []);
        set(&bench, &[Contact::Closed, Contact::Closed]);
        for millis in (100..300).step_by(10) {
            assert_eq!(keys.presses(at(millis)).unwrap(), []);
        }
        set(&bench, &[Contact::Open, Contact::Open]);
        let mut events = Vec::new();
        for millis in (300..500).step_by(10) {
            events.extend(keys.presses(at(millis)).unwrap());
        }
        let press = Press::Short;
        let down = KeyEvent {
            key: KeyName::Left,
            press,
        };
        let up = KeyEvent {
            key: KeyName::Right,
            press,
        };
        assert_eq!(events, [down, up]);
    }

    #[test]
    fn a_pulled_plug_is_a_fault_until_the_lines_are_back() {
        let (bench, mut keys) = keys(&[KeyName::Middle]);
        keys.presses(at(0)).unwrap();
        *bench.0.lock().unwrap() = Err("no such device".into());
        assert!(keys.presses(at(1000)).is_err());
        set(&bench, &[Contact::Open]);
        assert!(keys.presses(at(1500)).is_err(), "left alone for a second");
        assert_eq!(keys.next_deadline(), Some(at(2000)));
        assert_eq!(keys.presses(at(2000)), Ok(vec![]));
    }

    #[test]
    fn a_wrong_number_of_lines_is_a_fault_not_a_shifted_key() {
        let (bench, mut keys) = keys(&[KeyName::Middle, KeyName::Left]);
        set(&bench, &[Contact::Closed]);
        let fault = keys.presses(at(0)).unwrap_err();
        assert_eq!(fault.to_string(), "keys cannot be read: 1 lines for 2 keys");
    }
}
