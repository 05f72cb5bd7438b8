//! Mean and spread of angles, as vectors.

use crate::angle::{atan2_deg, degrees};

/// Mean and spread of a set of angles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resultant {
    /// Mean, -180 to 180 degrees.
    pub mean_deg: f64,
    /// Length of the mean unit vector: 1 all the same, 0 all about.
    pub length: f64,
}

impl Resultant {
    /// From (sum of sines, sum of cosines, weight); none where there is
    /// nothing, or it points nowhere.
    pub fn of(parts: impl Iterator<Item = (f64, f64, f64)>) -> Option<Resultant> {
        let (sin, cos, weight) = parts.fold((0.0, 0.0, 0.0), |(s, c, w), (sin, cos, weight)| {
            (s + sin, c + cos, w + weight)
        });
        let length = libm::sqrt(sin * sin + cos * cos) / weight;
        (weight > 0.0 && length > 1e-6).then(|| Resultant {
            mean_deg: atan2_deg(sin, cos),
            length: length.min(1.0),
        })
    }

    /// Standard deviation in degrees by Yamartino's formula (1984):
    /// asin(e) (1 + (2/sqrt 3 - 1) e^3), e^2 = 1 - length^2.
    pub fn deviation_deg(self) -> f64 {
        let e = libm::sqrt((1.0 - self.length * self.length).max(0.0));
        degrees(libm::asin(e) * (1.0 + (2.0 / libm::sqrt(3.0) - 1.0) * e * e * e))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::{cos_deg, sin_deg};

    fn of(angles: &[f64]) -> Option<Resultant> {
        Resultant::of(angles.iter().map(|a| (sin_deg(*a), cos_deg(*a), 1.0)))
    }

    #[test]
    fn the_mean_crosses_north_and_astern() {
        assert!(of(&[359.0, 1.0]).unwrap().mean_deg.abs() < 1e-9);
        assert!(of(&[-179.0, 179.0]).unwrap().mean_deg.abs() > 179.999);
        assert_eq!(of(&[0.0, 180.0]), None);
        assert_eq!(of(&[]), None);
    }

    #[test]
    fn yamartino_meets_a_uniform_spread() {
        // Evenly from -30 to 30: sd is 60/sqrt(12) = 17.32.
        let mut angles = [0.0; 601];
        for (n, angle) in angles.iter_mut().enumerate() {
            *angle = n as f64 / 10.0 - 30.0;
        }
        assert!((of(&angles).unwrap().deviation_deg() - 17.32).abs() < 0.4);
    }
}
