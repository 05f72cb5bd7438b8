//! Writes and reads single lines of a recording.

use std::io::Write;

use cringle_boat::{read_forecast, write_forecast};
use cringle_core::act::Act;
use cringle_core::forecast::Table;
use cringle_core::time::{Timestamp, UtcFix};

use super::acts;
use crate::PortId;
use crate::words::Word;

/// The newest format this program writes and reads.
pub const FORMAT: u32 = 1;

/// The first bytes of every recording.
pub const FIRST_WORDS: &[u8] = b"#cringle recording ";

/// What stands for no forecast any more.
const NO_FORECAST: &str = "none";

/// One line of a recording.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// What this is, by format.
    Format(u32),
    /// Which run of the program, and which part of its recording, from 1.
    Part {
        /// Run.
        run: u32,
        /// Part.
        part: u32,
    },
    /// A port by number.
    Port(PortId, String),
    /// A line of the boat file.
    Boat(String),
    /// When the core began.
    Start(Timestamp),
    /// What the core was told of the time before.
    State(Timestamp, String),
    /// The same in the head of a later part, for one who has this part only.
    Carried(Timestamp, String),
    /// A sentence as it was heard.
    Heard {
        /// On which port.
        port: PortId,
        /// When.
        at: Timestamp,
        /// Unix milliseconds, if UTC was known.
        unix_ms: Option<i64>,
        /// Its bytes without line end.
        line: Vec<u8>,
    },
    /// UTC that was not heard on the wire.
    Utc(UtcFix),
    /// An act of the crew.
    Act(Timestamp, Act),
    /// The skipper's forecast from now on, or none any more. In the head of a
    /// part the one it began with.
    Forecast(Timestamp, Box<Option<Table>>),
    /// Time went on.
    Tick(Timestamp),
    /// So many inputs could not be written.
    Lost(u64),
    /// Closed in good order.
    End(Timestamp),
}

impl Entry {
    /// The line with its line end.
    pub fn write(&self) -> Vec<u8> {
        match self {
            Entry::Format(format) => own(&format!("cringle recording {format}")),
            Entry::Part { run, part } => own(&format!("run {run} part {part}")),
            Entry::Port(port, name) => own(&format!("port {} {name}", port.0)),
            Entry::Boat(line) => own(&format!("boat {line}")),
            Entry::Start(at) => own(&format!("start {}", at.as_millis())),
            Entry::State(at, state) => own(&format!("state {} {state}", at.as_millis())),
            Entry::Carried(at, state) => own(&format!("carried {} {state}", at.as_millis())),
            Entry::Heard {
                port,
                at,
                unix_ms,
                line,
            } => heard(*port, *at, *unix_ms, line),
            Entry::Utc(fix) => own(&format!(
                "utc {} {} {}",
                fix.at.as_millis(),
                fix.unix_ms,
                fix.quality.word()
            )),
            Entry::Act(at, act) => own(&format!("act {} {}", at.as_millis(), acts::write(act))),
            Entry::Forecast(at, table) => own(&format!(
                "forecast {} {}",
                at.as_millis(),
                (**table)
                    .as_ref()
                    .map_or(NO_FORECAST.into(), write_forecast)
            )),
            Entry::Tick(at) => own(&format!("tick {}", at.as_millis())),
            Entry::Lost(count) => own(&format!("lost {count}")),
            Entry::End(at) => own(&format!("end {}", at.as_millis())),
        }
    }

    /// Reads a line without its line end; `None` for one that is damaged or
    /// not of this format.
    pub fn read(line: &[u8]) -> Option<Entry> {
        match line.first()? {
            b'\\' => read_heard(line),
            b'#' => read_own(line),
            _ => None,
        }
    }
}

/// XOR of all bytes, as in a sentence.
pub fn sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

fn own(words: &str) -> Vec<u8> {
    // A line end within would tear the line apart.
    let words = words.replace(['\r', '\n'], " ");
    format!("#{words}*{:02X}\n", sum(words.as_bytes())).into_bytes()
}

fn heard(port: PortId, at: Timestamp, unix_ms: Option<i64>, line: &[u8]) -> Vec<u8> {
    let mut tag = String::new();
    if let Some(unix_ms) = unix_ms {
        tag = format!("c:{unix_ms},");
    }
    tag += &format!("r:{},s:p{}", at.as_millis(), port.0);
    let mut whole = Vec::with_capacity(tag.len() + line.len() + 8);
    // Writing to memory does not fail.
    let _ = write!(whole, "\\{tag}*{:02X}\\", sum(tag.as_bytes()));
    whole.extend_from_slice(line);
    whole.push(b'\n');
    whole
}

fn read_heard(line: &[u8]) -> Option<Entry> {
    let behind = line.get(1..)?;
    let end = behind.iter().position(|byte| *byte == b'\\')?;
    let tag = checked(behind.get(..end)?)?;
    let (mut port, mut at, mut unix_ms) = (None, None, None);
    for pair in tag.split(',') {
        match pair.split_once(':')? {
            ("c", value) => unix_ms = Some(value.parse().ok()?),
            ("r", value) => at = Some(Timestamp::from_millis(value.parse().ok()?)),
            ("s", value) => port = Some(PortId(value.strip_prefix('p')?.parse().ok()?)),
            _ => {}
        }
    }
    Some(Entry::Heard {
        port: port?,
        at: at?,
        unix_ms,
        line: behind.get(end + 1..)?.to_vec(),
    })
}

fn read_own(line: &[u8]) -> Option<Entry> {
    let words = checked(line.get(1..)?)?;
    let (kind, rest) = words.split_once(' ')?;
    let time = |words: &str| Some(Timestamp::from_millis(words.parse().ok()?));
    let timed = || {
        let (at, rest) = rest.split_once(' ')?;
        Some((time(at)?, rest))
    };
    Some(match kind {
        "cringle" => Entry::Format(rest.strip_prefix("recording ")?.parse().ok()?),
        "run" => {
            let (run, part) = rest.split_once(" part ")?;
            Entry::Part {
                run: run.parse().ok()?,
                part: part.parse().ok()?,
            }
        }
        "port" => {
            let (port, name) = rest.split_once(' ')?;
            Entry::Port(PortId(port.parse().ok()?), name.into())
        }
        "boat" => Entry::Boat(rest.into()),
        "start" => Entry::Start(time(rest)?),
        "state" => timed().map(|(at, state)| Entry::State(at, state.into()))?,
        "carried" => timed().map(|(at, state)| Entry::Carried(at, state.into()))?,
        "utc" => {
            let (at, rest) = timed()?;
            let (unix_ms, quality) = rest.split_once(' ')?;
            Entry::Utc(UtcFix {
                unix_ms: unix_ms.parse().ok()?,
                at,
                quality: Word::from_word(quality)?,
            })
        }
        "act" => {
            let (at, act) = timed()?;
            Entry::Act(at, acts::read(act)?)
        }
        "forecast" => {
            let (at, table) = timed()?;
            let table = match table {
                NO_FORECAST => None,
                table => Some(read_forecast(table).ok()?),
            };
            Entry::Forecast(at, Box::new(table))
        }
        "tick" => Entry::Tick(time(rest)?),
        "lost" => Entry::Lost(rest.parse().ok()?),
        "end" => Entry::End(time(rest)?),
        _ => return None,
    })
}

/// The words before `*hh`, if the sum is right.
fn checked(line: &[u8]) -> Option<&str> {
    let [words @ .., b'*', high, low] = line else {
        return None;
    };
    let stated = [*high, *low];
    let stated = u8::from_str_radix(std::str::from_utf8(&stated).ok()?, 16).ok()?;
    (stated == sum(words)).then_some(())?;
    std::str::from_utf8(words).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_core::time::UtcQuality;

    #[test]
    fn every_kind_of_line_comes_back_the_same() {
        let at = Timestamp::from_millis(61_200);
        let entries = [
            Entry::Format(1),
            Entry::Part { run: 12, part: 3 },
            Entry::Port(PortId(1), "mast head".into()),
            Entry::Boat(String::new()),
            Entry::Boat("  minutes = 8.0 # * with care *".into()),
            Entry::Start(at),
            Entry::State(at, r#"{"plan":"two reefs"}"#.into()),
            Entry::Carried(at, r#"{"plan":"full"}"#.into()),
            Entry::Heard {
                port: PortId(2),
                at,
                unix_ms: None,
                line: b"$WIMWV,214.8,R,15.6,N,A*1E".to_vec(),
            },
            Entry::Heard {
                port: PortId(0),
                at,
                unix_ms: Some(1_764_050_000_123),
                line: b"\\s:mast1,n:42*xx\\$WI\xff\x00MWV".to_vec(),
            },
            Entry::Utc(UtcFix {
                unix_ms: 1_764_050_000_000,
                at,
                quality: UtcQuality::Gnss,
            }),
            Entry::Act(at, Act::PlanDown),
            Entry::Forecast(at, Box::new(None)),
            Entry::Forecast(
                at,
                Box::new(read_forecast("2026-11-08T12:00Z 18.1 gust 25 from 210 sure 0.8").ok()),
            ),
            Entry::Tick(at),
            Entry::Lost(17),
            Entry::End(at),
        ];
        for entry in entries {
            let line = entry.write();
            let line = line.strip_suffix(b"\n").unwrap();
            assert!(!line.contains(&b'\n'));
            assert_ne!(line.first(), Some(&b'$'));
            assert_eq!(Entry::read(line), Some(entry));
        }
    }

    #[test]
    fn a_line_with_one_wrong_byte_or_cut_short_is_nothing() {
        let line = Entry::Act(Timestamp::from_secs(61), Act::Acknowledge).write();
        let line = line.strip_suffix(b"\n").unwrap();
        for place in 0..line.len() {
            let mut wrong = line.to_vec();
            wrong[place] ^= 1;
            assert_eq!(Entry::read(&wrong), None);
            assert_eq!(Entry::read(&line[..place]), None);
        }
    }
}
