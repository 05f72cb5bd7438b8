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
    /// Time constant in seconds over which the wind unit averages before it
    /// speaks; none where it is not known to.
    pub wind_damping_s: Option<f64>,
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
    /// By how much two sources of one quantity may differ.
    pub may_differ: MayDiffer,
}

/// By how much two live sources of one quantity may differ before it is a
/// fault. The defaults are common practice, no source: what two sound sensors
/// at two places aboard do differ by at sea.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MayDiffer {
    /// Wind speed, knots...
    pub wind_kn: f64,
    /// ...or this share of the greater, whichever is more.
    pub wind_share: f64,
    /// Wind angle or direction, degrees, in wind enough to hold a vane.
    pub wind_deg: f64,
    /// Heading, degrees.
    pub heading_deg: f64,
    /// STW, knots...
    pub stw_kn: f64,
    /// ...or this share of the greater, whichever is more.
    pub stw_share: f64,
    /// SOG, knots.
    pub sog_kn: f64,
    /// Heel and pitch, degrees.
    pub heel_deg: f64,
    /// Variation, degrees.
    pub variation_deg: f64,
    /// Rudder, degrees.
    pub rudder_deg: f64,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// For so many seconds, less those in which they agree.
    pub seconds: u8,
}

impl Default for MayDiffer {
    fn default() -> Self {
        MayDiffer {
            wind_kn: 4.0,
            wind_share: 0.25,
            wind_deg: 25.0,
            heading_deg: 15.0,
            stw_kn: 1.0,
            stw_share: 0.2,
            sog_kn: 1.5,
            heel_deg: 6.0,
            variation_deg: 3.0,
            rudder_deg: 10.0,
            pressure_hpa: 4.0,
            seconds: 20,
        }
    }
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
