//! The boat: how she heels, rolls, pitches, sails and is steered.
//!
//! One degree of freedom for each of heel, pitch, speed and heading, driven by
//! gusts and by the slope of the sea. Signs: starboard and bow up positive.

mod helm;
mod hull;
mod rung;

use crate::dice::Dice;
use crate::maths::{Flow, TURN, deg, lag, wrap};
use crate::weather::SeaState;

pub use helm::{Course, Feel, Helm, Steering};
pub use hull::{BoatPlan, Hindrance, LEVER_POWER, lever, side_force};
pub use rung::SailRung;

/// Time she takes to gather or lose way.
const GATHERS_WAY_S: f64 = 20.0;
/// Time leeway takes to follow heel and speed.
const LEEWAY_S: f64 = 10.0;
/// The watch eases sheets by up to this share of the side force when she is
/// pressed, over so many seconds; common practice, no source.
const MOST_EASED: f64 = 0.45;
const EASES_OVER_S: f64 = 8.0;
/// Heel past the limit at which all that can be eased is eased.
const ALL_EASED_DEG: f64 = 15.0;
/// How much of the sea's slope rolls and pitches her.
const ROLLED_BY: f64 = 0.4;
const PITCHED_BY: f64 = 0.6;
/// Pitch: natural period and damping as a share of critical.
const PITCH_PERIOD_S: f64 = 2.6;
const PITCH_DAMPING: f64 = 0.35;

/// What acts on the boat.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings {
    /// Wind over ground at the masthead.
    pub wind: Flow,
    /// Current over ground.
    pub current: Flow,
    /// The sea under her.
    pub sea: SeaState,
    /// Where the waves come from.
    pub waves_from_rad: f64,
}

/// How she moves at one moment.
#[derive(Clone, Copy, Debug, Default)]
pub struct Motion {
    /// True heading.
    pub heading_rad: f64,
    /// Rate of turn, starboard positive.
    pub turn_rad_s: f64,
    /// Speed through the water along the keel, as a log reads it.
    pub stw_ms: f64,
    /// Leeway, drift to starboard positive.
    pub leeway_rad: f64,
    /// Heel, starboard down positive.
    pub heel_rad: f64,
    /// Roll rate, starboard down positive.
    pub roll_rad_s: f64,
    /// Pitch, bow up positive.
    pub pitch_rad: f64,
    /// Pitch rate, bow up positive.
    pub pitch_rad_s: f64,
    /// Movement through the water.
    pub through_water: Flow,
    /// Movement over ground.
    pub over_ground: Flow,
}

/// A boat at sea.
#[derive(Clone, Debug)]
pub struct Boat {
    plan: BoatPlan,
    helm: Helm,
    motion: Motion,
    /// Share of the side force that is spilled.
    eased: f64,
    /// Heel that something else than the wind would give her.
    leaned_rad: f64,
    dice: Dice,
}

impl Boat {
    /// A boat that has been on her course for a while.
    pub fn new(plan: BoatPlan, steering: Steering, course: Course, wind: Flow, seed: u64) -> Self {
        let (heading_rad, twa_rad) = match course {
            Course::Heading(heading_rad) => (heading_rad, wrap(wind.from_rad() - heading_rad)),
            Course::WindAngle(angle_rad) => (wrap(wind.from_rad() - angle_rad), angle_rad),
        };
        let motion = Motion {
            heading_rad,
            stw_ms: plan.rung.first().map_or(0.0, |rung| {
                plan.speed_ms(rung, wind.speed_ms(), twa_rad, Hindrance::default())
            }),
            ..Motion::default()
        };
        Self {
            helm: Helm::new(steering, heading_rad, twa_rad),
            plan,
            motion,
            eased: 0.0,
            leaned_rad: 0.0,
            dice: Dice::new(seed, "boat"),
        }
    }

    /// Her hull, rig and ladder.
    pub fn plan(&self) -> &BoatPlan {
        &self.plan
    }

    /// How she moves now.
    pub fn motion(&self) -> Motion {
        self.motion
    }

    /// How often she has rounded up.
    pub fn round_ups(&self) -> u32 {
        self.helm.round_ups()
    }

    /// Leans on her with what would heel her so far in a calm; starboard down
    /// positive.
    pub fn lean(&mut self, heel_rad: f64) {
        self.leaned_rad = heel_rad;
    }

    /// One step on, under the sails of `rung`.
    pub fn step(&mut self, dt_s: f64, around: &Surroundings, rung: &SailRung, course: Course) {
        let true_wind = around.wind.seen_from(around.current);
        let twa_rad = wrap(true_wind.from_rad() - self.motion.heading_rad);
        self.ease_sheets(dt_s);
        self.roll(dt_s, around, rung);
        self.pitch(dt_s, around);
        self.steer(dt_s, around, twa_rad, course);
        self.sail(dt_s, around, rung, true_wind.speed_ms(), twa_rad);
    }

    fn ease_sheets(&mut self, dt_s: f64) {
        let over_deg = deg(self.motion.heel_rad).abs() - self.plan.heel_limit_deg;
        let goal = MOST_EASED * (over_deg / ALL_EASED_DEG).clamp(0.0, 1.0);
        self.eased += (goal - self.eased) * lag(dt_s, EASES_OVER_S);
    }

    fn roll(&mut self, dt_s: f64, around: &Surroundings, rung: &SailRung) {
        let apparent = around.wind.seen_from(self.motion.over_ground);
        let awa_rad = wrap(apparent.from_rad() - self.motion.heading_rad);
        let aws_ms = apparent.speed_ms() * self.plan.wind_at_sails;
        let upright = self.plan.upright_moment_nm(
            rung,
            aws_ms,
            hull::side_force(awa_rad) * (1.0 - self.eased),
        );
        let heel = self.motion.heel_rad;
        // Wind from starboard pushes her down to port. Near dead ahead or astern
        // the windage has no side, so it fades with the sine.
        let side = (libm::sin(awa_rad) * 6.0).clamp(-1.0, 1.0);
        let leaned = self.plan.righting_moment_nm(self.leaned_rad);
        let heeling = -side * upright * lever(heel) + leaned;
        let across = libm::sin(wrap(around.waves_from_rad - self.motion.heading_rad));
        let tilted = heel - ROLLED_BY * around.sea.slope_rad * across;
        let inertia = self.plan.roll_inertia();
        let damping = 2.0 * self.plan.roll_damping * TURN / self.plan.roll_period_s;
        let push = (heeling - self.plan.righting_moment_nm(tilted)) / inertia
            - damping * self.motion.roll_rad_s;
        self.motion.roll_rad_s += push * dt_s;
        let most = hull::furthest_heel_rad();
        let next = heel + self.motion.roll_rad_s * dt_s;
        self.motion.heel_rad = next.clamp(-most, most);
        if next.abs() > most {
            self.motion.roll_rad_s = 0.0;
        }
    }

    fn pitch(&mut self, dt_s: f64, around: &Surroundings) {
        let along = libm::cos(wrap(around.waves_from_rad - self.motion.heading_rad));
        let goal = PITCHED_BY * around.sea.slope_rad * along;
        let rate = TURN / PITCH_PERIOD_S;
        let push = rate * rate * (goal - self.motion.pitch_rad)
            - 2.0 * PITCH_DAMPING * rate * self.motion.pitch_rad_s;
        self.motion.pitch_rad_s += push * dt_s;
        self.motion.pitch_rad += self.motion.pitch_rad_s * dt_s;
    }

    fn steer(&mut self, dt_s: f64, around: &Surroundings, twa_rad: f64, course: Course) {
        let feel = Feel {
            twa_rad,
            heel_rad: self.motion.heel_rad,
            height_m: around.sea.height_m,
            period_s: around.sea.period_s,
            pressed_rad: crate::maths::rad(self.plan.heel_limit_deg),
            round_up_rad: crate::maths::rad(self.plan.round_up_deg),
        };
        self.helm.step(dt_s, course, feel, &mut self.dice);
        self.motion.heading_rad = self.helm.heading_rad();
        self.motion.turn_rad_s = self.helm.turn_rad_s();
    }

    fn sail(
        &mut self,
        dt_s: f64,
        around: &Surroundings,
        rung: &SailRung,
        tws_ms: f64,
        twa_rad: f64,
    ) {
        let hindrance = Hindrance {
            height_m: around.sea.height_m,
            heel_deg: deg(self.motion.heel_rad),
        };
        let goal_ms = self.plan.speed_ms(rung, tws_ms, twa_rad, hindrance);
        let motion = &mut self.motion;
        motion.stw_ms += (goal_ms - motion.stw_ms) * lag(dt_s, GATHERS_WAY_S);
        if let Some(leeway) = self.plan.leeway_rad(motion.heel_rad, motion.stw_ms) {
            motion.leeway_rad += (leeway - motion.leeway_rad) * lag(dt_s, LEEWAY_S);
        }
        // The log reads along the keel; leeway adds the part across it.
        let across_ms = motion.stw_ms * libm::tan(motion.leeway_rad);
        motion.through_water = Flow::towards(motion.stw_ms, motion.heading_rad)
            .and(Flow::towards(across_ms, motion.heading_rad + TURN / 4.0));
        motion.over_ground = motion.through_water.and(around.current);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::{kn, ms, rad};

    fn calm_sea(wind_kn: f64) -> Surroundings {
        Surroundings {
            wind: Flow::from_direction(ms(wind_kn), 0.0),
            current: Flow::default(),
            sea: SeaState {
                period_s: 4.0,
                ..SeaState::default()
            },
            waves_from_rad: 0.0,
        }
    }

    fn sail(wind_kn: f64, angle_deg: f64, rung: usize) -> Boat {
        let around = calm_sea(wind_kn);
        let course = Course::WindAngle(rad(angle_deg));
        let plan = BoatPlan::default();
        let sails = plan.rung[rung].clone();
        let mut boat = Boat::new(plan, Steering::Pilot, course, around.wind, 1);
        for _ in 0..6000 {
            boat.step(0.1, &around, &sails, course);
        }
        boat
    }

    #[test]
    fn she_heels_away_from_the_wind_and_settles_at_the_steady_heel() {
        let boat = sail(14.0, 50.0, 0);
        let motion = boat.motion();
        let apparent = calm_sea(14.0).wind.seen_from(motion.over_ground);
        let awa = wrap(apparent.from_rad() - motion.heading_rad);
        let aws = apparent.speed_ms() * boat.plan().wind_at_sails;
        let upright = boat
            .plan()
            .upright_moment_nm(&boat.plan().rung[0], aws, side_force(awa));
        let steady = deg(boat.plan().steady_heel_rad(upright));
        // Wind on starboard: port side down. Yaw keeps her within half a degree.
        assert!((deg(motion.heel_rad) + steady).abs() < 0.7, "{steady}");
        assert!(motion.leeway_rad < 0.0);
        assert!(deg(sail(14.0, -50.0, 0).motion().heel_rad) > 10.0);
    }

    #[test]
    fn she_makes_a_speed_a_boat_of_her_length_makes() {
        for (wind_kn, angle_deg, low, high) in [
            (8.0, 90.0, 4.0, 6.5),
            (16.0, 45.0, 5.0, 7.0),
            (20.0, 120.0, 6.5, 8.0),
        ] {
            let speed = kn(sail(wind_kn, angle_deg, 0).motion().stw_ms);
            assert!(
                (low..high).contains(&speed),
                "{wind_kn}/{angle_deg}: {speed}"
            );
        }
    }

    #[test]
    fn pressed_too_far_she_rounds_up() {
        assert_eq!(sail(14.0, 60.0, 0).round_ups(), 0);
        assert!(sail(32.0, 70.0, 0).round_ups() > 0);
        assert_eq!(sail(32.0, 70.0, 4).round_ups(), 0);
    }

    #[test]
    fn under_bare_poles_she_hardly_heels() {
        let around = calm_sea(35.0);
        let course = Course::WindAngle(rad(90.0));
        let mut boat = Boat::new(BoatPlan::default(), Steering::Pilot, course, around.wind, 1);
        for _ in 0..3000 {
            boat.step(0.1, &around, &SailRung::bare(), course);
        }
        assert!(deg(boat.motion().heel_rad).abs() < 12.0);
        assert!(boat.motion().stw_ms < 0.5);
    }
}
