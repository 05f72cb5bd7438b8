//! Moments of UTC as a person writes them: `2026-11-08T12:00Z`.

/// Unix seconds of a moment; `None` for anything else. Seconds may be left
/// out; the `Z` may not, since a forecast in local time is hours off.
pub(crate) fn read(words: &str) -> Option<i64> {
    let (date, time) = words
        .strip_suffix(['Z', 'z'])?
        .split_once(['T', 't', ' '])?;
    let [year, month, day] = numbers(date, '-')?;
    let [hour, minute, second] = match time.matches(':').count() {
        1 => {
            let [hour, minute] = numbers(time, ':')?;
            [hour, minute, 0]
        }
        _ => numbers(time, ':')?,
    };
    let is_sound = (1970..=2200).contains(&year)
        && (1..=12).contains(&month)
        && (1..=month_days(year, month)).contains(&day)
        && hour < 24
        && minute < 60
        && second < 60;
    is_sound.then(|| days(year, month, day) * 86_400 + hour * 3600 + minute * 60 + second)
}

/// A moment as it is written, to the second.
pub(crate) fn write(unix_s: i64) -> String {
    let (day, second) = (unix_s.div_euclid(86_400), unix_s.rem_euclid(86_400));
    let (mut year, mut left) = (1970, day);
    while left >= days(year + 1, 1, 1) - days(year, 1, 1) {
        left -= days(year + 1, 1, 1) - days(year, 1, 1);
        year += 1;
    }
    let mut month = 1;
    while left >= month_days(year, month) {
        left -= month_days(year, month);
        month += 1;
    }
    let (hour, minute, second) = (second / 3600, second / 60 % 60, second % 60);
    let date = format!("{year:04}-{month:02}-{:02}", left + 1);
    match second {
        0 => format!("{date}T{hour:02}:{minute:02}Z"),
        _ => format!("{date}T{hour:02}:{minute:02}:{second:02}Z"),
    }
}

fn numbers<const N: usize>(words: &str, between: char) -> Option<[i64; N]> {
    let mut numbers = [0; N];
    let mut parts = words.split(between);
    for number in &mut numbers {
        let part = parts.next()?;
        let is_digits = part.bytes().all(|byte| byte.is_ascii_digit());
        *number = Some(part).filter(|_| is_digits)?.parse().ok()?;
    }
    parts.next().is_none().then_some(numbers)
}

/// Days from 1970-01-01, in the Gregorian calendar.
fn days(year: i64, month: i64, day: i64) -> i64 {
    let leap_days = |year: i64| year / 4 - year / 100 + year / 400;
    let before = (1..month).map(|month| month_days(year, month)).sum::<i64>();
    (year - 1970) * 365 + leap_days(year - 1) - leap_days(1969) + before + day - 1
}

fn month_days(year: i64, month: i64) -> i64 {
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if is_leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_moments_come_out_right_and_come_back() {
        // By `date -u -d ... +%s` of GNU coreutils.
        for (words, unix_s) in [
            ("1970-01-01T00:00Z", 0),
            ("2000-02-29T12:00Z", 951_825_600),
            ("2026-11-08T09:30:15Z", 1_794_130_215),
            ("2100-03-01T00:00Z", 4_107_542_400),
        ] {
            assert_eq!(read(words), Some(unix_s), "{words}");
            assert_eq!(write(unix_s), words);
        }
        assert_eq!(read("2026-11-08 09:30:15z"), Some(1_794_130_215));
    }

    #[test]
    fn what_is_no_moment_of_utc_is_none() {
        for words in [
            "",
            "12:00Z",
            "2026-11-08T12:00",
            "2026-11-08T12:00+01:00",
            "2026-02-29T12:00Z",
            "2026-13-01T12:00Z",
            "2026-11-08T24:00Z",
            "2026-11-08T12Z",
            "2026-11-08T+1:00Z",
        ] {
            assert_eq!(read(words), None, "{words}");
        }
    }
}
