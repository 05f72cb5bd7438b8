//! Keeps a call from chattering: up at once, down only after a held lull.

use core::time::Duration;

use super::judge::Asked;
use crate::event::Call;
use crate::time::Timestamp;

/// A lower demand must last this long before a call falls.
const LULL: Duration = Duration::from_secs(180);

/// The call that stands, and since when less was asked for.
#[derive(Clone, Copy, Debug)]
pub struct Hold {
    call: Call,
    since: Timestamp,
    /// Since when less was asked for, and the most that was meanwhile.
    lower: Option<(Timestamp, Call)>,
    least: Duration,
}

impl Hold {
    /// No call; once raised, a call stands at least `least`.
    pub fn new(least: Duration, now: Timestamp) -> Self {
        Hold {
            call: Call::None,
            since: now,
            lower: None,
            least,
        }
    }

    /// The call that stands.
    pub fn call(&self) -> Call {
        self.call
    }

    /// Since when it stands.
    pub fn since(&self) -> Timestamp {
        self.since
    }

    /// Takes what is asked for now and says what stands.
    pub fn update(&mut self, asked: Asked, now: Timestamp) -> Call {
        if asked.raise > self.call {
            self.set(asked.raise, now);
        } else if asked.keep.max(asked.raise) < self.call {
            let asked = asked.keep.max(asked.raise);
            let (since, most) = self
                .lower
                .map_or((now, asked), |(since, most)| (since, most.max(asked)));
            self.lower = Some((since, most));
            let stood = now.since(self.since) >= self.least;
            if stood && now.since(since) >= LULL {
                // Not what this one moment asks for: a lull is as good as
                // its worst.
                self.set(most, now);
            }
        } else {
            self.lower = None;
        }
        self.call
    }

    /// Sets the call whatever stood: a new plan is judged anew.
    pub fn set(&mut self, call: Call, now: Timestamp) {
        if call != self.call {
            self.call = call;
            self.since = now;
        }
        self.lower = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(raise: Call, keep: Call) -> Asked {
        Asked { raise, keep }
    }

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    #[test]
    fn a_call_rises_at_once_and_falls_after_a_held_lull() {
        let mut hold = Hold::new(Duration::from_secs(300), at(0));
        assert_eq!(
            hold.update(asked(Call::Prepare, Call::Prepare), at(10)),
            Call::Prepare
        );
        for second in 11..309 {
            assert_eq!(
                hold.update(asked(Call::None, Call::None), at(second)),
                Call::Prepare,
                "at {second} s"
            );
        }
        assert_eq!(
            hold.update(asked(Call::None, Call::None), at(310)),
            Call::None
        );
    }

    #[test]
    fn gusty_air_about_the_line_gives_one_call() {
        let mut hold = Hold::new(Duration::from_secs(300), at(0));
        let mut changes = 0;
        let mut before = Call::None;
        for second in 0..3600 {
            let raise = if (second / 60) % 2 == 0 {
                Call::Prepare
            } else {
                Call::None
            };
            let now = hold.update(asked(raise, raise), at(second));
            if now != before {
                changes += 1;
                before = now;
            }
        }
        assert_eq!(changes, 1);
    }
}
