//! Level and damped trend of the wind by a Kalman filter of two states.
//!
//! Between samples `dt` apart (hours; `fade = exp(-dt / damping)`):
//!
//! ```text
//! level <- level + reach * trend     reach = damping * (1 - fade)
//! trend <- fade * trend
//! variances grow by LEVEL_Q * dt and TREND_Q * dt
//! ```
//!
//! and a sample of an interval of `dt` sees the level with a variance of
//! `600 s / dt`. All variances are in units of the scatter of a ten-minute mean,
//! so the gains are the same in any wind; that scatter itself is a running mean
//! of squared surprises. Starts on the first sample, with the variances that a
//! long-run trend would have.

use super::fitted::{
    BAND_HIGH, BAND_LOW, BAND_MIDDLE, BAND_MIN, DAMPING_S, LEVEL_Q, SCALE_S, TREND_Q,
};

/// Interval whose scatter is the unit of variance, seconds.
const UNIT_S: f64 = 600.0;
const HOUR_S: f64 = 3600.0;

/// The filter's state; empty until the first sample.
#[derive(Clone, Debug)]
pub(super) struct Filter {
    state: Option<State>,
    /// Running scatter, squared, once there was a surprise to measure.
    scale_squared: Option<f64>,
}

#[derive(Clone, Copy, Debug)]
struct State {
    level: f64,
    trend: f64,
    p00: f64,
    p01: f64,
    p11: f64,
}

impl Filter {
    pub(super) const fn new() -> Self {
        Self {
            state: None,
            scale_squared: None,
        }
    }

    /// One interval of `dt_s`, with its mean or, in a gap, without.
    pub(super) fn step(&mut self, mean: Option<f64>, dt_s: f64) {
        let noise = UNIT_S / dt_s;
        let Some(state) = &mut self.state else {
            self.state = mean.map(|level| State {
                level,
                trend: 0.0,
                p00: noise,
                p01: 0.0,
                p11: TREND_Q * DAMPING_S / HOUR_S / 2.0,
            });
            return;
        };
        state.predict(dt_s);
        let Some(mean) = mean else {
            return;
        };
        let surprise = mean - state.level;
        let variance = state.p00 + noise;
        state.update(surprise, variance);
        let squared = surprise * surprise / variance;
        let keep = libm::exp(-dt_s / SCALE_S);
        self.scale_squared = Some(match self.scale_squared {
            Some(before) => keep * before + (1.0 - keep) * squared,
            None => squared,
        });
    }

    pub(super) fn level(&self) -> Option<f64> {
        self.state.map(|state| state.level)
    }

    /// Per hour.
    pub(super) fn trend(&self) -> Option<f64> {
        self.state.map(|state| state.trend)
    }

    /// Standard deviation of the next ten-minute mean about its forecast.
    pub(super) fn spread(&self) -> Option<f64> {
        let mut ahead = self.state?;
        ahead.predict(UNIT_S);
        Some(libm::sqrt(self.scale_squared? * (ahead.p00 + 1.0)))
    }

    /// Tenth, middle and ninetieth percentile of the ten-minute mean ahead.
    pub(super) fn likely(&self, horizon_s: u32) -> Option<[f64; 3]> {
        let state = self.state?;
        let scale = libm::sqrt(self.scale_squared?);
        let horizon_s = f64::from(horizon_s);
        let forecast = state.level + reach_hours(horizon_s) * state.trend;
        let minutes = horizon_s / 60.0;
        Some([&BAND_LOW, &BAND_MIDDLE, &BAND_HIGH].map(|band| {
            let ahead = forecast + scale * interpolate(band, minutes);
            ahead.max(0.0)
        }))
    }
}

impl State {
    fn predict(&mut self, dt_s: f64) {
        let fade = libm::exp(-dt_s / DAMPING_S);
        let reach = reach_hours(dt_s);
        let hours = dt_s / HOUR_S;
        self.level += reach * self.trend;
        self.trend *= fade;
        self.p00 += 2.0 * reach * self.p01 + reach * reach * self.p11 + LEVEL_Q * hours;
        self.p01 = fade * (self.p01 + reach * self.p11);
        self.p11 = fade * fade * self.p11 + TREND_Q * hours;
    }

    fn update(&mut self, surprise: f64, variance: f64) {
        let (k0, k1) = (self.p00 / variance, self.p01 / variance);
        self.level += k0 * surprise;
        self.trend += k1 * surprise;
        self.p11 -= k1 * self.p01;
        self.p01 -= k0 * self.p01;
        self.p00 -= k0 * self.p00;
    }
}

/// How far a trend of 1 per hour carries the level in `dt_s` as it fades.
fn reach_hours(dt_s: f64) -> f64 {
    DAMPING_S / HOUR_S * (1.0 - libm::exp(-dt_s / DAMPING_S))
}

/// Along the band's knots, level outside them.
fn interpolate(values: &[f64; BAND_MIN.len()], minutes: f64) -> f64 {
    let mut before = None;
    for (&knot, &value) in BAND_MIN.iter().zip(values) {
        if minutes <= knot {
            return match before {
                Some((b, v)) => v + (value - v) * (minutes - b) / (knot - b),
                None => value,
            };
        }
        before = Some((knot, value));
    }
    before.map_or(0.0, |(_, value)| value)
}
