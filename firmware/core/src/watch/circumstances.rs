//! Under what circumstances a change would be made now, and which change the
//! hands are pointed to.

use heapless::Vec;

use super::Watch;
use super::judge::sums;
use super::limits::wind_limit;
use crate::act::Sea;
use crate::ahead::Line;
use crate::call::target::Worth;
use crate::instruments::Confirmation;
use crate::ladder::{
    CLOSE_REACH_KN, Choice, Circumstances, MAX_PLANS, Plan, PlanId, choose, effective_limit,
};

/// Calls come earlier while limits or wind are unconfirmed: the setting is
/// multiplied by this for each.
const UNCONFIRMED: f64 = 0.85;

impl Watch {
    pub(super) fn circumstances(&self) -> Circumstances {
        let wind = &self.measured.wind;
        let mut now = Circumstances::fair(self.deck.hands);
        now.condition = self.deck.condition;
        now.helm = self.deck.helm;
        now.light = self.light();
        now.sea = self.sea();
        now.point = wind.point;
        now.tws_kn = self.level_kn();
        now.close_reach_kn = CLOSE_REACH_KN;
        now.confirmed = self.deck.limits;
        now.mustering = self.bunk.mustering(self.now);
        for (known, was) in now.readiness.iter_mut().zip(&self.deck.readiness) {
            *known = *was;
        }
        for (known, was) in now.rigging.iter_mut().zip(&self.deck.rigging) {
            *known = *was;
        }
        now
    }

    /// The sea reckoned with: as set by hand, else what the wind has
    /// probably raised (Beaufort scale's probable wave heights, from memory)
    /// and at least what the boat's rolling tells of (common practice, no
    /// source).
    pub(super) fn sea(&self) -> Sea {
        if let Some(sea) = self.deck.sea {
            return sea;
        }
        let by_wind = match self.measured.wind.mean_10min_kn {
            None => Sea::Slight,
            Some(kn) if kn < 11.0 => Sea::Smooth,
            Some(kn) if kn < 17.0 => Sea::Slight,
            Some(kn) if kn < 22.0 => Sea::Moderate,
            Some(kn) if kn < 34.0 => Sea::Rough,
            Some(_) => Sea::VeryRough,
        };
        let by_roll = match self.measured.heel.roll_deg {
            Some(roll) if roll >= 14.0 => Sea::Rough,
            Some(roll) if roll >= 8.0 => Sea::Moderate,
            _ => Sea::Smooth,
        };
        by_wind.max(by_roll)
    }

    /// The ONE setting, taken lower while limits or wind are unconfirmed.
    pub(super) fn setting(&self) -> f64 {
        let mut setting = self.boat.calling.odds;
        for vouched in [self.deck.limits, self.deck.wind] {
            if vouched == Confirmation::Unconfirmed {
                setting *= UNCONFIRMED;
            }
        }
        setting
    }

    pub(super) fn plan(&self) -> Option<&Plan> {
        self.boat.ladder.plan(self.deck.plan.id)
    }

    pub(super) fn heel_limit(&self) -> Option<f64> {
        self.plan()?.heel_limit.map(|limit| limit.get())
    }

    /// The next plan for these hands: what the standing call orders, or what
    /// is being set, else the one that would be ordered.
    pub(super) fn choose(&mut self, now: &Circumstances) -> Option<Choice> {
        let lasts = self.lasting(now);
        let lasts_min = |plan: PlanId| lasts.get(plan.0 as usize).copied().unwrap_or(0.0);
        let (ladder, crew) = (&self.boat.ladder, &self.boat.crew);
        let fresh = choose(ladder, crew, self.deck.plan.id, now, |plan| {
            match self.stands_squall(plan, now) {
                true => lasts_min(plan),
                false => 0.0,
            }
        });
        let fresh = fresh.map(|fresh| self.before_squall(fresh, now));
        if let Some(manoeuvre) = self.deck.manoeuvre {
            return self.choice_of(manoeuvre.to, now).or(fresh);
        }
        let Some(plan) = self.standing.target().plan() else {
            return fresh;
        };
        let standing = self.choice_of(plan, now);
        let spent = |choice: &Choice| lasts_min(plan) * 60.0 < sums(choice, 0.0).work_s;
        let worth = match standing.as_ref().is_some_and(spent) {
            true => Worth::Spent,
            false => Worth::Good,
        };
        let target = self.standing.target_mut();
        target.resolve(standing, fresh, worth, self.now)
    }

    /// Whether a plan stands the squall that is seen, where one is: as strong as
    /// was entered, or as the boat file reckons where nobody can tell.
    fn stands_squall(&self, plan: PlanId, now: &Circumstances) -> bool {
        let Some(squall) = self.deck.squall else {
            return true;
        };
        let strength = squall.strength.map(|kn| kn.get());
        let squall_kn = strength.unwrap_or(self.boat.calling.squall_kn);
        let limit = |plan| effective_limit(plan, now.point);
        let limit = self.boat.ladder.plan(plan).map(limit).unwrap_or_default();
        limit
            .mean
            .or(limit.gust)
            .is_none_or(|kn| kn.get() >= squall_kn)
    }

    /// A squall leaves so much time: where the plan that stands it takes longer,
    /// the deepest that can be set before, else the quickest.
    fn before_squall(&self, fresh: Choice, now: &Circumstances) -> Choice {
        let limit = self.plan().map(|plan| effective_limit(plan, now.point));
        let limit = limit.and_then(|limit| limit.mean.or(limit.gust));
        let Some(squall) = self.deck.squall else {
            return fresh;
        };
        let left_s = squall.due.secs_since(self.now);
        let work_s = |choice: &Choice| sums(choice, 0.0).work_s;
        if squall.is_met(limit.map(|kn| kn.get())) || work_s(&fresh) <= left_s {
            return fresh;
        }
        let shallower = (self.deck.plan.id.0 + 1..fresh.to.0).rev().map(PlanId);
        let mut quickest = fresh;
        for choice in shallower.filter_map(|plan| self.choice_of(plan, now)) {
            if work_s(&choice) <= left_s {
                return choice;
            }
            if work_s(&choice) < work_s(&quickest) {
                quickest = choice;
            }
        }
        quickest
    }

    /// The change to one plan, if these hands can make it now.
    fn choice_of(&self, plan: PlanId, now: &Circumstances) -> Option<Choice> {
        let only_this = |other: PlanId| if other == plan { f64::INFINITY } else { 0.0 };
        let (ladder, crew) = (&self.boat.ladder, &self.boat.crew);
        choose(ladder, crew, self.deck.plan.id, now, only_this)
            .filter(|choice| choice.to == plan && choice.feasibility.job().is_some())
    }

    /// Minutes that each plan would last, by its wind limit.
    fn lasting(&mut self, now: &Circumstances) -> Vec<f64, MAX_PLANS> {
        let gust_factor = self.gust_factor();
        let level = self.level_kn().unwrap_or(0.0);
        let mut lasting = Vec::new();
        for place in 0..self.boat.ladder.plans.len() {
            let limit = self
                .boat
                .ladder
                .plans
                .get(place)
                .and_then(|plan| wind_limit(effective_limit(plan, now.point), gust_factor));
            let minutes = limit
                .and_then(|limit| match limit {
                    // It would be past its limit as soon as it is set.
                    limit if level >= limit => Some(0.0),
                    limit => self.ahead_mut()?.time_to_s(limit, Line::Likely),
                })
                .map_or(f64::INFINITY, |seconds| seconds / 60.0);
            // As many as there are plans.
            let _ = lasting.push(minutes);
        }
        lasting
    }
}
