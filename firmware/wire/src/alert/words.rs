//! Text fields: ISO 8859-1, with what the standard reserves written as `^hh`.

use crate::fields::hex_byte;

/// Most characters kept of a text field.
pub const WORDS_MOST: usize = 64;

/// Text of a sentence. Characters outside ISO 8859-1 cannot be sent.
pub type Words = heapless::String<{ WORDS_MOST * 2 }, u8>;

/// How a character goes over the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sent {
    Plain(u8),
    Escaped(u8),
}

impl Sent {
    pub(crate) fn from_char(character: char) -> Sent {
        // What cannot be sent is shown as missing, not dropped.
        let byte = u8::try_from(u32::from(character)).unwrap_or(b'?');
        match byte {
            b'$' | b'*' | b',' | b'!' | b'\\' | b'^' | b'~' => Sent::Escaped(byte),
            b' '..=b'}' => Sent::Plain(byte),
            _ => Sent::Escaped(byte),
        }
    }

    pub(crate) fn len(self) -> usize {
        match self {
            Sent::Plain(_) => 1,
            Sent::Escaped(_) => 3,
        }
    }
}

/// Reads a text field; what does not fit is cut off.
pub(crate) fn read(field: &[u8]) -> Words {
    let mut words = Words::new();
    let mut rest = field;
    while let [byte, behind @ ..] = rest {
        let (byte, behind) = match (byte, behind) {
            (b'^', [high, low, behind @ ..]) => match hex_byte(*high, *low) {
                Some(escaped) => (escaped, behind),
                None => (b'^', rest.get(1..).unwrap_or_default()),
            },
            (byte, behind) => (*byte, behind),
        };
        if words.push(char::from(byte)).is_err() {
            break;
        }
        rest = behind;
    }
    words
}
