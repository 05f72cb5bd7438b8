//! How old each quantity may ever be, and how far two sources of it differ
//! against what is allowed. Ages are common practice, no source: chosen from
//! what each feeds.

use crate::angle::wrap_180;
use crate::instruments::MayDiffer;
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
pub fn difference(a: &Measure, b: &Measure, may: &MayDiffer) -> Option<f64> {
    let by = |a: f64, b: f64, allowed: f64| Some((a - b).abs() / allowed);
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
            may,
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
            may,
        )),
        (Measure::HeadingTrue(a), Measure::HeadingTrue(b))
        | (Measure::HeadingMagnetic(a), Measure::HeadingMagnetic(b))
        | (Measure::HeadingCompass(a), Measure::HeadingCompass(b)) => {
            by(a.from_bearing(*b), 0.0, may.heading_deg)
        }
        (Measure::WaterSpeed(a), Measure::WaterSpeed(b)) => {
            let most = a.get().abs().max(b.get().abs());
            by(a.get(), b.get(), (may.stw_share * most).max(may.stw_kn))
        }
        (Measure::GroundMotion { speed: a, .. }, Measure::GroundMotion { speed: b, .. }) => {
            by(a.get(), b.get(), may.sog_kn)
        }
        (Measure::Heel(a), Measure::Heel(b)) | (Measure::Pitch(a), Measure::Pitch(b)) => {
            by(a.get(), b.get(), may.heel_deg)
        }
        (Measure::Variation(a), Measure::Variation(b)) => by(a.get(), b.get(), may.variation_deg),
        (Measure::Rudder(a), Measure::Rudder(b)) => by(a.get(), b.get(), may.rudder_deg),
        (Measure::Pressure(a), Measure::Pressure(b)) => by(a.get(), b.get(), may.pressure_hpa),
        _ => None,
    }
}

/// Under this no vane is held steady, and its angle says nothing.
const VANE_STEADY_KN: f64 = 6.0;

fn winds((angle_a, speed_a): (f64, f64), (angle_b, speed_b): (f64, f64), may: &MayDiffer) -> f64 {
    let most = speed_a.max(speed_b);
    let in_speed = (speed_a - speed_b).abs() / (may.wind_share * most).max(may.wind_kn);
    let in_angle = if speed_a.min(speed_b) > VANE_STEADY_KN {
        wrap_180(angle_a - angle_b).abs() / may.wind_deg
    } else {
        0.0
    };
    in_speed.max(in_angle)
}
