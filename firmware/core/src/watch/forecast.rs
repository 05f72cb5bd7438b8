//! The skipper's forecast as a threat of its own, beside wind and heel.
//!
//! It can never hide or delay a call: it is one more threat, and the soonest
//! counts. It asks for no more than `prepare`: `reduce` waits for the wind. And
//! what was acknowledged while only a forecast called is no answer to the wind:
//! when the wind itself calls, it sounds anew.

use heapless::Vec;

use super::Watch;
use super::deck::{Saved, SavedForecast};
use super::limits::within;
use crate::boat::Boat;
use crate::call::threat::{Against, Reached, Sums, Threat};
use crate::forecast::{Error, Forecast, Frame, Joined, Table};
use crate::ladder::Limit;
use crate::outlook::HORIZON_S;
use crate::stats::minute::Minute;
use crate::text::text;
use crate::time::Timestamp;
use crate::view::{ForecastError, ForecastStanding, ForecastView};
use crate::wind::Vector;

/// The forecast and what it was asked since the last minute.
#[derive(Clone, Debug, Default)]
pub(super) struct ForecastThreat {
    forecast: Option<Forecast>,
    by: By,
    asked: Option<Answer>,
    /// Odds over the outlook for the plan with more sail.
    more_sail: Option<(Limit, f64)>,
}

/// A forecast alone leaves at least so much beside the change, seconds.
const LEAST_S: f64 = 1.0;

/// Who gave the forecast, or took it away.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum By {
    #[default]
    TheBoat,
    TheCrew,
}

/// One answer, kept until the next minute or the next question.
#[derive(Clone, Copy, Debug)]
struct Answer {
    question: Question,
    joined: Joined,
    soonest_s: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Question {
    limit: Limit,
    limit_kn: f64,
    gust_factor: f64,
    setting: f64,
}

/// What the forecast says of a stretch of time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    /// Odds that a limit is passed in it, as the forecast stands.
    pub(super) odds: f64,
    /// How much that counts, 0 to 1.
    pub(super) weight: f64,
    pub(super) covers: Covers,
}

/// Whether a forecast reaches to the end of a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Covers {
    All,
    Part,
}

impl ForecastThreat {
    /// What the crew had entered before the power went, else the boat's own.
    pub(super) fn started(boat: &Boat, saved: Option<&Saved>) -> Self {
        let frame = frame(&boat.instruments);
        match saved.map(|saved| &saved.forecast) {
            Some(SavedForecast::Entered(table)) => Self::of(table.clone(), By::TheCrew, frame),
            Some(SavedForecast::OfTheBoat) | None => {
                Self::of(boat.forecast.clone(), By::TheBoat, frame)
            }
        }
    }

    fn of(table: Option<Table>, by: By, frame: Frame) -> Self {
        ForecastThreat {
            forecast: table.map(|table| Forecast::new(table, frame)),
            by,
            asked: None,
            more_sail: None,
        }
    }

    pub(super) fn saved(&self) -> SavedForecast {
        let table = || self.forecast.as_ref().map(|it| it.table().clone());
        match self.by {
            By::TheBoat => SavedForecast::OfTheBoat,
            By::TheCrew => SavedForecast::Entered(table()),
        }
    }
}

impl Watch {
    /// Takes another forecast, or none any more; what was learned of the one
    /// before is forgotten.
    pub fn set_forecast(&mut self, table: Option<Table>, now: Timestamp) {
        self.tick(now);
        self.forecast = ForecastThreat::of(table, By::TheCrew, frame(&self.boat.instruments));
        self.assess();
    }

    /// Holds a closed minute against the forecast.
    pub(super) fn feed_forecast(&mut self, minute: &Minute) {
        self.forecast.asked = None;
        self.forecast.more_sail = None;
        let current = self.current();
        let (Some(mean), Some(fix)) = (minute.mean_kn, self.utc.fix()) else {
            return;
        };
        if let Some(forecast) = &mut self.forecast.forecast {
            let unix_s = fix.unix_ms_at(minute.start).div_euclid(1000);
            forecast.step(unix_s, f64::from(mean), current);
        }
    }

    /// Wind over ground less wind over water, where both are known by true
    /// north.
    fn current(&self) -> Option<Vector> {
        let wind = &self.measured.wind;
        let blows_to =
            |kn: Option<f64>, from_deg: Option<f64>| Some(Vector::polar(kn?, from_deg? + 180.0));
        Some(blows_to(wind.ground_kn, wind.ground_deg)? - blows_to(wind.tws_kn, wind.twd_deg)?)
    }

    /// The plan's wind limit, by wind and forecast together.
    pub(super) fn forecast_threat(&mut self, limit: Limit, sums: &Sums) -> Option<Threat> {
        let limit_kn = super::limits::wind_limit(limit, self.gust_factor())?;
        let level = self.level_kn()?;
        let answer = self.ask_forecast(Question {
            limit,
            limit_kn,
            gust_factor: self.gust_factor(),
            setting: self.setting(),
        })?;
        // It asks for no more than `prepare`, and shows no less time than
        // that leaves.
        let at_least_s = sums.change_s + LEAST_S;
        Some(Threat {
            against: Against::Forecast,
            limit: limit_kn,
            level,
            reached: Reached::Under,
            soonest_s: answer.soonest_s.map(|soonest| soonest.max(at_least_s)),
            odds: Some(answer.joined.odds(within(sums.work_s))),
        })
    }

    fn ask_forecast(&mut self, question: Question) -> Option<Answer> {
        if let Some(known) = self.forecast.asked.filter(|it| it.question == question) {
            return Some(known);
        }
        let joined = self.joined(question.limit, question.limit_kn)?;
        let answer = Answer {
            question,
            joined,
            soonest_s: joined.time_to_s(question.setting),
        };
        self.forecast.asked = Some(answer);
        Some(answer)
    }

    /// Measured odds against a limit, brought forward by the forecast; none
    /// where there is no forecast for now or nothing is measured.
    fn joined(&self, limit: Limit, limit_kn: f64) -> Option<Joined> {
        // Measured hours ago, or by hand, it is no measure of now.
        if !self.wind_ahead_is_current() {
            return None;
        }
        let unix_s = self.unix_ms()?.div_euclid(1000);
        let forecast = self.forecast.forecast.as_ref()?;
        Some(Joined {
            told: forecast.curve(limit, self.gust_factor(), unix_s)?,
            measured: self.wind_ahead.outlook().curve(limit_kn)?,
            weight: forecast.weight(),
        })
    }

    /// Odds over the outlook that a limit is passed by what the forecast is
    /// worth; nothing where it says nothing. Asked once a minute.
    pub(super) fn forecast_odds(&mut self, limit: Limit, limit_kn: f64) -> f64 {
        let known = self.forecast.more_sail.filter(|(known, _)| *known == limit);
        let odds = known.map(|(_, odds)| odds).unwrap_or_else(|| {
            self.joined(limit, limit_kn)
                .map_or(0.0, |joined| joined.odds(HORIZON_S))
        });
        self.forecast.more_sail = Some((limit, odds));
        odds
    }

    /// What the forecast gives for passing a limit between two moments from
    /// now, seconds.
    pub(super) fn forecast_between(&self, limit: Limit, from_s: f64, to_s: f64) -> Option<Told> {
        let now = self.unix_ms()?.div_euclid(1000);
        let forecast = self.forecast.forecast.as_ref()?;
        let (from, to) = (now + from_s as i64, now + to_s as i64);
        Some(Told {
            odds: forecast.odds_between(limit, self.gust_factor(), from, to)?,
            weight: forecast.weight(),
            covers: match forecast.covers(to) {
                true => Covers::All,
                false => Covers::Part,
            },
        })
    }

    /// Seconds until each row of the forecast within a horizon, and the wind
    /// it tells of, at the masthead over water.
    pub(super) fn forecast_rows_ahead(
        &self,
        horizon_s: f64,
    ) -> Vec<(f64, f64), { crate::forecast::MAX_ROWS }> {
        let (Some(now), Some(forecast)) = (self.unix_ms(), &self.forecast.forecast) else {
            return Vec::new();
        };
        let now = now.div_euclid(1000);
        let rows = forecast.table().rows().iter();
        let ahead = rows.map(|row| (row.unix_s.saturating_sub(now) as f64, row.unix_s));
        ahead
            .filter(|(in_s, _)| (0.0..horizon_s).contains(in_s))
            .filter_map(|(in_s, unix_s)| Some((in_s, forecast.told_kn(unix_s)?)))
            .collect()
    }

    pub(super) fn show_forecast(&self) -> ForecastView {
        let Some(forecast) = &self.forecast.forecast else {
            return ForecastView::default();
        };
        let unix_s = self.unix_ms().map(|ms| ms.div_euclid(1000));
        let standing = match unix_s {
            None => ForecastStanding::NoUtc,
            Some(now) if forecast.covers(now) => ForecastStanding::Used,
            Some(_) => ForecastStanding::Over,
        };
        ForecastView {
            standing,
            words: match standing {
                ForecastStanding::None => text(""),
                ForecastStanding::NoUtc => text("forecast waits for UTC"),
                ForecastStanding::Over => text("the forecast has run out"),
                ForecastStanding::Used => forecast.words(),
            },
            told_kn: unix_s.and_then(|now| forecast.told_kn(now)),
            error: (standing == ForecastStanding::Used).then(|| shown(forecast.error())),
            weight: (standing == ForecastStanding::Used).then(|| forecast.weight()),
        }
    }
}

/// The frame in which this boat measures.
fn frame(instruments: &crate::instruments::Instruments) -> Frame {
    Frame {
        law: instruments.gradient,
        masthead_m: instruments.masthead_height.map(|height| height.get()),
    }
}

fn shown(error: Error) -> ForecastError {
    ForecastError {
        late_h: error.late_h,
        late_spread_h: error.late_spread_h,
        over_kn: error.over_kn,
        over_spread_kn: error.over_spread_kn,
    }
}
