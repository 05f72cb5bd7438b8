//! From how far a panel can be read.

/// The smallest character that is read with ease, in minutes of arc at the
/// eye: 20 (common practice in display ergonomics; 16 is called the least).
/// At 3 m that is 17.5 mm.
pub const SMALLEST_ARC_MINUTES: f64 = 20.0;

/// The visible part of a panel and who looks at it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Legibility {
    /// Width of the visible part.
    pub width_mm: f64,
    /// Height of the visible part.
    pub height_mm: f64,
    /// How far away it is to be read.
    pub read_from_m: f64,
}

impl Legibility {
    /// From how far a character of this share of the panel's height is read.
    pub fn reads_to_m(&self, share_of_height: f64) -> f64 {
        self.height_mm * share_of_height / 1000.0 / smallest_angle().tan()
    }

    /// How high a character must be to be read from where it is to be.
    pub fn needed_mm(&self) -> f64 {
        self.read_from_m * smallest_angle().tan() * 1000.0
    }
}

fn smallest_angle() -> f64 {
    (SMALLEST_ARC_MINUTES / 60.0).to_radians()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_minutes_of_arc_are_17_5_mm_at_3_m() {
        let legibility = Legibility {
            width_mm: 55.0,
            height_mm: 27.5,
            read_from_m: 3.0,
        };
        assert!((legibility.needed_mm() - 17.45).abs() < 0.01);
        assert!((legibility.reads_to_m(1.0) - 27.5 / 17.453 * 3.0).abs() < 0.01);
    }
}
