//! The skipper's forecast: a small table, held against what is measured.
//!
//! In: a [`Table`] of wind at 10 m over ground, and each minute's measured
//! mean with its UTC. Out: for a plan's limit a [`Curve`] of the odds that it
//! is passed, a [`Forecast::weight`] for it, and the [`Error`] so far in plain
//! words ("front about 2 h early, 4 kn over the forecast").
//!
//! How: `aloft` takes the table to the masthead over water; `error` learns
//! by which hours and knots it is off; a limit is passed with the odds of
//! all cells of that error in which it is, the wind's own wandering included;
//! `blend` joins those odds with the measured ones so that they can only
//! rise. The weight shrinks with the error, and with what no error explains.
//!
//! Errors are those of the weather against the table: *early* is sooner than
//! told, *over* is stronger than told.
//!
//! Without UTC, without wind, before the table begins and after it ends there
//! are no odds; then all is as without a forecast.

mod aloft;
mod blend;
mod error;
mod table;
#[cfg(test)]
mod tests;
mod words;

use crate::ladder::Limit;
use crate::outlook::{self, HORIZON_S};
use crate::wind::Vector;

pub use aloft::Frame;
pub use error::Error;
pub use table::{Current, MAX_ROWS, Refused, Row, Sure, Table};

use aloft::Aloft;
use error::{Learned, residual_kn};

/// Means are held against the table over so many minutes.
const MINUTES: u32 = 10;
const MINUTE_S: i64 = 60;
/// Between the knots of a curve.
const STEP_S: u32 = 300;
/// Knots of a curve: now and every 5 minutes to the horizon.
const KNOTS: usize = (HORIZON_S / STEP_S) as usize + 1;
/// Cells less likely than this are left out.
const NEGLIGIBLE: f64 = 1e-4;
/// The measured current is a mean over about this many minutes.
const CURRENT_MIN: f64 = 10.0;

/// See the module.
#[derive(Clone, Debug)]
pub struct Forecast {
    table: Table,
    frame: Frame,
    aloft: Aloft,
    learned: Learned,
    current: Option<Vector>,
    gathering: Option<Gathering>,
}

/// Minutes that are becoming a ten-minute mean.
#[derive(Clone, Copy, Debug)]
struct Gathering {
    from_unix_s: i64,
    minutes: u32,
    sum_kn: f64,
}

impl Forecast {
    /// A table that nothing has been held against yet.
    pub fn new(table: Table, frame: Frame) -> Forecast {
        let aloft = Aloft::of(&table, frame, None);
        let learned = Learned::new(aloft.least_spread_kn(), timing_h(&table));
        Forecast {
            table,
            frame,
            aloft,
            learned,
            current: None,
            gathering: None,
        }
    }

    /// The table.
    pub fn table(&self) -> &Table {
        &self.table
    }

    /// Takes the mean true wind over water at the masthead of the minute that
    /// began at `unix_s`, and the current it was measured in, where known.
    pub fn step(&mut self, unix_s: i64, mean_kn: f64, current: Option<Vector>) {
        if !mean_kn.is_finite() {
            return;
        }
        self.take_current(current);
        let follows = |open: &Gathering| {
            let due = open.from_unix_s + i64::from(open.minutes) * MINUTE_S;
            // A minute's slack: UTC may be set by seconds.
            (unix_s - due).abs() < MINUTE_S
        };
        let open = self.gathering.filter(follows);
        let (from_unix_s, minutes, sum_kn) = match open {
            Some(open) => (open.from_unix_s, open.minutes + 1, open.sum_kn + mean_kn),
            None => (unix_s, 1, mean_kn),
        };
        self.gathering = Some(Gathering {
            from_unix_s,
            minutes,
            sum_kn,
        });
        if minutes == MINUTES {
            self.gathering = None;
            let middle_s = from_unix_s + i64::from(MINUTES) * MINUTE_S / 2;
            self.take_mean(middle_s as f64, sum_kn / f64::from(MINUTES));
        }
    }

    /// Takes a mean over ten minutes about a moment, for series that have
    /// nothing finer.
    pub fn step_ten_minutes(&mut self, from_unix_s: i64, mean_kn: f64) {
        if mean_kn.is_finite() {
            let middle_s = from_unix_s + i64::from(MINUTES) * MINUTE_S / 2;
            self.take_mean(middle_s as f64, mean_kn);
        }
    }

    /// Odds over the look-aheads from `unix_s` that a limit is passed; none
    /// outside the table. Gusts are reckoned by `gust_factor` where the table
    /// tells none.
    pub fn curve(&self, limit: Limit, gust_factor: f64, unix_s: i64) -> Option<Curve> {
        let now = unix_s as f64;
        let (first, last) = self.aloft.span_s()?;
        // What it says of now has to be held against the wind first: a table
        // that is far off would call the moment it is entered.
        let is_unheard = self.learned.error().means < LEAST_MEANS && now >= first;
        if now > last || is_unheard {
            return None;
        }
        let mut odds = [0.0_f32; KNOTS];
        for (shift, row) in self.learned.cells() {
            let mut nearest = Nearest::default();
            let mut reach = [(0.0, 1.0); KNOTS];
            for (place, reach) in reach.iter_mut().enumerate() {
                let ahead = place as f64 * f64::from(STEP_S);
                nearest.take(self.margin(limit, gust_factor, now + ahead, shift));
                *reach = (nearest.margin_kn, nearest.residual_kn);
            }
            for (offset, weight) in row.filter(|(_, weight)| *weight > NEGLIGIBLE) {
                for (odds, (margin, residual)) in odds.iter_mut().zip(reach) {
                    *odds += (weight * over((margin + offset) / residual)) as f32;
                }
            }
        }
        // Rounding, and margins whose spread differs, must not bend it down.
        let mut most = 0.0_f32;
        for odds in &mut odds {
            most = most.max(odds.clamp(0.0, 1.0));
            *odds = most;
        }
        Some(Curve(odds))
    }

    /// Odds that a limit is passed at some time between two moments.
    pub fn odds_between(
        &self,
        limit: Limit,
        gust_factor: f64,
        from_unix_s: i64,
        to_unix_s: i64,
    ) -> Option<f64> {
        let (first, last) = self.aloft.span_s()?;
        let (from, to) = (
            (from_unix_s as f64).max(first),
            (to_unix_s as f64).min(last),
        );
        if from > to {
            return None;
        }
        let steps = (((to - from) / HALF_HOUR_S) as u32).min(MOST_HALF_HOURS);
        let mut whole = 0.0;
        for (shift, row) in self.learned.cells() {
            let mut nearest = Nearest::default();
            for step in 0..=steps {
                let at = from + f64::from(step) * HALF_HOUR_S;
                nearest.take(self.margin(limit, gust_factor, at, shift));
            }
            whole += row
                .map(|(offset, weight)| {
                    weight * over((nearest.margin_kn + offset) / nearest.residual_kn)
                })
                .sum::<f64>();
        }
        Some(whole.clamp(0.0, 1.0))
    }

    /// How much it counts, 0 to 1: less the more it has been off.
    pub fn weight(&self) -> f64 {
        self.learned.weight()
    }

    /// How far it has been off.
    pub fn error(&self) -> Error {
        self.learned.error()
    }

    /// Whether it still reaches beyond a moment.
    pub fn covers(&self, unix_s: i64) -> bool {
        self.aloft
            .span_s()
            .is_some_and(|(_, last)| unix_s as f64 <= last)
    }

    /// What it says of a moment as it stands, at the masthead over water, kn.
    pub fn told_kn(&self, unix_s: i64) -> Option<f64> {
        let (first, last) = self.aloft.span_s()?;
        let at = unix_s as f64;
        (first..=last)
            .contains(&at)
            .then(|| self.aloft.at(at))
            .flatten()
            .map(|told| told.mean_kn)
    }

    fn take_current(&mut self, current: Option<Vector>) {
        if let Some(now) = current {
            self.current = Some(match self.current {
                Some(mean) => mean + (now - mean).times(1.0 / CURRENT_MIN),
                None => now,
            });
            self.aloft = Aloft::of(&self.table, self.frame, self.current);
        }
    }

    fn take_mean(&mut self, unix_s: f64, mean_kn: f64) {
        let inside = self
            .aloft
            .span_s()
            .is_some_and(|(first, last)| (first..=last).contains(&unix_s));
        if inside {
            let timing_h = timing_h(&self.table);
            self.learned.take(&self.aloft, timing_h, unix_s, mean_kn);
        }
    }

    /// How far over the limit the wind is told to be at a moment, if all comes
    /// so much later.
    fn margin(&self, limit: Limit, gust_factor: f64, at: f64, shift: f64) -> Option<(f64, f64)> {
        let (first, last) = self.aloft.span_s()?;
        if !(first..=last).contains(&at) {
            return None;
        }
        let told = self.aloft.at(at - shift)?;
        let by_gust = limit
            .gust
            .map(|gust| gust.get() / told.gust_ratio.unwrap_or(gust_factor).max(1.0));
        let limit_kn = match (limit.mean.map(|mean| mean.get()), by_gust) {
            (Some(mean), Some(gust)) => mean.min(gust),
            (mean, gust) => mean.or(gust)?,
        };
        let residual = residual_kn(told.mean_kn, told.spread_kn, self.aloft.least_spread_kn());
        Some((told.mean_kn - limit_kn, residual))
    }
}

/// Ten-minute means that a forecast is held against before it may call.
const LEAST_MEANS: u32 = 1;

const HALF_HOUR_S: f64 = 1800.0;
/// A night of 24 h.
const MOST_HALF_HOURS: u32 = 48;

/// The moment at which a limit is most surely passed, so far.
#[derive(Clone, Copy, Debug)]
struct Nearest {
    margin_kn: f64,
    residual_kn: f64,
}

impl Default for Nearest {
    fn default() -> Self {
        Nearest {
            margin_kn: f64::NEG_INFINITY,
            residual_kn: 1.0,
        }
    }
}

impl Nearest {
    fn take(&mut self, moment: Option<(f64, f64)>) {
        if let Some((margin_kn, residual_kn)) = moment
            && margin_kn > self.margin_kn
        {
            *self = Nearest {
                margin_kn,
                residual_kn,
            };
        }
    }
}

/// Chance that a standard normal is under `z`.
fn over(z: f64) -> f64 {
    0.5 * libm::erfc(-z / core::f64::consts::SQRT_2)
}

fn timing_h(table: &Table) -> f64 {
    let rows = table.rows();
    rows.iter().map(|row| row.sure.timing_h()).sum::<f64>() / rows.len().max(1) as f64
}

/// A forecast's odds against one limit over the look-aheads; never falling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve([f32; KNOTS]);

impl Curve {
    /// Odds that the limit is passed within a look-ahead, 0 to [`HORIZON_S`].
    pub fn odds(&self, horizon_s: u32) -> f64 {
        let horizon_s = horizon_s.min(HORIZON_S);
        let place = (horizon_s / STEP_S) as usize;
        let part = f64::from(horizon_s % STEP_S) / f64::from(STEP_S);
        let at = |place: usize| self.0.get(place).map(|odds| f64::from(*odds));
        let Some(from) = at(place) else {
            return 0.0;
        };
        let to = at(place + 1).unwrap_or(from);
        from + part * (to - from)
    }
}

/// Measured odds against a limit, brought forward by a forecast's.
#[derive(Clone, Copy, Debug)]
pub struct Joined {
    /// As measured.
    pub measured: outlook::Curve,
    /// As told.
    pub told: Curve,
    /// How much the forecast counts, 0 to 1.
    pub weight: f64,
}

impl Joined {
    /// Odds that the limit is passed within a look-ahead: at least those
    /// measured.
    pub fn odds(&self, horizon_s: u32) -> f64 {
        let (measured, told) = (self.measured.odds(horizon_s), self.told.odds(horizon_s));
        blend::blended(measured, told, self.weight)
    }

    /// First whole minute, in seconds, at which they reach `odds`; none beyond
    /// [`HORIZON_S`].
    pub fn time_to_s(&self, odds: f64) -> Option<f64> {
        if odds.is_nan() || self.odds(HORIZON_S) < odds {
            return None;
        }
        (0..=HORIZON_S / 60)
            .map(|minute| minute * 60)
            .find(|horizon_s| self.odds(*horizon_s) >= odds)
            .map(f64::from)
    }
}
