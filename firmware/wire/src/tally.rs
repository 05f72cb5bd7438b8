//! Counts what a decoder met, by kind.

use crate::refusal::Refusal;

/// What was met since the start. Counters stop at their end, never wrap.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Lines handed in.
    pub lines: u32,
    /// Lines whose sentence was known and read.
    pub known: u32,
    /// Good sentences that no decoder reads.
    pub unknown: u32,
    /// Readings handed out with a value.
    pub values: u32,
    /// Times a sensor said itself that it has no value.
    pub invalid: u32,
    /// Lines with no sentence or a broken address.
    pub no_sentence: u32,
    /// Lines refused for a missing checksum.
    pub checksum_missing: u32,
    /// Lines refused for a wrong or broken checksum.
    pub checksum_wrong: u32,
    /// Lines refused for bytes that should not be there, or too many fields.
    pub garbled: u32,
    /// Sentences or parts of them whose fields were not as they should be.
    pub layout: u32,
    /// Values refused as absurd.
    pub out_of_range: u32,
    /// TAG blocks refused.
    pub tag: u32,
}

impl Tally {
    pub(crate) fn refuse(&mut self, refusal: Refusal) {
        let counter = match refusal {
            Refusal::NoSentence | Refusal::Address => &mut self.no_sentence,
            Refusal::ChecksumMissing => &mut self.checksum_missing,
            Refusal::ChecksumBroken | Refusal::ChecksumWrong { .. } => &mut self.checksum_wrong,
            Refusal::BehindChecksum | Refusal::HighBit | Refusal::TooManyFields => {
                &mut self.garbled
            }
            Refusal::Layout
            | Refusal::NotANumber(_)
            | Refusal::MagneticOnly(_)
            | Refusal::NotACommand => &mut self.layout,
            Refusal::OutOfRange(_) => &mut self.out_of_range,
            Refusal::Tag(_) => &mut self.tag,
        };
        count(counter);
    }
}

pub(crate) fn count(counter: &mut u32) {
    *counter = counter.saturating_add(1);
}
