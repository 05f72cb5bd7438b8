//! A wind or a velocity in a plane, in knots.
//!
//! Boat axes: x forward, y to starboard. Compass axes: x north, y east. A
//! wind's vector points to where it blows *from*, so that the apparent wind
//! is the true wind plus the boat's own velocity.

use crate::angle::{atan2_deg, radians};

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vector {
    /// Forward, or north.
    pub x: f64,
    /// To starboard, or east.
    pub y: f64,
}

impl Vector {
    /// From speed and angle, clockwise from the x axis.
    pub fn polar(speed: f64, angle_deg: f64) -> Vector {
        let (sin, cos) = libm::sincos(radians(angle_deg));
        Vector {
            x: speed * cos,
            y: speed * sin,
        }
    }

    /// Its length.
    pub fn speed(self) -> f64 {
        libm::sqrt(self.x * self.x + self.y * self.y)
    }

    /// Its direction, -180 to 180 clockwise from the x axis; 0 for none.
    pub fn angle_deg(self) -> f64 {
        atan2_deg(self.y, self.x)
    }

    /// Turned clockwise.
    pub fn turned(self, angle_deg: f64) -> Vector {
        let (sin, cos) = libm::sincos(radians(angle_deg));
        Vector {
            x: self.x * cos - self.y * sin,
            y: self.x * sin + self.y * cos,
        }
    }

    /// Times a number.
    pub fn times(self, factor: f64) -> Vector {
        Vector {
            x: self.x * factor,
            y: self.y * factor,
        }
    }
}

impl core::ops::Add for Vector {
    type Output = Vector;

    fn add(self, other: Vector) -> Vector {
        Vector {
            x: self.x + other.x,
            y: self.y + other.y,
        }
    }
}

impl core::ops::Sub for Vector {
    type Output = Vector;

    fn sub(self, other: Vector) -> Vector {
        Vector {
            x: self.x - other.x,
            y: self.y - other.y,
        }
    }
}
