//! UTC, held against clocks that jump.
//!
//! ```text
//!   None -- first fix --> Held -- told otherwise --> Contradicted
//!                          ^ ^-- told as held --------' |
//!                          '--- told the same other time for 3 min
//! ```
//!
//! A fix that agrees moves the held time a little, so that `t` runs without
//! steps. One that does not is told by an event at once, and followed only when
//! it has been told again and again for minutes; that is told too, with the old
//! time and the new.

use crate::event::{ClockJump, ClockTurn};
use crate::time::{Timestamp, UtcFix};

/// Fixes this far apart tell the same time: a sentence may come a second late
/// and be written in whole ones.
const SAME_MS: i64 = 2_000;
/// The held time moves towards a fix that agrees by so much, ms a second: a
/// computer's clock is off by far less (common practice, no source).
const SLEW_MS_PER_S: f64 = 5.0;
/// Another time is followed when it has been told for so long...
const CONFIRM_S: f64 = 180.0;
/// ...and so often.
const CONFIRM_FIXES: u32 = 3;

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HeldUtc {
    held: Option<UtcFix>,
    other: Option<OtherUtc>,
}

/// Another time than the held one, and since when it has been told.
#[derive(Clone, Copy, Debug)]
struct OtherUtc {
    newest: UtcFix,
    since: Timestamp,
    fixes: u32,
}

impl HeldUtc {
    /// The time that is held.
    pub(super) const fn fix(&self) -> Option<UtcFix> {
        self.held
    }

    /// Another time that is told and not followed, Unix milliseconds.
    pub(super) fn told_ms(&self, now: Timestamp) -> Option<i64> {
        self.other.map(|other| other.newest.unix_ms_at(now))
    }

    /// Takes a fix; what it turns is to be told.
    pub(super) fn take(&mut self, fix: UtcFix, now: Timestamp) -> Option<(ClockTurn, ClockJump)> {
        let Some(held) = self.held else {
            self.held = Some(fix);
            return None;
        };
        // A worse clock says nothing against a better one.
        if fix.quality < held.quality {
            return None;
        }
        let jump = ClockJump {
            held_ms: held.unix_ms_at(now),
            told_ms: fix.unix_ms_at(now),
        };
        if is_same(jump.held_ms, jump.told_ms) {
            self.held = Some(slewed(held, fix, now));
            let other = self.other.take()?;
            let told_ms = other.newest.unix_ms_at(now);
            return Some((ClockTurn::Withdrawn, ClockJump { told_ms, ..jump }));
        }
        self.contradict(fix, jump, now)
    }

    fn contradict(
        &mut self,
        fix: UtcFix,
        jump: ClockJump,
        now: Timestamp,
    ) -> Option<(ClockTurn, ClockJump)> {
        let before = self.other;
        let same = before.filter(|other| is_same(other.newest.unix_ms_at(now), jump.told_ms));
        let (since, fixes) = same.map_or((now, 1), |it| (it.since, it.fixes.saturating_add(1)));
        if fixes >= CONFIRM_FIXES && now.secs_since(since) >= CONFIRM_S {
            *self = HeldUtc {
                held: Some(fix),
                other: None,
            };
            return Some((ClockTurn::Followed, jump));
        }
        self.other = Some(OtherUtc {
            newest: fix,
            since,
            fixes,
        });
        // Each new time is told once.
        same.is_none().then_some((ClockTurn::Contradicted, jump))
    }
}

fn is_same(a_ms: i64, b_ms: i64) -> bool {
    a_ms.saturating_sub(b_ms).saturating_abs() <= SAME_MS
}

/// The held time moved a little towards a fix that agrees.
fn slewed(held: UtcFix, fix: UtcFix, now: Timestamp) -> UtcFix {
    let held_ms = held.unix_ms_at(now);
    let most = (now.secs_since(held.at).max(0.0) * SLEW_MS_PER_S) as i64;
    let off = fix.unix_ms_at(now).saturating_sub(held_ms);
    if most == 0 {
        // Too soon after the last: nothing is lost by rounding.
        return UtcFix {
            quality: fix.quality,
            ..held
        };
    }
    UtcFix {
        unix_ms: held_ms.saturating_add(off.clamp(-most, most)),
        at: now,
        quality: fix.quality,
    }
}
