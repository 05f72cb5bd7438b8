//! Who steers, how well, and when the boat takes charge.
//!
//! ```text
//!            heel past the round-up angle for 2 s
//!  Holding ---------------------------------------> RoundingUp
//!     ^                                                 | upright again
//!     |            back on course                       v
//!     +------------------------------------------ FallingOff
//! ```

use serde::Deserialize;

use crate::dice::{Dice, Swing};
use crate::maths::{lag, rad, wrap};

/// Seconds past the round-up angle before the rudder lets go.
const LETS_GO_AFTER_S: f64 = 2.0;
/// How fast she rounds up, and how fast she is brought back.
const ROUNDS_UP_RAD_S: f64 = 0.14;
const FALLS_OFF_RAD_S: f64 = 0.05;
/// Closest to the wind she comes when she rounds up.
const IN_IRONS_RAD: f64 = 0.35;
/// Fastest turn a course change is made with.
const TURNS_RAD_S: f64 = 0.07;
/// Inertia of the hull about its upright axis, as a time.
const YAWS_OVER_S: f64 = 0.8;
/// The wind angle is steered by the mean of so long.
const WIND_MEAN_S: f64 = 25.0;

/// Who has the helm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Steering {
    /// An autopilot: steady, and blind to gusts.
    #[default]
    Pilot,
    /// A hand who luffs a little when she is pressed.
    Hand,
}

/// What is steered for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Course {
    /// A true heading.
    Heading(f64),
    /// An angle to the true wind, starboard positive.
    WindAngle(f64),
}

/// The helm and the heading it makes.
#[derive(Clone, Debug)]
pub struct Helm {
    steering: Steering,
    state: HelmState,
    base_rad: f64,
    wander: Swing,
    /// The wander smoothed twice: a hull's heading has no corners.
    yaw_rad: [f64; 2],
    wind_angle_rad: f64,
    heading_rad: f64,
    turn_rad_s: f64,
    round_ups: u32,
}

#[derive(Clone, Copy, Debug)]
enum HelmState {
    Holding { pressed_s: f64 },
    RoundingUp,
    FallingOff,
}

/// What the helm feels.
#[derive(Clone, Copy, Debug)]
pub struct Feel {
    /// True wind angle, starboard positive.
    pub twa_rad: f64,
    /// Heel, starboard down positive.
    pub heel_rad: f64,
    /// Significant wave height, m.
    pub height_m: f64,
    /// Wave period, s.
    pub period_s: f64,
    /// Heel past which she is pressed.
    pub pressed_rad: f64,
    /// Heel at which she rounds up.
    pub round_up_rad: f64,
}

impl Helm {
    /// On `heading_rad` from the start.
    pub fn new(steering: Steering, heading_rad: f64, twa_rad: f64) -> Self {
        Self {
            steering,
            state: HelmState::Holding { pressed_s: 0.0 },
            base_rad: heading_rad,
            wander: Swing::default(),
            yaw_rad: [0.0; 2],
            wind_angle_rad: twa_rad,
            heading_rad,
            turn_rad_s: 0.0,
            round_ups: 0,
        }
    }

    /// Heading now.
    pub fn heading_rad(&self) -> f64 {
        self.heading_rad
    }

    /// Rate of turn, starboard positive.
    pub fn turn_rad_s(&self) -> f64 {
        self.turn_rad_s
    }

    /// How often she has rounded up.
    pub fn round_ups(&self) -> u32 {
        self.round_ups
    }

    /// One step on.
    pub fn step(&mut self, dt_s: f64, course: Course, feel: Feel, dice: &mut Dice) {
        let goal_rad = self.goal(dt_s, course, feel);
        self.turn(dt_s, goal_rad, feel);
        let wander = self.wander.step(
            dt_s,
            2.0 * feel.period_s + 2.0,
            4.0 * feel.period_s + 4.0,
            dice,
        );
        // Yaw grows with the sea; common practice, no source.
        let yaw_deg = match self.steering {
            Steering::Pilot => 0.6 + 1.2 * feel.height_m,
            Steering::Hand => 1.2 + 0.9 * feel.height_m,
        };
        let [first, second] = &mut self.yaw_rad;
        *first += (wander * rad(yaw_deg) - *first) * lag(dt_s, YAWS_OVER_S);
        *second += (*first - *second) * lag(dt_s, YAWS_OVER_S);
        let heading = wrap(self.base_rad + *second);
        if dt_s > 0.0 {
            self.turn_rad_s = wrap(heading - self.heading_rad) / dt_s;
        }
        self.heading_rad = heading;
    }

    fn goal(&mut self, dt_s: f64, course: Course, feel: Feel) -> f64 {
        let seen = wrap(feel.twa_rad - self.wind_angle_rad);
        self.wind_angle_rad = wrap(self.wind_angle_rad + seen * lag(dt_s, WIND_MEAN_S));
        let goal = match course {
            Course::Heading(heading_rad) => heading_rad,
            Course::WindAngle(angle_rad) => self.base_rad + wrap(self.wind_angle_rad - angle_rad),
        };
        match self.steering {
            Steering::Pilot => goal,
            Steering::Hand => {
                let over = ((feel.heel_rad.abs() - feel.pressed_rad) / rad(6.0)).clamp(0.0, 1.0);
                goal + over * rad(5.0) * feel.twa_rad.signum()
            }
        }
    }

    fn turn(&mut self, dt_s: f64, goal_rad: f64, feel: Feel) {
        match &mut self.state {
            HelmState::Holding { pressed_s } => {
                if feel.heel_rad.abs() > feel.round_up_rad {
                    *pressed_s += dt_s;
                } else {
                    *pressed_s = 0.0;
                }
                if *pressed_s > LETS_GO_AFTER_S {
                    self.state = HelmState::RoundingUp;
                    self.round_ups += 1;
                } else {
                    let most = TURNS_RAD_S * dt_s;
                    let part = lag(dt_s, 4.0);
                    self.base_rad += (wrap(goal_rad - self.base_rad) * part).clamp(-most, most);
                }
            }
            HelmState::RoundingUp => {
                if feel.twa_rad.abs() > IN_IRONS_RAD {
                    self.base_rad += ROUNDS_UP_RAD_S * dt_s * feel.twa_rad.signum();
                }
                if feel.heel_rad.abs() < 0.5 * feel.round_up_rad {
                    self.state = HelmState::FallingOff;
                }
            }
            HelmState::FallingOff => {
                let most = FALLS_OFF_RAD_S * dt_s;
                let off = wrap(goal_rad - self.base_rad);
                self.base_rad += off.clamp(-most, most);
                if off.abs() < rad(3.0) {
                    self.state = HelmState::Holding { pressed_s: 0.0 };
                }
            }
        }
        self.base_rad = wrap(self.base_rad);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::deg;

    fn feel(heel_deg: f64) -> Feel {
        Feel {
            twa_rad: rad(60.0),
            heel_rad: rad(heel_deg),
            height_m: 0.0,
            period_s: 4.0,
            pressed_rad: rad(25.0),
            round_up_rad: rad(33.0),
        }
    }

    /// Mean heading over the second half of so many seconds.
    fn steer(steering: Steering, heel_deg: f64, seconds: u32) -> (f64, Helm) {
        let mut helm = Helm::new(steering, rad(90.0), rad(60.0));
        let mut dice = Dice::new(1, "helm test");
        let mut sum = 0.0;
        let steps = seconds * 10;
        for step in 0..steps {
            helm.step(0.1, Course::Heading(rad(90.0)), feel(heel_deg), &mut dice);
            if step >= steps / 2 {
                sum += deg(helm.heading_rad()) / f64::from(steps / 2);
            }
        }
        (sum, helm)
    }

    #[test]
    fn a_hand_luffs_when_she_is_pressed_and_a_pilot_does_not() {
        let (pilot, _) = steer(Steering::Pilot, 31.0, 600);
        let (hand, _) = steer(Steering::Hand, 31.0, 600);
        assert!((pilot - 90.0).abs() < 0.5, "{pilot}");
        // Five degrees towards a wind from starboard.
        assert!((hand - 95.0).abs() < 1.0, "{hand}");
    }

    #[test]
    fn past_the_round_up_angle_she_turns_to_the_wind_once() {
        let (_, helm) = steer(Steering::Pilot, 36.0, 10);
        assert_eq!(helm.round_ups(), 1);
        assert!(deg(helm.heading_rad()) > 120.0);
        let (_, helm) = steer(Steering::Pilot, 32.0, 10);
        assert_eq!(helm.round_ups(), 0);
    }
}
