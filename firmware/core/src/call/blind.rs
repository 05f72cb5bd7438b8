//! Blindness: an alert beside the call, with an id of its own.
//!
//! It is shown at once, for numbers that are not known must vanish, and sounds
//! when it lasts: gateways fall silent for up to 20 s and come back.

use core::time::Duration;

use super::alert::{Alert, Ids};
use crate::event::{Call, Priority};
use crate::fault::Fault;
use crate::reading::Quantity;
use crate::time::Timestamp;
use crate::view::AlertState;

/// Blindness, at the start and later, sounds after this.
const LISTENING: Duration = Duration::from_secs(30);

/// Why wind cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlindReason {
    /// This is not heard.
    Lost(Quantity),
    /// It is heard, but this speaks against it.
    Doubted(Fault),
}

/// See the module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Blindness {
    alert: Alert,
    since: Option<Timestamp>,
    phase: Phase,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    Listening,
    Sounded,
}

/// What became of an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Nothing that an event must tell.
    Quiet,
    /// It rose, fell, or sounds anew.
    Turned,
}

impl Blindness {
    /// Not blind.
    pub const fn none(now: Timestamp) -> Self {
        Blindness {
            alert: Alert::none(now),
            since: None,
            phase: Phase::Listening,
        }
    }

    /// Takes whether wind can be judged now.
    pub fn update(
        &mut self,
        is_blind: bool,
        ids: &mut Ids,
        bunk_after: Duration,
        now: Timestamp,
    ) -> Turn {
        let turn = match (self.since, is_blind) {
            (None, false) => Turn::Quiet,
            (None, true) => {
                self.since = Some(now);
                self.phase = Phase::Listening;
                self.alert.begin(ids, now);
                self.alert.mark_handled(now);
                Turn::Turned
            }
            (Some(_), false) => {
                self.since = None;
                // The wind is back: there is nothing to acknowledge.
                self.alert.end(now);
                Turn::Turned
            }
            (Some(since), true) => self.listen(since, now),
        };
        self.alert.tick(Call::Blind.priority(), bunk_after, now);
        turn
    }

    fn listen(&mut self, since: Timestamp, now: Timestamp) -> Turn {
        if self.phase == Phase::Listening && now.since(since) >= LISTENING {
            self.phase = Phase::Sounded;
            self.alert.sound_again(now);
            return Turn::Turned;
        }
        Turn::Quiet
    }

    /// Not under sail: nobody watches, and nothing sounds.
    pub fn drop(&mut self, now: Timestamp) {
        *self = Blindness::none(now);
    }

    /// Since when it is so.
    pub const fn since(&self) -> Option<Timestamp> {
        self.since
    }

    /// Its alert.
    pub const fn alert(&self) -> &Alert {
        &self.alert
    }

    /// A person acknowledges. Says whether there was anything.
    pub fn acknowledge(&mut self, now: Timestamp) -> bool {
        self.phase = Phase::Sounded;
        self.alert.acknowledge(now)
    }

    /// A person stills the sound for a moment.
    pub fn silence(&mut self, now: Timestamp) {
        self.alert.silence(now);
    }

    /// What sounds.
    pub const fn priority(&self) -> Option<Priority> {
        match self.alert.state {
            AlertState::Normal => None,
            _ => Call::Blind.priority(),
        }
    }
}
