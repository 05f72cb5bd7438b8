//! What one port carries, bytes first: garbage says a lot about the wiring.

use core::time::Duration;

/// Bits on the wire for one byte: start, eight, stop.
const BITS_PER_BYTE: f64 = 10.0;

/// Bytes to hear before garbage is judged.
const BYTES_TO_JUDGE: u32 = 200;

/// One port.
#[derive(Clone, Copy, Debug)]
pub struct PortRow {
    /// Its place in the boat file.
    pub port: u8,
    /// Its baud; `None` where it is no serial line.
    pub baud: Option<u32>,
    /// Bytes heard.
    pub bytes: u32,
    /// Lines cut from them.
    pub lines: u32,
    /// Things that decoders made of good lines.
    pub good: u32,
    /// Lines whose checksum was wrong or missing.
    pub checksum_failures: u32,
    /// Times a decoder refused a line or a part of one.
    pub refused: u32,
    /// Bytes that no sentence has: high bit set, or control.
    pub garbage: u32,
    /// Bytes that are a sentence's characters seen through swapped wires.
    pub turned: u32,
}

/// What a port's garbage looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Garbage {
    /// Sentences, or too little to say.
    None,
    /// The baud is probably wrong.
    Baud,
    /// A and B are probably swapped.
    Swapped,
    /// Bytes, and no good sentence among them, for no reason that shows.
    Unknown,
}

impl PortRow {
    pub(super) const fn new(port: u8) -> Self {
        PortRow {
            port,
            baud: None,
            bytes: 0,
            lines: 0,
            good: 0,
            checksum_failures: 0,
            refused: 0,
            garbage: 0,
            turned: 0,
        }
    }

    /// What all bytes take of the line's capacity, in per cent.
    pub fn total_load_percent(&self, span: Duration) -> Option<f64> {
        self.load_percent(self.bytes, span)
    }

    /// What the garbage on it looks like.
    pub fn garbage_looks_like(&self) -> Garbage {
        let enough = self.bytes >= BYTES_TO_JUDGE;
        // A wire that carries good sentences now and then is noisy, not wrong.
        let good_is_rare = self.good < self.bytes / BYTES_TO_JUDGE;
        if !enough || !good_is_rare {
            return Garbage::None;
        }
        if self.turned > self.bytes / 2 {
            Garbage::Swapped
        } else if self.garbage > self.bytes / 8 {
            Garbage::Baud
        } else if self.good == 0 && self.refused >= self.lines {
            Garbage::Unknown
        } else {
            Garbage::None
        }
    }

    pub(super) fn load_percent(&self, bytes: u32, span: Duration) -> Option<f64> {
        let capacity = f64::from(self.baud?) / BITS_PER_BYTE * span.as_secs_f64();
        (capacity > 0.0).then(|| f64::from(bytes) / capacity * 100.0)
    }

    pub(super) fn bytes(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.bytes = self.bytes.saturating_add(1);
            if byte >= 0x80 || (byte < 0x20 && !matches!(byte, b'\r' | b'\n' | b'\t')) {
                self.garbage = self.garbage.saturating_add(1);
            }
            if looks_turned(byte) {
                self.turned = self.turned.saturating_add(1);
            }
        }
    }
}

/// Whether a byte is a character of a sentence seen through swapped wires.
///
/// Swapped, every bit is turned over. Characters that follow each other then
/// are framed one bit early: the stop bit, now low, is taken for a start bit
/// and the start bit, now high, for the lowest data bit. So a 7-bit character
/// `c` comes in as `!c << 1 | 1`. This follows from the order of the bits; a
/// test plays it bit by bit.
fn looks_turned(byte: u8) -> bool {
    let character = !(byte >> 1) & 0x7F;
    byte & 1 == 1
        && byte >= 0x80
        && matches!(
            character,
            b'0'..=b'9' | b',' | b'.' | b'*' | b'$' | b'\r' | b'\n'
        )
}
