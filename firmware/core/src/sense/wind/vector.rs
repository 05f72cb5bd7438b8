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
        self.turned_by(Turn::by(angle_deg))
    }

    /// Turned clockwise, where the same turn is made more than once.
    pub fn turned_by(self, turn: Turn) -> Vector {
        Vector {
            x: self.x * turn.cos - self.y * turn.sin,
            y: self.x * turn.sin + self.y * turn.cos,
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

/// A turn clockwise.
#[derive(Clone, Copy, Debug)]
pub struct Turn {
    sin: f64,
    cos: f64,
}

impl Turn {
    /// By so many degrees.
    pub fn by(angle_deg: f64) -> Turn {
        let (sin, cos) = libm::sincos(radians(angle_deg));
        Turn { sin, cos }
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
