//! Builds the view of one moment.

use heapless::Vec;

use super::Watch;
use super::bunk::Bunk;
use super::deck::Asking;
use super::dusk::Dusk;
use super::judge::Watching;
use crate::call::alert::Alert;
use crate::event::{Call, Priority};
use crate::ladder::{Buys, Limit, buys, effective_limit, wanted_items};
use crate::outlook::HORIZON_S;
use crate::view::{
    CallView, MinutesInHand, Opens, Pace, PeopleView, Preparation, RiggedView, RungView, SetupView,
    Sounds, TREND_MINUTES, TrendMinute, View,
};

/// Horizons of the second page, minutes.
const AHEAD_MIN: [u32; 6] = [10, 20, 30, 45, 60, 90];

impl Watch {
    pub(super) fn show(&self) -> View {
        let mut view = View::blank(self.now);
        view.unix_ms = self.unix_ms();
        view.other_unix_ms = self.utc.told_ms(self.now);
        view.boat = self.boat.name.clone();
        view.doing = self.deck.doing;
        view.call = self.show_call();
        view.sounds = self.sounds();
        view.question = self.questions.first();
        if let Some(question) = view.question {
            view.question_words = self.question_words(question);
        }
        view.muster_left_s = self.bunk.left_s(self.now);
        view.ladder = self.show_ladder();
        view.plan = self.deck.plan;
        view.next = self.assessment.choice.as_ref().map(|choice| choice.to);
        if let Some(choice) = &self.assessment.choice {
            view.next_because = choice.reason.words(&self.boat.ladder);
            view.to_call = choice.feasibility.job().map_or(0, |job| job.called);
        }
        view.manoeuvre = self.deck.manoeuvre;
        view.not_now = self.deck.not_now;
        view.squall_kn = self
            .deck
            .squall
            .and_then(|it| it.strength)
            .map(|kn| kn.get());
        view.squall_due = self.deck.squall.map(|squall| squall.due);
        view.wind = self.picture.wind(self.now);
        view.wind.likely_kn = self.likely_kn();
        view.corrections_applied = self.picture.corrections_applied(self.now);
        let heel_limit = self
            .boat
            .ladder
            .plan(self.deck.plan.id)
            .and_then(|plan| plan.heel_limit)
            .map(|limit| limit.get());
        view.heel = self.picture.heel(self.now, heel_limit);
        view.motion = self.picture.motion(self.now);
        view.spikes = self.picture.spikes();
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
        view.moment = self.show_moment();
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

    /// The alert of what is shown.
    pub(super) fn shown_alert(&self) -> &Alert {
        match self.shown_call() {
            Call::Blind => self.blindness.alert(),
            _ => self.standing.alert(),
        }
    }

    pub(super) fn sounds(&self) -> Sounds {
        let call = self
            .standing
            .alert()
            .sounds(self.standing.call().priority());
        let blind = self.blindness.alert().sounds(self.blindness.priority());
        let woken = (self.bunk == Bunk::Called).then_some(Priority::Warning);
        let asks = self.questions.sounds().then_some(Priority::Warning);
        let hint = (self.moment.sound == Asking::Aloud).then_some(Priority::Warning);
        Sounds {
            cockpit: call.cockpit.max(blind.cockpit).max(asks).max(hint),
            bunk: call.bunk.max(blind.bunk).max(woken),
        }
    }

    fn show_call(&self) -> CallView {
        let call = self.shown_call();
        let alert = self.shown_alert();
        let blind_since = self.blindness.since().filter(|_| call == Call::Blind);
        CallView {
            call,
            alert: alert.state,
            id: alert.id,
            revision: alert.revision,
            escalation: alert.escalation,
            changed: alert.changed,
            since: blind_since.unwrap_or(self.standing.since()),
            cause: self.call_cause(),
            why: self.sentence(),
            minutes_in_hand: self.minutes_in_hand(),
            pace: match self.standing.is_by_clock() {
                true => Pace::Clock,
                false => Pace::Wind,
            },
            soonest_s: self.soonest_s(),
            promise: self.soonest_s().map(|_| self.setting()),
            passed_at: self.standing.passed_at(),
            at_once: self.ordered_at_once().cloned(),
            preparation: match self.standing.is_ready(self.now) {
                true => Preparation::Ready,
                false => Preparation::Open,
            },
            slack_s: self.slack_s(),
            call_time: self.call_time(),
            odds: self.assessment.odds,
            odds_ahead: self.odds_ahead(),
            outlook_age_s: self.outlook_age_s(),
        }
    }

    /// Until `reduce`; none are left once it is there.
    pub(super) fn minutes_in_hand(&self) -> MinutesInHand {
        let change_s = self.standing.sums().change_s;
        match (self.assessment.watching, self.shown_call()) {
            (Watching::NotUnderSail, _) | (_, Call::Blind) => MinutesInHand::Unknown,
            (_, Call::Reduce | Call::Past) => MinutesInHand::Minutes(0.0),
            (_, Call::None | Call::Prepare) => match self.standing.soonest_s() {
                // A clock may be further off than the outlook tells.
                Some(soonest_s) if soonest_s - change_s > f64::from(HORIZON_S) => {
                    MinutesInHand::Beyond
                }
                Some(soonest_s) => MinutesInHand::Minutes((soonest_s - change_s).max(0.0) / 60.0),
                None if self.standing.is_soonest_known() => MinutesInHand::Beyond,
                None => MinutesInHand::Unknown,
            },
        }
    }

    fn odds_ahead(&self) -> Option<[f64; 6]> {
        let limit = self.assessment.limit_kn?;
        // Kept with its age while the wind is lost, and only then.
        let ahead = match self.assessment.watching {
            Watching::Wind => self.ahead()?,
            Watching::NotUnderSail | Watching::Blind(_) => &self.wind_ahead,
        };
        let mut odds = [0.0; 6];
        for (place, minutes) in odds.iter_mut().zip(AHEAD_MIN) {
            *place = ahead.odds(limit, minutes * 60)?;
        }
        Some(odds)
    }

    /// Age of the outlook while it is kept without wind.
    fn outlook_age_s(&self) -> Option<f64> {
        match self.assessment.watching {
            Watching::Blind(_) => self
                .wind_ahead
                .outlook()
                .at_s()
                .map(|at| self.now.as_secs_f64() - at as f64),
            _ => None,
        }
    }

    fn likely_kn(&self) -> Option<[f64; 3]> {
        if self.assessment.watching != Watching::Wind || !self.wind_ahead_is_current() {
            return None;
        }
        let call_time_s = self.assessment.work_s()?;
        self.wind_ahead
            .outlook()
            .likely(call_time_s.clamp(0.0, f64::from(HORIZON_S)) as u32)
    }

    fn show_ladder(&self) -> Vec<RungView, { crate::ladder::MAX_PLANS }> {
        let point = self.point();
        // As entered: no limit that nobody has set.
        let entered = |limit: Limit| limit.mean.or(limit.gust).map(|kn| kn.get());
        self.boat
            .ladder
            .plans
            .iter()
            .enumerate()
            .map(|(place, plan)| RungView {
                id: crate::ladder::PlanId(place as u8),
                short: plan.short.clone(),
                name: plan.name.clone(),
                limit_kn: entered(effective_limit(plan, point)),
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

    /// The day by the sun, if UTC is known.
    pub(super) fn day(&self) -> Option<i64> {
        self.unix_ms().map(|ms| self.dusk.day(ms))
    }
}
