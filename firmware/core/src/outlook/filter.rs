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

/// Growth of the level's variance per hour, in scatters of a ten-minute mean,
/// and of the trend's, the same per hour squared. Chosen so that it follows the
/// wind over about an hour: likelihood alone makes it a random walk.
const LEVEL_Q: f64 = 3.0;
const TREND_Q: f64 = 0.3;
/// Seconds in which a trend fades to 1/e. Common practice, no source.
const DAMPING_S: f64 = 5400.0;
/// Seconds over which the scatter is averaged. Common practice, no source.
const SCALE_S: f64 = 10_800.0;
/// Look-aheads, minutes, of the likely band.
const BAND_MIN: [f64; 5] = [10.0, 20.0, 30.0, 60.0, 90.0];
/// Tenth, fiftieth and ninetieth percentile of the wind ahead, in scales from
/// the filter's forecast, on the farm's ten-minute means of 2014.
const BAND_LOW: [f64; 5] = [-1.727552, -2.261288, -2.635145, -3.419980, -3.994092];
const BAND_MIDDLE: [f64; 5] = [-0.037425, -0.110227, -0.169292, -0.302487, -0.436949];
const BAND_HIGH: [f64; 5] = [1.674280, 2.044301, 2.275456, 2.758061, 3.100835];

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
