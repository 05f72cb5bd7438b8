//! Time as the core knows it: milliseconds that only grow.

use core::time::Duration;

/// Milliseconds since an arbitrary start. Only grows; has no calendar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Timestamp(u64);

impl Timestamp {
    /// The arbitrary start itself.
    pub const ZERO: Timestamp = Timestamp(0);

    /// From milliseconds since the start.
    pub const fn from_millis(millis: u64) -> Self {
        Timestamp(millis)
    }

    /// From whole seconds since the start.
    pub const fn from_secs(seconds: u64) -> Self {
        Timestamp(seconds.saturating_mul(1000))
    }

    /// Milliseconds since the start.
    pub const fn as_millis(self) -> u64 {
        self.0
    }

    /// Seconds since the start, for arithmetic.
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / 1000.0
    }

    /// How long after `earlier` this is; zero if it is not after.
    pub const fn since(self, earlier: Timestamp) -> Duration {
        Duration::from_millis(self.0.saturating_sub(earlier.0))
    }

    /// Milliseconds after `earlier`; zero if it is not after.
    pub const fn millis_since(self, earlier: Timestamp) -> u64 {
        self.0.saturating_sub(earlier.0)
    }

    /// Seconds after `earlier`; zero if it is not after.
    pub fn secs_since(self, earlier: Timestamp) -> f64 {
        self.0.saturating_sub(earlier.0) as f64 / 1000.0
    }

    /// This moment put off by `span`, at most the end of time.
    pub const fn after(self, span: Duration) -> Timestamp {
        Timestamp(self.0.saturating_add(span.as_millis() as u64))
    }

    /// The earlier of two moments.
    pub fn min(self, other: Timestamp) -> Timestamp {
        if self <= other { self } else { other }
    }

    /// The later of two moments.
    pub fn max(self, other: Timestamp) -> Timestamp {
        if self >= other { self } else { other }
    }
}

/// Where a UTC fix came from; a better one replaces a worse one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum UtcQuality {
    /// The computer's own clock.
    System,
    /// Written in a recording when it was made.
    Recording,
    /// A valid satellite fix on the wire.
    Gnss,
}

/// A moment of UTC heard at a known time, as an input: the core never asks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UtcFix {
    /// Unix time in milliseconds at `at`.
    pub unix_ms: i64,
    /// When it was heard.
    pub at: Timestamp,
    /// Where it came from.
    pub quality: UtcQuality,
}

impl UtcFix {
    /// Unix time in milliseconds at `now`, by this fix.
    pub fn unix_ms_at(&self, now: Timestamp) -> i64 {
        self.unix_ms
            .saturating_add(now.as_millis() as i64)
            .saturating_sub(self.at.as_millis() as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_before_is_no_time_ago_rather_than_a_wrap() {
        let early = Timestamp::from_secs(5);
        let late = Timestamp::from_secs(9);
        assert_eq!(late.since(early), Duration::from_secs(4));
        assert_eq!(early.since(late), Duration::ZERO);
    }

    #[test]
    fn a_fix_carries_on_from_when_it_was_heard() {
        let fix = UtcFix {
            unix_ms: 1_764_050_000_000,
            at: Timestamp::from_secs(100),
            quality: UtcQuality::Gnss,
        };
        assert_eq!(fix.unix_ms_at(Timestamp::from_secs(160)), 1_764_050_060_000);
    }
}
