//! Helpers that say things to a picture as instruments aboard would.

use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::fault::Fault;
use cringle_core::picture::Picture;
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::time::Timestamp;
use cringle_core::units::{Degrees, Hectopascals, Knots, SignedKnots};

/// Says a measure, as the one source of its quantity.
pub(crate) fn say(picture: &mut Picture, millis: u64, measure: Measure) {
    let at = Timestamp::from_millis(millis);
    let reading = Reading {
        source: SourceId(measure.quantity().index() as u32),
        rank: Rank::AUTOMATIC,
        at,
        heard: Heard::Value(measure),
    };
    picture.hear(&reading, at);
}

pub(crate) fn apparent(angle: f64, speed: f64) -> Measure {
    Measure::ApparentWind {
        angle: BowAngle::new(angle).unwrap(),
        speed: Knots::new(speed.max(0.0)).unwrap(),
    }
}

pub(crate) fn stw(knots: f64) -> Measure {
    Measure::WaterSpeed(SignedKnots::new(knots).unwrap())
}

pub(crate) fn over_ground(knots: f64, course: f64) -> Measure {
    Measure::GroundMotion {
        speed: Knots::new(knots).unwrap(),
        course: Bearing::new(course),
    }
}

pub(crate) fn compass(degrees: f64) -> Measure {
    Measure::HeadingCompass(Bearing::new(degrees).unwrap())
}

pub(crate) fn heading(degrees: f64) -> Measure {
    Measure::HeadingTrue(Bearing::new(degrees).unwrap())
}

pub(crate) fn heel(degrees: f64) -> Measure {
    Measure::Heel(Degrees::new(degrees).unwrap())
}

pub(crate) fn pitch(degrees: f64) -> Measure {
    Measure::Pitch(Degrees::new(degrees).unwrap())
}

pub(crate) fn pressure(hpa: f64) -> Measure {
    Measure::Pressure(Hectopascals::new(hpa).unwrap())
}

pub(crate) fn secs(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

pub(crate) fn has(picture: &Picture, fault: Fault) -> bool {
    picture.faults().any(|f| f == fault)
}

/// Rounds to a step, as a sentence's field does.
pub(crate) fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}
