//! Writes sentences: at most 82 bytes with `$` and line end, checksum upper
//! case.
//!
//! [`wind`] writes the instrument's own wind; [`crate::alert`] writes alerts;
//! [`Builder`] writes anything else.

pub mod wind;

use core::fmt::{self, Write};

use crate::alert::Words;
use crate::fields::checksum;
use crate::sentence::Talker;

/// Longest sentence with `$` and CR LF.
pub const LINE_MOST: usize = 82;

/// A whole sentence with its line end.
pub type SentenceBytes = heapless::Vec<u8, LINE_MOST>;

/// A sentence would be longer than [`LINE_MOST`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooLong;

impl fmt::Display for TooLong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "sentence is longer than {LINE_MOST} bytes")
    }
}

impl core::error::Error for TooLong {}

/// Builds one sentence field by field.
#[derive(Clone, Debug)]
pub struct Builder {
    line: SentenceBytes,
    fit: Result<(), TooLong>,
}

/// `*hh` and CR LF.
const TAIL: usize = 5;

impl Builder {
    /// Bytes a sentence has room for before its checksum, `$` among them.
    pub const ROOM: usize = LINE_MOST - TAIL;

    /// Begins a sentence of a talker.
    pub fn new(talker: Talker, formatter: &[u8; 3]) -> Builder {
        let mut builder = Builder::empty();
        // The `P` of a maker's own sentence is shown without its blank.
        let _ = write!(builder, "{talker}");
        builder.put(formatter);
        builder
    }

    /// Begins a maker's own sentence, `P` left out: `ASHR` for `$PASHR`.
    pub fn proprietary(maker: &[u8]) -> Builder {
        let mut builder = Builder::empty();
        builder.put(b"P");
        builder.put(maker);
        builder
    }

    fn empty() -> Builder {
        let mut builder = Builder {
            line: SentenceBytes::new(),
            fit: Ok(()),
        };
        builder.put(b"$");
        builder
    }

    /// Adds a field. It must hold none of the reserved characters.
    pub fn field(&mut self, words: fmt::Arguments<'_>) {
        self.put(b",");
        // `write_str` below never fails; what does not fit is remembered.
        let _ = self.write_fmt(words);
    }

    /// Adds a field of one letter.
    pub fn letter(&mut self, letter: u8) {
        self.put(&[b',', letter]);
    }

    /// Adds an empty field.
    pub fn null(&mut self) {
        self.put(b",");
    }

    /// Adds a text field last of all, with reserved characters escaped and
    /// what does not fit cut off at a character.
    pub fn words(&mut self, words: &Words) {
        use crate::alert::Sent;
        self.put(b",");
        for character in words.chars() {
            let sent = Sent::from_char(character);
            if self.line.len() + sent.len() > Self::ROOM {
                break;
            }
            match sent {
                Sent::Plain(byte) => self.put(&[byte]),
                Sent::Escaped(byte) => {
                    let _ = write!(self, "^{byte:02X}");
                }
            }
        }
    }

    /// Adds checksum and line end.
    pub fn finish(mut self) -> Result<SentenceBytes, TooLong> {
        self.fit?;
        let sum = checksum(self.line.get(1..).unwrap_or_default());
        let mut line = self.line;
        write!(line, "*{sum:02X}\r\n").map_err(|_| TooLong)?;
        self.line = SentenceBytes::new();
        Ok(line)
    }

    fn put(&mut self, bytes: &[u8]) {
        if self.line.len() + bytes.len() > Self::ROOM || self.line.extend_from_slice(bytes).is_err()
        {
            self.fit = Err(TooLong);
        }
    }
}

impl Write for Builder {
    fn write_str(&mut self, words: &str) -> fmt::Result {
        self.put(words.as_bytes());
        Ok(())
    }
}
