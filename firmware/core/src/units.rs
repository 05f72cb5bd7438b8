//! Quantities that carry their unit and are checked once, at the edge.

use core::fmt;

/// A value outside what its unit can hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfRange {
    /// What was being measured, such as `wind speed`.
    pub unit: &'static str,
    /// The value refused.
    pub value: f64,
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is not a possible value in {}", self.value, self.unit)
    }
}

impl core::error::Error for OutOfRange {}

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $least:expr, $most:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Checks the value once; NaN, infinity and values out of range
            /// are refused.
            pub fn new(value: f64) -> Result<Self, OutOfRange> {
                if ($least..=$most).contains(&value) {
                    Ok($name(value))
                } else {
                    Err(OutOfRange { unit: $unit, value })
                }
            }

            /// The bare number, in the unit of the type.
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:.1} {}", self.0, $unit)
            }
        }
    };
}

unit!(
    /// A speed in knots, never negative. 1 kn is 1852/3600 m/s exactly.
    Knots, "kn", 0.0, 500.0
);
unit!(
    /// A speed along one axis in knots, either sign.
    SignedKnots, "kn", -500.0, 500.0
);
unit!(
    /// A signed angle in degrees that is no direction: heel, pitch, rudder,
    /// variation.
    Degrees, "deg", -360.0, 360.0
);
unit!(
    /// A rate of turn in degrees a minute, positive to starboard.
    DegreesPerMinute, "deg/min", -7200.0, 7200.0
);
unit!(
    /// Air pressure in hectopascals, within what has been met on Earth.
    Hectopascals, "hPa", 850.0, 1100.0
);
unit!(
    /// A temperature in degrees Celsius.
    Celsius, "C", -90.0, 90.0
);
unit!(
    /// Relative humidity in per cent.
    Percent, "%", 0.0, 100.0
);
unit!(
    /// A length or depth in metres, never negative.
    Metres, "m", 0.0, 12_000.0
);
unit!(
    /// Turns a minute of an engine or shaft; sign is the sense of turning.
    Rpm, "rpm", -20_000.0, 20_000.0
);
unit!(
    /// A distance through the water or over ground in nautical miles.
    NauticalMiles, "nm", 0.0, 1e7
);

/// Metres a second in one knot.
pub const MS_PER_KNOT: f64 = 1852.0 / 3600.0;

/// A place on Earth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    latitude: f64,
    longitude: f64,
}

impl Position {
    /// Degrees, north and east positive; refused outside 90 and 180.
    pub fn new(latitude: f64, longitude: f64) -> Result<Self, OutOfRange> {
        if !(latitude.is_finite() && latitude.abs() <= 90.0) {
            return Err(OutOfRange {
                unit: "deg of latitude",
                value: latitude,
            });
        }
        if !(longitude.is_finite() && longitude.abs() <= 180.0) {
            return Err(OutOfRange {
                unit: "deg of longitude",
                value: longitude,
            });
        }
        Ok(Position {
            latitude,
            longitude,
        })
    }

    /// Degrees of latitude, north positive.
    pub const fn latitude(self) -> f64 {
        self.latitude
    }

    /// Degrees of longitude, east positive.
    pub const fn longitude(self) -> f64 {
        self.longitude
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn absurd_values_never_become_quantities() {
        for absurd in [f64::NAN, f64::INFINITY, -0.1, 501.0] {
            assert!(Knots::new(absurd).is_err(), "{absurd}");
        }
        assert!(Hectopascals::new(300.0).is_err());
        assert!(Position::new(99.0, 0.0).is_err());
        assert!(Position::new(0.0, 181.0).is_err());
    }
}
