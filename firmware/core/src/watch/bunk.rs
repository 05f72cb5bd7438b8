//! The bunk: who is called answers there, dresses, and is asked for on deck.
//!
//! ```text
//!            wake               up                    on deck, or hands said
//!   Quiet ---------> Called ---------> Mustering -------------------------> Quiet
//!     |                                 ^   |
//!     +---- up, to a call that sounds --+   +-- time over: "on deck?"
//! ```
//!
//! The sound of a wake lasts until somebody answers at the bunk: whoever is
//! alone on deck cannot look whether the other has heard. From the answer on
//! the time to muster runs down, and the work with it.

use crate::ladder::Mustering;
use crate::time::Timestamp;

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Bunk {
    #[default]
    Quiet,
    /// It sounds.
    Called,
    /// So many are on their way.
    Mustering {
        people: u8,
        since: Timestamp,
        booked_s: f64,
    },
}

impl Bunk {
    /// What a change may count on.
    pub(super) fn mustering(self, now: Timestamp) -> Mustering {
        match self {
            Bunk::Quiet | Bunk::Called => Mustering::default(),
            Bunk::Mustering { people, since, .. } => Mustering {
                people,
                gone_s: now.secs_since(since),
            },
        }
    }

    /// Seconds left of the time to muster, fewer than none once it is over.
    pub(super) fn left_s(self, now: Timestamp) -> Option<f64> {
        match self {
            Bunk::Quiet | Bunk::Called => None,
            Bunk::Mustering {
                since, booked_s, ..
            } => Some(booked_s - now.secs_since(since)),
        }
    }
}
