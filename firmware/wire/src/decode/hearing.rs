//! What every decoder needs at hand: the sentence, who said it when, and where
//! to tell what it says.

use cringle_core::reading::{Heard, Measure, Quantity, Reading};
use cringle_core::time::Timestamp;

use super::Out;
use crate::fields::{Fields, Number};
use crate::prefer::Preferences;
use crate::refusal::Refusal;
use crate::sentence::Sentence;
use crate::source;
use crate::tally::{Tally, count};
use crate::transducer::Transducers;

pub(crate) struct Hearing<'a, 's> {
    pub(crate) sentence: &'a Sentence<'s>,
    pub(crate) place: u8,
    pub(crate) part: u8,
    pub(crate) port: u8,
    pub(crate) at: Timestamp,
    pub(crate) transducers: &'a Transducers,
    pub(crate) preferences: &'a Preferences,
    /// Whether this port's receiver last said that it has a fix.
    pub(crate) fix: &'a mut Option<Status>,
    pub(crate) tally: &'a mut Tally,
    pub(crate) sink: &'a mut dyn FnMut(Out<'_>),
}

/// A status letter, where a sentence has one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Status {
    Valid,
    Invalid,
}

impl<'s> Hearing<'_, 's> {
    pub(crate) fn fields(&self) -> &Fields<'s> {
        &self.sentence.fields
    }

    pub(crate) fn out(&mut self, out: Out<'_>) {
        (self.sink)(out);
    }

    /// Tells a value, or that it is absurd where there is none.
    pub(crate) fn tell(&mut self, quantity: Quantity, measure: Option<Measure>) {
        match measure {
            Some(measure) => {
                count(&mut self.tally.values);
                self.reading(Heard::Value(measure));
            }
            None => self.refuse(Refusal::OutOfRange(quantity)),
        }
    }

    /// Tells that the sensor has no value now.
    pub(crate) fn invalid(&mut self, quantity: Quantity) {
        count(&mut self.tally.invalid);
        self.reading(Heard::Invalid(quantity));
    }

    pub(crate) fn refuse(&mut self, refusal: Refusal) {
        self.tally.refuse(refusal);
        let from = Some((self.sentence.talker, self.sentence.formatter));
        self.out(Out::Refused { from, refusal });
    }

    /// The number in the field that the sentence is there for: null says that
    /// there is no value.
    pub(crate) fn main_number(&mut self, quantity: Quantity, index: usize) -> Option<f64> {
        match self.fields().number(index) {
            Number::Value(value) => Some(value),
            Number::Null => {
                self.invalid(quantity);
                None
            }
            Number::Broken => {
                self.refuse(Refusal::NotANumber(quantity));
                None
            }
        }
    }

    /// The number in a field that many instruments never fill: null says
    /// nothing.
    pub(crate) fn extra_number(&mut self, quantity: Quantity, index: usize) -> Option<f64> {
        match self.fields().number(index) {
            Number::Value(value) => Some(value),
            Number::Null => None,
            Number::Broken => {
                self.refuse(Refusal::NotANumber(quantity));
                None
            }
        }
    }

    /// The status letter in a field: A is valid; V and null are not.
    pub(crate) fn status(&mut self, index: usize) -> Option<Status> {
        match self.fields().get(index) {
            Some(b"A" | b"a") => Some(Status::Valid),
            Some(b"V" | b"v" | b"") => Some(Status::Invalid),
            _ => {
                self.refuse(Refusal::Layout);
                None
            }
        }
    }

    fn reading(&mut self, heard: Heard) {
        let Sentence {
            talker, formatter, ..
        } = *self.sentence;
        let quantity = heard.quantity();
        let reading = Reading {
            source: source::pack(self.port, talker, self.place, self.part),
            rank: self
                .preferences
                .rank(quantity, self.port, talker, formatter),
            at: self.at,
            heard,
        };
        self.out(Out::Reading(reading));
    }
}

/// What a mode letter (NMEA 0183 from 2.3 on) says of a fix: autonomous,
/// differential, float, precise and fixed are measured; estimated, manual,
/// simulated and none are not.
pub(crate) fn mode_status(mode: &[u8]) -> Status {
    match mode {
        // Before 2.3 there was no mode.
        b"" | b"A" | b"D" | b"F" | b"P" | b"R" | b"a" | b"d" => Status::Valid,
        _ => Status::Invalid,
    }
}
