//! The skipper's forecast as a threat of its own, beside wind and heel.
//!
//! It is kept apart so that it can never hide or delay a call: choice, limits
//! and all other threats are judged as if there were none, with a hold of
//! their own, and the higher call stands. A forecast asks for no more than
//! `prepare`: `reduce` waits for the wind. And what was answered while only a
//! forecast called is no answer to the wind: when the wind itself calls, it
//! sounds anew.

use super::Watch;
use super::assess::Sight;
use super::deck::{Saved, SavedForecast};
use super::threats::within;
use super::why;
use crate::alert::judge::{Asked, Passed, Threat, asked, let_go_odds};
use crate::boat::Boat;
use crate::event::{Call, Cause};
use crate::forecast::{Error, Forecast, Frame, Joined, Table};
use crate::ladder::Limit;
use crate::outlook::HORIZON_S;
use crate::stats::minute::Minute;
use crate::text::{Text, text};
use crate::time::Timestamp;
use crate::view::{ForecastError, ForecastStanding, ForecastView};
use crate::wind::Vector;

/// The forecast and what it was asked since the last minute.
#[derive(Clone, Debug, Default)]
pub(super) struct Foretold {
    forecast: Option<Forecast>,
    by: By,
    asked: Option<Answer>,
    /// Odds over the outlook for the plan with more sail.
    more_sail: Option<(Limit, f64)>,
}

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
    to_limit_s: Option<f64>,
    to_let_go_s: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Question {
    limit: Limit,
    limit_kn: f64,
    gust_factor: f64,
    setting: f64,
}

impl Foretold {
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
        Foretold {
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
        self.foretold = Foretold::of(table, By::TheCrew, frame(&self.boat.instruments));
        self.assess();
    }

    /// Holds a closed minute against the forecast.
    pub(super) fn feed_forecast(&mut self, minute: &Minute) {
        self.foretold.asked = None;
        self.foretold.more_sail = None;
        let current = self.current();
        let (Some(mean), Some(fix)) = (minute.mean_kn, self.utc) else {
            return;
        };
        if let Some(forecast) = &mut self.foretold.forecast {
            let unix_s = fix.unix_ms_at(minute.start).div_euclid(1000);
            forecast.step(unix_s, f64::from(mean), current);
        }
    }

    /// Wind over ground less wind over water, where both are known by true
    /// north.
    fn current(&self) -> Option<Vector> {
        let wind = &self.seen.wind;
        let blows_to =
            |kn: Option<f64>, from_deg: Option<f64>| Some(Vector::polar(kn?, from_deg? + 180.0));
        Some(blows_to(wind.ground_kn, wind.ground_deg)? - blows_to(wind.tws_kn, wind.twd_deg)?)
    }

    /// Takes the forecast's figures where they are nearer than what is
    /// measured.
    pub(super) fn lead_by_forecast(
        &mut self,
        limit: Option<Limit>,
        call_time_s: f64,
        change_s: f64,
    ) {
        self.assessment.foretold = Asked::default();
        let Some((threat, level)) = self.forecast_threat(limit, call_time_s, change_s) else {
            return;
        };
        self.assessment.foretold = at_most_prepare(asked(&threat, call_time_s, change_s));
        let measured = self.assessment.time_to_limit_s;
        let raised = self
            .assessment
            .leading
            .is_some_and(|leading| asked(&leading, call_time_s, change_s).raise.is_threat());
        let time = threat.time_to_limit_s;
        let nearer = time.is_some_and(|time| measured.is_none_or(|measured| time < measured));
        if nearer {
            self.assessment.time_to_limit_s = time;
        }
        // Where the wind calls by itself it is what brought the call.
        if nearer && !raised && !self.measured.is_threat() {
            self.assessment.why =
                why::forecast(&threat, level, call_time_s / 60.0, &self.error_words());
            self.assessment.leading = Some(threat);
        }
        self.assessment.odds = match (self.assessment.odds, threat.odds) {
            (Some(measured), Some(told)) => Some(measured.max(told)),
            (measured, told) => measured.or(told),
        };
    }

    fn forecast_threat(
        &mut self,
        limit: Option<Limit>,
        call_time_s: f64,
        change_s: f64,
    ) -> Option<(Threat, f64)> {
        if self.assessment.sight != Sight::Clear {
            return None;
        }
        let limit_kn = self.assessment.limit_kn?;
        let level = self.seen.wind.mean_1min_kn.or(self.seen.wind.tws_kn)?;
        let answer = self.ask_forecast(Question {
            limit: limit?,
            limit_kn,
            gust_factor: self.gust_factor(),
            setting: self.setting(),
        })?;
        // It asks for no more than `prepare`, and shows no less time than
        // that leaves.
        let at_least = |time: f64| time.max(change_s);
        let threat = Threat {
            cause: Cause::Forecast,
            load: level / limit_kn.max(1.0),
            limit: limit_kn,
            passed: Passed::NotYet,
            time_to_limit_s: answer.to_limit_s.map(at_least),
            time_to_let_go_s: answer.to_let_go_s.map(at_least),
            odds: Some(answer.joined.odds(within(call_time_s))),
        };
        Some((threat, level))
    }

    fn ask_forecast(&mut self, question: Question) -> Option<Answer> {
        if let Some(known) = self.foretold.asked.filter(|it| it.question == question) {
            return Some(known);
        }
        let joined = self.joined(question.limit, question.limit_kn)?;
        let answer = Answer {
            question,
            joined,
            to_limit_s: joined.time_to_s(question.setting),
            to_let_go_s: joined.time_to_s(let_go_odds(question.setting)),
        };
        self.foretold.asked = Some(answer);
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
        let forecast = self.foretold.forecast.as_ref()?;
        Some(Joined {
            told: forecast.curve(limit, self.gust_factor(), unix_s)?,
            measured: self.wind_ahead.outlook().curve(limit_kn)?,
            weight: forecast.weight(),
        })
    }

    /// Odds over the outlook that a limit is passed by what the forecast is
    /// worth; nothing where it says nothing. Asked once a minute.
    pub(super) fn foretold_odds(&mut self, limit: Limit, limit_kn: f64) -> f64 {
        let known = self.foretold.more_sail.filter(|(known, _)| *known == limit);
        let odds = known.map(|(_, odds)| odds).unwrap_or_else(|| {
            self.joined(limit, limit_kn)
                .map_or(0.0, |joined| joined.odds(HORIZON_S))
        });
        self.foretold.more_sail = Some((limit, odds));
        odds
    }

    /// Odds that the forecast gives for passing a limit between two moments
    /// from now, seconds, by what it is worth.
    pub(super) fn foretold_between(&self, limit: Limit, from_s: f64, to_s: f64) -> Option<f64> {
        let now = self.unix_ms()?.div_euclid(1000);
        let forecast = self.foretold.forecast.as_ref()?;
        let (from, to) = (now + from_s as i64, now + to_s as i64);
        let odds = forecast.odds_between(limit, self.gust_factor(), from, to)?;
        Some(odds * forecast.weight())
    }

    /// The call with the forecast's, from the call without it.
    pub(super) fn with_forecast(&mut self, measured: Call) -> Call {
        if self.assessment.sight != Sight::Clear {
            self.forecast_hold.set(Call::None, self.now);
            return measured;
        }
        let asked = self.assessment.foretold;
        measured.max(self.forecast_hold.update(asked, self.now))
    }

    /// Whether the wind itself now calls where only the forecast did. What
    /// the crew said to the forecast is then no answer any more.
    pub(super) fn wind_confirms(&mut self, measured: Call) -> bool {
        let confirms =
            measured.is_threat() && !self.measured.is_threat() && self.life.call().is_threat();
        if confirms {
            self.deck.not_now = None;
        }
        confirms
    }

    fn error_words(&self) -> Text<64> {
        let forecast = self.foretold.forecast.as_ref();
        forecast.map_or(Text::new(), Forecast::words)
    }

    pub(super) fn show_forecast(&self) -> ForecastView {
        let Some(forecast) = &self.foretold.forecast else {
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

fn at_most_prepare(asked: Asked) -> Asked {
    Asked {
        raise: asked.raise.min(Call::Prepare),
        keep: asked.keep.min(Call::Prepare),
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
