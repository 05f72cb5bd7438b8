//! Why a line, or one quantity in it, was not taken.

use core::fmt;

use cringle_core::reading::Quantity;

use crate::tag::TagFault;

/// Why something was refused, with the evidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The line has no `$` or `!` where its sentence should begin.
    NoSentence,
    /// The address is neither talker and sentence nor `P` and a maker.
    Address,
    /// No checksum, and this port requires one.
    ChecksumMissing,
    /// `*` without two hexadecimal digits.
    ChecksumBroken,
    /// The checksum does not agree with the bytes.
    ChecksumWrong {
        /// What the line states.
        stated: u8,
        /// What its bytes give.
        found: u8,
    },
    /// Something other than blanks behind the checksum.
    BehindChecksum,
    /// No checksum vouches for bytes with the high bit set.
    HighBit,
    /// More fields than any sentence has.
    TooManyFields,
    /// Fields that are not those of this sentence.
    Layout,
    /// A field that should hold a number holds something else.
    NotANumber(Quantity),
    /// A number that no instrument could mean.
    OutOfRange(Quantity),
    /// A direction by magnetic north alone, where true north is needed.
    MagneticOnly(Quantity),
    /// A command sentence without its command flag.
    NotACommand,
    /// The TAG block; its sentence is still read.
    Tag(TagFault),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::NoSentence => f.write_str("no sentence begins with $ or !"),
            Refusal::Address => f.write_str("address is not letters and digits of a sentence"),
            Refusal::ChecksumMissing => f.write_str("checksum missing, and this port requires one"),
            Refusal::ChecksumBroken => f.write_str("checksum is not two hexadecimal digits"),
            Refusal::ChecksumWrong { stated, found } => write!(
                f,
                "checksum mismatch: line states {stated:02X}, bytes give {found:02X}"
            ),
            Refusal::BehindChecksum => f.write_str("bytes behind the checksum"),
            Refusal::HighBit => f.write_str("bytes with the high bit set and no checksum"),
            Refusal::TooManyFields => f.write_str("more fields than any sentence has"),
            Refusal::Layout => f.write_str("fields are not those of this sentence"),
            Refusal::NotANumber(quantity) => {
                write!(f, "{} is not a plain number", quantity.name())
            }
            Refusal::OutOfRange(quantity) => {
                write!(f, "{} is outside what can be", quantity.name())
            }
            Refusal::MagneticOnly(quantity) => write!(
                f,
                "{} is by magnetic north only, expected true",
                quantity.name()
            ),
            Refusal::NotACommand => f.write_str("command flag is not C"),
            Refusal::Tag(fault) => write!(f, "TAG block: {fault}"),
        }
    }
}

impl core::error::Error for Refusal {}
