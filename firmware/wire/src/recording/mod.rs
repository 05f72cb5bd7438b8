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
    /// Lines with no sentence in them, empty ones not counted.
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
    fix: Option<Fix>,
    used: Used,
}

/// Whether the lines of this log have times of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leads {
    NotYet,
    Seen,
}

/// The last RMC or ZDA, and what came since.
#[derive(Clone, Copy, Debug)]
struct Fix {
    /// Its time since the start, by itself; lines may have run ahead of it.
    at: f64,
    /// Bytes since.
    bytes: f64,
    pace: LineRate,
    /// The pace before that.
    before: LineRate,
}

/// How the lines between two RMC or ZDA ran.
#[derive(Clone, Copy, Debug)]
struct LineRate {
    ms_per_byte: f64,
    /// From one to the next.
    span: f64,
}

impl LineRate {
    /// A gap in the log makes one pace slow: the quicker of two counts.
    fn quicker(self, other: LineRate) -> LineRate {
        LineRate {
            ms_per_byte: self.ms_per_byte.min(other.ms_per_byte),
            span: self.span.min(other.span),
        }
    }
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
            fix: None,
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
            if !raw.trim_ascii().is_empty() {
                self.used.no_sentence = self.used.no_sentence.saturating_add(1);
            }
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
        self.fix = None;
        let then = self.then(unix_ms, self.now);
        self.now = self.now.max(then);
    }

    fn by_sentence(&mut self, line: &[u8]) -> How {
        let bytes = (line.len() + LINE_END) as f64;
        if let Some(unix_ms) = self.utc_of(line) {
            self.hear_fix(unix_ms, bytes);
            return How::Sentence;
        }
        match self.fix.as_mut() {
            Some(fix) => {
                fix.bytes += bytes;
                let pace = fix.pace.quicker(fix.before);
                let spread = (fix.bytes * pace.ms_per_byte).min(pace.span);
                self.now = self.now.max(fix.at + spread);
                How::Sentence
            }
            None => {
                self.now += bytes * self.ms_per_byte;
                How::Rate
            }
        }
    }

    fn hear_fix(&mut self, unix_ms: i64, bytes: f64) {
        // Lines may have run a little ahead of this fix: that is not going
        // back, and they wait for it.
        let at = self.then(unix_ms, self.fix.map_or(self.now, |fix| fix.at));
        self.now = self.now.max(at);
        let first = LineRate {
            ms_per_byte: self.ms_per_byte,
            span: FIX_SPAN_MS,
        };
        let (pace, before) = match self.fix.as_mut() {
            None => (first, first),
            Some(last) if at <= last.at => {
                // A second sentence for the same moment.
                last.bytes += bytes;
                return;
            }
            Some(last) => {
                let span = at - last.at;
                let ms_per_byte = span / (last.bytes + bytes);
                (LineRate { ms_per_byte, span }, last.pace)
            }
        };
        self.fix = Some(Fix {
            at,
            bytes: 0.0,
            pace,
            before,
        });
    }

    /// UNIX time as time since the start, never before `reached`: a clock
    /// that goes back is counted and goes on from where the lines are.
    fn then(&mut self, unix_ms: i64, reached: f64) -> f64 {
        let now = self.now as i64;
        let offset = *self.offset.get_or_insert(unix_ms.saturating_sub(now));
        let then = unix_ms.saturating_sub(offset) as f64;
        if then >= libm::floor(reached) {
            return then;
        }
        self.used.went_back = self.used.went_back.saturating_add(1);
        self.offset = Some(unix_ms.saturating_sub(now));
        now as f64
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
