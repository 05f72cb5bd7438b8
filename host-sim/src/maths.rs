//! Plain arithmetic of the simulator: SI units inside, the unit in the name.
//!
//! Every function that is not exact in IEEE 754 comes from `libm`, so that the
//! same seed gives the same bytes on every machine. The wind arithmetic here
//! is written apart from the one under test, and the other way round (air
//! moves *towards*, vectors point where things go), so that a check against it
//! is no circle.

/// Pi, from the standard library's constants.
pub const PI: f64 = core::f64::consts::PI;
/// A full turn in radians.
pub const TURN: f64 = 2.0 * PI;
/// Metres a second in one knot: 1852 m in 3600 s, exact by definition.
pub const MS_PER_KN: f64 = 1852.0 / 3600.0;
/// Standard gravity in m/s2.
pub const GRAVITY: f64 = 9.806_65;
/// Air density in kg/m3 at 15 C and 1013 hPa.
pub const AIR_DENSITY: f64 = 1.225;
/// Metres in a minute of latitude, taken as the nautical mile.
pub const M_PER_MINUTE: f64 = 1852.0;

/// Knots to metres a second.
pub fn ms(knots: f64) -> f64 {
    knots * MS_PER_KN
}

/// Metres a second to knots.
pub fn kn(ms: f64) -> f64 {
    ms / MS_PER_KN
}

/// Degrees to radians.
pub fn rad(degrees: f64) -> f64 {
    degrees * (PI / 180.0)
}

/// Radians to degrees.
pub fn deg(radians: f64) -> f64 {
    radians * (180.0 / PI)
}

/// An angle in -pi ..= pi.
pub fn wrap(angle_rad: f64) -> f64 {
    let turns = libm::floor(angle_rad / TURN + 0.5);
    angle_rad - turns * TURN
}

/// An angle in 0 .. 360 degrees.
pub fn compass_deg(angle_rad: f64) -> f64 {
    let degrees = deg(wrap(angle_rad));
    if degrees < 0.0 {
        degrees + 360.0
    } else {
        degrees
    }
}

/// Smooth step from 0 to 1 as `x` goes from 0 to 1, flat at both ends.
pub fn ease(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// The part of the way to its goal a first-order lag goes in `dt_s`.
pub fn lag(dt_s: f64, time_constant_s: f64) -> f64 {
    if time_constant_s <= 0.0 {
        return 1.0;
    }
    1.0 - libm::exp(-dt_s / time_constant_s)
}

/// A movement over ground or water: where it goes, north and east.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flow {
    /// Part towards north, m/s.
    pub north_ms: f64,
    /// Part towards east, m/s.
    pub east_ms: f64,
}

impl Flow {
    /// A movement of `speed_ms` towards `towards_rad`.
    pub fn towards(speed_ms: f64, towards_rad: f64) -> Self {
        Self {
            north_ms: speed_ms * libm::cos(towards_rad),
            east_ms: speed_ms * libm::sin(towards_rad),
        }
    }

    /// A wind of `speed_ms` out of `from_rad`.
    pub fn from_direction(speed_ms: f64, from_rad: f64) -> Self {
        Self::towards(-speed_ms, from_rad)
    }

    /// This movement as seen from something that moves with `other`.
    pub fn seen_from(self, other: Self) -> Self {
        Self {
            north_ms: self.north_ms - other.north_ms,
            east_ms: self.east_ms - other.east_ms,
        }
    }

    /// Both movements together.
    pub fn and(self, other: Self) -> Self {
        Self {
            north_ms: self.north_ms + other.north_ms,
            east_ms: self.east_ms + other.east_ms,
        }
    }

    /// The same movement at `factor` times the speed.
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            north_ms: self.north_ms * factor,
            east_ms: self.east_ms * factor,
        }
    }

    /// Speed in m/s.
    pub fn speed_ms(self) -> f64 {
        libm::hypot(self.north_ms, self.east_ms)
    }

    /// Direction it goes, radians from north.
    pub fn towards_rad(self) -> f64 {
        libm::atan2(self.east_ms, self.north_ms)
    }

    /// Direction it comes from, radians from north.
    pub fn from_rad(self) -> f64 {
        libm::atan2(-self.east_ms, -self.north_ms)
    }

    /// The same movement in a boat's axes: (towards the bow, towards starboard).
    pub fn in_boat(self, heading_rad: f64) -> (f64, f64) {
        let (sin, cos) = (libm::sin(heading_rad), libm::cos(heading_rad));
        (
            self.north_ms * cos + self.east_ms * sin,
            self.east_ms * cos - self.north_ms * sin,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wind_comes_from_where_it_was_said_to() {
        let wind = Flow::from_direction(10.0, rad(230.0));
        assert!((compass_deg(wind.from_rad()) - 230.0).abs() < 1e-9);
        assert!((compass_deg(wind.towards_rad()) - 50.0).abs() < 1e-9);
        assert!((wind.speed_ms() - 10.0).abs() < 1e-12);
    }

    #[test]
    fn angles_wrap_into_half_a_turn_either_way() {
        for (degrees, wrapped) in [(0.0, 0.0), (190.0, -170.0), (-190.0, 170.0), (725.0, 5.0)] {
            assert!(
                (deg(wrap(rad(degrees))) - wrapped).abs() < 1e-9,
                "{degrees}"
            );
        }
    }
}
