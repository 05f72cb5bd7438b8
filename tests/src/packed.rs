//! Packs a recording to a thirtieth of its size and gives back every byte.
//!
//! What a recording repeats is not kept: its sums are worked out anew, and of
//! a sentence that is built like one before it (its *shape*) only the steps of
//! its time and of its numbers are, each in a column of its own. Any line that
//! would not come back to the byte stands as it is.
//!
//! ```text
//! \r:12345,s:p0*hh\$WIMWV,214.8,R,15.6,N,A*1E
//! shape: "0$WIMWV,#,R,#,N,A"   columns: time 12345, 2148, 156
//! ```

use std::collections::HashMap;
use std::io::{Read, Write};

use anyhow::{Context, Result, ensure};
use cringle::recorder::lines::sum;
use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;

/// Where a number stands in a shape; no sentence has this byte.
const NUMBER: u8 = 0;

/// The place in the order of a line that stands as it is.
const AS_IT_IS: usize = 0;

/// More digits than any sentence has, and still exact.
const MOST_DIGITS: usize = 15;

/// Packs the text of a recording.
pub fn pack(recording: &[u8]) -> Vec<u8> {
    let mut packer = Packer::default();
    for line in recording.split_inclusive(|byte| *byte == b'\n') {
        packer.take(line);
    }
    packer.finish()
}

/// The text of a recording that was packed.
pub fn unpack(packed: &[u8]) -> Result<Vec<u8>> {
    let mut plain = Vec::new();
    ZlibDecoder::new(packed).read_to_end(&mut plain)?;
    Unpacker::new(&plain)?.unpack()
}

/// How the sentences of one kind are built.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Shape {
    /// The port's number.
    port: u8,
    /// From `$` to before `*`, with [`NUMBER`] for each number.
    words: Vec<u8>,
    /// How each number is written.
    forms: Vec<Form>,
}

/// How a number is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Form {
    /// At least so many digits before the point.
    width: u8,
    /// So many behind it; none for no point.
    decimals: u8,
}

/// The numbers of one sentence: its time, then those in it.
type Row = Vec<i64>;

#[derive(Default)]
struct Packer {
    order: Vec<u8>,
    as_they_are: Vec<u8>,
    shapes: Vec<(Shape, Columns)>,
    places: HashMap<Shape, usize>,
}

/// Steps from row to row.
#[derive(Default)]
struct Columns {
    last: Row,
    columns: Vec<Vec<u8>>,
}

impl Packer {
    fn take(&mut self, line: &[u8]) {
        let Some((shape, row)) = read(line).filter(|(shape, row)| write(shape, row) == line) else {
            put_number(&mut self.order, AS_IT_IS as i64);
            self.as_they_are.extend_from_slice(line);
            return;
        };
        let place = *self.places.entry(shape.clone()).or_insert_with(|| {
            self.shapes.push((shape, Columns::default()));
            self.shapes.len()
        });
        put_number(&mut self.order, place as i64);
        self.shapes[place - 1].1.put(row);
    }

    fn finish(self) -> Vec<u8> {
        let mut plain = Vec::new();
        put_bytes(&mut plain, &self.order);
        put_bytes(&mut plain, &self.as_they_are);
        put_number(&mut plain, self.shapes.len() as i64);
        for (shape, columns) in &self.shapes {
            plain.push(shape.port);
            put_bytes(&mut plain, &shape.words);
            for form in &shape.forms {
                plain.extend([form.width, form.decimals]);
            }
            for column in &columns.columns {
                put_bytes(&mut plain, column);
            }
        }
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
        // Writing to memory does not fail.
        encoder.write_all(&plain).expect("memory");
        encoder.finish().expect("memory")
    }
}

impl Columns {
    fn put(&mut self, row: Row) {
        self.last.resize(row.len(), 0);
        self.columns.resize(row.len(), Vec::new());
        let cells = self.columns.iter_mut().zip(row.iter().zip(&self.last));
        for (column, (value, last)) in cells {
            put_number(column, value - last);
        }
        self.last = row;
    }
}

struct Unpacker<'a> {
    order: &'a [u8],
    as_they_are: &'a [u8],
    shapes: Vec<(Shape, Row, Vec<&'a [u8]>)>,
}

impl<'a> Unpacker<'a> {
    fn new(mut plain: &'a [u8]) -> Result<Unpacker<'a>> {
        let rest = &mut plain;
        let order = take_bytes(rest)?;
        let as_they_are = take_bytes(rest)?;
        let count = take_number(rest)?;
        let mut shapes = Vec::new();
        for _ in 0..count {
            let port = take_byte(rest)?;
            let words = take_bytes(rest)?.to_vec();
            let numbers = words.iter().filter(|byte| **byte == NUMBER).count();
            let mut form = || {
                let width = take_byte(rest)?;
                let decimals = take_byte(rest)?;
                Ok(Form { width, decimals })
            };
            let forms = (0..numbers).map(|_| form()).collect::<Result<_>>()?;
            let columns = (0..=numbers)
                .map(|_| take_bytes(rest))
                .collect::<Result<_>>()?;
            let shape = Shape { port, words, forms };
            shapes.push((shape, vec![0; numbers + 1], columns));
        }
        Ok(Unpacker {
            order,
            as_they_are,
            shapes,
        })
    }

    fn unpack(mut self) -> Result<Vec<u8>> {
        let mut text = Vec::new();
        while !self.order.is_empty() {
            let place = take_number(&mut self.order)? as usize;
            if place == AS_IT_IS {
                let end = self.as_they_are.iter().position(|byte| *byte == b'\n');
                let end = end.map_or(self.as_they_are.len(), |end| end + 1);
                let (line, rest) = self.as_they_are.split_at(end);
                text.extend_from_slice(line);
                self.as_they_are = rest;
                continue;
            }
            let known = self.shapes.get_mut(place - 1);
            let (shape, row, columns) = known.context("a shape that is not there")?;
            for (value, column) in row.iter_mut().zip(columns) {
                *value += take_number(column)?;
            }
            text.extend(write(shape, row));
        }
        Ok(text)
    }
}

/// The shape and numbers of a line with a sentence in it. What is not quite
/// like it comes out as another line when it is written again.
fn read(line: &[u8]) -> Option<(Shape, Row)> {
    let behind = line.strip_prefix(b"\\r:")?;
    let end = behind.iter().position(|byte| *byte == b',')?;
    let at: i64 = std::str::from_utf8(&behind[..end]).ok()?.parse().ok()?;
    let [b's', b':', b'p', port, b'*', _, _, b'\\', sentence @ ..] = &behind[end + 1..] else {
        return None;
    };
    let [body @ .., b'*', _, _, b'\n'] = sentence else {
        return None;
    };
    let mut shape = Shape {
        port: *port,
        words: Vec::new(),
        forms: Vec::new(),
    };
    let mut row = vec![at];
    let mut rest = body;
    while let Some((first, after)) = rest.split_first() {
        if let Some((value, form, after)) = number(rest) {
            shape.words.push(NUMBER);
            shape.forms.push(form);
            row.push(value);
            rest = after;
        } else if *first == NUMBER {
            return None;
        } else {
            shape.words.push(*first);
            rest = after;
        }
    }
    Some((shape, row))
}

/// A number in front, how it is written, and what is behind it.
fn number(bytes: &[u8]) -> Option<(i64, Form, &[u8])> {
    let digits = |bytes: &[u8]| bytes.iter().take_while(|it| it.is_ascii_digit()).count();
    let (sign, unsigned) = match bytes {
        [b'-', rest @ ..] => (-1, rest),
        _ => (1, bytes),
    };
    let (whole, rest) = unsigned.split_at(digits(unsigned));
    let (part, rest) = match rest {
        [b'.', behind @ ..] => behind.split_at(digits(behind)),
        _ => (&[][..], rest),
    };
    if whole.is_empty() || whole.len() + part.len() > MOST_DIGITS {
        return None;
    }
    // Angles and clock times have leading zeros; a speed has none.
    let is_padded = whole.len() > 2 || whole.starts_with(b"0");
    let form = Form {
        width: if is_padded { whole.len() as u8 } else { 1 },
        decimals: part.len() as u8,
    };
    let all = whole.iter().chain(part);
    let value = all.fold(0, |value, digit| value * 10 + i64::from(digit - b'0'));
    Some((sign * value, form, rest))
}

fn write(shape: &Shape, row: &[i64]) -> Vec<u8> {
    let mut body = Vec::new();
    let mut numbers = shape.forms.iter().zip(row.iter().skip(1));
    for byte in &shape.words {
        match (*byte == NUMBER).then(|| numbers.next()).flatten() {
            Some((form, value)) => put_form(&mut body, *form, *value),
            None => body.push(*byte),
        }
    }
    let tag = format!("r:{},s:p{}", row[0], char::from(shape.port));
    let mut line = format!("\\{tag}*{:02X}\\", sum(tag.as_bytes())).into_bytes();
    line.extend_from_slice(&body);
    let counted = body.get(1..).unwrap_or_default();
    line.extend(format!("*{:02X}\n", sum(counted)).bytes());
    line
}

fn put_form(into: &mut Vec<u8>, form: Form, value: i64) {
    let (width, decimals) = (usize::from(form.width), usize::from(form.decimals));
    let scale = 10_u64.pow(u32::from(form.decimals));
    let (whole, part) = (value.unsigned_abs() / scale, value.unsigned_abs() % scale);
    let sign = if value < 0 { "-" } else { "" };
    into.extend(format!("{sign}{whole:0width$}").bytes());
    if decimals > 0 {
        into.extend(format!(".{part:0decimals$}").bytes());
    }
}

/// Seven bits a byte, lowest first; the sign in the lowest bit of all.
fn put_number(into: &mut Vec<u8>, value: i64) {
    let mut rest = ((value << 1) ^ (value >> 63)) as u64;
    while rest >= 0x80 {
        into.push(rest as u8 | 0x80);
        rest >>= 7;
    }
    into.push(rest as u8);
}

fn put_bytes(into: &mut Vec<u8>, bytes: &[u8]) {
    put_number(into, bytes.len() as i64);
    into.extend_from_slice(bytes);
}

fn take_byte(from: &mut &[u8]) -> Result<u8> {
    let (first, rest) = from.split_first().context("cut off")?;
    *from = rest;
    Ok(*first)
}

fn take_number(from: &mut &[u8]) -> Result<i64> {
    let mut bits: u64 = 0;
    for place in 0..10 {
        let byte = take_byte(from)?;
        bits |= u64::from(byte & 0x7F) << (7 * place);
        if byte < 0x80 {
            return Ok((bits >> 1) as i64 ^ -((bits & 1) as i64));
        }
    }
    anyhow::bail!("a number without an end")
}

fn take_bytes<'a>(from: &mut &'a [u8]) -> Result<&'a [u8]> {
    let length = usize::try_from(take_number(from)?)?;
    ensure!(length <= from.len(), "cut off");
    let (bytes, rest) = from.split_at(length);
    *from = rest;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle::ports::PortId;
    use cringle::recorder::lines::Entry;
    use cringle_core::time::Timestamp;
    use proptest::prelude::*;

    fn heard(at: u64, body: &str) -> Vec<u8> {
        let sum = sum(body.as_bytes());
        Entry::Heard {
            port: PortId(1),
            at: Timestamp::from_millis(at),
            unix_ms: None,
            line: format!("${body}*{sum:02X}").into_bytes(),
        }
        .write()
    }

    #[test]
    fn sentences_built_alike_are_kept_by_their_numbers() {
        let one = |n: u64| {
            heard(
                n * 1000,
                &format!("WIMWV,{:03}.5,R,{}.0,N,A", n % 360, n % 40),
            )
        };
        let text: Vec<u8> = (0..1000).flat_map(one).collect();
        let packed = pack(&text);
        assert_eq!(unpack(&packed).unwrap(), text);
        assert!(packed.len() * 30 < text.len(), "{}", packed.len());
    }

    #[test]
    fn whatever_is_odd_comes_back_to_the_byte() {
        let mut text = b"#cringle recording 1*00\n\\r:1,s:p0*00\\$WI*00\nno sentence\n".to_vec();
        for body in [
            "TIROT,-0.0,A",
            "X,-5.,00.10,-,--3,1.2.3",
            "",
            "Y,123456789012345678",
        ] {
            text.extend(heard(7, body));
        }
        text.extend(b"\\r:9,s:p0*5C\\$A\x00B,1*00\n\\r:10,s:p1*");
        assert_eq!(unpack(&pack(&text)).unwrap(), text);
    }

    proptest! {
        #[test]
        fn any_bytes_come_back(text in proptest::collection::vec(any::<u8>(), 0..400)) {
            prop_assert_eq!(unpack(&pack(&text)).unwrap(), text);
        }

        #[test]
        fn any_sentence_comes_back(bodies in proptest::collection::vec("[A-Z0-9,.*-]{0,30}", 0..20)) {
            let text: Vec<u8> = bodies.iter().flat_map(|body| heard(5, body)).collect();
            prop_assert_eq!(unpack(&pack(&text)).unwrap(), text);
        }

        #[test]
        fn a_damaged_file_is_an_error_or_comes_back_whole(
            place in 0..200_usize, bit in 0..8_u8,
        ) {
            let text: Vec<u8> = (0..50).flat_map(|n| heard(n, &format!("WI,{n}.1"))).collect();
            let mut packed = pack(&text);
            let place = place % packed.len();
            packed[place] ^= 1 << bit;
            // Some bits at the end of a packed block mean nothing.
            prop_assert!(unpack(&packed).map_or(true, |back| back == text));
        }
    }
}
