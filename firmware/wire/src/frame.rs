//! Cuts a stream of bytes into lines, whatever the bytes are.
//!
//! A line begins at `$`, `!` or a TAG block's `\` and ends at CR or LF, in any
//! number and order, or where the next one begins right after a checksum (two
//! sentences run together). What lies outside is junk, counted by kind and
//! dropped. Nothing here fails, and the same bytes give the same lines however
//! they are split between calls.

/// Longest line kept: an 82-byte sentence behind TAG blocks of 80 bytes, with
/// room for the makers that go over.
pub const LINE_CAPACITY: usize = 256;

/// Bytes that stand in a sentence for themselves: they neither begin nor end
/// anything, and none is counted.
const PLAIN: [bool; 256] = {
    let mut plain = [false; 256];
    let mut byte = 0x20_u8;
    while byte < 0x80 {
        plain[byte as usize] = !matches!(byte, b'$' | b'!' | b'\\');
        byte += 1;
    }
    plain
};

/// Bytes in, lines out. Keeps at most one unfinished line.
#[derive(Clone, Debug)]
pub struct Liner {
    buffer: [u8; LINE_CAPACITY],
    length: usize,
    place: Place,
    junk: Junk,
}

/// Where in a line the next byte falls.
///
/// ```text
///           $ !                        CR LF
/// Between ------> Sentence ----------------------> Between
///    |               ^  | too long
///    | \         $ ! |  v
///    +-----> Tag --> AfterTag     Skipping --(CR LF $ ! \)--> ...
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    /// Outside any line.
    Between,
    /// Inside `\...\`.
    Tag,
    /// Behind a closed TAG block, before its sentence.
    AfterTag,
    /// Inside a sentence.
    Sentence,
    /// In the rest of a line that was too long.
    Skipping,
}

/// What was dropped or looked wrong, counted since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Junk {
    /// Bytes outside any line, line ends not counted.
    pub stray: u32,
    /// Bytes with the high bit set, wherever they stood.
    pub high_bit: u32,
    /// Control bytes other than CR, LF and tab, wherever they stood.
    pub control: u32,
    /// Lines longer than [`LINE_CAPACITY`].
    pub over_long: u32,
    /// Lines that a new one cut off before their checksum.
    pub cut_off: u32,
    /// Lines that began right behind a checksum, with no line end between.
    pub run_together: u32,
}

impl Default for Liner {
    fn default() -> Self {
        Liner::new()
    }
}

impl Liner {
    /// With nothing heard yet.
    pub const fn new() -> Self {
        Liner {
            buffer: [0; LINE_CAPACITY],
            length: 0,
            place: Place::Between,
            junk: Junk {
                stray: 0,
                high_bit: 0,
                control: 0,
                over_long: 0,
                cut_off: 0,
                run_together: 0,
            },
        }
    }

    /// Takes bytes as they came and calls `line` for each line that ends in
    /// them, without its line end. The caller's clock at this call is the
    /// line's time.
    pub fn feed(&mut self, bytes: &[u8], line: &mut impl FnMut(&[u8])) {
        let mut rest = bytes;
        while let Some((&byte, after)) = rest.split_first() {
            rest = match self.keep_run(rest) {
                0 => {
                    self.take(byte, line);
                    after
                }
                kept => rest.get(kept..).unwrap_or_default(),
            };
        }
    }

    /// Keeps the plain bytes at the head of these at once, as most of a
    /// stream is such; how many.
    fn keep_run(&mut self, bytes: &[u8]) -> usize {
        if !matches!(self.place, Place::Tag | Place::Sentence) {
            return 0;
        }
        let is_plain = |byte: &&u8| PLAIN.get(usize::from(**byte)) == Some(&true);
        let run = bytes.iter().take_while(is_plain).count();
        let room = self.buffer.get_mut(self.length..self.length + run);
        // What does not fit is taken byte by byte, and counted.
        let (Some(room), Some(run)) = (room, bytes.get(..run)) else {
            return 0;
        };
        room.copy_from_slice(run);
        self.length += run.len();
        run.len()
    }

    /// Ends the line in hand, as the end of a datagram or file does. What is
    /// no complete line is dropped and counted.
    pub fn finish(&mut self, line: &mut impl FnMut(&[u8])) {
        self.end_line(line);
    }

    /// Forgets the line in hand, as after a port was reopened.
    pub fn reset(&mut self) {
        self.length = 0;
        self.place = Place::Between;
    }

    /// What was dropped so far.
    pub fn junk(&self) -> Junk {
        self.junk
    }

    fn take(&mut self, byte: u8, line: &mut impl FnMut(&[u8])) {
        match byte {
            b'\r' | b'\n' => self.end_line(line),
            b'$' | b'!' => self.sentence_start(byte, line),
            b'\\' => self.backslash(line),
            _ => self.other(byte),
        }
    }

    fn other(&mut self, byte: u8) {
        if byte >= 0x80 {
            count(&mut self.junk.high_bit);
        } else if byte < 0x20 && byte != b'\t' {
            count(&mut self.junk.control);
        }
        match self.place {
            Place::Between => count(&mut self.junk.stray),
            Place::Skipping => {}
            Place::AfterTag if byte == b' ' => {}
            Place::AfterTag => {
                // Only a sentence may follow a TAG block.
                count(&mut self.junk.stray);
                count(&mut self.junk.cut_off);
                self.reset();
            }
            Place::Tag | Place::Sentence => self.keep(byte),
        }
    }

    fn sentence_start(&mut self, byte: u8, line: &mut impl FnMut(&[u8])) {
        match self.place {
            Place::AfterTag => {}
            Place::Sentence => self.next_begins(line),
            Place::Tag => {
                // The TAG block never closed: its sentence may still be good.
                count(&mut self.junk.cut_off);
                self.length = 0;
            }
            Place::Between | Place::Skipping => self.length = 0,
        }
        self.place = Place::Sentence;
        self.keep(byte);
    }

    fn backslash(&mut self, line: &mut impl FnMut(&[u8])) {
        match self.place {
            Place::Tag => {
                self.place = Place::AfterTag;
                self.keep(b'\\');
                return;
            }
            // A second TAG block for the same sentence.
            Place::AfterTag => {}
            Place::Sentence => self.next_begins(line),
            Place::Between | Place::Skipping => self.length = 0,
        }
        self.place = Place::Tag;
        self.keep(b'\\');
    }

    /// A new line begins inside the one in hand: that one is whole only if it
    /// ends in a checksum.
    fn next_begins(&mut self, line: &mut impl FnMut(&[u8])) {
        let held = self.held();
        if ends_in_checksum(held) {
            line(held);
            count(&mut self.junk.run_together);
        } else {
            count(&mut self.junk.cut_off);
        }
        self.reset();
    }

    fn end_line(&mut self, line: &mut impl FnMut(&[u8])) {
        match self.place {
            Place::Sentence | Place::AfterTag => line(self.held()),
            Place::Tag => count(&mut self.junk.cut_off),
            Place::Between | Place::Skipping => {}
        }
        self.reset();
    }

    fn keep(&mut self, byte: u8) {
        match self.buffer.get_mut(self.length) {
            Some(slot) => {
                *slot = byte;
                self.length += 1;
            }
            None => {
                count(&mut self.junk.over_long);
                self.length = 0;
                self.place = Place::Skipping;
            }
        }
    }

    fn held(&self) -> &[u8] {
        self.buffer.get(..self.length).unwrap_or_default()
    }
}

/// Parts one line of a log as [`Liner`] parts a stream: at CR, and where a
/// sentence or its TAG block begins in another one. What a new one cut off
/// before its checksum goes, as it does live. What leads the line stays with
/// its first sentence.
pub fn parted(raw: &[u8]) -> impl Iterator<Item = &[u8]> {
    raw.split(|byte| *byte == b'\r')
        .flat_map(|rest| Parts { rest })
}

/// The sentences left in a line.
struct Parts<'a> {
    rest: &'a [u8],
}

impl<'a> Iterator for Parts<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        loop {
            let end = next_begins_at(self.rest);
            let (part, rest) = self.rest.split_at_checked(end)?;
            self.rest = rest;
            if part.is_empty() {
                return None;
            }
            if rest.is_empty() || ends_in_checksum(part) {
                return Some(part);
            }
        }
    }
}

/// Where the second sentence of these bytes begins; their end if none does.
fn next_begins_at(bytes: &[u8]) -> usize {
    let mut place = Place::Between;
    for (at, byte) in bytes.iter().enumerate() {
        place = match (place, byte) {
            (Place::Sentence, b'$' | b'!' | b'\\') => return at,
            (_, b'$' | b'!') => Place::Sentence,
            (Place::Tag, b'\\') => Place::AfterTag,
            (_, b'\\') => Place::Tag,
            (place, _) => place,
        };
    }
    bytes.len()
}

fn count(counter: &mut u32) {
    *counter = counter.saturating_add(1);
}

fn ends_in_checksum(line: &[u8]) -> bool {
    let line = line.trim_ascii_end();
    matches!(line, [.., b'*', high, low]
        if high.is_ascii_hexdigit() && low.is_ascii_hexdigit())
}
