//! How old each quantity may ever be, and how far two sources of it may
//! differ. Common practice, no source: chosen from what each feeds.

use crate::angle::wrap_180;
use crate::reading::{Measure, Quantity};

/// The oldest a value may be in milliseconds, whatever the sensor's period.
pub const fn age_bound(quantity: Quantity) -> u32 {
    match quantity {
        // What the triangle and the heel judgement need now.
        Quantity::ApparentWind
        | Quantity::TrueWind
        | Quantity::GroundWind
        | Quantity::HeadingTrue
        | Quantity::HeadingMagnetic
        | Quantity::HeadingCompass
        | Quantity::WaterSpeed
        | Quantity::WaterDrift
        | Quantity::GroundMotion
        | Quantity::Heel
        | Quantity::Pitch
        | Quantity::TurnRate
        | Quantity::Rudder => 30_000,
        Quantity::EngineTurns | Quantity::Depth | Quantity::Position => 60_000,
        // A barometer may speak every few minutes.
        Quantity::Pressure
        | Quantity::AirTemperature
        | Quantity::WaterTemperature
        | Quantity::Humidity
        | Quantity::LogDistance => 600_000,
        // Changes by a degree in a day's sail.
        Quantity::Variation => 600_000,
    }
}

/// The difference of two values of one quantity as a share of what is
/// allowed: over 1 they disagree. None where it is not compared.
pub fn difference(a: &Measure, b: &Measure) -> Option<f64> {
    match (a, b) {
        (
            Measure::ApparentWind {
                angle: angle_a,
                speed: speed_a,
            },
            Measure::ApparentWind {
                angle: angle_b,
                speed: speed_b,
            },
        )
        | (
            Measure::TrueWind {
                angle: angle_a,
                speed: speed_a,
            },
            Measure::TrueWind {
                angle: angle_b,
                speed: speed_b,
            },
        ) => Some(winds(
            (angle_a.degrees(), speed_a.get()),
            (angle_b.degrees(), speed_b.get()),
        )),
        (
            Measure::GroundWind {
                direction: angle_a,
                speed: speed_a,
            },
            Measure::GroundWind {
                direction: angle_b,
                speed: speed_b,
            },
        ) => Some(winds(
            (angle_a.degrees(), speed_a.get()),
            (angle_b.degrees(), speed_b.get()),
        )),
        (Measure::HeadingTrue(a), Measure::HeadingTrue(b))
        | (Measure::HeadingMagnetic(a), Measure::HeadingMagnetic(b))
        | (Measure::HeadingCompass(a), Measure::HeadingCompass(b)) => {
            Some(a.from_bearing(*b).abs() / 15.0)
        }
        (Measure::WaterSpeed(a), Measure::WaterSpeed(b)) => {
            Some((a.get() - b.get()).abs() / (0.2 * a.get().abs().max(b.get().abs())).max(1.0))
        }
        (Measure::GroundMotion { speed: a, .. }, Measure::GroundMotion { speed: b, .. }) => {
            Some((a.get() - b.get()).abs() / 1.5)
        }
        (Measure::Heel(a), Measure::Heel(b)) => Some((a.get() - b.get()).abs() / 6.0),
        (Measure::Pitch(a), Measure::Pitch(b)) => Some((a.get() - b.get()).abs() / 6.0),
        (Measure::Variation(a), Measure::Variation(b)) => Some((a.get() - b.get()).abs() / 3.0),
        (Measure::Rudder(a), Measure::Rudder(b)) => Some((a.get() - b.get()).abs() / 10.0),
        (Measure::Pressure(a), Measure::Pressure(b)) => Some((a.get() - b.get()).abs() / 4.0),
        _ => None,
    }
}

/// 4 kn or a quarter in speed, 25 degrees in angle where there is wind
/// enough to hold a vane steady.
fn winds((angle_a, speed_a): (f64, f64), (angle_b, speed_b): (f64, f64)) -> f64 {
    let most = speed_a.max(speed_b);
    let in_speed = (speed_a - speed_b).abs() / (0.25 * most).max(4.0);
    let in_angle = if speed_a.min(speed_b) > 6.0 {
        wrap_180(angle_a - angle_b).abs() / 25.0
    } else {
        0.0
    };
    in_speed.max(in_angle)
}
