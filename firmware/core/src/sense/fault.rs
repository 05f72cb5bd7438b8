//! What can be wrong with the data, named so that it can be shown.

use core::fmt;

use crate::reading::Quantity;

/// One thing wrong. Shown until it has ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Was heard and no longer is, or never was and is needed.
    Lost(Quantity),
    /// The sensor says itself that its value is not valid.
    Invalid(Quantity),
    /// Two sources of it differ by more than they may.
    Disagree(Quantity),
    /// The vane has not moved while the boat has.
    VaneStuck,
    /// The cups read still, or too low against heel and sea.
    CupsSlow,
    /// Spikes are being gated out of it.
    Spikes(Quantity),
    /// STW is lost: SOG stands in.
    NoWaterSpeed,
    /// No heading: no TWD.
    NoHeading,
    /// Only a true wind that an instrument worked out is heard.
    TrueWindOnly,
    /// Magnetic heading without a variation: TWD is magnetic.
    NoVariation,
    /// Heel comes too slowly to show a roll: the mast's own motion stays in
    /// the wind.
    SlowHeel,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Lost(quantity) => write!(f, "{} lost", quantity.name()),
            Fault::Invalid(quantity) => write!(f, "{} not valid", quantity.name()),
            Fault::Disagree(quantity) => write!(f, "{} sources disagree", quantity.name()),
            Fault::VaneStuck => f.write_str("vane stuck"),
            Fault::CupsSlow => f.write_str("cups slow or frozen"),
            Fault::Spikes(quantity) => write!(f, "{} has spikes", quantity.name()),
            Fault::NoWaterSpeed => f.write_str("no STW, SOG stands in"),
            Fault::SlowHeel => f.write_str("heel comes too slowly to undo the mast's motion"),
            Fault::NoHeading => f.write_str("no heading, no TWD"),
            Fault::TrueWindOnly => f.write_str("only true wind is heard"),
            Fault::NoVariation => f.write_str("no variation, TWD is magnetic"),
        }
    }
}
