//! The sea the wind has raised, and its slope under the boat.
//!
//! Height follows the wind with hours of delay; that delay, and not the exact
//! height, is what the boat's motion and the crew's pace need. Fully developed
//! sea after Pierson and Moskowitz: `Hs = 0.24 U^2 / g` (from memory); time to
//! grow and to fall: common practice, no source.

use crate::dice::{Dice, Swing};
use crate::maths::{GRAVITY, TURN};

/// Time constant of a growing sea.
const GROWS_OVER_S: f64 = 5.0 * 3600.0;
/// Time constant of a falling sea.
const FALLS_OVER_S: f64 = 9.0 * 3600.0;
/// Peak period over the root of the height, s per root m: between a young sea
/// (about 4) and a fully developed one (5.0).
const PERIOD_PER_ROOT_M: f64 = 4.4;
/// How many periods a group of waves lasts.
const GROUP_PERIODS: f64 = 4.0;

/// The sea state and the wave that runs under the boat.
#[derive(Clone, Debug)]
pub struct Sea {
    wind_sea_m: f64,
    swell_m: f64,
    wave: Swing,
}

/// The sea at one moment.
#[derive(Clone, Copy, Debug, Default)]
pub struct SeaState {
    /// Significant wave height, m.
    pub height_m: f64,
    /// Period of the highest waves, s.
    pub period_s: f64,
    /// Wave slope under the boat along the way the waves go, rad.
    pub slope_rad: f64,
}

impl Sea {
    /// A sea that has stood under `mean_ms` for some hours, on an old swell.
    pub fn new(mean_ms: f64, swell_m: f64) -> Self {
        Self {
            wind_sea_m: 0.7 * fully_developed_m(mean_ms),
            swell_m,
            wave: Swing::default(),
        }
    }

    /// One step on under `mean_ms` of wind, met at `encounter` times the waves' own rate.
    pub fn step(&mut self, dt_s: f64, mean_ms: f64, encounter: f64, dice: &mut Dice) -> SeaState {
        let goal_m = fully_developed_m(mean_ms);
        let over_s = if goal_m > self.wind_sea_m {
            GROWS_OVER_S
        } else {
            FALLS_OVER_S
        };
        self.wind_sea_m += (goal_m - self.wind_sea_m) * dt_s / over_s;
        let height_m = libm::hypot(self.wind_sea_m, self.swell_m);
        let period_s = peak_period_s(height_m);
        let met_s = period_s / encounter.clamp(0.2, 4.0);
        self.wave.step(dt_s, met_s, GROUP_PERIODS * met_s, dice);
        SeaState {
            height_m,
            period_s,
            slope_rad: self.wave.value() * slope_spread_rad(height_m, period_s),
        }
    }

    /// Significant height now, m.
    pub fn height_m(&self) -> f64 {
        libm::hypot(self.wind_sea_m, self.swell_m)
    }
}

/// How many times a boat meets the waves for each one that passes a fixed
/// point; `from_ahead_ms` is her speed against them.
pub fn encounter(period_s: f64, from_ahead_ms: f64) -> f64 {
    // Deep water: phase speed g T / 2 pi.
    let phase_ms = GRAVITY * period_s / TURN;
    (1.0 + from_ahead_ms / phase_ms).abs()
}

/// Significant height of a sea that no longer grows, m.
pub fn fully_developed_m(mean_ms: f64) -> f64 {
    0.24 * mean_ms * mean_ms / GRAVITY
}

/// Peak period of a sea of this height, s.
pub fn peak_period_s(height_m: f64) -> f64 {
    (PERIOD_PER_ROOT_M * libm::sqrt(height_m)).max(2.0)
}

/// Standard deviation of the slope: elevation sd `Hs/4` times the wave number.
fn slope_spread_rad(height_m: f64, period_s: f64) -> f64 {
    let rate = TURN / period_s;
    0.25 * height_m * rate * rate / GRAVITY
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sea_rises_slower_than_the_wind_and_gets_there() {
        let mut dice = Dice::new(1, "sea test");
        let mut sea = Sea::new(5.0, 0.0);
        let before = sea.height_m();
        for _ in 0..3600 {
            sea.step(1.0, 15.0, 1.0, &mut dice);
        }
        let after_an_hour = sea.height_m();
        assert!(after_an_hour > before && after_an_hour < 0.4 * fully_developed_m(15.0));
        for _ in 0..86_400 {
            sea.step(1.0, 15.0, 1.0, &mut dice);
        }
        assert!((sea.height_m() / fully_developed_m(15.0) - 1.0).abs() < 0.05);
    }

    #[test]
    fn running_before_the_sea_meets_fewer_waves() {
        assert!(encounter(6.0, 3.5) > 1.0);
        assert!(encounter(6.0, -3.5) < 1.0);
    }
}
