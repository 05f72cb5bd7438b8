//! The odds that a limit is passed for good within the next minutes.
//!
//! In: one [`Summary`] of an interval (1 s to 10 min) at a time, with the time
//! at which the interval began. Out: for any limit a [`Curve`] of calibrated
//! odds over look-aheads, and level, trend and likely band for the screen. A
//! pure step: no clock, no allocation, the same summaries give the same odds.
//!
//! *Passed for good*: the ten-minute wind comes to or over the limit, after
//! half an hour under it, and is there for at least half of the 30 min that
//! follow. A lone gust is not it.
//!
//! How: `history` turns a day of summaries into some thirty numbers (how near
//! the limit, what the last hours did, how unsteady it is), `filter` adds
//! level and damped trend, and `forest` maps these, *divided by the limit*,
//! and the look-ahead to log-odds; a rising curve makes them calibrated. Only
//! ratios enter, so no unit and no place is known to it; all fitted numbers are
//! in `fitted.rs` with the command that made them.
//!
//! By construction, and tested: a constant added to the whole history never
//! lowers the odds, nor does a longer look-ahead. A lower limit against the
//! same wind is not promised the same, since all is measured against the limit.
//!
//! With little history the windows hold what there is; five minutes are enough
//! for odds, and the fit has seen such cold starts. Without a current ten-minute
//! block (five minutes known of ten) or a current minute there are no odds:
//! `None`, never an old number.
//!
//! Gust, direction and pressure are accepted, checked and not used yet: the
//! series that the odds were fitted on carry none that would generalise.
//!
//! Heel enters as the wind it stands for, see [`Summary::from_heel`].

mod filter;
// Generated: laid out by its script.
#[rustfmt::skip]
mod fitted;
mod forest;
mod history;
#[cfg(test)]
mod tests;
// Generated.
#[rustfmt::skip]
mod untrended;

use filter::Filter;
use history::{History, Row};

/// Longest interval of a summary, seconds.
pub const LONGEST_INTERVAL_S: u32 = 600;
/// The outlook reaches this far, seconds.
pub const HORIZON_S: u32 = 5400;

/// Shortest and longest look-ahead of the odds, seconds; others are answered as
/// these. The longest has room for a call time and a sample beyond the horizon.
const ASKED_S: (u32, u32) = (60, 6000);
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

    /// A summary of heel: give an outlook of its own nothing but these, and ask
    /// it with [`heel_as_wind`] of the limit.
    ///
    /// The heeling moment grows with the square of the wind and the righting
    /// moment about with the angle, so the root of the angle behaves like wind
    /// and its ratio to the limit means the same. The odds were fitted on wind,
    /// not on heel. Side does not matter; a mean over a tack is not meaningful.
    pub fn from_heel(mean_deg: f64, interval_s: u32) -> Self {
        Self::of_wind(heel_as_wind(mean_deg), interval_s)
    }
}

/// Heel on the scale on which it behaves like wind: the root of its size.
pub fn heel_as_wind(heel_deg: f64) -> f64 {
    libm::sqrt(libm::fabs(heel_deg))
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
    row: Option<Row>,
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
            row: None,
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

    /// Lets time pass to `at_s` without a summary: whole minutes of silence
    /// become a gap, and odds end rather than grow old.
    pub fn pass(&mut self, at_s: u64) {
        if self
            .minute
            .is_some_and(|minute| at_s >= minute.start_s + 2 * MINUTE_S)
        {
            self.close_minute();
        }
        let Some(taken_to_s) = self.taken_to_s else {
            return;
        };
        if self.minute.is_none() && at_s >= taken_to_s + 2 * MINUTE_S {
            let silent = (at_s - taken_to_s) / MINUTE_S - 1;
            self.gap(silent, MINUTE_S as u32);
            self.taken_to_s = Some(taken_to_s + silent * MINUTE_S);
            self.row = None;
        }
    }

    /// The odds against `limit_kn` over all look-aheads, or `None` where they
    /// cannot be told: too little or no current wind, or no sensible limit.
    pub fn curve(&self, limit_kn: f64) -> Option<Curve> {
        if !is_sensible(limit_kn) {
            return None;
        }
        Some(forest::curve(self.row.as_ref()?, limit_kn))
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

    /// Smoothed level, knots.
    pub fn level_kn(&self) -> Option<f64> {
        self.row.as_ref().and_then(|_| self.filter.level())
    }

    /// Trend of the level now, knots per hour; it fades with the look-ahead.
    pub fn trend_kn_per_hour(&self) -> Option<f64> {
        self.row.as_ref().and_then(|_| self.filter.trend())
    }

    /// Standard deviation of the next ten-minute mean about its forecast, knots.
    pub fn spread_kn(&self) -> Option<f64> {
        self.row.as_ref().and_then(|_| self.filter.spread())
    }

    /// Where the ten-minute mean is likely to be `horizon_s` ahead: 1 time in 10
    /// below the first, about as often over as under the second, 1 in 10 above
    /// the third. Knots.
    pub fn likely(&self, horizon_s: u32) -> Option<[f64; 3]> {
        self.row
            .as_ref()
            .and_then(|_| self.filter.likely(horizon_s))
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
            } else {
                self.gap((missing_s + interval / 2) / interval, interval_s);
            }
        }
        self.filter.step(Some(mean), f64::from(interval_s));
        for _ in 0..minutes(interval_s) {
            self.history.push(Some(mean));
        }
        self.taken_to_s = Some(at_s + interval);
        self.row = self.history.row(&self.filter);
        Ok(())
    }

    fn gap(&mut self, intervals: u64, interval_s: u32) {
        // Past a day of silence nothing is left to forget.
        for _ in 0..intervals.min(DAY_S / u64::from(interval_s.max(1)) + 1) {
            self.filter.step(None, f64::from(interval_s));
            for _ in 0..minutes(interval_s) {
                self.history.push(None);
            }
        }
    }
}

fn is_sensible(limit_kn: f64) -> bool {
    limit_kn.is_finite() && limit_kn > 0.0
}

fn minutes(interval_s: u32) -> u32 {
    (interval_s + 30) / MINUTE_S as u32
}

/// The odds against `limit_kn` of a wind of which nothing but its level is
/// known, neither trend nor past: wider than those of a wind that has been
/// watched. None where level or limit is no such thing.
pub fn untrended(level_kn: f64, limit_kn: f64) -> Option<Curve> {
    if !(is_sensible(limit_kn) && (0.0..=HIGHEST_MEAN_KN).contains(&level_kn)) {
        return None;
    }
    let [start, by_gap, by_square, by_time, by_both] = untrended::LOG_ODDS;
    let gap = (1.0 - level_kn / limit_kn).max(0.0);
    let log_odds = fitted::HORIZON_MIN.map(|minutes| {
        let time = libm::log(minutes / 10.0);
        start + (by_gap + by_square * gap) * gap + (by_time + by_both * gap) * time
    });
    Some(Curve {
        passed: level_kn >= limit_kn,
        log_odds,
    })
}

/// Odds against one limit over all look-aheads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// Both the last summary and the ten-minute mean are at or over the limit.
    passed: bool,
    log_odds: [f64; fitted::HORIZON_MIN.len()],
}

impl Curve {
    /// Odds, 0 to 1, that the limit is passed for good within `horizon_s`; 1
    /// where the wind is already there, by its last summary and over ten minutes.
    pub fn odds(&self, horizon_s: u32) -> f64 {
        if self.passed {
            return 1.0;
        }
        let minutes = f64::from(horizon_s.clamp(ASKED_S.0, ASKED_S.1)) / 60.0;
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
        let (mut short, mut enough) = (ASKED_S.0 - 1, HORIZON_S);
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

    /// Between knots log-odds run straight; before the first, odds shrink about
    /// in proportion to the time.
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
                return before_z + (z - before_z) * (minutes - before) / (knot - before);
            }
            (before, before_z) = (knot, z);
        }
        before_z
    }
}
