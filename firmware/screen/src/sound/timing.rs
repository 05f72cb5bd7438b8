//! The timing file: all beeps, repeats and flashes, and nothing else.
//!
//! Alarm: three short beeps, again every 7 to 10 s. Warning: two short beeps,
//! again within 5 minutes. Caution: silent. So have it the bridge alert rules
//! (IEC 62923-1, MSC.302(87) 7.3 to 7.5; the beeps and the 5 minutes from
//! memory). Tones lie within the 200 to 2500 Hz of A.1021(26) (from memory).

/// One stretch of sound, and the silence after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beep {
    /// Sounds so long.
    pub on_ms: u32,
    /// Then is silent so long.
    pub off_ms: u32,
}

/// How loud it is meant to be, by priority.
///
/// A sounder on a plain line is on or off: it has one loudness, and no driver
/// here changes it. What is left to tell priorities apart there is how many
/// beeps come, how often, how long, and on how many sounders: an alarm drives
/// cockpit and bunk together at once, a warning the cockpit alone, and the
/// bunk only when nobody answers. [`Pattern::on_ms_a_minute`] is that in figures. A
/// driver of a line that can do more takes it from here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Loudness {
    /// Just heard beside it.
    Low,
    /// Heard in the cockpit under way.
    Medium,
    /// All it can.
    Full,
}

/// A pattern of beeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// In order.
    pub beeps: &'static [Beep],
    /// From the start of one round to the start of the next; none plays once.
    pub repeat_ms: Option<u32>,
    /// Pitch.
    pub hertz: u16,
    /// Loudness.
    pub loudness: Loudness,
}

impl Pattern {
    /// Milliseconds of sound in each minute: all the loudness that a line has
    /// which is only on or off.
    pub fn on_ms_a_minute(&self) -> u32 {
        let on: u32 = self.beeps.iter().map(|beep| beep.on_ms).sum();
        match self.repeat_ms {
            Some(repeat_ms) => on * 60_000 / repeat_ms.max(1),
            None => on,
        }
    }
}

const SHORT: Beep = Beep {
    on_ms: 200,
    off_ms: 150,
};
const LONG: Beep = Beep {
    on_ms: 900,
    off_ms: 300,
};

/// Cockpit, alarm: `reduce` and `past`.
pub const COCKPIT_ALARM: Pattern = Pattern {
    beeps: &[SHORT, SHORT, SHORT],
    repeat_ms: Some(7_500),
    hertz: 2_300,
    loudness: Loudness::Full,
};

/// Cockpit, warning: `prepare` and `blind`. Repeats well within 5 minutes:
/// at 30 s it goes to the bunk as well.
pub const COCKPIT_WARNING: Pattern = Pattern {
    beeps: &[SHORT, SHORT],
    repeat_ms: Some(20_000),
    hertz: 1_500,
    loudness: Loudness::Medium,
};

/// Bunk, alarm. Long and low: a square wave near 520 Hz wakes sleepers better
/// than a high beep (sleep studies of fire alarms, from memory).
pub const BUNK_ALARM: Pattern = Pattern {
    beeps: &[LONG, LONG, LONG],
    repeat_ms: Some(5_000),
    hertz: 520,
    loudness: Loudness::Full,
};

/// Bunk, warning, and the wake key.
pub const BUNK_WARNING: Pattern = Pattern {
    beeps: &[LONG, LONG],
    repeat_ms: Some(8_000),
    hertz: 520,
    loudness: Loudness::Medium,
};

/// The sounder tries itself, softly, so that a dead one is missed.
pub const SELF_CHECK: Pattern = Pattern {
    beeps: &[Beep {
        on_ms: 30,
        off_ms: 0,
    }],
    repeat_ms: None,
    hertz: 1_500,
    loudness: Loudness::Low,
};

/// How often the sounder tries itself.
pub const SELF_CHECK_EVERY_MS: u64 = 3_600_000;

/// A temporary silence ends after this, if nobody has acknowledged by then
/// (MSC.302(87) 7.3).
pub const SILENCE_MS: u64 = 30_000;

/// LED, unacknowledged alarm: 1 Hz, lit 60 % (0.5 to 1.5 Hz, at least half).
pub const LED_ALARM_FLASH: Beep = Beep {
    on_ms: 600,
    off_ms: 400,
};

/// LED, unacknowledged warning: slower, so that the two differ without colour.
pub const LED_WARNING_FLASH: Beep = Beep {
    on_ms: 1_000,
    off_ms: 1_000,
};
