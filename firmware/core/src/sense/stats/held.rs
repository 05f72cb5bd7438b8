//! A signal that stands at its last sample until the next, or until that is
//! too old; cut into pieces at whole seconds.

use crate::time::Timestamp;

/// See the module.
#[derive(Clone, Copy, Debug)]
pub struct Held<S> {
    sample: Option<(S, u64)>,
    settled: u64,
}

/// A piece of a signal within one second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Which second since the start.
    pub second: u64,
    /// Milliseconds of it.
    pub millis: u16,
}

impl<S: Copy> Held<S> {
    /// Nothing stands at the start.
    pub fn new(now: Timestamp) -> Self {
        Held {
            sample: None,
            settled: now.as_millis(),
        }
    }

    /// A new sample stands from `at` for at most `hold_ms`. What stood before
    /// is handed out in pieces.
    pub fn put(&mut self, sample: S, at: Timestamp, hold_ms: u32, piece: impl FnMut(Piece, &S)) {
        // A late one cannot change what was handed out already.
        let at = at.as_millis().max(self.settled);
        self.settle(Timestamp::from_millis(at), piece);
        self.sample = Some((sample, at.saturating_add(u64::from(hold_ms))));
    }

    /// Hands out what stood until `until`.
    pub fn settle(&mut self, until: Timestamp, mut piece: impl FnMut(Piece, &S)) {
        let until = until.as_millis();
        if let Some((sample, ends)) = &self.sample {
            let end = until.min(*ends);
            let mut from = self.settled;
            while from < end {
                let second = from / 1000;
                let to = end.min((second + 1) * 1000);
                let part = Piece {
                    second,
                    millis: (to - from) as u16,
                };
                piece(part, sample);
                from = to;
            }
        }
        self.settled = self.settled.max(until);
    }

    /// Skips a gap without handing anything out.
    pub fn skip_to(&mut self, now: Timestamp) {
        self.sample = None;
        self.settled = self.settled.max(now.as_millis());
    }

    /// The sample that stands, if it is not too old.
    pub fn now(&self, now: Timestamp) -> Option<&S> {
        self.sample
            .as_ref()
            .filter(|(_, ends)| now.as_millis() <= *ends)
            .map(|(sample, _)| sample)
    }
}
