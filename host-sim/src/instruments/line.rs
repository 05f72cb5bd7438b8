//! A serial line: bytes leave it no faster than its baud rate lets them.

use std::collections::VecDeque;

/// Bits on the wire for a byte: start, eight data, stop.
const BITS_PER_BYTE: f64 = 10.0;
/// A talker that is so far behind throws new sentences away.
const MOST_BACKLOG_S: f64 = 2.0;

/// Bytes of one sentence, or of what a fault made of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sentence {
    /// Index of the line it goes out on.
    pub line: usize,
    /// When its last byte has left, seconds from the start.
    pub due_s: f64,
    /// The bytes, line end included.
    pub bytes: Vec<u8>,
}

/// One line and what waits on it.
#[derive(Clone, Debug)]
pub struct SerialLine {
    index: usize,
    baud: u32,
    free_at_s: f64,
    waiting: VecDeque<Sentence>,
    overruns: u64,
}

impl SerialLine {
    /// An idle line.
    pub fn new(index: usize, baud: u32) -> Self {
        Self {
            index,
            baud,
            free_at_s: 0.0,
            waiting: VecDeque::new(),
            overruns: 0,
        }
    }

    /// Takes bytes at `now_s`, unless the line is hopelessly behind.
    pub fn send(&mut self, now_s: f64, bytes: Vec<u8>) {
        let start_s = self.free_at_s.max(now_s);
        if start_s - now_s > MOST_BACKLOG_S {
            self.overruns += 1;
            return;
        }
        let due_s = start_s + bytes.len() as f64 * BITS_PER_BYTE / f64::from(self.baud);
        self.free_at_s = due_s;
        self.waiting.push_back(Sentence {
            line: self.index,
            due_s,
            bytes,
        });
    }

    /// Hands over what has left by `now_s`.
    pub fn collect(&mut self, now_s: f64, into: &mut Vec<Sentence>) {
        let gone = self.waiting.partition_point(|waits| waits.due_s <= now_s);
        into.extend(self.waiting.drain(..gone));
    }

    /// Loses what waits: the plug is out.
    pub fn clear(&mut self) {
        self.waiting.clear();
    }

    /// Sentences thrown away because the line was too slow.
    pub fn overruns(&self) -> u64 {
        self.overruns
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_line_sends_four_hundred_and_eighty_bytes_a_second() {
        let mut line = SerialLine::new(0, 4800);
        let mut out = Vec::new();
        for _ in 0..10 {
            line.send(0.0, vec![b'x'; 48]);
        }
        line.collect(0.55, &mut out);
        assert_eq!(out.len(), 5);
        line.collect(1.0, &mut out);
        assert_eq!(out.len(), 10);
        assert!((out[9].due_s - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_line_asked_for_too_much_loses_sentences_and_counts_them() {
        let mut line = SerialLine::new(0, 4800);
        for second in 0..100 {
            for _ in 0..20 {
                line.send(f64::from(second), vec![b'x'; 48]);
            }
        }
        let mut out = Vec::new();
        line.collect(1e9, &mut out);
        assert!((1000..1030).contains(&out.len()), "{}", out.len());
        assert_eq!(out.len() as u64 + line.overruns(), 2000);
    }
}
