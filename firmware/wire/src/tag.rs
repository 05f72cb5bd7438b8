//! TAG blocks: `\key:value,key:value*hh\` in front of a sentence.
//!
//! Keys of NMEA 0183 4.x: `c` UNIX time, `d` destination, `g` group, `n` line
//! count, `r` relative time, `s` source, `t` text. The standard leaves open
//! whether `c` is in seconds or milliseconds; its size tells, as no log is
//! older than 1983 in seconds. `xGy:id` of IEC 62320-1 is read as a group.

use core::fmt;

use crate::fields::{checksum, hex_byte};

/// A source or destination name; the standard allows 15 characters.
pub type Name = heapless::String<15>;

/// A `c` value from here up is in milliseconds: 10^11 s is the year 5138,
/// 10^11 ms is March 1973.
const MILLISECONDS_FROM: i64 = 100_000_000_000;

/// What a TAG block told. All keys are optional.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TagBlock {
    /// `c`: UNIX time, brought to milliseconds.
    pub unix_ms: Option<i64>,
    /// `s`: who sent the sentence.
    pub source: Option<Name>,
    /// `d`: whom it is for.
    pub destination: Option<Name>,
    /// `g`: its place in a group of sentences.
    pub group: Option<Group>,
    /// `n`: count of lines sent.
    pub line: Option<u32>,
    /// `r`: relative time, in the sender's own unit.
    pub relative: Option<i64>,
    /// `t`: whether there was text; its words are not kept.
    pub has_text: bool,
}

/// A sentence's place in a group that belongs together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Group {
    /// Which one this is, from 1.
    pub part: u16,
    /// How many there are.
    pub total: u16,
    /// The group's own number.
    pub id: u32,
}

/// Why a TAG block was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TagFault {
    /// No `*hh` at its end.
    ChecksumMissing,
    /// The checksum does not agree with the bytes.
    ChecksumWrong {
        /// What the block states.
        stated: u8,
        /// What its bytes give.
        found: u8,
    },
    /// A value is not of its key's form.
    Value,
}

impl fmt::Display for TagFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TagFault::ChecksumMissing => f.write_str("no checksum"),
            TagFault::ChecksumWrong { stated, found } => {
                write!(f, "states {stated:02X}, bytes give {found:02X}")
            }
            TagFault::Value => f.write_str("a value is not of its key's form"),
        }
    }
}

impl core::error::Error for TagFault {}

impl TagBlock {
    /// Reads the bytes between the two backslashes.
    pub fn read(block: &[u8]) -> Result<TagBlock, TagFault> {
        let mut tag = TagBlock::default();
        tag.add(block)?;
        Ok(tag)
    }

    /// Reads a further block for the same sentence into this one.
    pub fn add(&mut self, block: &[u8]) -> Result<(), TagFault> {
        let [keys @ .., b'*', high, low] = block else {
            return Err(TagFault::ChecksumMissing);
        };
        let stated = hex_byte(*high, *low).ok_or(TagFault::ChecksumMissing)?;
        let found = checksum(keys);
        if stated != found {
            return Err(TagFault::ChecksumWrong { stated, found });
        }
        for pair in keys.split(|byte| *byte == b',') {
            self.add_pair(pair).ok_or(TagFault::Value)?;
        }
        Ok(())
    }

    fn add_pair(&mut self, pair: &[u8]) -> Option<()> {
        let (key, value) = match pair.iter().position(|byte| *byte == b':') {
            Some(colon) => (pair.get(..colon)?, pair.get(colon + 1..)?),
            None => (pair, &[][..]),
        };
        match key {
            b"c" => self.unix_ms = Some(unix_ms(integer(value)?)),
            b"s" => self.source = Some(name(value)?),
            b"d" => self.destination = Some(name(value)?),
            b"g" => self.group = Some(group(value)?),
            b"n" => self.line = Some(u32::try_from(integer(value)?).ok()?),
            b"r" => self.relative = Some(integer(value)?),
            b"t" => self.has_text = true,
            // `1G2:73874` of IEC 62320-1.
            [part @ b'1'..=b'9', b'G', total @ b'1'..=b'9'] => {
                self.group = Some(Group {
                    part: u16::from(part - b'0'),
                    total: u16::from(total - b'0'),
                    id: u32::try_from(integer(value)?).ok()?,
                });
            }
            // Keys of other standards and of later versions say nothing here.
            _ => {}
        }
        Some(())
    }
}

/// Brings a UNIX time in seconds or milliseconds to milliseconds.
pub fn unix_ms(time: i64) -> i64 {
    if time.abs() < MILLISECONDS_FROM {
        time * 1000
    } else {
        time
    }
}

/// Remembers what the first sentence of a group said of time and source, as
/// the others of the group usually leave it out.
#[derive(Clone, Debug, Default)]
pub struct Groups {
    open: heapless::Deque<(u32, Option<i64>, Option<Name>), 8>,
}

impl Groups {
    /// Gives `tag` the time and source of its group where it has none.
    pub fn complete(&mut self, tag: &mut TagBlock) {
        let Some(group) = tag.group else { return };
        let known = self.open.iter().find(|(id, ..)| *id == group.id);
        match known {
            Some((_, unix_ms, source)) if group.part > 1 => {
                tag.unix_ms = tag.unix_ms.or(*unix_ms);
                if tag.source.is_none() {
                    tag.source.clone_from(source);
                }
            }
            _ => self.begin(group.id, tag),
        }
    }

    fn begin(&mut self, id: u32, tag: &TagBlock) {
        let entry = (id, tag.unix_ms, tag.source.clone());
        if let Some(known) = self.open.iter_mut().find(|(known, ..)| *known == id) {
            *known = entry;
            return;
        }
        if self.open.is_full() {
            // Oldest goes first.
            self.open.pop_front();
        }
        // There is room now.
        let _ = self.open.push_back(entry);
    }
}

fn group(value: &[u8]) -> Option<Group> {
    let mut parts = value.split(|byte| *byte == b'-');
    let group = Group {
        part: u16::try_from(integer(parts.next()?)?).ok()?,
        total: u16::try_from(integer(parts.next()?)?).ok()?,
        id: u32::try_from(integer(parts.next()?)?).ok()?,
    };
    parts.next().is_none().then_some(group)
}

fn name(value: &[u8]) -> Option<Name> {
    let mut name = Name::new();
    for &byte in value {
        if !(byte.is_ascii_graphic() || byte == b' ') {
            return None;
        }
        // Longer names than the standard allows are cut.
        if name.push(char::from(byte)).is_err() {
            break;
        }
    }
    Some(name)
}

fn integer(value: &[u8]) -> Option<i64> {
    let (negative, digits) = match value {
        [b'-', digits @ ..] => (true, digits),
        digits => (false, digits),
    };
    if digits.is_empty() || digits.len() > 15 {
        return None;
    }
    let magnitude = digits.iter().try_fold(0i64, |sum, byte| {
        byte.is_ascii_digit()
            .then(|| sum * 10 + i64::from(byte - b'0'))
    })?;
    Some(if negative { -magnitude } else { magnitude })
}
