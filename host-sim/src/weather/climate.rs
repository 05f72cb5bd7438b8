//! Weather without a story: thousands of hours for hindcasts.
//!
//! The mean wind is log-normal with a memory of a day and a half, the glass
//! runs against it, direction wanders and veers with fronts, squalls strike at
//! random. The figures give an open-sea year of middle latitudes (median 13 kn,
//! one hour in twenty over 29 kn): common practice, no source.

use serde::Deserialize;

use super::story::Mean;
use crate::dice::{Dice, Drift};
use crate::maths::{ease, ms, rad, wrap};

/// Settings of weather that goes on for ever.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Climate {
    /// Half of all hours blow less than this.
    pub median_kn: f64,
    /// Standard deviation of the logarithm of the mean speed.
    pub spread: f64,
    /// Hours over which the mean forgets itself.
    pub memory_h: f64,
    /// Direction the wind comes from most.
    pub from_deg: f64,
    /// Fronts a week.
    pub fronts_per_week: f64,
    /// Squalls a week.
    pub squalls_per_week: f64,
}

impl Default for Climate {
    fn default() -> Self {
        Self {
            median_kn: 13.0,
            spread: 0.48,
            memory_h: 36.0,
            from_deg: 230.0,
            fronts_per_week: 2.0,
            squalls_per_week: 1.5,
        }
    }
}

/// A climate as it runs.
#[derive(Clone, Debug)]
pub(super) struct Running {
    climate: Climate,
    synoptic: Drift,
    /// The synoptic value smoothed over hours, so that its slope is finite.
    smooth: f64,
    turning: Drift,
    veered_rad: f64,
    since_front_s: f64,
    front_veer_rad: f64,
    since_squall_s: f64,
    squall: Squall,
}

#[derive(Clone, Copy, Debug)]
struct Squall {
    add_ms: f64,
    rise_s: f64,
    hold_s: f64,
    fade_s: f64,
    turn_rad: f64,
}

const LONG_AGO_S: f64 = 1e9;
/// How long the synoptic value is smoothed over.
const SMOOTH_S: f64 = 3.0 * 3600.0;
/// How long the wind takes to back again after a front.
const BACKS_OVER_S: f64 = 30.0 * 3600.0;
/// How long a front's shift takes.
const SHIFT_S: f64 = 900.0;

impl Running {
    /// Starts somewhere in the climate's year.
    pub(super) fn new(climate: Climate, dice: &mut Dice) -> Self {
        let mut synoptic = Drift::default();
        let smooth = synoptic.step(f64::MAX, 1.0, dice);
        Self {
            climate,
            synoptic,
            smooth,
            turning: Drift::default(),
            veered_rad: 0.0,
            since_front_s: LONG_AGO_S,
            front_veer_rad: 0.0,
            since_squall_s: LONG_AGO_S,
            squall: Squall {
                add_ms: 0.0,
                rise_s: 60.0,
                hold_s: 0.0,
                fade_s: 60.0,
                turn_rad: 0.0,
            },
        }
    }

    /// One step on.
    pub(super) fn step(&mut self, dt_s: f64, dice: &mut Dice) -> Mean {
        let memory_s = self.climate.memory_h * 3600.0;
        let raw = self.synoptic.step(dt_s, memory_s, dice);
        self.smooth += (raw - self.smooth) * (dt_s / SMOOTH_S).min(1.0);
        let wander = self.turning.step(dt_s, memory_s, dice);
        // The next low backs the wind again before it veers.
        self.veered_rad *= libm::exp(-dt_s / BACKS_OVER_S);
        self.strike(dt_s, dice);

        let front = ease(self.since_front_s / SHIFT_S);
        let kick = libm::exp(-self.since_front_s / 5400.0);
        let rebound = ease(self.since_front_s / 2700.0) * libm::exp(-self.since_front_s / 14_400.0);
        let (blow, squall) = (self.squall.blow(self.since_squall_s), self.squall);
        let fair_ms = ms(self.climate.median_kn) * libm::exp(self.climate.spread * self.smooth);
        let from_rad = rad(self.climate.from_deg)
            + wander * rad(50.0)
            + self.veered_rad
            + front * self.front_veer_rad
            + blow * squall.turn_rad;
        Mean {
            speed_ms: fair_ms * (1.0 + 0.3 * front * kick) + blow * squall.add_ms,
            from_rad: wrap(from_rad),
            pressure_hpa: 1012.0 - 9.0 * self.smooth + 3.0 * rebound + 2.0 * blow,
            gustier: 1.0 + 0.4 * blow + 0.5 * front * kick,
        }
    }

    fn strike(&mut self, dt_s: f64, dice: &mut Dice) {
        self.since_front_s += dt_s;
        self.since_squall_s += dt_s;
        let a_week = 1.0 / (7.0 * 24.0);
        if dice.strikes(self.climate.fronts_per_week * a_week, dt_s) && self.since_front_s > 6e4 {
            self.veered_rad += self.front_veer_rad;
            self.front_veer_rad = rad(dice.between(25.0, 80.0));
            self.since_front_s = 0.0;
        }
        if dice.strikes(self.climate.squalls_per_week * a_week, dt_s)
            && self.since_squall_s > 7200.0
        {
            self.squall = Squall {
                add_ms: ms(dice.between(10.0, 26.0)),
                rise_s: dice.between(30.0, 240.0),
                hold_s: dice.between(180.0, 1200.0),
                fade_s: dice.between(300.0, 1200.0),
                turn_rad: rad(dice.between(-40.0, 40.0)),
            };
            self.since_squall_s = 0.0;
        }
    }
}

impl Squall {
    fn blow(&self, since_s: f64) -> f64 {
        let up = ease(since_s / self.rise_s);
        up * (1.0 - ease((since_s - self.rise_s - self.hold_s) / self.fade_s))
    }
}
