//! Names a source to the core as one number, and names it again to people.
//!
//! ```text
//! bits 31..24   port, by its place in the boat file
//! bits 23..13   talker, two of 0-9 A-Z to the base 36
//! bits 12..5    sentence, by its place in the table of decoders
//! bits  4..0    part: which transducer of an XDR, which engine of an RPM
//! ```

use core::fmt;

use cringle_core::reading::SourceId;

use crate::decode::table;
use crate::sentence::{Formatter, Talker};

/// Parts of one sentence that can be told apart.
pub const PARTS: u8 = 32;

/// A source by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// The port, by its place in the boat file.
    pub port: u8,
    /// Who speaks.
    pub talker: Talker,
    /// In which sentence.
    pub formatter: Formatter,
    /// Which transducer of an XDR by its place in the map, which engine of an
    /// RPM; 0 for all other sentences.
    pub part: u8,
}

impl Source {
    /// As one number; `None` for a sentence that no decoder reads.
    pub fn pack(self) -> Option<SourceId> {
        Some(pack(
            self.port,
            self.talker,
            table::place_of(self.formatter)?,
            self.part,
        ))
    }

    /// Names a source again; `None` for a number that wire did not give.
    pub fn unpack(id: SourceId) -> Option<Source> {
        let SourceId(bits) = id;
        let talker = (bits >> 13 & 0x7FF) as u16;
        let [port, ..] = bits.to_be_bytes();
        Some(Source {
            port,
            talker: unpack_talker(talker)?,
            formatter: table::formatter_at((bits >> 5 & 0xFF) as u8)?,
            part: (bits & 0x1F) as u8,
        })
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{} on port {}", self.talker, self.formatter, self.port)?;
        if self.part > 0 {
            write!(f, ", part {}", self.part)?;
        }
        Ok(())
    }
}

/// A talker beyond all pairs of letters and digits.
const PROPRIETARY: u16 = 36 * 36;

/// Packs a source whose sentence stands at `place` in the table of decoders.
pub(crate) fn pack(port: u8, talker: Talker, place: u8, part: u8) -> SourceId {
    SourceId(
        u32::from(port) << 24
            | u32::from(pack_talker(talker)) << 13
            | u32::from(place) << 5
            | u32::from(part.min(PARTS - 1)),
    )
}

fn pack_talker(talker: Talker) -> u16 {
    if talker == Talker::PROPRIETARY {
        return PROPRIETARY;
    }
    talker
        .letters()
        .iter()
        .fold(0, |sum, letter| sum * 36 + base_36(*letter))
}

fn base_36(letter: u8) -> u16 {
    match letter {
        b'0'..=b'9' => u16::from(letter - b'0'),
        b'A'..=b'Z' => u16::from(letter - b'A') + 10,
        _ => 0,
    }
}

fn unpack_talker(packed: u16) -> Option<Talker> {
    if packed == PROPRIETARY {
        return Some(Talker::PROPRIETARY);
    }
    Talker::new([from_base_36(packed / 36)?, from_base_36(packed % 36)?])
}

fn from_base_36(digit: u16) -> Option<u8> {
    b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
        .get(usize::from(digit))
        .copied()
}
