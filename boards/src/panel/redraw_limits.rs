//! When a panel is redrawn, and how much of it.
//!
//! Glass takes every change at once. Paper takes about as many turns as there
//! are seconds in a month and ghosts when it is only ever turned in part, so
//! it rests between routine changes, never before a call, and is wiped whole
//! after a number of part turns. Every panel is started afresh now and then:
//! a chip that lost power for a moment acknowledges bytes yet shows nothing.

use core::time::Duration;

use cringle_core::time::Timestamp;

use super::Haste;

/// How much to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Redraw {
    /// The parts that changed.
    Parts,
    /// Start the chip and send everything.
    Whole,
}

/// What the limits ask for now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum RedrawStep {
    Nothing,
    Wait { until: Timestamp },
    Redraw(Redraw),
}

/// The limits of one panel and where it stands against them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RedrawLimits {
    rest: Duration,
    parts_before_whole: Option<u32>,
    whole_every: Duration,
    parts: u32,
    last: Option<Timestamp>,
    last_whole: Option<Timestamp>,
}

impl RedrawLimits {
    /// An OLED: every change at once; started afresh each minute, which is not
    /// seen and costs 1 kB.
    pub const fn oled() -> Self {
        RedrawLimits::new(Duration::ZERO, None, Duration::from_secs(60))
    }

    /// A TFT: every change at once; started afresh every ten minutes, as the
    /// reset blanks it for a quarter of a second.
    pub const fn tft() -> Self {
        RedrawLimits::new(Duration::ZERO, None, Duration::from_secs(600))
    }

    /// Paper: 20 s between routine turns, so that the million turns makers
    /// give it (from memory) last some 230 days under sail; wiped whole after
    /// 20 part turns and at least each hour (common practice, no source).
    pub const fn paper() -> Self {
        RedrawLimits::new(Duration::from_secs(20), Some(20), Duration::from_secs(3600))
    }

    const fn new(rest: Duration, parts_before_whole: Option<u32>, whole_every: Duration) -> Self {
        RedrawLimits {
            rest,
            parts_before_whole,
            whole_every,
            parts: 0,
            last: None,
            last_whole: None,
        }
    }

    /// When the next fresh start is due, if the chip was ever started.
    pub fn whole_due(&self) -> Option<Timestamp> {
        self.last_whole.map(|at| at.after(self.whole_every))
    }

    pub(crate) fn step(&self, changed: Changed, haste: Haste, now: Timestamp) -> RedrawStep {
        let Some(due) = self.whole_due() else {
            return RedrawStep::Redraw(Redraw::Whole);
        };
        if now >= due {
            return RedrawStep::Redraw(Redraw::Whole);
        }
        if haste == Haste::Whole {
            return RedrawStep::Redraw(Redraw::Whole);
        }
        if changed == Changed::No {
            return RedrawStep::Nothing;
        }
        let until = self.last.map_or(now, |last| last.after(self.rest));
        match haste {
            Haste::Routine if now < until => RedrawStep::Wait { until },
            Haste::Routine if self.is_worn() => RedrawStep::Redraw(Redraw::Whole),
            // A whole turn takes paper seconds: a call never waits for it.
            Haste::Routine | Haste::Call | Haste::Whole => RedrawStep::Redraw(Redraw::Parts),
        }
    }

    pub(crate) fn done(&mut self, redraw: Redraw, now: Timestamp) {
        self.last = Some(now);
        match redraw {
            Redraw::Parts => self.parts = self.parts.saturating_add(1),
            Redraw::Whole => {
                self.parts = 0;
                self.last_whole = Some(now);
            }
        }
    }

    /// The chip is gone: whatever comes next starts it and sends everything.
    pub(crate) fn lost(&mut self) {
        self.last_whole = None;
    }

    fn is_worn(&self) -> bool {
        self.parts_before_whole
            .is_some_and(|most| self.parts >= most)
    }
}

/// Whether the frame differs from what the glass shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Changed {
    Yes,
    No,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    fn fresh_paper() -> RedrawLimits {
        let mut limits = RedrawLimits::paper();
        assert_eq!(
            limits.step(Changed::No, Haste::Routine, at(0)),
            RedrawStep::Redraw(Redraw::Whole)
        );
        limits.done(Redraw::Whole, at(0));
        limits
    }

    #[test]
    fn paper_rests_between_routine_changes() {
        let limits = fresh_paper();
        assert_eq!(
            limits.step(Changed::Yes, Haste::Routine, at(5)),
            RedrawStep::Wait { until: at(20) }
        );
        assert_eq!(
            limits.step(Changed::Yes, Haste::Routine, at(20)),
            RedrawStep::Redraw(Redraw::Parts)
        );
    }

    #[test]
    fn a_call_turns_paper_at_once_even_when_it_is_worn() {
        let mut limits = fresh_paper();
        for second in 1..=20 {
            limits.done(Redraw::Parts, at(second));
        }
        assert_eq!(
            limits.step(Changed::Yes, Haste::Call, at(21)),
            RedrawStep::Redraw(Redraw::Parts)
        );
        assert_eq!(
            limits.step(Changed::Yes, Haste::Routine, at(40)),
            RedrawStep::Redraw(Redraw::Whole)
        );
    }

    #[test]
    fn an_unchanged_panel_is_still_started_afresh_when_due() {
        for (mut limits, due) in [
            (RedrawLimits::oled(), 60),
            (RedrawLimits::tft(), 600),
            (RedrawLimits::paper(), 3600),
        ] {
            limits.done(Redraw::Whole, at(0));
            assert_eq!(
                limits.step(Changed::No, Haste::Call, at(due - 1)),
                RedrawStep::Nothing
            );
            assert_eq!(
                limits.step(Changed::No, Haste::Routine, at(due)),
                RedrawStep::Redraw(Redraw::Whole)
            );
        }
    }

    #[test]
    fn a_whole_turn_that_is_asked_for_is_made_though_nothing_changed() {
        let limits = fresh_paper();
        assert_eq!(
            limits.step(Changed::No, Haste::Whole, at(5)),
            RedrawStep::Redraw(Redraw::Whole)
        );
    }

    #[test]
    fn glass_never_waits() {
        let mut limits = RedrawLimits::oled();
        limits.done(Redraw::Whole, at(0));
        for _ in 0..1000 {
            assert_eq!(
                limits.step(Changed::Yes, Haste::Routine, at(1)),
                RedrawStep::Redraw(Redraw::Parts)
            );
            limits.done(Redraw::Parts, at(1));
        }
    }
}
