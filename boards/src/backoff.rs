//! How long to leave a device alone after it failed.

use core::time::Duration;

use cringle_core::time::Timestamp;

/// The first wait: long enough for a plug to be pushed home.
const FIRST: Duration = Duration::from_secs(1);
/// The longest wait, so that a mended wire shows within half a minute.
const LONGEST: Duration = Duration::from_secs(30);

/// Doubles the wait after each failure, up to half a minute.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Backoff {
    failures: u32,
    until: Option<Timestamp>,
}

impl Backoff {
    /// Nothing has failed yet.
    pub const fn new() -> Self {
        Backoff {
            failures: 0,
            until: None,
        }
    }

    /// Notes a failure and says when to try again.
    pub fn failed(&mut self, now: Timestamp) -> Timestamp {
        let wait = FIRST
            .saturating_mul(1_u32.checked_shl(self.failures).unwrap_or(u32::MAX))
            .min(LONGEST);
        self.failures = self.failures.saturating_add(1);
        let until = now.after(wait);
        self.until = Some(until);
        until
    }

    /// Notes that it works again.
    pub fn worked(&mut self) {
        *self = Backoff::new();
    }

    /// Whether the device is to be left alone for now.
    pub fn is_waiting(&self, now: Timestamp) -> bool {
        self.until.is_some_and(|until| now < until)
    }

    /// When to try again, if something failed.
    pub fn next_try(&self) -> Option<Timestamp> {
        self.until
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wait_doubles_to_half_a_minute_and_starts_over_when_it_works() {
        let mut backoff = Backoff::new();
        let now = Timestamp::from_secs(100);
        let waits: Vec<u64> = (0..7)
            .map(|_| backoff.failed(now).since(now).as_secs())
            .collect();
        assert_eq!(waits, [1, 2, 4, 8, 16, 30, 30]);
        backoff.worked();
        assert!(!backoff.is_waiting(now));
        assert_eq!(backoff.failed(now), Timestamp::from_secs(101));
    }

    #[test]
    fn a_device_that_never_comes_back_never_overflows_the_wait() {
        let mut backoff = Backoff::new();
        for _ in 0..100 {
            backoff.failed(Timestamp::ZERO);
        }
        assert_eq!(backoff.next_try(), Some(Timestamp::from_secs(30)));
    }
}
