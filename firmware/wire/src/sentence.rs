//! One line taken apart: TAG block, address, fields, checksum.

use core::fmt;

use crate::fields::{Fields, hex_byte};
use crate::refusal::Refusal;
use crate::tag::{TagBlock, TagFault};

/// Who speaks: two letters, or the `P` of a maker's own sentence.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Talker([u8; 2]);

impl Talker {
    /// The `P` in front of a maker's own sentence.
    pub const PROPRIETARY: Talker = Talker([b'P', b' ']);

    /// From two letters or digits, either case.
    pub fn new(letters: [u8; 2]) -> Option<Talker> {
        letters
            .iter()
            .all(u8::is_ascii_alphanumeric)
            .then(|| Talker(letters.map(|letter| letter.to_ascii_uppercase())))
    }

    /// From its two letters as words.
    pub fn from_text(words: &str) -> Option<Talker> {
        Talker::new(words.as_bytes().try_into().ok()?)
    }

    /// Its letters; `P` and a blank for a maker's own sentence.
    pub const fn letters(self) -> [u8; 2] {
        self.0
    }
}

impl fmt::Display for Talker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        letters(&self.0, f)
    }
}

impl fmt::Debug for Talker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        letters(&self.0, f)
    }
}

/// Which sentence: three letters, or up to four behind a maker's `P`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Formatter([u8; 4]);

impl Formatter {
    /// From three or four letters or digits, known to be upper case.
    pub const fn known(letters: &[u8]) -> Formatter {
        match letters {
            [a, b, c] => Formatter([*a, *b, *c, b' ']),
            [a, b, c, d, ..] => Formatter([*a, *b, *c, *d]),
            _ => Formatter([b' '; 4]),
        }
    }

    /// From one to four letters or digits as words, either case.
    pub fn from_text(words: &str) -> Option<Formatter> {
        Formatter::read(words.as_bytes())
    }

    /// Its letters, blanks behind.
    pub const fn letters(self) -> [u8; 4] {
        self.0
    }

    fn read(bytes: &[u8]) -> Option<Formatter> {
        if bytes.is_empty() || bytes.len() > 4 {
            return None;
        }
        let mut formatter = [b' '; 4];
        for (slot, byte) in formatter.iter_mut().zip(bytes) {
            if !byte.is_ascii_alphanumeric() {
                return None;
            }
            *slot = byte.to_ascii_uppercase();
        }
        Some(Formatter(formatter))
    }
}

impl fmt::Display for Formatter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        letters(&self.0, f)
    }
}

impl fmt::Debug for Formatter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        letters(&self.0, f)
    }
}

fn letters(bytes: &[u8], f: &mut fmt::Formatter<'_>) -> fmt::Result {
    use fmt::Write;
    bytes
        .iter()
        .filter(|byte| **byte != b' ')
        .try_for_each(|byte| f.write_char(char::from(*byte)))
}

/// Whether a sentence may come without a checksum. A wrong one is refused
/// either way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Checksum {
    /// A sentence without one is refused.
    #[default]
    Required,
    /// A sentence without one is read; some old instruments send none.
    Optional,
}

/// One sentence whose bytes are as they were sent.
#[derive(Clone, Debug)]
pub struct Sentence<'a> {
    /// Who speaks.
    pub talker: Talker,
    /// Which sentence it is.
    pub formatter: Formatter,
    /// What it says.
    pub fields: Fields<'a>,
    /// The checksum, stated or worked out.
    pub checksum: u8,
}

impl<'a> Sentence<'a> {
    /// Reads a line that begins with `$` or `!`.
    pub fn read(line: &'a [u8], rule: Checksum) -> Result<Sentence<'a>, Refusal> {
        let [b'$' | b'!', rest @ ..] = line else {
            return Err(Refusal::NoSentence);
        };
        let scan = Scan::over(rest);
        let content = rest.get(..scan.star).unwrap_or(rest);
        check(rest, &scan, rule)?;
        let content = if scan.star == rest.len() {
            content.trim_ascii_end()
        } else {
            content
        };
        let (address, body) = match content.iter().position(|byte| *byte == b',') {
            Some(comma) => (
                content.get(..comma).unwrap_or_default(),
                content.get(comma + 1..).unwrap_or_default(),
            ),
            None => (content, &[][..]),
        };
        let (talker, formatter) = read_address(address).ok_or(Refusal::Address)?;
        Ok(Sentence {
            talker,
            formatter,
            fields: Fields::split(body).map_err(|_| Refusal::TooManyFields)?,
            checksum: scan.sum,
        })
    }
}

/// Talker and formatter of a line, whether or not its checksum is right: for
/// counting what is wrong by who sends it.
pub fn address_of(line: &[u8]) -> Option<(Talker, Formatter)> {
    let (_, sentence) = split_tags(line);
    let [b'$' | b'!', rest @ ..] = sentence else {
        return None;
    };
    let end = rest
        .iter()
        .position(|byte| matches!(byte, b',' | b'*'))
        .unwrap_or(rest.len());
    read_address(rest.get(..end)?)
}

struct Scan {
    star: usize,
    sum: u8,
    high_bit: bool,
}

impl Scan {
    fn over(rest: &[u8]) -> Scan {
        let star = rest
            .iter()
            .position(|byte| *byte == b'*')
            .unwrap_or(rest.len());
        let (sum, all) = rest
            .iter()
            .take(star)
            .fold((0, 0), |(sum, all), byte| (sum ^ byte, all | byte));
        Scan {
            star,
            sum,
            high_bit: all >= 0x80,
        }
    }
}

fn check(rest: &[u8], scan: &Scan, rule: Checksum) -> Result<(), Refusal> {
    match rest.get(scan.star..).unwrap_or_default() {
        [] => match rule {
            Checksum::Required => Err(Refusal::ChecksumMissing),
            Checksum::Optional if scan.high_bit => Err(Refusal::HighBit),
            Checksum::Optional => Ok(()),
        },
        [b'*', high, low, behind @ ..] => {
            let stated = hex_byte(*high, *low).ok_or(Refusal::ChecksumBroken)?;
            if stated != scan.sum {
                let found = scan.sum;
                return Err(Refusal::ChecksumWrong { stated, found });
            }
            if behind.iter().all(|byte| *byte <= b' ') {
                Ok(())
            } else {
                Err(Refusal::BehindChecksum)
            }
        }
        _ => Err(Refusal::ChecksumBroken),
    }
}

fn read_address(address: &[u8]) -> Option<(Talker, Formatter)> {
    match address {
        [b'P' | b'p', maker @ ..] if maker.len() >= 3 => {
            let four = maker.get(..4).unwrap_or(maker);
            Some((Talker::PROPRIETARY, Formatter::read(four)?))
        }
        [first, second, formatter @ ..] if formatter.len() == 3 => {
            Some((Talker::new([*first, *second])?, Formatter::read(formatter)?))
        }
        _ => None,
    }
}

/// Cuts the TAG blocks off the front of a line: the blocks with their
/// backslashes, and what follows them.
pub fn split_tags(line: &[u8]) -> (&[u8], &[u8]) {
    let mut rest = line;
    while let [b'\\', inner @ ..] = rest {
        let Some(close) = inner.iter().position(|byte| *byte == b'\\') else {
            break;
        };
        rest = inner
            .get(close + 1..)
            .unwrap_or_default()
            .trim_ascii_start();
    }
    let cut = line.len() - rest.len();
    (line.get(..cut).unwrap_or_default(), rest)
}

/// Reads what [`split_tags`] cut off; `None` where there was no block.
pub fn read_tags(blocks: &[u8]) -> Option<Result<TagBlock, TagFault>> {
    let mut tag = TagBlock::default();
    let mut any = false;
    // `\a\` and `\a\\b\` split at the backslashes: the odd ones are blocks.
    for (place, block) in blocks.split(|byte| *byte == b'\\').enumerate() {
        if place % 2 == 1 {
            any = true;
            if let Err(fault) = tag.add(block) {
                return Some(Err(fault));
            }
        }
    }
    any.then_some(Ok(tag))
}
