//! What the fitter knows about the sensors: how each reads wrong and where it
//! sits. All of it comes from the boat file.

use heapless::Vec;

use crate::units::{Degrees, Knots, Metres};

/// Corrections of the boat's instruments. The default corrects nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Instruments {
    /// Added to the AWA as measured, starboard positive.
    pub vane_offset: Degrees,
    /// The AWS as measured is multiplied by this.
    pub anemometer_factor: Factor,
    /// Finer than the factor: measured AWS and true AWS, rising.
    pub anemometer_table: Vec<(Knots, Knots), 8>,
    /// Upwash by AWA off the bow (either side): degrees by which the vane
    /// reads too far from the bow; taken out.
    pub upwash_table: Vec<(Degrees, Degrees), 8>,
    /// Whether to undo the lean of the masthead plane.
    pub heel_correction: Switch,
    /// Whether to undo the masthead's own motion, and its height.
    pub mast_motion: Option<Metres>,
    /// Leeway in degrees is this times heel over STW squared; none = no
    /// leeway correction. About 9 to 16, far wider in fact: measure it.
    pub leeway_k: Option<f64>,
    /// The STW as measured is multiplied by this.
    pub log_factor: Factor,
    /// Deviation (east positive) by compass heading, rising, at least two
    /// entries; joined round the compass.
    pub deviation_table: Vec<(Degrees, Degrees), 16>,
    /// Used when no variation is heard; east positive.
    pub variation: Option<Degrees>,
    /// Height of the wind unit over the water, for the wind at 10 m.
    pub masthead_height: Option<Metres>,
    /// How wind grows with height.
    pub gradient: Gradient,
    /// Added to heel as measured, starboard down positive.
    pub heel_offset: Degrees,
    /// Added to pitch as measured, bow up positive.
    pub pitch_offset: Degrees,
    /// Whether the fitter has vouched for the wind unit.
    pub wind_confirmed: Confirmation,
}

/// A multiplier near 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor(pub f64);

impl Default for Factor {
    fn default() -> Self {
        Factor(1.0)
    }
}

/// Whether a correction is made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Switch {
    /// Not made.
    #[default]
    Off,
    /// Made.
    On,
}

/// The law by which wind at 10 m is told from wind at the masthead.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Gradient {
    /// ln(z/z0), roughness in metres. Open sea: 0.0002 m.
    #[default]
    LogOpenSea,
    /// ln(z/z0) with this roughness in metres.
    Log(f64),
    /// (z/10)^exponent. Open sea: 0.11.
    Power(f64),
}

/// Whether a person has vouched for a setting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Confirmation {
    /// Nobody has: spreads widen and calls come earlier.
    #[default]
    Unconfirmed,
    /// Somebody has.
    Confirmed,
}
