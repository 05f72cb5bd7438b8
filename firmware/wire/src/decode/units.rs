//! Units of the wire, and what is absurd in each quantity.

use cringle_core::units::MS_PER_KNOT;

/// Kilometres an hour in one knot, exactly.
const KMH_PER_KNOT: f64 = 1.852;

/// Statute miles an hour in one knot: 1852 m over 1609.344 m.
const MPH_PER_KNOT: f64 = 1852.0 / 1609.344;

/// Hectopascals in an inch of mercury at 0 C (conventional value).
pub(crate) const HPA_PER_INHG: f64 = 33.863_886;

/// Hectopascals in a millimetre of mercury at 0 C (conventional value).
pub(crate) const HPA_PER_MMHG: f64 = 1.333_223_9;

/// Most that a yacht's anemometer can mean, in knots. Common practice, no
/// source: their ranges end at 120 to 160.
pub(crate) const WIND_MOST: f64 = 200.0;

/// Most that a log or a satellite receiver aboard can mean, in knots. Common
/// practice, no source: the fastest sailing craft have passed 65.
pub(crate) const SPEED_MOST: f64 = 99.0;

/// Most heel either way, in degrees: upside down.
pub(crate) const HEEL_MOST: f64 = 180.0;

/// Most pitch or rudder either way, in degrees.
pub(crate) const QUARTER_TURN: f64 = 90.0;

/// Most variation or deviation either way, in degrees.
pub(crate) const HALF_TURN: f64 = 180.0;

/// A unit of speed by its letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SpeedUnit {
    Knots,
    MetresASecond,
    KilometresAnHour,
    StatuteMilesAnHour,
}

impl SpeedUnit {
    /// The unit letters of MWV.
    pub(crate) fn read(letter: u8) -> Option<SpeedUnit> {
        match letter {
            b'N' => Some(SpeedUnit::Knots),
            b'M' => Some(SpeedUnit::MetresASecond),
            b'K' => Some(SpeedUnit::KilometresAnHour),
            b'S' => Some(SpeedUnit::StatuteMilesAnHour),
            _ => None,
        }
    }

    pub(crate) fn knots(self, value: f64) -> f64 {
        match self {
            SpeedUnit::Knots => value,
            SpeedUnit::MetresASecond => value / MS_PER_KNOT,
            SpeedUnit::KilometresAnHour => value / KMH_PER_KNOT,
            SpeedUnit::StatuteMilesAnHour => value / MPH_PER_KNOT,
        }
    }
}

/// The value if it is no further than `most` from 0.
pub(crate) fn within(value: f64, most: f64) -> Option<f64> {
    (value.abs() <= most).then_some(value)
}

/// The value if it is a direction, 0 to 360 with both ends.
pub(crate) fn full_circle(value: f64) -> Option<f64> {
    (0.0..=360.0).contains(&value).then_some(value)
}
