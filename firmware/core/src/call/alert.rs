//! The life of one alert: raised, sounded, acknowledged, sounded again, over.
//!
//! ```text
//!            begin                 acknowledge
//!   Normal --------> Unacknowledged ---------> Acknowledged
//!     ^                |    ^  ^                 |      |
//!     |   silence 30 s v    |  +-- sound_again --+      |
//!     |              Silenced                           | rectify
//!     |                |  rectify                       |
//!     +--- acknowledge RectifiedUnacknowledged          |
//!     +-------------------------------------------------+
//! ```
//!
//! States are those of bridge alert management (IEC 62923-1 as alert sentence
//! letters V, S, A, U, N); the 30 s of silence are MSC.302(87) 7.3. *Active,
//! responsibility transferred* is not kept: there is one watch aboard.

use core::time::Duration;

use crate::event::Priority;
use crate::time::Timestamp;
use crate::view::{AlertState, Sounds};

/// A silenced alert sounds again after this (MSC.302(87) 7.3).
const SILENCE: Duration = Duration::from_secs(30);

/// Numbers alerts; none is used twice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ids(u32);

impl Ids {
    /// Numbers after this one.
    pub const fn after(last: u32) -> Ids {
        Ids(last)
    }

    fn next(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(1).max(1);
        self.0
    }
}

/// See the module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alert {
    /// Stays for the alert's life; 0 for none.
    pub id: u32,
    /// Where it stands.
    pub state: AlertState,
    /// Goes up at each change of state or priority.
    pub revision: u32,
    /// Goes up each time the alert goes on to somebody else.
    pub escalation: u8,
    /// When the state last changed.
    pub changed: Timestamp,
    /// When it last asked for somebody. A silence does not begin it anew, or
    /// the bunk would never hear of it.
    asking_since: Timestamp,
    silenced_until: Timestamp,
}

impl Alert {
    /// No alert.
    pub const fn none(now: Timestamp) -> Self {
        Alert {
            id: 0,
            state: AlertState::Normal,
            revision: 0,
            escalation: 0,
            changed: now,
            asking_since: now,
            silenced_until: now,
        }
    }

    /// One as it was before a restart.
    pub const fn restored(id: u32, state: AlertState, now: Timestamp) -> Self {
        Alert {
            id,
            state,
            ..Alert::none(now)
        }
    }

    /// Raises a new alert.
    pub fn begin(&mut self, ids: &mut Ids, now: Timestamp) {
        *self = Alert {
            id: ids.next(),
            ..Alert::none(now)
        };
        self.ask(now);
    }

    /// Sounds a standing alert that was acknowledged or silenced. Says whether
    /// it does.
    pub fn sound_again(&mut self, now: Timestamp) -> bool {
        match self.state {
            AlertState::Acknowledged => self.ask(now),
            AlertState::Silenced => self.become_state(AlertState::Unacknowledged, now),
            _ => return false,
        }
        true
    }

    /// A person acknowledges. Says whether there was anything to acknowledge.
    pub fn acknowledge(&mut self, now: Timestamp) -> bool {
        match self.state {
            AlertState::Unacknowledged | AlertState::Silenced => {
                self.become_state(AlertState::Acknowledged, now);
                true
            }
            AlertState::RectifiedUnacknowledged => {
                self.end(now);
                true
            }
            AlertState::Normal | AlertState::Acknowledged => false,
        }
    }

    /// Taken as acknowledged without a person: the crew is already working on
    /// it, or nobody could do anything yet.
    pub fn mark_handled(&mut self, now: Timestamp) {
        if self.is_unacknowledged() {
            self.become_state(AlertState::Acknowledged, now);
        }
    }

    /// A person stills the sound for a moment.
    pub fn silence(&mut self, now: Timestamp) {
        if self.state == AlertState::Unacknowledged {
            self.silenced_until = now.after(SILENCE);
            self.become_state(AlertState::Silenced, now);
        }
    }

    /// What raised it is over: shown until acknowledged, if nobody did.
    pub fn rectify(&mut self, now: Timestamp) {
        match self.state {
            AlertState::Unacknowledged | AlertState::Silenced => {
                self.become_state(AlertState::RectifiedUnacknowledged, now);
            }
            AlertState::Acknowledged => self.end(now),
            AlertState::Normal | AlertState::RectifiedUnacknowledged => {}
        }
    }

    /// Ends it, whatever it was.
    pub fn end(&mut self, now: Timestamp) {
        if self.state != AlertState::Normal {
            self.become_state(AlertState::Normal, now);
        }
        self.id = 0;
        self.escalation = 0;
    }

    /// The priority changed, and needs no sound.
    pub fn revise(&mut self, now: Timestamp) {
        self.revision += 1;
        self.changed = now;
    }

    /// Does what time brings: silence ends, the bunk is called. An alarm goes
    /// on to the bunk at once: hands are needed on deck.
    pub fn tick(&mut self, priority: Option<Priority>, bunk_after: Duration, now: Timestamp) {
        if self.state == AlertState::Silenced && now >= self.silenced_until {
            self.become_state(AlertState::Unacknowledged, now);
        }
        let due = priority == Some(Priority::Alarm) || now.since(self.asking_since) >= bunk_after;
        if self.state == AlertState::Unacknowledged && self.escalation == 0 && due {
            self.escalation = 1;
            self.revise(now);
        }
    }

    /// Whether it stands and nobody has acknowledged it.
    pub const fn is_unacknowledged(&self) -> bool {
        matches!(
            self.state,
            AlertState::Unacknowledged | AlertState::Silenced
        )
    }

    /// Whether it has gone on to the bunk and nobody has answered.
    pub const fn is_at_bunk(&self) -> bool {
        self.escalation > 0 && self.is_unacknowledged()
    }

    /// What should sound where.
    pub const fn sounds(&self, priority: Option<Priority>) -> Sounds {
        match (self.state, self.escalation) {
            (AlertState::Unacknowledged, 0) => Sounds {
                cockpit: priority,
                bunk: None,
            },
            (AlertState::Unacknowledged, _) => Sounds {
                cockpit: priority,
                bunk: priority,
            },
            _ => Sounds {
                cockpit: None,
                bunk: None,
            },
        }
    }

    fn ask(&mut self, now: Timestamp) {
        self.asking_since = now;
        self.escalation = 0;
        self.become_state(AlertState::Unacknowledged, now);
    }

    fn become_state(&mut self, state: AlertState, now: Timestamp) {
        self.state = state;
        self.revise(now);
    }
}
