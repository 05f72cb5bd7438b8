//! The boat file's preferences: which sources go first for which quantity.

use cringle_core::reading::{Quantity, Rank};

use crate::sentence::{Formatter, Talker};

/// Most preferences a boat file may state.
pub const PREFERENCES_MOST: usize = 32;

/// One preference: what it says nothing about, it fits whatever stands there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Preference {
    /// Only for this quantity.
    pub quantity: Option<Quantity>,
    /// Only from this port, by its place in the boat file.
    pub port: Option<u8>,
    /// Only from this talker.
    pub talker: Option<Talker>,
    /// Only in this sentence.
    pub formatter: Option<Formatter>,
    /// The rank it gives; the lower goes first.
    pub rank: Rank,
}

impl Preference {
    fn fits(&self, quantity: Quantity, port: u8, talker: Talker, formatter: Formatter) -> bool {
        self.quantity.is_none_or(|only| only == quantity)
            && self.port.is_none_or(|only| only == port)
            && self.talker.is_none_or(|only| only == talker)
            && self.formatter.is_none_or(|only| only == formatter)
    }
}

/// The boat's preferences in the order of the boat file: the first that fits
/// counts.
#[derive(Clone, Debug, Default)]
pub struct Preferences(heapless::Vec<Preference, PREFERENCES_MOST>);

/// No room for another entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Full;

impl core::fmt::Display for Full {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("no room for another entry")
    }
}

impl core::error::Error for Full {}

impl Preferences {
    /// None stated.
    pub const fn new() -> Self {
        Preferences(heapless::Vec::new())
    }

    /// Adds one behind those there are.
    pub fn add(&mut self, preference: Preference) -> Result<(), Full> {
        self.0.push(preference).map_err(|_| Full)
    }

    /// The rank of a quantity from this source.
    pub fn rank(&self, quantity: Quantity, port: u8, talker: Talker, formatter: Formatter) -> Rank {
        self.0
            .iter()
            .find(|preference| preference.fits(quantity, port, talker, formatter))
            .map_or(Rank::AUTOMATIC, |preference| preference.rank)
    }
}
