//! Builds the view of one moment.

use heapless::Vec;

use super::Watch;
use super::assess::Sight;
use super::dusk::Dusk;
use super::threats::wind_limit;
use crate::event::Call;
use crate::ladder::{Buys, buys, effective_limit, wanted_items};
use crate::outlook::HORIZON_S;
use crate::sun;
use crate::text::{Text, text};
use crate::view::{
    CallView, MinutesInHand, Opens, PeopleView, RiggedView, RungView, SetupView, TREND_MINUTES,
    TrendMinute, View,
};

/// Horizons of the second page, minutes.
const AHEAD_MIN: [u32; 6] = [10, 20, 30, 45, 60, 90];

impl Watch {
    pub(super) fn show(&self) -> View {
        let mut view = View::blank(self.now);
        view.unix_ms = self.unix_ms();
        view.boat = self.boat.name.clone();
        view.doing = self.deck.doing;
        view.call = self.show_call();
        view.sounds = self.life.sounds(self.now);
        view.ladder = self.show_ladder();
        view.plan = self.deck.plan;
        view.next = self.assessment.choice.as_ref().map(|choice| choice.to);
        if let Some(choice) = &self.assessment.choice {
            view.next_because = choice.reason.words(&self.boat.ladder);
            view.to_call = choice.feasibility.job().map_or(0, |job| job.called);
        }
        view.manoeuvre = self.deck.manoeuvre;
        view.not_now = self.deck.not_now;
        view.squall_due = self.deck.squall.map(|squall| squall.due);
        view.wind = self.picture.wind(self.now);
        view.wind.likely_kn = self.likely_kn();
        view.undone = self.picture.undone(self.now);
        let heel_limit = self
            .boat
            .ladder
            .plan(self.deck.plan.id)
            .and_then(|plan| plan.heel_limit)
            .map(|limit| limit.get());
        view.heel = self.picture.heel(self.now, heel_limit);
        view.motion = self.picture.motion(self.now);
        view.glitches = self.picture.glitches();
        view.pressure = self.picture.pressure(self.now);
        view.setup = self.show_setup();
        view.rigged = self.show_rigged();
        view.people = PeopleView {
            hands: self.deck.hands,
            condition: self.deck.condition,
            helm: self.deck.helm,
            sea: self.sea(),
            light: self.light(),
        };
        view.forecast = self.show_forecast();
        view.hints = self.hints();
        for fault in self.picture.faults() {
            if view.faults.push(fault).is_err() {
                break;
            }
        }
        view.sources = self.picture.sources(self.now);
        view.trend = self.show_trend();
        view.limits_confirmed = self.deck.limits;
        view.wind_confirmed = self.deck.wind;
        view
    }

    fn show_call(&self) -> CallView {
        CallView {
            call: self.life.call(),
            alert: self.life.state(),
            id: self.life.id(),
            revision: self.life.revision(),
            escalation: self.life.escalation(),
            changed: self.life.changed(),
            since: self.life.since(),
            cause: self.call_cause(),
            why: self.show_why(),
            minutes_in_hand: self.minutes_in_hand(),
            slack_s: self.slack_s(),
            call_time: self.call_time(),
            odds: self.assessment.odds,
            odds_ahead: self.odds_ahead(),
            outlook_age_s: self.outlook_age_s(),
        }
    }

    fn show_why(&self) -> Text<96> {
        match self.assessment.sight {
            Sight::NotWatching => text("not under sail: not watching"),
            _ => self.assessment.why.clone(),
        }
    }

    pub(super) fn minutes_in_hand(&self) -> MinutesInHand {
        let known = match self.assessment.sight {
            Sight::NotWatching => false,
            // Blind, but heel or a squall seen still gives a time.
            Sight::Blind(_) => self.life.call() != Call::Blind,
            Sight::Clear => true,
        };
        match self.assessment.in_hand_s().filter(|_| known) {
            Some(seconds) if seconds > f64::from(HORIZON_S) => MinutesInHand::Beyond,
            Some(seconds) => MinutesInHand::Minutes(seconds / 60.0),
            None if self.assessment.sight == Sight::Clear && self.assessment.sees_ahead() => {
                MinutesInHand::Beyond
            }
            None => MinutesInHand::Unknown,
        }
    }

    fn odds_ahead(&self) -> Option<[f64; 6]> {
        let limit = self.assessment.limit_kn?;
        // Kept with its age while the wind is lost, and only then.
        let ahead = match self.assessment.sight {
            Sight::Clear => self.ahead()?,
            Sight::NotWatching | Sight::Blind(_) => &self.wind_ahead,
        };
        let mut odds = [0.0; 6];
        for (place, minutes) in odds.iter_mut().zip(AHEAD_MIN) {
            *place = ahead.odds(limit, minutes * 60)?;
        }
        Some(odds)
    }

    /// Age of the outlook while it is kept without wind.
    fn outlook_age_s(&self) -> Option<f64> {
        match self.assessment.sight {
            Sight::Blind(_) => self
                .wind_ahead
                .outlook()
                .at_s()
                .map(|at| self.now.as_secs_f64() - at as f64),
            _ => None,
        }
    }

    fn likely_kn(&self) -> Option<[f64; 3]> {
        if self.assessment.sight != Sight::Clear || !self.wind_ahead_is_current() {
            return None;
        }
        let call_time_s = self.assessment.call_time_s()?;
        self.wind_ahead
            .outlook()
            .likely(call_time_s.clamp(0.0, f64::from(HORIZON_S)) as u32)
    }

    fn show_ladder(&self) -> Vec<RungView, { crate::ladder::MAX_PLANS }> {
        let point = self.point();
        let gust_factor = self.gust_factor();
        self.boat
            .ladder
            .plans
            .iter()
            .enumerate()
            .map(|(place, plan)| RungView {
                id: crate::ladder::PlanId(place as u8),
                short: plan.short.clone(),
                name: plan.name.clone(),
                limit_kn: wind_limit(effective_limit(plan, point), gust_factor),
            })
            .collect()
    }

    /// The minutes as they were told, but for wind that was struck out since.
    fn show_trend(&self) -> Vec<TrendMinute, TREND_MINUTES> {
        let mut trend: Vec<TrendMinute, TREND_MINUTES> = self.trend.iter().copied().collect();
        let minutes = self.picture.last_minutes().rev();
        for (shown, minute) in trend.iter_mut().rev().zip(minutes) {
            if minute.is_gap() {
                shown.mean_kn = None;
                shown.gust_kn = None;
            }
        }
        trend
    }

    fn show_setup(&self) -> Vec<SetupView, { crate::ladder::MAX_ITEMS }> {
        let now = self.circumstances();
        let choice = self.assessment.choice.as_ref();
        let route = choice.map(|choice| choice.route(&self.boat.ladder));
        wanted_items(&self.boat.ladder, self.deck.plan.id, choice)
            .iter()
            .filter_map(|(id, wanted)| {
                let item = self.boat.ladder.item(*id)?;
                let buys = route
                    .as_ref()
                    .map(|route| buys(&self.boat.ladder, &self.boat.crew, route, *id, &now));
                Some(SetupView {
                    id: *id,
                    name: item.name.clone(),
                    ready: self
                        .deck
                        .readiness
                        .get(id.0 as usize)
                        .copied()
                        .unwrap_or_default(),
                    wanted: *wanted,
                    buys_min: buys.and_then(|buys| buys.minutes()).unwrap_or(0.0),
                    opens: match buys {
                        Some(Buys::Opens) => Opens::TheChange,
                        _ => Opens::Time,
                    },
                })
            })
            .collect()
    }

    fn show_rigged(&self) -> Vec<RiggedView, 8> {
        self.boat
            .ladder
            .rigged
            .iter()
            .zip(&self.deck.rigging)
            .enumerate()
            .map(|(place, (item, rigging))| RiggedView {
                id: crate::ladder::RiggedId(place as u8),
                name: item.name.clone(),
                rigging: *rigging,
            })
            .collect()
    }

    pub(super) fn look_for_dusk(&mut self) {
        let unix_ms = self.unix_ms();
        self.dusk.look(self.picture.position(self.now), unix_ms);
    }

    /// When civil twilight ends here.
    pub(super) fn dusk(&self) -> Dusk {
        match self.picture.position(self.now) {
            Some(_) => self.dusk.from(self.unix_ms()),
            None => Dusk::Unknown,
        }
    }

    /// Seconds from a dusk, so many seconds ahead, to the dawn after it.
    pub(super) fn seconds_of_dark(&self, dusk_s: f64) -> Option<f64> {
        let dusk = self.unix_ms()?.saturating_add((dusk_s * 1000.0) as i64);
        let dawn = sun::next_dawn(self.picture.position(self.now)?, dusk)?;
        Some(dawn.saturating_sub(dusk) as f64 / 1000.0)
    }

    /// The day by the sun, if UTC is known.
    pub(super) fn day(&self) -> Option<i64> {
        self.unix_ms().map(|ms| self.dusk.day(ms))
    }
}
