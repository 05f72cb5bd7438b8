//! What can be wrong with the data, named so that it can be shown.

use core::fmt;

use crate::sense::reading::Quantity;

/// One thing wrong. Shown until it has ended. In the order in which a crew
/// needs to know it: a list that is full drops the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// Was heard and no longer is, or never was and is needed.
    Lost(Quantity),
    /// The sensor says itself that its value is not valid.
    Invalid(Quantity),
    /// The same figures to the last digit while all else moves.
    Frozen(Quantity),
    /// The cups read still, or far too low against heel and sea.
    CupsSlow,
    /// The vane has not moved while the boat has.
    VaneStuck,
    /// Two sources of it differ by more than they may.
    Disagree(Quantity),
    /// The wind angle comes without its side: 0 to 180 only.
    AngleUnsigned,
    /// Heading and course over ground lie too far apart for too long.
    HeadingAgainstCourse,
    /// STW is lost: SOG stands in.
    NoWaterSpeed,
    /// Only a true wind that an instrument worked out is heard.
    TrueWindOnly,
    /// Spikes are being gated out of it.
    Spikes(Quantity),
    /// No heading: no TWD.
    NoHeading,
    /// Magnetic heading without a variation: TWD is magnetic.
    NoVariation,
    /// The wind reads low for the heel it makes.
    WindLowForHeel,
    /// An instrument's own true wind differs from the one worked out here.
    TrueWindDiffers,
    /// Heel comes too slowly to show a roll: the mast's own motion stays in
    /// the wind.
    SlowHeel,
}

/// What happened to a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultTurn {
    /// It began.
    Began,
    /// It ended.
    Ended,
}

impl FaultTurn {
    /// As the event line has it.
    pub const fn word(self) -> &'static str {
        match self {
            FaultTurn::Began => "began",
            FaultTurn::Ended => "ended",
        }
    }
}

impl Fault {
    /// Its kind as event lines and pages have it.
    pub const fn word(self) -> &'static str {
        match self {
            Fault::Lost(_) => "lost",
            Fault::Invalid(_) => "invalid",
            Fault::Frozen(_) => "frozen",
            Fault::CupsSlow => "cups_slow",
            Fault::VaneStuck => "vane_stuck",
            Fault::Disagree(_) => "disagree",
            Fault::AngleUnsigned => "angle_unsigned",
            Fault::HeadingAgainstCourse => "heading_against_course",
            Fault::NoWaterSpeed => "no_water_speed",
            Fault::TrueWindOnly => "true_wind_only",
            Fault::Spikes(_) => "spikes",
            Fault::NoHeading => "no_heading",
            Fault::NoVariation => "no_variation",
            Fault::WindLowForHeel => "wind_low_for_heel",
            Fault::TrueWindDiffers => "true_wind_differs",
            Fault::SlowHeel => "slow_heel",
        }
    }

    /// The quantity that it names, where its kind goes with any.
    pub const fn quantity(self) -> Option<Quantity> {
        match self {
            Fault::Lost(quantity)
            | Fault::Invalid(quantity)
            | Fault::Frozen(quantity)
            | Fault::Disagree(quantity)
            | Fault::Spikes(quantity) => Some(quantity),
            _ => None,
        }
    }

    /// Whether it is a word against wind speed, angle or direction.
    pub fn is_of_the_wind(self) -> bool {
        match self {
            Fault::CupsSlow
            | Fault::VaneStuck
            | Fault::AngleUnsigned
            | Fault::HeadingAgainstCourse
            | Fault::TrueWindOnly
            | Fault::WindLowForHeel
            | Fault::TrueWindDiffers => true,
            _ => self.quantity() == Some(Quantity::ApparentWind),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Lost(quantity) => write!(f, "{} lost", quantity.name()),
            Fault::Invalid(quantity) => write!(f, "{} not valid", quantity.name()),
            Fault::Frozen(quantity) => write!(f, "{} frozen: repeats itself", quantity.name()),
            Fault::Disagree(quantity) => write!(f, "{} sources disagree", quantity.name()),
            Fault::Spikes(quantity) => write!(f, "{} has spikes", quantity.name()),
            Fault::CupsSlow => f.write_str("cups slow or frozen"),
            Fault::VaneStuck => f.write_str("vane stuck"),
            Fault::AngleUnsigned => {
                f.write_str("wind angle without its side, so no true wind direction")
            }
            Fault::HeadingAgainstCourse => f.write_str("heading and course over ground disagree"),
            Fault::NoWaterSpeed => f.write_str("no STW, SOG stands in"),
            Fault::TrueWindOnly => f.write_str("only true wind is heard"),
            Fault::NoHeading => f.write_str("no heading, so no true wind direction"),
            Fault::NoVariation => f.write_str("no variation, so TWD is magnetic"),
            Fault::WindLowForHeel => f.write_str("wind reads low for this heel"),
            Fault::TrueWindDiffers => f.write_str("an instrument's own true wind differs"),
            Fault::SlowHeel => f.write_str("heel too slow to correct for the mast's motion"),
        }
    }
}
