//! When each sentence of ours is due. Pure: the caller's clock comes in, names
//! of what to send come out. Not echoing what came in on the same port is the
//! caller's.

use core::time::Duration;

use cringle_core::time::Timestamp;

/// What can be sent at a rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outgoing {
    /// MWV with reference T.
    TrueWind,
    /// MWD.
    GroundWind,
    /// VWT.
    TrueWindOldForm,
    /// ALC; usually every 30 s (a radio manual's figure).
    AlertList,
    /// HBT; usually every 60 s (from memory).
    Heartbeat,
}

impl Outgoing {
    /// All of them, in the order in which they are sent when due together.
    pub const ALL: [Outgoing; 5] = [
        Outgoing::TrueWind,
        Outgoing::GroundWind,
        Outgoing::TrueWindOldForm,
        Outgoing::AlertList,
        Outgoing::Heartbeat,
    ];
}

#[derive(Clone, Copy, Debug, Default)]
struct Rate {
    period: Option<Duration>,
    due: Timestamp,
}

/// Keeps the rate of each sentence on one port.
#[derive(Clone, Debug, Default)]
pub struct Scheduler {
    rates: [Rate; Outgoing::ALL.len()],
}

/// Shortest period: faster than 50 times a second no line of ours carries.
const PERIOD_LEAST: Duration = Duration::from_millis(20);

impl Scheduler {
    /// Sending nothing yet.
    pub fn new() -> Self {
        Scheduler::default()
    }

    /// Sends `what` every `period` from `now` on; `None` stops it.
    pub fn set(&mut self, what: Outgoing, period: Option<Duration>, now: Timestamp) {
        if let Some(rate) = self.rates.get_mut(what as usize) {
            rate.period = period.map(|period| period.max(PERIOD_LEAST));
            rate.due = now;
        }
    }

    /// Makes `what` due at once, as after a change; does nothing to one that
    /// is not sent at all.
    pub fn hurry(&mut self, what: Outgoing, now: Timestamp) {
        if let Some(rate) = self.rates.get_mut(what as usize) {
            rate.due = rate.due.min(now);
        }
    }

    /// What is due now, each once however late the call is, and counts it as
    /// sent.
    pub fn due(&mut self, now: Timestamp) -> heapless::Vec<Outgoing, { Outgoing::ALL.len() }> {
        Outgoing::ALL
            .into_iter()
            .zip(self.rates.iter_mut())
            .filter_map(|(what, rate)| rate.take(now).then_some(what))
            .collect()
    }

    /// When to ask again; `None` when nothing is sent.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        self.rates
            .iter()
            .filter(|rate| rate.period.is_some())
            .map(|rate| rate.due)
            .min()
    }
}

impl Rate {
    fn take(&mut self, now: Timestamp) -> bool {
        let Some(period) = self.period else {
            return false;
        };
        if now < self.due {
            return false;
        }
        // Kept in step, unless so late that catching up would be a burst.
        let next = self.due.after(period);
        self.due = if next > now { next } else { now.after(period) };
        true
    }
}
