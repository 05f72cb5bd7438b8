//! Soonest as it is shown: moved a little each second, never in jumps.
//!
//! It rises at most 2 and falls at most 4 minutes a minute, so that a crew can
//! work with it. Where that would hold back a call it is let go at once.

use crate::outlook::HORIZON_S;
use crate::time::Timestamp;

/// Seconds that it may rise in a second.
const RISE: f64 = 2.0;
/// Seconds that it may fall in a second.
const FALL: f64 = 4.0;
/// Once beyond the outlook, it is a number again only under this: else it
/// would come and go about the edge.
const BACK_S: f64 = 4_800.0;
const BEYOND_S: f64 = HORIZON_S as f64;

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Soonest {
    shown_s: Option<f64>,
    at: Timestamp,
    is_beyond: bool,
}

impl Soonest {
    /// Moves towards what the outlook says now; none is beyond it.
    pub fn follow(&mut self, raw_s: Option<f64>, now: Timestamp) {
        let raw = raw_s.unwrap_or(BEYOND_S).clamp(0.0, BEYOND_S);
        let passed = now.secs_since(self.at).max(0.0);
        let shown = match self.shown_s {
            Some(shown) => raw.clamp(shown - FALL * passed, shown + RISE * passed),
            None => raw,
        };
        self.set(shown, now);
    }

    /// Takes what the outlook says now, as it is.
    pub fn snap(&mut self, raw_s: Option<f64>, now: Timestamp) {
        self.shown_s = None;
        self.follow(raw_s, now);
    }

    /// Nothing is known.
    pub fn forget(&mut self) {
        *self = Soonest::default();
    }

    /// Stands still while nothing can be judged.
    pub fn wait(&mut self, now: Timestamp) {
        self.at = now;
    }

    /// Seconds; none beyond the outlook, or where nothing is known.
    pub fn get(&self) -> Option<f64> {
        self.shown_s.filter(|_| !self.is_beyond)
    }

    /// Whether anything is known.
    pub const fn is_known(&self) -> bool {
        self.shown_s.is_some()
    }

    fn set(&mut self, shown: f64, now: Timestamp) {
        self.is_beyond = match self.shown_s {
            Some(_) if self.is_beyond => shown >= BACK_S,
            _ => shown >= BEYOND_S,
        };
        self.shown_s = Some(shown);
        self.at = now;
    }
}
