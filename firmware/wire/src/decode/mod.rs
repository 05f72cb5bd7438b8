//! One line in, what it says out: the one way in for every sentence.
//!
//! The sentences of the job (wind, heel, heading, water speed, motion, alerts)
//! have our own lenient decoders. Navigation, time and depth go through the
//! `nmea` crate and are range-checked behind it. Which is which stands in one
//! table.

mod attitude;
mod heading;
pub(crate) mod hearing;
mod machine;
mod navigation;
mod speed;
pub(crate) mod table;
pub(crate) mod units;
mod wind;

use cringle_core::reading::Reading;
use cringle_core::time::Timestamp;

use crate::alert::AlertIn;
use crate::prefer::Preferences;
use crate::refusal::Refusal;
use crate::sentence::{Checksum, Formatter, Sentence, Talker, address_of, read_tags, split_tags};
use crate::tag::{Groups, TagBlock};
use crate::tally::{Tally, count};
use crate::transducer::Transducers;
use hearing::{Hearing, Status};

/// How one port is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PortOptions {
    /// Whether sentences may come without a checksum.
    pub checksum: Checksum,
}

/// What a line says. One line may say several things.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Out<'a> {
    /// A TAG block in front of the sentence, before what the sentence says.
    Tag(&'a TagBlock),
    /// One quantity, valid or not.
    Reading(Reading),
    /// Date and time of day.
    Utc {
        /// UNIX time in milliseconds.
        unix_ms: i64,
        /// Whether the receiver vouches for it.
        trust: Trust,
    },
    /// Something for the alert side.
    Alert(&'a AlertIn),
    /// A good sentence that no decoder reads.
    Unknown {
        /// Who sent it.
        talker: Talker,
        /// Which it is.
        formatter: Formatter,
    },
    /// The line, or a part of it, was not taken.
    Refused {
        /// Who sent it and which it is, where that can be read.
        from: Option<(Talker, Formatter)>,
        /// Why.
        refusal: Refusal,
    },
}

/// Whether a receiver vouches for the time that it gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trust {
    /// It does.
    Valid,
    /// It has no fix: the time may be its own clock's.
    NoFix,
}

/// Reads the lines of one port.
#[derive(Clone, Debug)]
pub struct Decoder {
    port: u8,
    options: PortOptions,
    transducers: Transducers,
    preferences: Preferences,
    groups: Groups,
    /// What RMC, GGA or GLL said last of the fix.
    fix: Option<Status>,
    tally: Tally,
}

impl Decoder {
    /// For the port at this place in the boat file, with the transducers as
    /// shipped and no preferences.
    pub fn new(port: u8, options: PortOptions) -> Self {
        Decoder {
            port,
            options,
            transducers: Transducers::shipped(),
            preferences: Preferences::new(),
            groups: Groups::default(),
            fix: None,
            tally: Tally::default(),
        }
    }

    /// With the boat's own transducer names.
    pub fn with_transducers(mut self, transducers: Transducers) -> Self {
        self.transducers = transducers;
        self
    }

    /// With the boat's preferences among sources.
    pub fn with_preferences(mut self, preferences: Preferences) -> Self {
        self.preferences = preferences;
        self
    }

    /// The transducer names in use.
    pub fn transducers(&self) -> &Transducers {
        &self.transducers
    }

    /// The port's place in the boat file.
    pub fn port(&self) -> u8 {
        self.port
    }

    /// What was met since the start.
    pub fn tally(&self) -> Tally {
        self.tally
    }

    /// Reads one line as [`Liner`](crate::frame::Liner) cut it, stamped at its
    /// last byte, and hands all it says to `sink`.
    pub fn decode(&mut self, line: &[u8], at: Timestamp, sink: &mut impl FnMut(Out<'_>)) {
        self.decode_dyn(line, at, sink);
    }

    fn decode_dyn(&mut self, line: &[u8], at: Timestamp, sink: &mut dyn FnMut(Out<'_>)) {
        count(&mut self.tally.lines);
        let mut line = line;
        if line.first() == Some(&b'\\') {
            let (blocks, rest) = split_tags(line);
            self.hear_tag(blocks, line, sink);
            if rest.is_empty() {
                return;
            }
            line = rest;
        }
        match Sentence::read(line, self.options.checksum) {
            Ok(sentence) => self.hear(&sentence, at, sink),
            Err(refusal) => {
                self.tally.refuse(refusal);
                let from = address_of(line);
                sink(Out::Refused { from, refusal });
            }
        }
    }

    fn hear_tag(&mut self, blocks: &[u8], line: &[u8], sink: &mut dyn FnMut(Out<'_>)) {
        match read_tags(blocks) {
            None => {}
            Some(Ok(mut tag)) => {
                self.groups.complete(&mut tag);
                sink(Out::Tag(&tag));
            }
            Some(Err(fault)) => {
                let refusal = Refusal::Tag(fault);
                self.tally.refuse(refusal);
                let from = address_of(line);
                sink(Out::Refused { from, refusal });
            }
        }
    }

    fn hear(&mut self, sentence: &Sentence<'_>, at: Timestamp, sink: &mut dyn FnMut(Out<'_>)) {
        let Some((place, read)) = table::find(sentence.formatter) else {
            count(&mut self.tally.unknown);
            sink(Out::Unknown {
                talker: sentence.talker,
                formatter: sentence.formatter,
            });
            return;
        };
        count(&mut self.tally.known);
        read(&mut Hearing {
            sentence,
            place,
            part: 0,
            port: self.port,
            at,
            transducers: &self.transducers,
            preferences: &self.preferences,
            fix: &mut self.fix,
            tally: &mut self.tally,
            sink,
        });
    }
}
