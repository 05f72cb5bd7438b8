//! Gives the lines of a foreign log a time.
//!
//! In order of trust: a TAG block's `c`; a time that leads the line (ISO 8601,
//! or UNIX in seconds or milliseconds); the date and time in RMC and ZDA, with
//! the lines between them spread by their length; and where there is none of
//! these, the rate of the line at its baud. [`LineTime::used`] says which was
//! used, so that the caller can say it aloud.
//!
//! Time never goes back: a step back in the log's clock is counted, and the
//! lines go on from where they were.

mod lead;

pub use lead::{Lead, Leading};

use cringle_core::time::Timestamp;

use crate::decode::{Decoder, Out, PortOptions, Trust};
use crate::sentence::{Checksum, address_of, read_tags, split_tags};

/// The base rate of NMEA 0183, for logs that say nothing of time.
pub const BAUD_BASE: u32 = 4800;

/// Bits on the wire for one byte: start, eight, stop.
const BITS_PER_BYTE: f64 = 10.0;

/// CR and LF, which a log has lost.
const LINE_END: usize = 2;

/// Where a line's time came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// `c` of a TAG block.
    Tag,
    /// ISO 8601 in front of the line.
    Iso,
    /// UNIX seconds in front of the line.
    UnixSeconds,
    /// UNIX milliseconds in front of the line.
    UnixMillis,
    /// No time of its own, in a log whose lines have one: the line before's.
    LineBefore,
    /// RMC or ZDA, this one or the last.
    Sentence,
    /// The rate of the line.
    Rate,
}

impl How {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            How::Tag => "TAG-block time",
            How::Iso => "ISO 8601 time in front of the line",
            How::UnixSeconds => "UNIX seconds in front of the line",
            How::UnixMillis => "UNIX milliseconds in front of the line",
            How::LineBefore => "time of the line before",
            How::Sentence => "time in RMC and ZDA",
            How::Rate => "rate of the line",
        }
    }
}

/// One line of a log with its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed<'a> {
    /// The sentence with its TAG blocks, without what led it.
    pub line: &'a [u8],
    /// Time since the log's start; never goes back.
    pub at: Timestamp,
    /// UNIX time in milliseconds, where known.
    pub unix_ms: Option<i64>,
    /// Where the time came from.
    pub how: How,
}

/// How many lines took their time from where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Used {
    /// [`How::Tag`].
    pub tag: u32,
    /// [`How::Iso`].
    pub iso: u32,
    /// [`How::UnixSeconds`].
    pub unix_seconds: u32,
    /// [`How::UnixMillis`].
    pub unix_millis: u32,
    /// [`How::LineBefore`].
    pub line_before: u32,
    /// [`How::Sentence`].
    pub sentence: u32,
    /// [`How::Rate`].
    pub rate: u32,
    /// Lines with no sentence in them.
    pub no_sentence: u32,
    /// Times the log's clock went back.
    pub went_back: u32,
}

impl Used {
    /// What most lines took their time from; `None` before the first line.
    pub fn mostly(&self) -> Option<How> {
        let counts = [
            (self.tag, How::Tag),
            (self.iso, How::Iso),
            (self.unix_seconds, How::UnixSeconds),
            (self.unix_millis, How::UnixMillis),
            (self.sentence, How::Sentence),
            (self.rate, How::Rate),
        ];
        let (count, how) = counts.into_iter().max_by_key(|(count, _)| *count)?;
        (count > 0).then_some(how)
    }

    fn count(&mut self, how: How) {
        let counter = match how {
            How::Tag => &mut self.tag,
            How::Iso => &mut self.iso,
            How::UnixSeconds => &mut self.unix_seconds,
            How::UnixMillis => &mut self.unix_millis,
            How::LineBefore => &mut self.line_before,
            How::Sentence => &mut self.sentence,
            How::Rate => &mut self.rate,
        };
        *counter = counter.saturating_add(1);
    }
}

/// Reads a log line by line. Give it whole lines, with or without line end.
#[derive(Clone, Debug)]
pub struct LineTime {
    decoder: Decoder,
    ms_per_byte: f64,
    /// Milliseconds since the start at the last line.
    now: f64,
    /// UNIX time less time since the start, in milliseconds.
    offset: Option<i64>,
    leads: Leads,
    since_fix: Option<SinceFix>,
    used: Used,
}

/// Whether the lines of this log have times of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leads {
    NotYet,
    Seen,
}

/// What came since the last RMC or ZDA.
#[derive(Clone, Copy, Debug)]
struct SinceFix {
    at: f64,
    bytes: f64,
    /// Longest that the lines after a fix may be spread over.
    span: f64,
}

/// How far apart two RMC or ZDA are expected before that is known.
const FIX_SPAN_MS: f64 = 1000.0;

impl Default for LineTime {
    fn default() -> Self {
        LineTime::new(BAUD_BASE)
    }
}

impl LineTime {
    /// `baud` is used only where the log itself has no time.
    pub fn new(baud: u32) -> Self {
        let options = PortOptions {
            checksum: Checksum::Optional,
        };
        LineTime {
            decoder: Decoder::new(0, options),
            ms_per_byte: 1000.0 * BITS_PER_BYTE / f64::from(baud.max(1)),
            now: 0.0,
            offset: None,
            leads: Leads::NotYet,
            since_fix: None,
            used: Used::default(),
        }
    }

    /// The sentence in one line of the log, and its time; `None` where there
    /// is no sentence in it.
    pub fn read<'a>(&mut self, raw: &'a [u8]) -> Option<Timed<'a>> {
        let start = raw
            .iter()
            .position(|byte| matches!(byte, b'$' | b'!' | b'\\'));
        let Some((before, line)) = start.and_then(|start| raw.split_at_checked(start)) else {
            self.used.no_sentence = self.used.no_sentence.saturating_add(1);
            return None;
        };
        let line = line.trim_ascii_end();
        let how = self.time(before, line);
        self.used.count(how);
        let at = self.now as u64;
        Some(Timed {
            line,
            at: Timestamp::from_millis(at),
            unix_ms: self.offset.map(|offset| offset.saturating_add(at as i64)),
            how,
        })
    }

    /// Where the times came from so far.
    pub fn used(&self) -> Used {
        self.used
    }

    fn time(&mut self, before: &[u8], line: &[u8]) -> How {
        if let Some(unix_ms) = tag_time(line) {
            self.lead(unix_ms);
            return How::Tag;
        }
        if let Some(Lead { unix_ms, form }) = Lead::find(before) {
            self.lead(unix_ms);
            return match form {
                Leading::Iso => How::Iso,
                Leading::UnixSeconds => How::UnixSeconds,
                Leading::UnixMillis => How::UnixMillis,
            };
        }
        if self.leads == Leads::Seen {
            return How::LineBefore;
        }
        self.by_sentence(line)
    }

    fn lead(&mut self, unix_ms: i64) {
        self.leads = Leads::Seen;
        self.since_fix = None;
        self.go_to(unix_ms);
    }

    fn by_sentence(&mut self, line: &[u8]) -> How {
        let bytes = (line.len() + LINE_END) as f64;
        if let Some(unix_ms) = self.utc_of(line) {
            let before = self.since_fix;
            self.go_to(unix_ms);
            self.learn(before, bytes);
            return How::Sentence;
        }
        match self.since_fix.as_mut() {
            Some(since) => {
                since.bytes += bytes;
                let spread = (since.bytes * self.ms_per_byte).min(since.span);
                self.now = self.now.max(since.at + spread);
                How::Sentence
            }
            None => {
                self.now += bytes * self.ms_per_byte;
                How::Rate
            }
        }
    }

    /// From one RMC or ZDA to the next: how fast the lines between ran.
    fn learn(&mut self, before: Option<SinceFix>, bytes: f64) {
        let mut span = FIX_SPAN_MS;
        if let Some(before) = before {
            let passed = self.now - before.at;
            let total = before.bytes + bytes;
            if passed <= 0.0 {
                // A second sentence for the same moment.
                self.since_fix = Some(SinceFix {
                    bytes: total,
                    ..before
                });
                return;
            }
            span = passed;
            self.ms_per_byte = passed / total;
        }
        self.since_fix = Some(SinceFix {
            at: self.now,
            bytes: 0.0,
            span,
        });
    }

    fn go_to(&mut self, unix_ms: i64) {
        let reached = self.now as i64;
        let offset = *self.offset.get_or_insert(unix_ms.saturating_sub(reached));
        let then = unix_ms.saturating_sub(offset);
        if then >= reached {
            self.now = then as f64;
            return;
        }
        // Spread lines may run a little ahead of the next fix: wait for it.
        if self.since_fix.is_some_and(|since| then as f64 >= since.at) {
            return;
        }
        self.used.went_back = self.used.went_back.saturating_add(1);
        self.offset = Some(unix_ms.saturating_sub(reached));
    }

    fn utc_of(&mut self, line: &[u8]) -> Option<i64> {
        let (_, formatter) = address_of(line)?;
        if !matches!(&formatter.letters(), b"RMC " | b"ZDA ") {
            return None;
        }
        let mut utc = None;
        self.decoder.decode(line, Timestamp::ZERO, &mut |out| {
            if let Out::Utc {
                unix_ms,
                trust: Trust::Valid,
            } = out
            {
                utc = Some(unix_ms);
            }
        });
        utc
    }
}

fn tag_time(line: &[u8]) -> Option<i64> {
    let (blocks, _) = split_tags(line);
    read_tags(blocks)?.ok()?.unix_ms
}
