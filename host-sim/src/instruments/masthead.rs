//! What a unit at the masthead measures, and what its electronics make of it.
//!
//! The unit is carried by the mast: it swings with roll and pitch, and sees
//! only the part of the wind in its own plane. On top come upwash from the
//! sails, the mount, the inertia of vane and cups, damping, and noise.

use crate::boat::Motion;
use crate::dice::Dice;
use crate::maths::{Flow, deg, kn, lag, rad, wrap};

/// Run of wind that a cup takes to follow a change, m (common practice).
const CUP_DISTANCE_M: f64 = 3.0;

/// A wind at the bow: where it comes from, port negative, and its speed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BowWind {
    /// Angle it comes from, starboard positive.
    pub angle_rad: f64,
    /// Speed, m/s.
    pub speed_ms: f64,
}

impl BowWind {
    /// From the parts out of ahead and out of starboard.
    pub fn from_parts(ahead_ms: f64, starboard_ms: f64) -> Self {
        Self {
            angle_rad: libm::atan2(starboard_ms, ahead_ms),
            speed_ms: libm::hypot(ahead_ms, starboard_ms),
        }
    }

    /// The parts out of ahead and out of starboard, m/s.
    pub fn parts(self) -> (f64, f64) {
        (
            self.speed_ms * libm::cos(self.angle_rad),
            self.speed_ms * libm::sin(self.angle_rad),
        )
    }

    /// The wind as an upright, steady boat with this movement would feel it.
    pub fn felt(wind: Flow, boat: Flow, heading_rad: f64) -> Self {
        let (forward, right) = wind.seen_from(boat).in_boat(heading_rad);
        Self::from_parts(-forward, -right)
    }
}

/// The wind in the plane of a unit `height_m` up the mast.
pub fn at_unit(felt: BowWind, motion: &Motion, height_m: f64) -> BowWind {
    let (ahead, starboard) = felt.parts();
    // Rolling to starboard carries the unit to starboard, into air from
    // starboard; the bow rising carries it aft, out of air from ahead.
    let ahead = ahead - motion.pitch_rad_s * height_m;
    let starboard = starboard + motion.roll_rad_s * height_m;
    let (sin_heel, cos_heel) = libm::sincos(motion.heel_rad);
    let (sin_pitch, cos_pitch) = libm::sincos(motion.pitch_rad);
    BowWind::from_parts(
        ahead * cos_pitch,
        starboard * cos_heel + ahead * sin_heel * sin_pitch,
    )
}

/// How a masthead unit is made and mounted.
#[derive(Clone, Copy, Debug)]
pub struct Unit {
    /// Mount turned by so much.
    pub offset_rad: f64,
    /// It reads so many times the speed.
    pub speed_factor: f64,
    /// Turn of the air by the sails, close-hauled.
    pub upwash_rad: f64,
    /// Standard deviation of the angle's noise.
    pub angle_noise_rad: f64,
    /// Standard deviation of the speed's noise, as a share of the speed.
    pub speed_noise: f64,
    /// Time constant of the display damping, s; 0 is none.
    pub damping_s: f64,
    /// Whether vane and cups have mass.
    pub inertia: Inertia,
}

/// Whether vane and cups lag behind the air.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inertia {
    /// Follows at once: an ultrasonic unit.
    None,
    /// Vane and cups.
    Mechanical,
}

/// The unit's state from sample to sample.
#[derive(Clone, Debug, Default)]
pub struct UnitState {
    /// Speed of the cups; they turn already when the story begins.
    cup_ms: Option<f64>,
    shown: Option<(f64, f64)>,
}

impl UnitState {
    /// One sample on: what the unit would write now.
    pub fn sample(&mut self, dt_s: f64, air: BowWind, unit: &Unit, dice: &mut Dice) -> BowWind {
        let speed_ms = match unit.inertia {
            Inertia::None => air.speed_ms,
            Inertia::Mechanical => {
                let lag_s = CUP_DISTANCE_M / air.speed_ms.max(1.0);
                let cup_ms = self.cup_ms.get_or_insert(air.speed_ms);
                *cup_ms += (air.speed_ms - *cup_ms) * lag(dt_s, lag_s);
                *cup_ms
            }
        };
        // Ahead of the sails the air is bent so that the wind seems wider.
        let bent = unit.upwash_rad * libm::cos(air.angle_rad).max(0.0) * air.angle_rad.signum();
        let angle_rad =
            air.angle_rad + bent + unit.offset_rad + unit.angle_noise_rad * dice.normal();
        let noisy_ms = speed_ms * unit.speed_factor * (1.0 + unit.speed_noise * dice.normal());
        self.damp(dt_s, wrap(angle_rad), noisy_ms.max(0.0), unit.damping_s)
    }

    fn damp(&mut self, dt_s: f64, angle_rad: f64, speed_ms: f64, damping_s: f64) -> BowWind {
        let wind = BowWind {
            angle_rad,
            speed_ms,
        };
        if damping_s <= 0.0 {
            return wind;
        }
        let fresh = wind.parts();
        let part = lag(dt_s, damping_s);
        let shown = self.shown.get_or_insert(fresh);
        shown.0 += (fresh.0 - shown.0) * part;
        shown.1 += (fresh.1 - shown.1) * part;
        BowWind::from_parts(shown.0, shown.1)
    }
}

/// Wind as the usual instrument works it out: apparent wind less log speed,
/// with no leeway, no heel and no motion taken off.
pub fn instrument_true_wind(apparent: BowWind, stw_ms: f64) -> BowWind {
    let (ahead, starboard) = apparent.parts();
    BowWind::from_parts(ahead - stw_ms, starboard)
}

impl core::fmt::Display for BowWind {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "{:.1} kn at {:.1}",
            kn(self.speed_ms),
            deg(self.angle_rad)
        )
    }
}

/// A unit without any fault of its own.
pub fn ideal() -> Unit {
    Unit {
        offset_rad: rad(0.0),
        speed_factor: 1.0,
        upwash_rad: 0.0,
        angle_noise_rad: 0.0,
        speed_noise: 0.0,
        damping_s: 0.0,
        inertia: Inertia::None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::ms;

    #[test]
    fn the_felt_wind_is_the_one_worked_by_cosine_rule() {
        // (TWS, TWA, STW) to (AWS, AWA), each worked by the cosine rule too.
        for (tws, twa, stw, aws, awa) in [
            (20.0, 45.0, 6.5, 25.022, 34.415),
            (20.0, -90.0, 8.0, 21.541, -68.199),
            (20.0, 135.0, 8.0, 15.418, 113.476),
            (20.0, -170.0, 7.5, 12.681, -164.105),
        ] {
            let heading = rad(300.0);
            let wind = Flow::from_direction(ms(tws), heading + rad(twa));
            let felt = BowWind::felt(wind, Flow::towards(ms(stw), heading), heading);
            assert!((kn(felt.speed_ms) - aws).abs() < 1e-3, "{felt}");
            assert!((deg(felt.angle_rad) - awa).abs() < 1e-3, "{felt}");
        }
    }

    #[test]
    fn a_heeled_unit_reads_what_was_worked_by_hand() {
        // Upright 20.369 kn at 33.623, heel 20 to port: it reads 20 kn at 32.
        let felt = BowWind {
            angle_rad: rad(33.623),
            speed_ms: ms(20.369),
        };
        let motion = Motion {
            heel_rad: rad(-20.0),
            ..Motion::default()
        };
        let seen = at_unit(felt, &motion, 17.0);
        assert!((kn(seen.speed_ms) - 20.0).abs() < 2e-3, "{seen}");
        assert!((deg(seen.angle_rad) - 32.0).abs() < 2e-3, "{seen}");
    }

    #[test]
    fn eight_degrees_a_second_at_eighteen_metres_make_five_knots() {
        let motion = Motion {
            roll_rad_s: rad(8.0),
            ..Motion::default()
        };
        let seen = at_unit(BowWind::default(), &motion, 18.0);
        assert!((kn(seen.speed_ms) - 4.89).abs() < 0.01, "{seen}");
        assert!((deg(seen.angle_rad) - 90.0).abs() < 1e-9);
    }

    #[test]
    fn damping_averages_across_the_bow_without_a_jump() {
        let unit = Unit {
            damping_s: 5.0,
            ..ideal()
        };
        let mut state = UnitState::default();
        let mut dice = Dice::new(1, "damping");
        let mut shown = BowWind::default();
        for k in 0..200 {
            let angle_rad = rad(if k % 2 == 0 { 178.0 } else { -178.0 });
            let air = BowWind {
                angle_rad,
                speed_ms: 8.0,
            };
            shown = state.sample(0.1, air, &unit, &mut dice);
        }
        assert!(deg(shown.angle_rad).abs() > 177.0 && shown.speed_ms > 7.9);
    }
}
