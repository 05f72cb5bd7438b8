//! A time in front of a sentence: ISO 8601, or UNIX time in seconds or
//! milliseconds, behind and before the usual separators.

use chrono::{NaiveDate, NaiveTime};

use crate::fields::{Number, whole};

/// In which form a time leads a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leading {
    /// `2026-03-23T12:35:19.250Z` and its kin. Without a zone it is UTC.
    Iso,
    /// 9 or 10 digits, with or without decimals.
    UnixSeconds,
    /// 12 or 13 digits.
    UnixMillis,
}

/// A time found in front of a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lead {
    /// UNIX time in milliseconds.
    pub unix_ms: i64,
    /// How it was written.
    pub form: Leading,
}

impl Lead {
    /// The first time in `before`, whatever columns stand around it.
    pub fn find(before: &[u8]) -> Option<Lead> {
        let mut rest = before;
        loop {
            rest = skip_separators(rest);
            if rest.is_empty() {
                return None;
            }
            if let Some(lead) = iso(rest).or_else(|| unix(rest)) {
                return Some(lead);
            }
            let next = rest.iter().position(|byte| is_separator(*byte))?;
            rest = rest.get(next..)?;
        }
    }
}

fn is_separator(byte: u8) -> bool {
    matches!(
        byte,
        b' ' | b',' | b'\t' | b';' | b'|' | b'[' | b']' | b'(' | b')' | b'"' | b'\''
    )
}

fn skip_separators(bytes: &[u8]) -> &[u8] {
    let start = bytes
        .iter()
        .position(|byte| !is_separator(*byte))
        .unwrap_or(bytes.len());
    bytes.get(start..).unwrap_or_default()
}

fn token(bytes: &[u8]) -> &[u8] {
    let end = bytes
        .iter()
        .position(|byte| is_separator(*byte))
        .unwrap_or(bytes.len());
    let token = bytes.get(..end).unwrap_or_default();
    // `1764050000: $...`
    token.strip_suffix(b":").unwrap_or(token)
}

fn unix(bytes: &[u8]) -> Option<Lead> {
    let token = token(bytes);
    let digits = token.split(|byte| *byte == b'.').next()?.len();
    let Number::Value(value) = Number::read(token) else {
        return None;
    };
    let (unix_ms, form) = match digits {
        9 | 10 => (value * 1000.0, Leading::UnixSeconds),
        12 | 13 => (value, Leading::UnixMillis),
        _ => return None,
    };
    Some(Lead {
        unix_ms: libm::round(unix_ms) as i64,
        form,
    })
}

fn iso(bytes: &[u8]) -> Option<Lead> {
    let (date, rest) = date(bytes)?;
    let rest = match rest {
        [b'T' | b't' | b' ' | b'_', rest @ ..] => rest,
        _ => return None,
    };
    let (time, zone) = time(token(rest))?;
    let east_min = zone_minutes(zone)?;
    let moment = date.and_time(time).and_utc().timestamp_millis();
    Some(Lead {
        unix_ms: moment - i64::from(east_min) * 60_000,
        form: Leading::Iso,
    })
}

/// `2026-03-23` or `20260323`.
fn date(bytes: &[u8]) -> Option<(NaiveDate, &[u8])> {
    let (year, rest) = number(bytes, 4)?;
    let (dashed, rest) = optional(rest, b'-');
    let (month, rest) = number(rest, 2)?;
    let (dashed_again, rest) = optional(rest, b'-');
    if dashed != dashed_again {
        return None;
    }
    let (day, rest) = number(rest, 2)?;
    Some((NaiveDate::from_ymd_opt(year as i32, month, day)?, rest))
}

/// `12:35:19.250` or `123519.250`, and the zone behind it.
fn time(bytes: &[u8]) -> Option<(NaiveTime, &[u8])> {
    let (hour, rest) = number(bytes, 2)?;
    let (_, rest) = optional(rest, b':');
    let (minute, rest) = number(rest, 2)?;
    let (_, rest) = optional(rest, b':');
    let (second, rest) = number(rest, 2)?;
    let (millis, rest) = match rest {
        // A decimal comma would be taken for a column's.
        [b'.', rest @ ..] => fraction(rest),
        _ => (0, rest),
    };
    // A leap second is the last one of its minute still.
    Some((
        NaiveTime::from_hms_milli_opt(hour, minute, second.min(59), millis)?,
        rest,
    ))
}

/// Milliseconds from any number of decimals.
fn fraction(bytes: &[u8]) -> (u32, &[u8]) {
    let end = bytes
        .iter()
        .position(|byte| !byte.is_ascii_digit())
        .unwrap_or(bytes.len());
    let (digits, rest) = bytes.split_at_checked(end).unwrap_or_default();
    let millis = [100, 10, 1]
        .iter()
        .zip(digits)
        .map(|(weight, digit)| weight * u32::from(digit - b'0'))
        .sum();
    (millis, rest)
}

/// Minutes east of UTC: `Z`, `+02:00`, `+0200`, `+02`, or nothing for UTC.
fn zone_minutes(zone: &[u8]) -> Option<i32> {
    let (sign, rest) = match zone {
        [] | b"Z" | b"z" => return Some(0),
        [b'+', rest @ ..] => (1, rest),
        [b'-', rest @ ..] => (-1, rest),
        _ => return None,
    };
    let (hours, rest) = number(rest, 2)?;
    let (_, rest) = optional(rest, b':');
    let minutes = match rest {
        [] => 0,
        digits => whole(digits, 2)?,
    };
    Some(sign * (hours * 60 + minutes) as i32)
}

fn number(bytes: &[u8], digits: usize) -> Option<(u32, &[u8])> {
    let (number, rest) = bytes.split_at_checked(digits)?;
    Some((whole(number, digits)?, rest))
}

/// Whether `byte` stands first, and the rest.
fn optional(bytes: &[u8], byte: u8) -> (Option<u8>, &[u8]) {
    match bytes {
        [first, rest @ ..] if *first == byte => (Some(byte), rest),
        _ => (None, bytes),
    }
}
