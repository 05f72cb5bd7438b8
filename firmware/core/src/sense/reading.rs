//! One measured quantity, with its unit, its source, its time and whether the
//! sensor itself vouches for it.

use crate::angle::{Bearing, BowAngle};
use crate::time::Timestamp;
use crate::units::{
    Celsius, Degrees, DegreesPerMinute, Hectopascals, Knots, Metres, NauticalMiles, Percent,
    Position, Rpm, SignedKnots,
};

/// What a sensor can tell, without the value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Quantity {
    /// Wind as felt aboard, before any correction.
    ApparentWind,
    /// True wind that an instrument worked out; its reference is not known.
    TrueWind,
    /// Wind over the ground, by true north.
    GroundWind,
    /// Heading by true north.
    HeadingTrue,
    /// Heading by magnetic north, deviation already taken out.
    HeadingMagnetic,
    /// Heading as the compass reads it, deviation still in it.
    HeadingCompass,
    /// Magnetic variation.
    Variation,
    /// Speed through the water (STW) along the keel.
    WaterSpeed,
    /// Speed through the water across the keel, starboard positive.
    WaterDrift,
    /// Speed and course over the ground (SOG, COG).
    GroundMotion,
    /// Heel, starboard side down positive.
    Heel,
    /// Pitch, bow up positive.
    Pitch,
    /// Rate of turn.
    TurnRate,
    /// Rudder angle, starboard positive.
    Rudder,
    /// Engine or shaft turns.
    EngineTurns,
    /// Air pressure.
    Pressure,
    /// Air temperature.
    AirTemperature,
    /// Water temperature.
    WaterTemperature,
    /// Relative humidity.
    Humidity,
    /// Depth below the transducer.
    Depth,
    /// Latitude and longitude.
    Position,
    /// Distance through the water since the log was new.
    LogDistance,
}

impl Quantity {
    /// How many there are, for arrays by [`Quantity::index`].
    pub const COUNT: usize = 22;

    /// All of them, in the order of [`Quantity::index`].
    pub const ALL: [Quantity; Quantity::COUNT] = [
        Quantity::ApparentWind,
        Quantity::TrueWind,
        Quantity::GroundWind,
        Quantity::HeadingTrue,
        Quantity::HeadingMagnetic,
        Quantity::HeadingCompass,
        Quantity::Variation,
        Quantity::WaterSpeed,
        Quantity::WaterDrift,
        Quantity::GroundMotion,
        Quantity::Heel,
        Quantity::Pitch,
        Quantity::TurnRate,
        Quantity::Rudder,
        Quantity::EngineTurns,
        Quantity::Pressure,
        Quantity::AirTemperature,
        Quantity::WaterTemperature,
        Quantity::Humidity,
        Quantity::Depth,
        Quantity::Position,
        Quantity::LogDistance,
    ];

    /// Its place in an array of [`Quantity::COUNT`].
    pub const fn index(self) -> usize {
        self as usize
    }

    /// Its name in plain words, as files, pages and reports print it.
    pub const fn name(self) -> &'static str {
        match self {
            Quantity::ApparentWind => "apparent wind",
            Quantity::TrueWind => "true wind",
            Quantity::GroundWind => "ground wind",
            Quantity::HeadingTrue => "true heading",
            Quantity::HeadingMagnetic => "magnetic heading",
            Quantity::HeadingCompass => "compass heading",
            Quantity::Variation => "variation",
            Quantity::WaterSpeed => "water speed",
            Quantity::WaterDrift => "water drift",
            Quantity::GroundMotion => "ground motion",
            Quantity::Heel => "heel",
            Quantity::Pitch => "pitch",
            Quantity::TurnRate => "turn rate",
            Quantity::Rudder => "rudder",
            Quantity::EngineTurns => "engine turns",
            Quantity::Pressure => "pressure",
            Quantity::AirTemperature => "air temperature",
            Quantity::WaterTemperature => "water temperature",
            Quantity::Humidity => "humidity",
            Quantity::Depth => "depth",
            Quantity::Position => "position",
            Quantity::LogDistance => "log distance",
        }
    }
}

/// A value with its quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measure {
    /// See [`Quantity::ApparentWind`].
    ApparentWind {
        /// AWA off the bow.
        angle: BowAngle,
        /// AWS.
        speed: Knots,
    },
    /// See [`Quantity::TrueWind`].
    TrueWind {
        /// TWA off the bow.
        angle: BowAngle,
        /// TWS.
        speed: Knots,
    },
    /// See [`Quantity::GroundWind`].
    GroundWind {
        /// Where it blows from, by true north.
        direction: Bearing,
        /// Its speed over the ground.
        speed: Knots,
    },
    /// See [`Quantity::HeadingTrue`].
    HeadingTrue(Bearing),
    /// See [`Quantity::HeadingMagnetic`].
    HeadingMagnetic(Bearing),
    /// See [`Quantity::HeadingCompass`].
    HeadingCompass(Bearing),
    /// See [`Quantity::Variation`]; east positive.
    Variation(Degrees),
    /// See [`Quantity::WaterSpeed`]; sternway negative.
    WaterSpeed(SignedKnots),
    /// See [`Quantity::WaterDrift`].
    WaterDrift(SignedKnots),
    /// See [`Quantity::GroundMotion`].
    GroundMotion {
        /// SOG.
        speed: Knots,
        /// COG by true north; not known when hardly moving.
        course: Option<Bearing>,
    },
    /// See [`Quantity::Heel`].
    Heel(Degrees),
    /// See [`Quantity::Pitch`].
    Pitch(Degrees),
    /// See [`Quantity::TurnRate`].
    TurnRate(DegreesPerMinute),
    /// See [`Quantity::Rudder`].
    Rudder(Degrees),
    /// See [`Quantity::EngineTurns`].
    EngineTurns(Rpm),
    /// See [`Quantity::Pressure`].
    Pressure(Hectopascals),
    /// See [`Quantity::AirTemperature`].
    AirTemperature(Celsius),
    /// See [`Quantity::WaterTemperature`].
    WaterTemperature(Celsius),
    /// See [`Quantity::Humidity`].
    Humidity(Percent),
    /// See [`Quantity::Depth`].
    Depth(Metres),
    /// See [`Quantity::Position`].
    Position(Position),
    /// See [`Quantity::LogDistance`].
    LogDistance(NauticalMiles),
}

impl Measure {
    /// The quantity this is a value of.
    pub const fn quantity(&self) -> Quantity {
        match self {
            Measure::ApparentWind { .. } => Quantity::ApparentWind,
            Measure::TrueWind { .. } => Quantity::TrueWind,
            Measure::GroundWind { .. } => Quantity::GroundWind,
            Measure::HeadingTrue(_) => Quantity::HeadingTrue,
            Measure::HeadingMagnetic(_) => Quantity::HeadingMagnetic,
            Measure::HeadingCompass(_) => Quantity::HeadingCompass,
            Measure::Variation(_) => Quantity::Variation,
            Measure::WaterSpeed(_) => Quantity::WaterSpeed,
            Measure::WaterDrift(_) => Quantity::WaterDrift,
            Measure::GroundMotion { .. } => Quantity::GroundMotion,
            Measure::Heel(_) => Quantity::Heel,
            Measure::Pitch(_) => Quantity::Pitch,
            Measure::TurnRate(_) => Quantity::TurnRate,
            Measure::Rudder(_) => Quantity::Rudder,
            Measure::EngineTurns(_) => Quantity::EngineTurns,
            Measure::Pressure(_) => Quantity::Pressure,
            Measure::AirTemperature(_) => Quantity::AirTemperature,
            Measure::WaterTemperature(_) => Quantity::WaterTemperature,
            Measure::Humidity(_) => Quantity::Humidity,
            Measure::Depth(_) => Quantity::Depth,
            Measure::Position(_) => Quantity::Position,
            Measure::LogDistance(_) => Quantity::LogDistance,
        }
    }
}

/// What was heard of a quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heard {
    /// A value that the sensor vouches for.
    Value(Measure),
    /// The sensor says that it has no valid value now (status V, mode N).
    Invalid(Quantity),
}

impl Heard {
    /// The quantity that was spoken of.
    pub const fn quantity(&self) -> Quantity {
        match self {
            Heard::Value(measure) => measure.quantity(),
            Heard::Invalid(quantity) => *quantity,
        }
    }
}

/// Who said it: opaque to the core, which only compares. Wire packs port,
/// talker and sentence into it and can name them again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(pub u32);

/// How willingly a source is used: lower goes first, equal is by quality.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rank(pub u8);

impl Rank {
    /// No preference stated: chosen by quality.
    pub const AUTOMATIC: Rank = Rank(128);
}

/// One reading, stamped when its last byte came in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Who said it.
    pub source: SourceId,
    /// How willingly that source is used.
    pub rank: Rank,
    /// When its line's last byte came in.
    pub at: Timestamp,
    /// What it said.
    pub heard: Heard,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quantity_stands_at_its_own_index() {
        for (place, quantity) in Quantity::ALL.iter().enumerate() {
            assert_eq!(quantity.index(), place);
        }
    }
}
