//! Tells the service manager that the watch is up and turning.
//!
//! The sign of life is given only after the core has taken a turn, so that a
//! loop which hangs, or spins without the core, is restarted.

use std::time::Duration;

use cringle_core::time::Timestamp;
use sd_notify::NotifyState;

/// The line to the service manager; silent where there is none.
pub struct Manager {
    period: Option<Duration>,
    told: Option<Timestamp>,
}

impl Manager {
    /// Finds out whether a sign of life is wanted, and how often.
    pub fn new() -> Manager {
        Manager {
            // Half of what is allowed, as its manual asks.
            period: sd_notify::watchdog_enabled().map(|allowed| allowed / 2),
            told: None,
        }
    }

    /// The watch is up.
    pub fn ready(&self) {
        tell(&[NotifyState::Ready]);
    }

    /// The core has taken a turn; `wall` is the time by the wall.
    pub fn turned(&mut self, wall: Timestamp) {
        let Some(period) = self.period else { return };
        if self.told.is_none_or(|told| wall.since(told) >= period) {
            self.told = Some(wall);
            tell(&[NotifyState::Watchdog]);
        }
    }

    /// The watch ends on purpose.
    pub fn stopping(&self) {
        tell(&[NotifyState::Stopping]);
    }
}

impl Default for Manager {
    fn default() -> Self {
        Manager::new()
    }
}

fn tell(states: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(states) {
        tracing::debug!("the service manager cannot be told: {error}");
    }
}
