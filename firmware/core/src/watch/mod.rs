//! The one type that owns all of the core.
//!
//! In: readings, acts of the crew, UTC fixes, and time. Out: events, and a
//! [`View`] whenever one is asked for. Live, replay and simulation differ
//! only in who calls and where `now` comes from.

use heapless::Deque;

use crate::act::Act;
use crate::boat::Boat;
use crate::event::Event;
use crate::reading::Reading;
use crate::time::{Timestamp, UtcFix};
use crate::view::View;

/// Most events that wait to be fetched; the oldest goes first.
pub const MAX_EVENTS: usize = 64;

/// See the module.
pub struct Watch {
    now: Timestamp,
    utc: Option<UtcFix>,
    events: Deque<Event, MAX_EVENTS>,
}

impl Watch {
    /// A watch that starts at `now` and knows only what the boat file says.
    pub fn new(boat: &Boat, now: Timestamp) -> Self {
        let _ = boat;
        Watch {
            now,
            utc: None,
            events: Deque::new(),
        }
    }

    /// Takes one reading, after the deadlines that were due before it.
    pub fn hear(&mut self, reading: &Reading, now: Timestamp) {
        let _ = reading;
        self.tick(now);
    }

    /// Takes one act of the crew.
    pub fn press(&mut self, act: Act, now: Timestamp) {
        let _ = act;
        self.tick(now);
    }

    /// Takes a moment of UTC; a better one replaces a worse one.
    pub fn set_utc(&mut self, fix: UtcFix, now: Timestamp) {
        self.utc = Some(fix);
        self.tick(now);
    }

    /// Does what is due by `now`. Extra ticks never change an event.
    pub fn tick(&mut self, now: Timestamp) {
        self.now = self.now.max(now);
    }

    /// When to call [`Watch::tick`] if nothing is heard before.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        None
    }

    /// The oldest event not fetched yet.
    pub fn next_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// The picture of this moment.
    pub fn view(&self) -> View {
        View::blank(self.now)
    }
}
