//! The fields of one sentence, found in the same pass as its checksum, and the
//! numbers in them.

/// Most fields a sentence may have; 82 bytes have room for fewer.
pub const FIELDS_MOST: usize = 96;

/// The comma-separated fields behind a sentence's address.
#[derive(Clone, Copy, Debug)]
pub struct Fields<'a> {
    body: &'a [u8],
    ends: [u8; FIELDS_MOST],
    count: u8,
}

/// More than [`FIELDS_MOST`] fields, or a line longer than the buffer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooMany;

impl<'a> Fields<'a> {
    /// Splits `body`, the bytes between the address's comma and the `*`.
    pub fn split(body: &'a [u8]) -> Result<Self, TooMany> {
        let mut fields = Fields {
            body,
            ends: [0; FIELDS_MOST],
            count: 0,
        };
        for (place, byte) in body.iter().enumerate() {
            if *byte == b',' {
                fields.end_field(place)?;
            }
        }
        fields.end_field(body.len())?;
        Ok(fields)
    }

    /// How many there are, empty ones counted.
    pub fn len(&self) -> usize {
        usize::from(self.count)
    }

    /// Whether there are none, as in a bare address.
    pub fn is_empty(&self) -> bool {
        self.body.is_empty()
    }

    /// All fields as they came.
    pub fn body(&self) -> &'a [u8] {
        self.body
    }

    /// The field at `index`, from 0, without blanks around it; `None` where
    /// the sentence ends before it.
    pub fn get(&self, index: usize) -> Option<&'a [u8]> {
        if index >= self.len() {
            return None;
        }
        let end = usize::from(*self.ends.get(index)?);
        let start = match index.checked_sub(1) {
            Some(before) => usize::from(*self.ends.get(before)?) + 1,
            None => 0,
        };
        Some(self.body.get(start..end)?.trim_ascii())
    }

    /// The field at `index`, empty where the sentence ends before it.
    pub fn text(&self, index: usize) -> &'a [u8] {
        self.get(index).unwrap_or_default()
    }

    /// The upper-case letter that is all of the field at `index`.
    pub fn letter(&self, index: usize) -> Option<u8> {
        match self.text(index) {
            [letter] => Some(letter.to_ascii_uppercase()),
            _ => None,
        }
    }

    /// The number in the field at `index`.
    pub fn number(&self, index: usize) -> Number {
        Number::read(self.text(index))
    }

    fn end_field(&mut self, place: usize) -> Result<(), TooMany> {
        let place = u8::try_from(place).map_err(|_| TooMany)?;
        let slot = self.ends.get_mut(usize::from(self.count)).ok_or(TooMany)?;
        *slot = place;
        self.count += 1;
        Ok(())
    }
}

/// What a field that should hold a number holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Number {
    /// A plain decimal number, finite.
    Value(f64),
    /// Nothing: not known.
    Null,
    /// Something else: letters, an exponent, two signs, too many digits.
    Broken,
}

/// Digits a number may have, leading zeros not counted: all such are exact in
/// an f64 before the division.
const DIGITS_MOST: u32 = 15;

const TENS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

impl Number {
    /// Reads a decimal number as the standard has it: a sign, digits, a point.
    /// `nan`, `inf` and `1e40` are not numbers here.
    pub fn read(field: &[u8]) -> Number {
        let (negative, digits) = match field {
            [] => return Number::Null,
            [b'-', rest @ ..] => (true, rest),
            [b'+', rest @ ..] => (false, rest),
            rest => (false, rest),
        };
        match unsigned(digits) {
            Some(value) if negative => Number::Value(-value),
            Some(value) => Number::Value(value),
            None => Number::Broken,
        }
    }

    /// The value, if there is one.
    pub fn value(self) -> Option<f64> {
        match self {
            Number::Value(value) => Some(value),
            Number::Null | Number::Broken => None,
        }
    }
}

fn unsigned(digits: &[u8]) -> Option<f64> {
    let mut whole: u64 = 0;
    let mut seen: u32 = 0;
    let mut any = false;
    let mut behind_point: Option<usize> = None;
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                any = true;
                whole = whole * 10 + u64::from(byte - b'0');
                if whole > 0 {
                    seen += 1;
                }
                if seen > DIGITS_MOST {
                    return None;
                }
                if let Some(places) = behind_point.as_mut() {
                    *places += 1;
                }
            }
            b'.' if behind_point.is_none() => behind_point = Some(0),
            _ => return None,
        }
    }
    if !any {
        return None;
    }
    // Zeros without end behind the point are still zero.
    let ten = TENS.get(behind_point.unwrap_or(0)).copied();
    match ten {
        Some(ten) => Some(whole as f64 / ten),
        None if whole == 0 => Some(0.0),
        None => None,
    }
}

/// A whole number of at most `digits_most` digits and nothing else.
pub fn whole(field: &[u8], digits_most: usize) -> Option<u32> {
    if field.is_empty() || field.len() > digits_most.min(9) {
        return None;
    }
    field.iter().try_fold(0u32, |sum, byte| {
        byte.is_ascii_digit()
            .then(|| sum * 10 + u32::from(byte - b'0'))
    })
}

/// The value of a two-digit hexadecimal number, either case.
pub fn hex_byte(high: u8, low: u8) -> Option<u8> {
    Some(hex_digit(high)? << 4 | hex_digit(low)?)
}

fn hex_digit(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'A'..=b'F' => Some(digit - b'A' + 10),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

/// The exclusive-or of all bytes: the checksum of sentences and TAG blocks.
pub fn checksum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}
