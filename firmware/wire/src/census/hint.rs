//! What is missing or odd on the wire, in plain words.

use core::fmt;
use core::time::Duration;

use cringle_core::reading::Quantity;
use cringle_core::time::Timestamp;

use super::port::Garbage;
use super::{Census, HINTS_MOST, PortRow, Quantities, Row};
use crate::sentence::{Formatter, Talker};

/// How long to listen before something is called missing.
const MISSING_AFTER: Duration = Duration::from_secs(60);

/// How long a port may say nothing at all.
const SILENT_AFTER: Duration = Duration::from_secs(10);

/// Per cent of a line's capacity from which sentences come late. Common
/// practice, no source.
const LOAD_HIGH: f64 = 80.0;

/// Per cent of lines whose checksum may fail. Common practice, no source.
const FAILURES_HIGH: f64 = 1.0;

/// What the job cannot do without.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Wind of some kind.
    Wind,
    /// Heel.
    Heel,
    /// Speed through the water, or over the ground in its place.
    Speed,
    /// Heading of some kind.
    Heading,
    /// Date and time with position, for twilight and stamps.
    Position,
}

impl Need {
    const ALL: [Need; 5] = [
        Need::Wind,
        Need::Heel,
        Need::Speed,
        Need::Heading,
        Need::Position,
    ];

    /// Its name in plain words.
    pub const fn name(self) -> &'static str {
        match self {
            Need::Wind => "wind",
            Need::Heel => "heel",
            Need::Speed => "speed",
            Need::Heading => "heading",
            Need::Position => "position",
        }
    }

    /// What would give it.
    pub const fn sentences(self) -> &'static str {
        match self {
            Need::Wind => "MWV, VWR, VWT or MWD",
            Need::Heel => "XDR roll, heel or PASHR",
            Need::Speed => "VHW, VBW, RMC or VTG",
            Need::Heading => "HDT, THS, HDG, HDM, VHW or PASHR",
            Need::Position => "RMC, GGA or GLL",
        }
    }

    const fn quantities(self) -> &'static [Quantity] {
        match self {
            Need::Wind => &[
                Quantity::ApparentWind,
                Quantity::TrueWind,
                Quantity::GroundWind,
            ],
            Need::Heel => &[Quantity::Heel],
            Need::Speed => &[Quantity::WaterSpeed, Quantity::GroundMotion],
            Need::Heading => &[
                Quantity::HeadingTrue,
                Quantity::HeadingMagnetic,
                Quantity::HeadingCompass,
            ],
            Need::Position => &[Quantity::Position],
        }
    }

    fn met_by(self, quantities: Quantities) -> bool {
        self.quantities()
            .iter()
            .any(|quantity| quantities.has(*quantity))
    }
}

/// A sentence of a talker on a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Speaker {
    /// The port, by its place in the boat file.
    pub port: u8,
    /// Who speaks.
    pub talker: Talker,
    /// In which sentence.
    pub formatter: Formatter,
}

impl Speaker {
    fn of(row: &Row) -> Speaker {
        Speaker {
            port: row.port,
            talker: row.talker,
            formatter: row.formatter,
        }
    }
}

impl fmt::Display for Speaker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{} on port {}", self.talker, self.formatter, self.port)
    }
}

/// One thing to look at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hint {
    /// Nothing at all on a port.
    Silent {
        /// The port.
        port: u8,
        /// For how long.
        seconds: u64,
    },
    /// Bytes like those of another baud.
    WrongBaud {
        /// The port.
        port: u8,
        /// Its baud as set.
        baud: Option<u32>,
    },
    /// Bytes like those through swapped wires.
    Swapped {
        /// The port.
        port: u8,
    },
    /// Bytes, and not one good sentence among them.
    Garbage {
        /// The port.
        port: u8,
        /// How many bytes.
        bytes: u32,
    },
    /// Nothing gives what the job needs.
    Missing {
        /// What is missing.
        need: Need,
        /// For how long it was listened for.
        seconds: u64,
    },
    /// Something speaks of what the job needs, but never with a value.
    NeverValid {
        /// What is missing.
        need: Need,
        /// Who speaks of it.
        speaker: Speaker,
    },
    /// Too many lines fail their checksum.
    Checksums {
        /// The port.
        port: u8,
        /// How many of them.
        percent: f64,
    },
    /// A line is nearly full.
    Full {
        /// The port.
        port: u8,
        /// How full.
        percent: f64,
    },
    /// Two talkers give the same quantity.
    Both {
        /// Which.
        quantity: Quantity,
        /// The first heard.
        one: Speaker,
        /// The next.
        other: Speaker,
    },
}

impl Hint {
    /// A short fixed name, for programs.
    pub const fn key(&self) -> &'static str {
        match self {
            Hint::Silent { .. } => "silent",
            Hint::WrongBaud { .. } => "wrong-baud",
            Hint::Swapped { .. } => "swapped",
            Hint::Garbage { .. } => "garbage",
            Hint::Missing { .. } => "missing",
            Hint::NeverValid { .. } => "never-valid",
            Hint::Checksums { .. } => "checksums",
            Hint::Full { .. } => "full",
            Hint::Both { .. } => "both",
        }
    }
}

impl fmt::Display for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Hint::Silent { port, seconds } => write!(
                f,
                "nothing heard on port {port} in {seconds} s: is the instrument on, \
                 and its output on this pair?"
            ),
            Hint::WrongBaud { port, baud } => {
                write!(f, "garbage on port {port}: wrong baud suspected")?;
                match baud {
                    Some(38_400) => f.write_str(" (38400 is set, try 4800)"),
                    Some(baud) => write!(f, " ({baud} is set, try 38400)"),
                    None => Ok(()),
                }
            }
            Hint::Swapped { port } => write!(
                f,
                "garbage on port {port} reads as sentences with every bit turned: \
                 A and B swapped suspected"
            ),
            Hint::Garbage { port, bytes } => write!(
                f,
                "garbage on port {port}: {bytes} bytes, and not one good sentence among them"
            ),
            Hint::Missing { need, seconds } => write!(
                f,
                "no {}: none of {} heard in {seconds} s",
                need.name(),
                need.sentences()
            ),
            Hint::NeverValid { need, speaker } => write!(
                f,
                "no {}: {speaker} speaks of it, but never with a valid value",
                need.name()
            ),
            Hint::Checksums { port, percent } => write!(
                f,
                "{percent:.0} % of the lines on port {port} fail their checksum: \
                 loose wire, or two talkers on one pair?"
            ),
            Hint::Full { port, percent } => write!(
                f,
                "port {port} is {percent:.0} % full: sentences will be late or lost"
            ),
            Hint::Both {
                quantity,
                one,
                other,
            } => write!(
                f,
                "{} comes from both {one} and {other}: state a preference, or leave \
                 the choice to quality",
                quantity.name()
            ),
        }
    }
}

pub(super) fn hints(census: &Census, now: Timestamp) -> heapless::Vec<Hint, HINTS_MOST> {
    let mut hints = heapless::Vec::new();
    let span = census.span(now);
    // Most pressing first: what finds no room is the least of them.
    for port in census.ports() {
        hints.extend_some(wiring(port, span));
    }
    if span >= MISSING_AFTER {
        for need in Need::ALL {
            hints.extend_some(missing(census, need, span));
        }
    }
    for port in census.ports() {
        hints.extend_some(checksums(port));
        hints.extend_some(full(port, span));
    }
    for quantity in Quantity::ALL {
        hints.extend_some(both(census, quantity));
    }
    hints
}

trait ExtendSome {
    fn extend_some(&mut self, hint: Option<Hint>);
}

impl ExtendSome for heapless::Vec<Hint, HINTS_MOST> {
    fn extend_some(&mut self, hint: Option<Hint>) {
        if let Some(hint) = hint {
            // Full: the least pressing are left out.
            let _ = self.push(hint);
        }
    }
}

fn wiring(port: &PortRow, span: Duration) -> Option<Hint> {
    if port.bytes == 0 {
        return (span >= SILENT_AFTER).then_some(Hint::Silent {
            port: port.port,
            seconds: span.as_secs(),
        });
    }
    match port.garbage_looks_like() {
        Garbage::None => None,
        Garbage::Baud => Some(Hint::WrongBaud {
            port: port.port,
            baud: port.baud,
        }),
        Garbage::Swapped => Some(Hint::Swapped { port: port.port }),
        Garbage::Unknown => Some(Hint::Garbage {
            port: port.port,
            bytes: port.bytes,
        }),
    }
}

fn missing(census: &Census, need: Need, span: Duration) -> Option<Hint> {
    if census.rows().iter().any(|row| need.met_by(row.feeds)) {
        return None;
    }
    let spoken_of = census.rows().iter().find(|row| need.met_by(row.invalid_of));
    Some(match spoken_of {
        Some(row) => Hint::NeverValid {
            need,
            speaker: Speaker::of(row),
        },
        None => Hint::Missing {
            need,
            seconds: span.as_secs(),
        },
    })
}

fn checksums(port: &PortRow) -> Option<Hint> {
    let percent = f64::from(port.checksum_failures) / f64::from(port.lines.max(1)) * 100.0;
    let several = port.checksum_failures > 2;
    (several && percent > FAILURES_HIGH).then_some(Hint::Checksums {
        port: port.port,
        percent,
    })
}

fn full(port: &PortRow, span: Duration) -> Option<Hint> {
    let percent = port.total_load_percent(span)?;
    let long_enough = span >= SILENT_AFTER;
    (long_enough && percent > LOAD_HIGH).then_some(Hint::Full {
        port: port.port,
        percent,
    })
}

/// Two talkers, not two sentences of one: an instrument often says a thing
/// twice.
fn both(census: &Census, quantity: Quantity) -> Option<Hint> {
    let mut feeding = census.rows().iter().filter(|row| row.feeds.has(quantity));
    let one = feeding.next()?;
    let other = feeding.find(|row| row.talker != one.talker || row.port != one.port)?;
    Some(Hint::Both {
        quantity,
        one: Speaker::of(one),
        other: Speaker::of(other),
    })
}
