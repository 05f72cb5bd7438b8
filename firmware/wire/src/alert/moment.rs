//! Time of day as sentences write it: `hhmmss.ss`.

use core::fmt;

use crate::fields::Number;

const CENTIS_PER_DAY: u32 = 24 * 3600 * 100;

/// A time of day in UTC, to the hundredth of a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimeOfDay(u32);

impl TimeOfDay {
    /// The time of day of a UNIX time in milliseconds.
    pub const fn from_unix_ms(unix_ms: i64) -> TimeOfDay {
        let centis = unix_ms.div_euclid(10);
        TimeOfDay(centis.rem_euclid(CENTIS_PER_DAY as i64) as u32)
    }

    /// Hundredths of a second since midnight.
    pub const fn centis(self) -> u32 {
        self.0
    }

    /// Reads `hhmmss` with or without decimals; `None` for anything else.
    pub fn read(field: &[u8]) -> Option<TimeOfDay> {
        let digits = field.split(|byte| *byte == b'.').next()?;
        if digits.len() != 6 || !digits.iter().all(u8::is_ascii_digit) {
            return None;
        }
        let centis = libm::round(Number::read(field).value()? * 100.0) as u32;
        let (hours, rest) = (centis / 1_000_000, centis % 1_000_000);
        let (minutes, rest) = (rest / 10_000, rest % 10_000);
        // A leap second is a second of this day still.
        (hours < 24 && minutes < 60 && rest < 6100)
            .then_some(TimeOfDay((hours * 60 + minutes) * 6000 + rest.min(5999)))
    }
}

impl fmt::Display for TimeOfDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (minutes, rest) = (self.0 / 6000, self.0 % 6000);
        let (hours, minutes) = (minutes / 60, minutes % 60);
        let (seconds, centis) = (rest / 100, rest % 100);
        write!(f, "{hours:02}{minutes:02}{seconds:02}.{centis:02}")
    }
}
