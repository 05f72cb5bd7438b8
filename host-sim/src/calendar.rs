//! Dates of the common calendar to and from Unix seconds, without leap seconds.

/// A moment in UTC, split up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Utc {
    /// Year.
    pub year: i64,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, 1 to 31.
    pub day: u8,
    /// Hour, 0 to 23.
    pub hour: u8,
    /// Minute, 0 to 59.
    pub minute: u8,
    /// Second with its fraction.
    pub second: f64,
}

/// Splits Unix seconds up, rounded to hundredths.
pub fn utc(unix_s: f64) -> Utc {
    let hundredths = libm::floor(unix_s * 100.0 + 0.5) as i64;
    let days = hundredths.div_euclid(8_640_000);
    let of_day = hundredths.rem_euclid(8_640_000);
    let (year, month, day) = date(days);
    let minutes = of_day / 6000;
    Utc {
        year,
        month,
        day,
        hour: (minutes / 60) as u8,
        minute: (minutes % 60) as u8,
        second: (of_day % 6000) as f64 / 100.0,
    }
}

/// Date and time of day in UTC, for people.
pub fn in_words(unix_s: f64) -> String {
    let Utc {
        year,
        month,
        day,
        hour,
        minute,
        second,
    } = utc(unix_s);
    format!("{year}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:02.0} UTC")
}

/// Days since 1970-01-01.
pub fn days(year: i64, month: u8, day: u8) -> i64 {
    // The year begins in March here, so that the leap day is its last.
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let month = (i64::from(month) + 9) % 12;
    let of_year = (153 * month + 2) / 5 + i64::from(day) - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

fn date(days: i64) -> (i64, u8, u8) {
    let days = days + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = (of_year - (153 * month + 2) / 5 + 1) as u8;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = era * 400 + year + i64::from(month <= 2);
    (year, month as u8, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_days_are_met() {
        assert_eq!(days(1970, 1, 1), 0);
        assert_eq!(days(2000, 3, 1), 11_017);
        // `date -u -d 2026-06-21 +%s`
        assert_eq!(days(2026, 6, 21) * 86_400, 1_782_000_000);
    }

    #[test]
    fn every_day_of_four_centuries_comes_back() {
        for day in -20_000..126_097 {
            let (year, month, date) = super::date(day);
            assert_eq!(days(year, month, date), day);
        }
    }

    #[test]
    fn a_second_that_rounds_up_carries_over() {
        let utc = utc(1_782_000_000.0 - 0.001);
        assert_eq!((utc.day, utc.hour, utc.second), (21, 0, 0.0));
    }
}
