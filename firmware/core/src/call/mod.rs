//! The one call: word, figure, sentence and sound from one machine.
//!
//! [`threat`] says of one limit how soon it may be passed and what that asks
//! for; [`standing`] owns the call from raising to rest, with its cause,
//! figure, target and acknowledgement; [`sentence`] puts the same figures into
//! words. [`blind`] is an alert beside it, with an id of its own. Both live
//! the [`alert`]'s life of bridge alert management.

pub mod alert;
pub mod blind;
pub mod sentence;
pub mod soonest;
pub mod standing;
pub mod target;
pub mod threat;

use core::time::Duration;

use crate::time::Timestamp;

/// Since when something has been so without a break.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Since(Option<Timestamp>);

impl Since {
    /// Takes whether it is so now.
    pub fn track(&mut self, is_so: bool, now: Timestamp) {
        self.0 = if is_so { self.0.or(Some(now)) } else { None };
    }

    /// Whether it has been so for a span.
    pub fn has_held(self, span: Duration, now: Timestamp) -> bool {
        self.0.is_some_and(|since| now.since(since) >= span)
    }
}
