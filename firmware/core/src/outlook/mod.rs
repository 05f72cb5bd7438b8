//! The odds that a limit is first passed within each minute ahead.
//!
//! In: one [`Summary`] of an interval (1 s to 15 min) at a time, with the time
//! at which the interval began. Out: for any limit a [`Curve`] of calibrated
//! odds over look-aheads, and a likely band for the screen. A pure step: no
//! clock, no allocation, the same summaries give the same odds.
//!
//! *Passed*: the running mean of ten minutes has come to or over the limit. A
//! lone gust is not it.
//!
//! How: `history` turns a day of summaries into some fifty numbers (how near
//! the limit, what the last hours did, how unsteady it is), `forest` maps
//! these, measured against the limit, to log-odds at the curve's knots, by the
//! mean over the rows of the last minutes; a rising curve makes them
//! calibrated. Only ratios enter, so no unit and no place is known to it; all
//! fitted numbers are in `fitted.rs` with the command that made them.
//!
//! By construction, and tested: the odds never fall with a longer look-ahead,
//! with a lower limit, with all wind scaled up, or with a constant added to it.
//!
//! One model answers for all ages, from a minute to a day: windows hold what
//! there is, and the fit has seen histories cut short. Without a current minute
//! there are no odds: `None`, never an old number.
//!
//! Gust, direction and pressure are accepted and not used: they did not help on
//! waters that the fit had not seen (`tests/reference/outlook/README.md`).

mod filter;
// Generated: laid out by its script.
#[rustfmt::skip]
mod fitted;
mod forest;
mod history;
#[cfg(test)]
mod tests;

use filter::Filter;
use forest::KNOTS;
use history::{History, Row};

/// Longest interval of a summary, seconds.
pub const LONGEST_INTERVAL_S: u32 = 900;
/// The outlook reaches this far, seconds.
pub const HORIZON_S: u32 = 5400;

/// The odds are the mean over the rows of this many minutes: a figure that moves
/// by steps. Chosen by trial, see `tests/reference/outlook/README.md`.
const AVERAGED: usize = 4;
const MINUTE_S: u64 = 60;
const DAY_S: u64 = 86_400;
/// A mean above this is no wind (from memory: the strongest gust on record
/// was about 220 kn).
const HIGHEST_MEAN_KN: f64 = 300.0;

/// What one interval's wind was.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Summary {
    /// Mean speed, knots.
    pub mean_kn: f64,
    /// Highest 3 s gust, knots, where known.
    pub gust_kn: Option<f64>,
    /// Mean direction, degrees, where known.
    pub direction_deg: Option<f64>,
    /// Pressure, hectopascal, where known.
    pub pressure_hpa: Option<f64>,
    /// Length of the interval, seconds: 1 to [`LONGEST_INTERVAL_S`].
    pub interval_s: u32,
}

impl Summary {
    /// A summary of speed alone.
    pub const fn of_wind(mean_kn: f64, interval_s: u32) -> Self {
        Self {
            mean_kn,
            gust_kn: None,
            direction_deg: None,
            pressure_hpa: None,
            interval_s,
        }
    }
}

/// Why a summary was not taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Refused {
    /// The mean is not a number, negative, or beyond any wind.
    Mean(f64),
    /// The interval is outside 1 s to [`LONGEST_INTERVAL_S`].
    Interval(u32),
    /// It ends before, or overlaps, what was already taken.
    NotLater {
        /// End of what was taken, seconds.
        taken_to_s: u64,
        /// Start of the refused interval, seconds.
        at_s: u64,
    },
}

impl core::fmt::Display for Refused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Mean(mean) => write!(f, "mean {mean} is outside 0 to {HIGHEST_MEAN_KN}"),
            Self::Interval(s) => {
                write!(f, "interval {s} s is outside 1 to {LONGEST_INTERVAL_S} s")
            }
            Self::NotLater { taken_to_s, at_s } => {
                write!(
                    f,
                    "summary from {at_s} s on, already taken to {taken_to_s} s"
                )
            }
        }
    }
}

impl core::error::Error for Refused {}

/// The wind's recent past, ready to be asked about any limit.
#[derive(Clone, Debug)]
pub struct Outlook {
    history: History,
    filter: Filter,
    /// Rows of the last minutes, the newest first.
    rows: [Option<Row>; AVERAGED],
    /// End of what was taken.
    taken_to_s: Option<u64>,
    /// Start of the newest summary.
    newest_s: Option<u64>,
    minute: Option<OpenMinute>,
}

/// The minute that shorter intervals are filling.
#[derive(Clone, Copy, Debug)]
struct OpenMinute {
    start_s: u64,
    heard_to_s: u64,
    weighted: f64,
    seconds: u32,
}

impl Default for Outlook {
    fn default() -> Self {
        Self::new()
    }
}

impl Outlook {
    /// Knows nothing yet.
    pub const fn new() -> Self {
        Self {
            history: History::new(),
            filter: Filter::new(),
            rows: [None; AVERAGED],
            taken_to_s: None,
            newest_s: None,
            minute: None,
        }
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        *self = Self::new();
    }

    /// When the newest summary began, seconds.
    pub fn at_s(&self) -> Option<u64> {
        self.newest_s
    }

    /// Takes the summary of the interval that began at `at_s` (seconds on any
    /// clock that only grows).
    ///
    /// Intervals under a minute are gathered into whole minutes of that clock;
    /// half a minute must be heard for a minute to count. Longer ones count as
    /// whole minutes. Time between intervals is a gap, and remembered as one.
    /// A refused summary changes nothing, so its time becomes a gap too.
    pub fn step(&mut self, at_s: u64, summary: &Summary) -> Result<(), Refused> {
        let mean = summary.mean_kn;
        if !(0.0..=HIGHEST_MEAN_KN).contains(&mean) {
            return Err(Refused::Mean(mean));
        }
        let interval_s = summary.interval_s;
        if interval_s == 0 || interval_s > LONGEST_INTERVAL_S {
            return Err(Refused::Interval(interval_s));
        }
        if u64::from(interval_s) < MINUTE_S {
            self.gather(at_s, mean, interval_s)?;
        } else {
            self.close_minute();
            self.take(at_s, mean, interval_s)?;
        }
        self.newest_s = Some(at_s);
        Ok(())
    }

    /// The odds against `limit_kn` over all look-aheads, or `None` where they
    /// cannot be told: too little or no current wind, or no sensible limit.
    pub fn curve(&self, limit_kn: f64) -> Option<Curve> {
        if !is_sensible(limit_kn) || !self.is_current() {
            return None;
        }
        Some(Curve {
            passed: self.history.ten_minutes() >= limit_kn,
            log_odds: forest::log_odds(self.rows.iter().flatten(), limit_kn),
        })
    }

    /// Odds, 0 to 1, that `limit_kn` is passed for good within `horizon_s`.
    pub fn odds(&self, limit_kn: f64, horizon_s: u32) -> Option<f64> {
        Some(self.curve(limit_kn)?.odds(horizon_s))
    }

    /// First look-ahead, seconds, at which the odds against `limit_kn` reach
    /// `odds`; `None` beyond [`HORIZON_S`] or where odds cannot be told.
    pub fn time_to_s(&self, limit_kn: f64, odds: f64) -> Option<f64> {
        self.curve(limit_kn)?.time_to_s(odds)
    }

    /// Where the ten-minute mean is likely to be `horizon_s` ahead: 1 time in 10
    /// below the first, about as often over as under the second, 1 in 10 above
    /// the third. Knots.
    pub fn likely(&self, horizon_s: u32) -> Option<[f64; 3]> {
        self.filter.likely(horizon_s).filter(|_| self.is_current())
    }

    /// Whether the newest minute is known.
    fn is_current(&self) -> bool {
        matches!(self.rows, [Some(_), ..])
    }

    /// Adds a short interval to the open minute, closing it when it is full.
    fn gather(&mut self, at_s: u64, mean: f64, interval_s: u32) -> Result<(), Refused> {
        let heard = self.minute.map(|minute| minute.heard_to_s);
        if let Some(taken_to_s) = heard.or(self.taken_to_s).filter(|&heard| at_s < heard) {
            return Err(Refused::NotLater { taken_to_s, at_s });
        }
        let start_s = at_s / MINUTE_S * MINUTE_S;
        if self.minute.is_some_and(|minute| minute.start_s != start_s) {
            self.close_minute();
        }
        let minute = self.minute.get_or_insert(OpenMinute {
            start_s,
            heard_to_s: at_s,
            weighted: 0.0,
            seconds: 0,
        });
        minute.heard_to_s = at_s + u64::from(interval_s);
        minute.weighted += mean * f64::from(interval_s);
        minute.seconds += interval_s;
        if minute.heard_to_s >= start_s + MINUTE_S {
            self.close_minute();
        }
        Ok(())
    }

    /// A minute heard for less than half becomes part of the gap before the
    /// next one.
    fn close_minute(&mut self) {
        let Some(minute) = self.minute.take() else {
            return;
        };
        if 2 * u64::from(minute.seconds) >= MINUTE_S {
            let mean = minute.weighted / f64::from(minute.seconds);
            // Refused only where a longer interval already covered this minute.
            let _ = self.take(minute.start_s, mean, MINUTE_S as u32);
        }
    }

    /// Takes an interval of whole minutes, after the gap before it.
    fn take(&mut self, at_s: u64, mean: f64, interval_s: u32) -> Result<(), Refused> {
        let interval = u64::from(interval_s);
        if let Some(taken_to_s) = self.taken_to_s {
            if at_s + interval / 2 < taken_to_s {
                return Err(Refused::NotLater { taken_to_s, at_s });
            }
            let missing_s = at_s.saturating_sub(taken_to_s);
            if missing_s > DAY_S {
                self.history = History::new();
                self.filter = Filter::new();
                self.rows = [None; AVERAGED];
            } else {
                self.gap((missing_s + interval / 2) / interval, interval_s);
            }
        }
        self.filter.step(Some(mean), f64::from(interval_s));
        for _ in 0..minutes(interval_s) {
            self.push(Some(mean));
        }
        self.taken_to_s = Some(at_s + interval);
        let [newest, ..] = &mut self.rows;
        *newest = self.history.row();
        Ok(())
    }

    fn gap(&mut self, intervals: u64, interval_s: u32) {
        // Past a day of silence nothing is left to forget.
        for _ in 0..intervals.min(DAY_S / u64::from(interval_s.max(1)) + 1) {
            self.filter.step(None, f64::from(interval_s));
            for _ in 0..minutes(interval_s) {
                self.push(None);
            }
        }
    }

    /// Adds a minute, whose row is yet to be made.
    fn push(&mut self, minute: Option<f64>) {
        self.history.push(minute);
        self.rows.rotate_right(1);
        let [newest, ..] = &mut self.rows;
        *newest = None;
    }
}

fn is_sensible(limit_kn: f64) -> bool {
    limit_kn.is_finite() && limit_kn > 0.0
}

fn minutes(interval_s: u32) -> u32 {
    (interval_s + 30) / MINUTE_S as u32
}

/// Odds against one limit over all look-aheads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// The mean of the last ten minutes is at or over the limit.
    passed: bool,
    log_odds: [f64; KNOTS],
}

impl Curve {
    /// Odds, 0 to 1, that the limit is passed within `horizon_s`; 1 where it is
    /// already. Beyond [`HORIZON_S`] they are those of that.
    pub fn odds(&self, horizon_s: u32) -> f64 {
        if self.passed {
            return 1.0;
        }
        let minutes = f64::from(horizon_s.clamp(1, HORIZON_S)) / 60.0;
        1.0 / (1.0 + libm::exp(-self.log_odds_at(minutes)))
    }

    /// First look-ahead, seconds, at which the odds reach `odds`, to the second;
    /// `None` where they do not within [`HORIZON_S`].
    pub fn time_to_s(&self, odds: f64) -> Option<f64> {
        if odds.is_nan() || self.odds(HORIZON_S) < odds {
            return None;
        }
        if self.passed {
            return Some(0.0);
        }
        let (mut short, mut enough) = (0, HORIZON_S);
        while enough - short > 1 {
            let middle = short + (enough - short) / 2;
            if self.odds(middle) >= odds {
                enough = middle;
            } else {
                short = middle;
            }
        }
        Some(f64::from(enough))
    }

    /// Between knots log-odds run straight over the logarithm of time; before
    /// the first, odds shrink about in proportion to the time.
    fn log_odds_at(&self, minutes: f64) -> f64 {
        let mut knots = fitted::HORIZON_MIN.iter().zip(&self.log_odds);
        let Some((&first, &first_z)) = knots.next() else {
            return f64::NEG_INFINITY;
        };
        if minutes <= first {
            return first_z + libm::log(minutes / first);
        }
        let (mut before, mut before_z) = (first, first_z);
        for (&knot, &z) in knots {
            if minutes <= knot {
                let part = libm::log(minutes / before) / libm::log(knot / before);
                return before_z + (z - before_z) * part;
            }
            (before, before_z) = (knot, z);
        }
        before_z
    }
}
