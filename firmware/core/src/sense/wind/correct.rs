//! Undoes what the masthead unit gets wrong, each correction by itself.
//!
//! In the mast's own plane: cups' scale, vane offset, upwash. Then the mast's
//! motion, which the unit feels in that same plane, and last the lean of the
//! plane. Nothing set in the boat file means nothing corrected.

use crate::angle::{BowAngle, degrees, radians};
use crate::instruments::{Instruments, Switch};
use crate::units::{Degrees, Knots, MS_PER_KNOT};

use super::Vector;

/// No lean is undone past this: the unit is then no anemometer any more.
const MOST_LEAN_DEG: f64 = 60.0;

/// Leeway is never believed past this. Common practice, no source.
pub const MOST_LEEWAY_DEG: f64 = 15.0;

/// Slower than this the leeway formula says nothing: common practice.
pub const LEAST_LEEWAY_STW_KN: f64 = 2.5;

/// The corrections of one boat, with the figures they need.
#[derive(Clone, Debug)]
pub struct Corrections {
    instruments: Instruments,
}

/// How the mast stands and moves at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Attitude {
    /// Heel, starboard down positive, degrees.
    pub heel_deg: Option<f64>,
    /// Pitch, bow up positive, degrees.
    pub pitch_deg: Option<f64>,
    /// Rate of heel, degrees a second.
    pub roll_rate: Option<f64>,
    /// Rate of pitch, degrees a second.
    pub pitch_rate: Option<f64>,
}

impl Corrections {
    /// Those of a boat file.
    pub fn new(instruments: &Instruments) -> Self {
        Corrections {
            instruments: instruments.clone(),
        }
    }

    /// The boat file's part.
    pub fn instruments(&self) -> &Instruments {
        &self.instruments
    }

    /// Whether anything needs the mast's rate of roll.
    pub fn wants_motion(&self) -> bool {
        self.instruments.mast_motion.is_some()
    }

    /// Whether anything needs heel.
    pub fn wants_heel(&self) -> bool {
        self.wants_motion()
            || self.instruments.heel_correction == Switch::On
            || self.instruments.leeway_k.is_some()
    }

    /// What the unit felt in its own plane, its scale and vane put right.
    pub fn in_plane(&self, angle: BowAngle, speed: Knots) -> Vector {
        let factor = self.instruments.anemometer_factor.0;
        let scaled = through_table(&self.instruments.anemometer_table, speed.get() * factor);
        let set = angle.degrees() + self.instruments.vane_offset.get();
        let off_bow = crate::angle::wrap_180(set);
        Vector::polar(scaled, off_bow + self.upwash_undone(off_bow))
    }

    /// Degrees added to an AWA to take the upwash out of it. Upwash makes the
    /// vane read too far from the bow on either tack.
    pub fn upwash_undone(&self, off_bow_deg: f64) -> f64 {
        let upwash = by_angle(&self.instruments.upwash_table, off_bow_deg.abs());
        if off_bow_deg < 0.0 { upwash } else { -upwash }
    }

    /// The masthead's own velocity, where it is to be undone.
    pub fn mast_velocity(&self, attitude: Attitude) -> Vector {
        self.instruments
            .mast_motion
            .map_or(Vector::default(), |height| {
                mast_velocity(height.get(), attitude)
            })
    }

    /// The horizontal apparent wind behind what was felt in the mast's plane,
    /// of which this much was the mast's own motion.
    pub fn level(&self, felt: Vector, mast: Vector, attitude: Attitude) -> Vector {
        let still = felt - mast;
        match self.instruments.heel_correction {
            Switch::Off => still,
            Switch::On => upright(
                still,
                attitude.heel_deg.unwrap_or(0.0),
                attitude.pitch_deg.unwrap_or(0.0),
            ),
        }
    }

    /// Leeway to starboard in degrees, from steady heel and STW.
    pub fn leeway_deg(&self, heel_deg: Option<f64>, stw_kn: f64) -> f64 {
        match (self.instruments.leeway_k, heel_deg) {
            (Some(k), Some(heel)) => leeway_deg(k, heel, stw_kn),
            _ => 0.0,
        }
    }

    /// STW along the keel as it should read.
    pub fn stw(&self, measured_kn: f64) -> f64 {
        measured_kn * self.instruments.log_factor.0
    }

    /// Heel as it should read.
    pub fn heel(&self, measured: Degrees) -> f64 {
        measured.get() + self.instruments.heel_offset.get()
    }

    /// Pitch as it should read.
    pub fn pitch(&self, measured: Degrees) -> f64 {
        measured.get() + self.instruments.pitch_offset.get()
    }
}

/// Velocity of the masthead in its own plane, knots: rolling to starboard
/// carries it to starboard, the bow rising carries it aft.
pub fn mast_velocity(height_m: f64, attitude: Attitude) -> Vector {
    let knots = |rate: Option<f64>| radians(rate.unwrap_or(0.0)) * height_m / MS_PER_KNOT;
    Vector {
        x: -knots(attitude.pitch_rate),
        y: knots(attitude.roll_rate),
    }
}

/// The horizontal wind that a unit leaning with the mast resolves into `felt`
/// in its own plane: m_x = A_x cos p, m_y = A_y cos h + A_x sin h sin p.
pub fn upright(felt: Vector, heel_deg: f64, pitch_deg: f64) -> Vector {
    let heel = heel_deg.clamp(-MOST_LEAN_DEG, MOST_LEAN_DEG);
    let pitch = pitch_deg.clamp(-MOST_LEAN_DEG, MOST_LEAN_DEG);
    let (sin_heel, cos_heel) = libm::sincos(radians(heel));
    let (sin_pitch, cos_pitch) = libm::sincos(radians(pitch));
    let x = felt.x / cos_pitch;
    Vector {
        x,
        y: (felt.y - x * sin_heel * sin_pitch) / cos_heel,
    }
}

/// Leeway = K heel / STW^2, to starboard when the starboard side is down,
/// bounded, and none where the boat is too slow for the formula.
pub fn leeway_deg(k: f64, heel_deg: f64, stw_kn: f64) -> f64 {
    if stw_kn < LEAST_LEEWAY_STW_KN {
        return 0.0;
    }
    (k * heel_deg / (stw_kn * stw_kn)).clamp(-MOST_LEEWAY_DEG, MOST_LEEWAY_DEG)
}

/// The angle by which water passes the keel, from both axes of a log.
pub fn drift_deg(stw_kn: f64, drift_kn: f64) -> f64 {
    degrees(libm::atan2(drift_kn, stw_kn))
}

/// Measured to true speed by a rising table; outside it by the nearest
/// entry's ratio, so that it stays smooth and passes through zero.
fn through_table(table: &[(Knots, Knots)], measured: f64) -> f64 {
    let (Some(first), Some(last)) = (table.first(), table.last()) else {
        return measured;
    };
    let ratio = |entry: &(Knots, Knots)| {
        if entry.0.get() > 0.0 {
            measured * entry.1.get() / entry.0.get()
        } else {
            measured
        }
    };
    if measured <= first.0.get() {
        return ratio(first);
    }
    for pair in table.windows(2) {
        if let [(x0, y0), (x1, y1)] = pair
            && measured <= x1.get()
        {
            return between((x0.get(), y0.get()), (x1.get(), y1.get()), measured);
        }
    }
    ratio(last)
}

/// A table by angle off the bow; beyond its ends the end value holds.
fn by_angle(table: &[(Degrees, Degrees)], angle: f64) -> f64 {
    let (Some(first), Some(last)) = (table.first(), table.last()) else {
        return 0.0;
    };
    if angle <= first.0.get() {
        return first.1.get();
    }
    for pair in table.windows(2) {
        if let [(x0, y0), (x1, y1)] = pair
            && angle <= x1.get()
        {
            return between((x0.get(), y0.get()), (x1.get(), y1.get()), angle);
        }
    }
    last.1.get()
}

/// Straight line between two points; the first where they coincide.
pub(super) fn between((x0, y0): (f64, f64), (x1, y1): (f64, f64), x: f64) -> f64 {
    if x1 > x0 {
        y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    } else {
        y0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::Factor;

    #[test]
    fn each_scale_correction_acts_alone() {
        let degrees = |d| Degrees::new(d).unwrap();
        let knots = |k| Knots::new(k).unwrap();
        let mut instruments = Instruments::default();
        let felt = |i: &Instruments, angle, speed| {
            let v = Corrections::new(i).in_plane(BowAngle::new(angle).unwrap(), knots(speed));
            (v.angle_deg(), v.speed())
        };
        let near = |(a, b): (f64, f64), (c, d): (f64, f64)| {
            assert!((a - c).abs() < 1e-9 && (b - d).abs() < 1e-9, "{a} {b}");
        };
        near(felt(&instruments, 30.0, 10.0), (30.0, 10.0));
        instruments.vane_offset = degrees(-2.0);
        near(felt(&instruments, -30.0, 10.0), (-32.0, 10.0));
        instruments.anemometer_factor = Factor(1.1);
        near(felt(&instruments, -30.0, 10.0), (-32.0, 11.0));
        instruments.vane_offset = degrees(0.0);
        let _ = instruments.upwash_table.push((degrees(30.0), degrees(4.0)));
        let _ = instruments.upwash_table.push((degrees(60.0), degrees(2.0)));
        near(felt(&instruments, -45.0, 10.0), (-42.0, 11.0));
        near(felt(&instruments, 20.0, 10.0), (16.0, 11.0));
        near(felt(&instruments, 150.0, 10.0), (148.0, 11.0));
        let _ = instruments
            .anemometer_table
            .push((knots(11.0), knots(12.0)));
        let _ = instruments
            .anemometer_table
            .push((knots(22.0), knots(26.0)));
        near(felt(&instruments, 150.0, 10.0), (148.0, 12.0));
        near(felt(&instruments, 150.0, 15.0), (148.0, 19.0));
        near(felt(&instruments, 150.0, 30.0), (148.0, 39.0));
    }

    #[test]
    fn leeway_is_clamped_and_left_off_at_low_speed() {
        assert!((leeway_deg(10.0, -20.0, 6.4) + 4.8828125).abs() < 1e-9);
        assert_eq!(leeway_deg(30.0, 30.0, 3.0), MOST_LEEWAY_DEG);
        assert_eq!(leeway_deg(10.0, 20.0, 2.4), 0.0);
        assert_eq!(leeway_deg(10.0, 20.0, -3.0), 0.0);
    }
}
