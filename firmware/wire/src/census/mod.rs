//! Who says what on the wire, for the fitter.
//!
//! Feed it everything: raw bytes, lines, and what the decoder made of them.
//! It keeps a row for each talker and sentence and a row for each port, and
//! turns what is missing or odd into [`Hint`]s in plain words. Bounded: what
//! finds no row is counted.

mod hint;
mod port;

pub use hint::{Hint, Need, Speaker};
pub use port::{Garbage, PortRow};

use core::time::Duration;

use cringle_core::reading::{Heard, Quantity, SourceId};
use cringle_core::time::Timestamp;

use crate::decode::Out;
use crate::refusal::Refusal;
use crate::sentence::{Formatter, Talker, address_of, split_tags};
use crate::source::Source;

/// Most talker-and-sentence rows.
pub const ROWS_MOST: usize = 96;

/// Most ports.
pub const PORTS_MOST: usize = 16;

/// Most hints at once.
pub const HINTS_MOST: usize = 24;

/// A set of quantities.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Quantities(u32);

impl Quantities {
    /// Adds one.
    pub fn add(&mut self, quantity: Quantity) {
        self.0 |= 1 << quantity.index();
    }

    /// Whether it is among them.
    pub const fn has(self, quantity: Quantity) -> bool {
        self.0 & 1 << quantity.index() != 0
    }

    /// Those among them.
    pub fn iter(self) -> impl Iterator<Item = Quantity> {
        Quantity::ALL
            .into_iter()
            .filter(move |quantity| self.has(*quantity))
    }

    /// Whether there are none.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }
}

/// One sentence of one talker on one port.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// The port, by its place in the boat file.
    pub port: u8,
    /// Who speaks.
    pub talker: Talker,
    /// Which sentence.
    pub formatter: Formatter,
    /// Lines heard, good or bad.
    pub lines: u32,
    /// Bytes of them, with TAG blocks and line ends.
    pub bytes: u32,
    /// Lines whose checksum was wrong or missing.
    pub checksum_failures: u32,
    /// Times it said itself that a value is not valid.
    pub invalid: u32,
    /// Values refused as absurd.
    pub out_of_range: u32,
    /// Sentences or parts refused for their layout.
    pub layout: u32,
    /// Fields that were ever filled, the first one in bit 0.
    pub fields_seen: u64,
    /// Most fields in one sentence.
    pub fields: u8,
    /// Quantities it gave values of.
    pub feeds: Quantities,
    /// Quantities it spoke of without a value.
    pub invalid_of: Quantities,
    /// Whether a decoder reads it.
    pub read: Understood,
    /// When it was first heard.
    pub first: Timestamp,
    /// When it was last heard.
    pub last: Timestamp,
}

/// Whether a decoder reads a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Understood {
    /// No good line yet.
    NotYet,
    /// Some decoder reads it.
    Yes,
    /// None does; it does no harm.
    No,
}

impl Row {
    /// Sentences a second, from first to last; `None` before the second one.
    pub fn rate_hz(&self) -> Option<f64> {
        let span = self.last.secs_since(self.first);
        (self.lines > 1 && span > 0.0).then(|| f64::from(self.lines - 1) / span)
    }

    /// Whether this is the sentence of a reading's source: for marking which
    /// one the core has chosen.
    pub fn is_source(&self, id: SourceId) -> bool {
        Source::unpack(id).is_some_and(|source| {
            (source.port, source.talker, source.formatter)
                == (self.port, self.talker, self.formatter)
        })
    }
}

/// All that was heard.
#[derive(Clone, Debug)]
pub struct Census {
    start: Timestamp,
    rows: heapless::Vec<Row, ROWS_MOST>,
    ports: heapless::Vec<PortRow, PORTS_MOST>,
    /// The row of the line in hand.
    current: Option<usize>,
    lost: u32,
}

impl Census {
    /// Begins to count at `start`.
    pub const fn new(start: Timestamp) -> Self {
        Census {
            start,
            rows: heapless::Vec::new(),
            ports: heapless::Vec::new(),
            current: None,
            lost: 0,
        }
    }

    /// Names a port, so that its silence is noticed. `baud` is `None` where
    /// the port is no serial line.
    pub fn add_port(&mut self, port: u8, baud: Option<u32>) {
        if let Some(row) = self.port_mut(port) {
            row.baud = baud;
        }
    }

    /// Raw bytes as they came from a port.
    pub fn bytes(&mut self, port: u8, bytes: &[u8]) {
        if let Some(row) = self.port_mut(port) {
            row.bytes(bytes);
        }
    }

    /// One line, before it is decoded.
    pub fn line(&mut self, port: u8, line: &[u8], at: Timestamp) {
        if let Some(row) = self.port_mut(port) {
            row.lines = row.lines.saturating_add(1);
        }
        self.current = address_of(line)
            .and_then(|(talker, formatter)| self.row_of(port, talker, formatter, at));
        if let Some(row) = self.current.and_then(|place| self.rows.get_mut(place)) {
            row.hear(line, at);
        }
    }

    /// What the decoder made of the last line; call it for each [`Out`].
    pub fn out(&mut self, port: u8, out: &Out<'_>) {
        if matches!(
            out,
            Out::Reading(_) | Out::Utc { .. } | Out::Alert(_) | Out::Unknown { .. }
        ) && let Some(row) = self.port_mut(port)
        {
            row.good = row.good.saturating_add(1);
        }
        if let Some(row) = self.current.and_then(|place| self.rows.get_mut(place)) {
            row.out(out);
        }
        if let (Out::Refused { refusal, .. }, Some(row)) = (out, self.port_mut(port)) {
            let checksum = u32::from(is_checksum(*refusal));
            row.checksum_failures = row.checksum_failures.saturating_add(checksum);
            row.refused = row.refused.saturating_add(1);
        }
    }

    /// One row for each talker and sentence, in the order first heard.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// One row for each port.
    pub fn ports(&self) -> &[PortRow] {
        &self.ports
    }

    /// How long it has been counting.
    pub fn span(&self, now: Timestamp) -> Duration {
        now.since(self.start)
    }

    /// Sentences that found no row.
    pub fn lost(&self) -> u32 {
        self.lost
    }

    /// What a row takes of its line's capacity, in per cent; `None` where the
    /// port is no serial line.
    pub fn load_percent(&self, row: &Row, now: Timestamp) -> Option<f64> {
        let port = self.ports.iter().find(|port| port.port == row.port)?;
        port.load_percent(row.bytes, self.span(now))
    }

    /// What is missing or odd, most pressing first.
    pub fn hints(&self, now: Timestamp) -> heapless::Vec<Hint, HINTS_MOST> {
        hint::hints(self, now)
    }

    fn port_mut(&mut self, port: u8) -> Option<&mut PortRow> {
        let known = self.ports.iter().position(|row| row.port == port);
        let place = match known {
            Some(place) => place,
            None => {
                self.ports.push(PortRow::new(port)).ok()?;
                self.ports.len() - 1
            }
        };
        self.ports.get_mut(place)
    }

    fn row_of(
        &mut self,
        port: u8,
        talker: Talker,
        formatter: Formatter,
        at: Timestamp,
    ) -> Option<usize> {
        let known = self
            .rows
            .iter()
            .position(|row| row.port == port && row.talker == talker && row.formatter == formatter);
        if known.is_some() {
            return known;
        }
        if self
            .rows
            .push(Row::new(port, talker, formatter, at))
            .is_err()
        {
            self.lost = self.lost.saturating_add(1);
            return None;
        }
        Some(self.rows.len() - 1)
    }
}

impl Row {
    fn new(port: u8, talker: Talker, formatter: Formatter, at: Timestamp) -> Self {
        Row {
            port,
            talker,
            formatter,
            lines: 0,
            bytes: 0,
            checksum_failures: 0,
            invalid: 0,
            out_of_range: 0,
            layout: 0,
            fields_seen: 0,
            fields: 0,
            feeds: Quantities::default(),
            invalid_of: Quantities::default(),
            read: Understood::NotYet,
            first: at,
            last: at,
        }
    }

    fn hear(&mut self, line: &[u8], at: Timestamp) {
        /// CR and LF.
        const LINE_END: usize = 2;
        self.lines = self.lines.saturating_add(1);
        self.bytes = self.bytes.saturating_add((line.len() + LINE_END) as u32);
        self.last = at;
        let (_, sentence) = split_tags(line);
        let content = sentence.split(|byte| *byte == b'*').next();
        let fields = content.unwrap_or_default().split(|byte| *byte == b',');
        let mut count = 0u8;
        for (place, field) in fields.skip(1).enumerate() {
            count = count.saturating_add(1);
            if place < 64 && !field.trim_ascii().is_empty() {
                self.fields_seen |= 1 << place;
            }
        }
        self.fields = self.fields.max(count);
    }

    fn out(&mut self, out: &Out<'_>) {
        match out {
            Out::Reading(reading) => {
                self.read = Understood::Yes;
                match reading.heard {
                    Heard::Value(measure) => self.feeds.add(measure.quantity()),
                    Heard::Invalid(quantity) => {
                        self.invalid_of.add(quantity);
                        self.invalid = self.invalid.saturating_add(1);
                    }
                }
            }
            Out::Utc { .. } | Out::Alert(_) => self.read = Understood::Yes,
            Out::Unknown { .. } => self.read = Understood::No,
            Out::Tag(_) => {}
            Out::Refused { refusal, .. } => self.refuse(*refusal),
        }
    }

    fn refuse(&mut self, refusal: Refusal) {
        let counter = match refusal {
            refusal if is_checksum(refusal) => &mut self.checksum_failures,
            Refusal::OutOfRange(_) => &mut self.out_of_range,
            Refusal::Tag(_) => return,
            _ => &mut self.layout,
        };
        *counter = counter.saturating_add(1);
    }
}

fn is_checksum(refusal: Refusal) -> bool {
    matches!(
        refusal,
        Refusal::ChecksumMissing | Refusal::ChecksumBroken | Refusal::ChecksumWrong { .. }
    )
}
