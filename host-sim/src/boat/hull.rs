//! The hull's answer to the wind: righting moment, steady heel, speed, leeway.
//!
//! The lever of the wind falls with `cos^1.3` of the heel (UK Large Commercial
//! Yacht Code LY2, 11.2.2.1.3). Capsize is not modelled: heel stops at 75
//! degrees and the boat comes back.

use serde::Deserialize;

use super::rung::SailRung;
use crate::maths::{AIR_DENSITY, GRAVITY, MS_PER_KN, deg, kn, rad};

/// Power of the cosine by which the wind's lever falls with heel.
pub const LEVER_POWER: f64 = 1.3;
/// Heel where the model ends.
const FURTHEST_HEEL_DEG: f64 = 75.0;
/// Under this speed the leeway formula means nothing (common practice).
const LEEWAY_FROM_KN: f64 = 2.5;
const MOST_LEEWAY_DEG: f64 = 12.0;

/// Side force coefficient of well-trimmed sails by apparent wind angle in
/// degrees. Common practice, no source; 1.2 close-hauled as in hand methods.
const SIDE_FORCE: [(f64, f64); 9] = [
    (0.0, 0.10),
    (18.0, 0.40),
    (25.0, 1.10),
    (30.0, 1.20),
    (60.0, 1.15),
    (90.0, 0.90),
    (120.0, 0.60),
    (150.0, 0.30),
    (180.0, 0.05),
];
/// Drive of the sails by true wind angle in degrees, against a beam reach.
const DRIVE: [(f64, f64); 9] = [
    (0.0, 0.0),
    (30.0, 0.35),
    (40.0, 0.75),
    (50.0, 0.88),
    (70.0, 1.0),
    (100.0, 1.05),
    (130.0, 0.95),
    (160.0, 0.75),
    (180.0, 0.65),
];

/// An invented boat: hull, rig and ladder of sail plans.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BoatPlan {
    /// Her name.
    pub name: String,
    /// Displacement as she sails, kg.
    pub mass_kg: f64,
    /// Metacentric height, m.
    pub gm_m: f64,
    /// How the righting lever falls behind `GM sin` at large heel:
    /// `GZ = GM sin (1 - fall sin^2)`.
    pub gz_fall: f64,
    /// Length of the waterline, m.
    pub waterline_m: f64,
    /// Height of the masthead unit over the sea, which is near its roll axis, m.
    pub masthead_m: f64,
    /// Wind at the sails' centre of effort against the masthead.
    pub wind_at_sails: f64,
    /// Area of hull, rig and spray hood that heels her under bare poles, m2.
    pub windage_m2: f64,
    /// Lever of that area, m.
    pub windage_lever_m: f64,
    /// Natural period of roll, s.
    pub roll_period_s: f64,
    /// Roll damping as a share of critical, sails set.
    pub roll_damping: f64,
    /// Leeway in degrees: this times heel in degrees over the square of the
    /// speed in knots.
    pub leeway_k: f64,
    /// Heel past which she is pressed, degrees.
    pub heel_limit_deg: f64,
    /// Heel at which the rudder lets go and she rounds up, degrees.
    pub round_up_deg: f64,
    /// Sail plans, from full to storm.
    pub rung: Vec<SailRung>,
}

impl Default for BoatPlan {
    /// The invented cutter Teasel, 11.9 m.
    fn default() -> Self {
        Self {
            name: "Teasel".to_owned(),
            mass_kg: 7200.0,
            gm_m: 1.15,
            gz_fall: 0.35,
            waterline_m: 10.4,
            masthead_m: 17.0,
            // (8/17)^0.11, the power law at sea with the centre at 8 m.
            wind_at_sails: 0.92,
            windage_m2: 9.0,
            windage_lever_m: 4.2,
            roll_period_s: 3.8,
            roll_damping: 0.25,
            leeway_k: 10.0,
            heel_limit_deg: 25.0,
            round_up_deg: 33.0,
            rung: SailRung::teasel(),
        }
    }
}

impl BoatPlan {
    /// Righting moment at this heel, Nm; it has the sign of the heel.
    pub fn righting_moment_nm(&self, heel_rad: f64) -> f64 {
        let sine = libm::sin(heel_rad);
        self.mass_kg * GRAVITY * self.gm_m * sine * (1.0 - self.gz_fall * sine * sine)
    }

    /// Heeling moment of an upright boat, Nm, never negative.
    pub fn upright_moment_nm(&self, rung: &SailRung, aws_ms: f64, side_force: f64) -> f64 {
        let pressure_pa = 0.5 * AIR_DENSITY * aws_ms * aws_ms;
        let sails = side_force * rung.area_m2 * rung.lever_m;
        pressure_pa * (sails + self.windage_m2 * self.windage_lever_m)
    }

    /// The heel where righting and heeling moments meet.
    pub fn steady_heel_rad(&self, upright_moment_nm: f64) -> f64 {
        let (mut low, mut high) = (0.0, rad(FURTHEST_HEEL_DEG));
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if self.righting_moment_nm(middle) < lever(middle) * upright_moment_nm {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Moment of inertia about the roll axis that gives her roll period.
    pub fn roll_inertia(&self) -> f64 {
        let rate = crate::maths::TURN / self.roll_period_s;
        self.mass_kg * GRAVITY * self.gm_m / (rate * rate)
    }

    /// Speed she settles at, m/s.
    pub fn speed_ms(&self, rung: &SailRung, tws_ms: f64, twa_rad: f64, sea: Hindrance) -> f64 {
        let full_m2 = self.rung.first().map_or(rung.area_m2, |full| full.area_m2);
        let hull_kn = 2.43 * libm::sqrt(self.waterline_m);
        let twa_deg = deg(twa_rad.abs());
        let power = kn(tws_ms) * libm::sqrt(rung.area_m2 / full_m2) * table(&DRIVE, twa_deg);
        let upwind = (1.0 - twa_deg / 90.0).max(0.0);
        let slowed = 1.0 - (0.12 * sea.height_m * upwind).min(0.5);
        let pressed = 1.0 - (0.02 * (sea.heel_deg.abs() - 25.0)).clamp(0.0, 0.4);
        hull_kn * (1.0 - libm::exp(-power / 9.0)) * slowed * pressed * MS_PER_KN
    }

    /// Leeway for this heel and speed; `None` while she is too slow to tell.
    /// Drift to starboard positive: it has the sign of the heel.
    pub fn leeway_rad(&self, heel_rad: f64, stw_ms: f64) -> Option<f64> {
        let speed_kn = kn(stw_ms);
        (speed_kn >= LEEWAY_FROM_KN).then(|| {
            let degrees = self.leeway_k * deg(heel_rad) / (speed_kn * speed_kn);
            rad(degrees.clamp(-MOST_LEEWAY_DEG, MOST_LEEWAY_DEG))
        })
    }
}

/// What holds a boat back besides her hull.
#[derive(Clone, Copy, Debug, Default)]
pub struct Hindrance {
    /// Significant wave height, m.
    pub height_m: f64,
    /// Heel, degrees.
    pub heel_deg: f64,
}

/// How much of the wind's lever is left at this heel.
pub fn lever(heel_rad: f64) -> f64 {
    libm::pow(libm::cos(heel_rad).max(0.0), LEVER_POWER)
}

/// Side force coefficient at this apparent wind angle.
pub fn side_force(awa_rad: f64) -> f64 {
    table(&SIDE_FORCE, deg(awa_rad.abs()))
}

/// The heel where the model ends, rad.
pub(super) fn furthest_heel_rad() -> f64 {
    rad(FURTHEST_HEEL_DEG)
}

fn table(points: &[(f64, f64)], x: f64) -> f64 {
    let after = points.partition_point(|point| point.0 <= x);
    let low = points.get(after.saturating_sub(1));
    let high = points.get(after);
    match (low, high) {
        (Some(low), Some(high)) if after > 0 => {
            low.1 + (high.1 - low.1) * (x - low.0) / (high.0 - low.0)
        }
        (Some(low), _) => low.1,
        (None, _) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::ms;

    /// 6000 kg, GM 1.05 m, 55 m2 on 6.8 m, C 1.2, no windage, linear righting.
    fn worked_yacht() -> (BoatPlan, SailRung) {
        let plan = BoatPlan {
            mass_kg: 6000.0,
            gm_m: 1.05,
            gz_fall: 0.0,
            windage_m2: 0.0,
            ..BoatPlan::default()
        };
        let rung = SailRung {
            area_m2: 55.0,
            lever_m: 6.8,
            ..plan.rung[0].clone()
        };
        (plan, rung)
    }

    #[test]
    fn righting_moment_is_that_worked_by_hand() {
        // m g GM sin(heel), worked by hand: 1078, 21 131, 30 891 Nm.
        let (yacht, _) = worked_yacht();
        for (degrees, moment) in [(1.0, 1078.0), (20.0, 21_131.0), (30.0, 30_891.0)] {
            let ours = yacht.righting_moment_nm(rad(degrees));
            assert!((ours / moment - 1.0).abs() < 1e-3, "{degrees}: {ours}");
        }
    }

    #[test]
    fn steady_heel_is_that_worked_by_hand() {
        // cos^1.3 column, worked by hand and by iteration in numpy.
        let (yacht, rung) = worked_yacht();
        for (aws_kn, heel_deg) in [(15.0, 14.70), (20.0, 24.60), (25.0, 34.75)] {
            let moment = yacht.upright_moment_nm(&rung, ms(aws_kn), 1.2);
            let ours = deg(yacht.steady_heel_rad(moment));
            assert!((ours - heel_deg).abs() < 0.05, "{aws_kn} kn: {ours}");
        }
        let moment = yacht.upright_moment_nm(&rung, ms(20.0), 1.2);
        assert!((moment - 29_100.0).abs() < 20.0, "{moment}");
    }

    #[test]
    fn leeway_falls_with_the_square_of_speed_and_has_no_say_when_slow() {
        // Heel 20 to port, 6.4 kn, K 10: -4.883 degrees, worked by hand.
        let boat = BoatPlan::default();
        let leeway = boat.leeway_rad(rad(-20.0), ms(6.4)).map(deg);
        assert!((leeway.unwrap_or(0.0) + 4.883).abs() < 1e-3);
        assert_eq!(boat.leeway_rad(rad(-20.0), ms(2.0)), None);
    }

    #[test]
    fn each_rung_meets_its_limit_near_the_heel_limit() {
        let boat = BoatPlan::default();
        for rung in &boat.rung {
            // Close-hauled, the boat's own speed adds about 5 kn.
            let aws = ms(rung.limit_kn + 5.0) * boat.wind_at_sails;
            let heel = deg(boat.steady_heel_rad(boat.upright_moment_nm(rung, aws, 1.2)));
            assert!((17.0..28.0).contains(&heel), "{}: {heel}", rung.name);
        }
    }

    #[test]
    fn a_table_holds_its_ends() {
        assert_eq!(side_force(0.0), 0.10);
        assert!((side_force(rad(180.0)) - 0.05).abs() < 1e-9);
        assert!((side_force(rad(-75.0)) - 1.025).abs() < 1e-9);
    }
}
