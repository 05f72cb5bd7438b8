//! Angles: wrapped once, here, and averaged as vectors so 359 and 1 make 0.

use core::f64::consts::PI;
use core::fmt;

/// An angle off the bow, -180 < a <= 180, positive to starboard.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct BowAngle(f64);

impl BowAngle {
    /// Wraps any finite angle in degrees; `None` for NaN or infinity.
    pub fn new(degrees: f64) -> Option<Self> {
        degrees.is_finite().then(|| BowAngle(wrap_180(degrees)))
    }

    /// Degrees, -180 < a <= 180, positive to starboard.
    pub const fn degrees(self) -> f64 {
        self.0
    }

    /// Degrees off the bow whichever the side, 0 to 180.
    pub fn off_bow(self) -> f64 {
        self.0.abs()
    }
}

/// A direction by the compass rose, 0 <= d < 360, clockwise from north.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Bearing(f64);

impl Bearing {
    /// Wraps any finite angle in degrees; `None` for NaN or infinity.
    pub fn new(degrees: f64) -> Option<Self> {
        degrees.is_finite().then(|| Bearing(wrap_360(degrees)))
    }

    /// Degrees, 0 <= d < 360.
    pub const fn degrees(self) -> f64 {
        self.0
    }

    /// This bearing turned clockwise by `degrees`; itself if not finite.
    pub fn turned(self, degrees: f64) -> Bearing {
        Bearing::new(self.0 + degrees).unwrap_or(self)
    }

    /// The signed turn from `other` to this, -180 < d <= 180, clockwise +.
    pub fn from_bearing(self, other: Bearing) -> f64 {
        wrap_180(self.0 - other.0)
    }
}

impl fmt::Display for BowAngle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = if self.0 < 0.0 { "port" } else { "starboard" };
        write!(f, "{:.0} deg {side}", self.0.abs())
    }
}

impl fmt::Display for Bearing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:03.0}", wrap_360(libm::round(self.0)))
    }
}

/// Brings degrees to -180 < d <= 180.
pub fn wrap_180(degrees: f64) -> f64 {
    let turned = wrap_360(degrees);
    if turned > 180.0 {
        turned - 360.0
    } else {
        turned
    }
}

/// Brings degrees to 0 <= d < 360.
pub fn wrap_360(degrees: f64) -> f64 {
    // Most are within already, and a remainder is dear.
    if (0.0..360.0).contains(&degrees) {
        return degrees;
    }
    let rest = libm::fmod(degrees, 360.0);
    let positive = if rest < 0.0 { rest + 360.0 } else { rest };
    // A tiny negative rest plus 360 rounds to 360 itself.
    if positive >= 360.0 { 0.0 } else { positive }
}

/// Degrees to radians.
pub fn radians(degrees: f64) -> f64 {
    degrees * (PI / 180.0)
}

/// Radians to degrees.
pub fn degrees(radians: f64) -> f64 {
    radians * (180.0 / PI)
}

/// Sine of an angle in degrees.
pub fn sin_deg(angle: f64) -> f64 {
    libm::sin(radians(angle))
}

/// Cosine of an angle in degrees.
pub fn cos_deg(angle: f64) -> f64 {
    libm::cos(radians(angle))
}

/// The direction of a vector in degrees, -180 to 180; 0 for no vector.
pub fn atan2_deg(y: f64, x: f64) -> f64 {
    degrees(libm::atan2(y, x))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_meets_its_edges() {
        for (raw, bow, rose) in [
            (0.0, 0.0, 0.0),
            (180.0, 180.0, 180.0),
            (-180.0, 180.0, 180.0),
            (181.0, -179.0, 181.0),
            (360.0, 0.0, 0.0),
            (-1.0, -1.0, 359.0),
            (725.0, 5.0, 5.0),
            (-1e-14, 0.0, 0.0),
        ] {
            assert!((wrap_180(raw) - bow).abs() < 1e-9, "{raw}");
            assert!((wrap_360(raw) - rose).abs() < 1e-9, "{raw}");
        }
    }

    #[test]
    fn nothing_that_is_no_number_becomes_an_angle() {
        assert_eq!(BowAngle::new(f64::NAN), None);
        assert_eq!(Bearing::new(f64::INFINITY), None);
    }
}
