//! Silent words beside the call: what could be made ready, when more sail
//! would stand, what is doubted. The last good moment has a file of its own.

use core::time::Duration;

use super::Watch;
use super::doubts::{Ask, Motion, Neighbours};
use super::dusk::Dusk;
use super::judge::Watching;
use super::limits::wind_limit;
use crate::act::{Doing, Readiness};
use crate::ahead::TellsAhead;
use crate::event::{Call, EventKind, Hint};
use crate::ladder::{ItemId, MAX_ITEMS, PlanId, choose_up, effective_limit, wanted_items};
use crate::outlook::HORIZON_S;
use crate::stats::Minute;
use crate::text::{Text, format, text};
use crate::time::Timestamp;
use crate::view::{Light, Wanted};

/// More sail is hinted at only if the odds that its limit is passed within
/// the outlook are at most this share of the setting.
const SHAKE_OUT_ODDS: f64 = 0.5;
/// No shaking out this near to dark.
const DARK_MARGIN: Duration = Duration::from_secs(2 * 3600);
/// What has been hinted at already.
#[derive(Clone, Debug, Default)]
pub(super) struct Hinted {
    asked: [bool; MAX_ITEMS],
    pub(super) lull_since: Option<Timestamp>,
    shake_out: Option<PlanId>,
}

impl Hinted {
    /// A new plan has needs of its own.
    pub(super) fn forget_plan(&mut self) {
        *self = Hinted::default();
    }
}

impl Watch {
    /// Raises each hint once, when it becomes true.
    pub(super) fn look_for_hints(&mut self) {
        self.doubt_doing();
        if self.assessment.watching == Watching::NotUnderSail {
            // A lull under engine says nothing of sail.
            self.hinted.lull_since = None;
            self.hinted.shake_out = None;
            self.moment.forget_answer();
            return;
        }
        for item in self.open_items() {
            if let Some(asked) = self.hinted.asked.get_mut(item.0 as usize)
                && !*asked
            {
                *asked = true;
                self.tell(EventKind::Hint(Hint::OpenSetup(item)));
            }
        }
        self.look_for_lull();
        self.look_for_moment();
    }

    /// Open items that the next reduction needs.
    pub(super) fn open_items(&self) -> heapless::Vec<ItemId, MAX_ITEMS> {
        wanted_items(
            &self.boat.ladder,
            self.deck.plan.id,
            self.assessment.choice.as_ref(),
        )
        .iter()
        .filter(|(item, wanted)| {
            *wanted == Wanted::Now
                && self.deck.readiness.get(item.0 as usize) != Some(&Readiness::Ready)
        })
        .map(|(item, _)| *item)
        .collect()
    }

    /// Hints that stand now, for the screen.
    pub(super) fn hints(&self) -> heapless::Vec<Hint, 8> {
        let mut hints = heapless::Vec::new();
        if self.doing_doubt.stands() {
            let _ = hints.push(Hint::DoingDoubted);
        }
        if self.assessment.watching == Watching::NotUnderSail {
            return hints;
        }
        let open = self.open_items();
        let standing = self
            .moment_hints()
            .chain(self.plan_doubt.stands().then_some(Hint::PlanDoubted))
            .chain(self.hinted.shake_out.map(Hint::ShakeOut))
            .chain(open.into_iter().map(Hint::OpenSetup));
        for hint in standing {
            if hints.push(hint).is_err() {
                break;
            }
        }
        hints
    }

    fn look_for_lull(&mut self) {
        let more = self.more_sail_would_stand();
        if more.is_none() {
            self.hinted.lull_since = None;
            self.hinted.shake_out = None;
            return;
        }
        let since = *self.hinted.lull_since.get_or_insert(self.now);
        let settled = u64::from(self.boat.calling.shake_out_after_min) * 60;
        if self.now.since(since) >= Duration::from_secs(settled)
            && self.hinted.shake_out.is_none()
            && let Some(plan) = more
        {
            self.hinted.shake_out = Some(plan);
            self.tell(EventKind::Hint(Hint::ShakeOut(plan)));
        }
    }

    /// The plan with more sail that would stand for the whole outlook, by
    /// day and not near dark.
    fn more_sail_would_stand(&mut self) -> Option<PlanId> {
        if self.shown_call() != Call::None || self.light() != Light::Day || self.dark_is_near() {
            return None;
        }
        let now = self.circumstances();
        let up = choose_up(&self.boat.ladder, &self.boat.crew, self.deck.plan.id, &now)?;
        let plan = self.boat.ladder.plan(up.to)?;
        if !self.wind_ahead_is_current() {
            return None;
        }
        let limit = effective_limit(plan, self.point());
        let limit_kn = wind_limit(limit, self.gust_factor())?;
        let measured = self.wind_ahead.odds(limit_kn, HORIZON_S)?;
        let odds = measured.max(self.forecast_odds(limit, limit_kn));
        (odds <= self.setting() * SHAKE_OUT_ODDS).then_some(up.to)
    }

    fn dark_is_near(&self) -> bool {
        match self.dusk() {
            Dusk::Unknown => true,
            Dusk::NotToday => false,
            Dusk::InSeconds(seconds) => seconds <= DARK_MARGIN.as_secs() as f64,
        }
    }

    /// Asks once whether she really does what she is said to.
    fn doubt_doing(&mut self) {
        let motion = self.picture.motion(self.now);
        let motion = Motion {
            engine_rpm: self.picture.engine_rpm(self.now),
            heel_mean_deg: self.measured.heel.mean_deg,
            speed_kn: motion.stw_kn.or(motion.sog_kn),
            sog_kn: motion.sog_kn,
        };
        if self.doing_doubt.look(self.deck.doing, &motion, self.now) == Ask::Now {
            self.tell(EventKind::Hint(Hint::DoingDoubted));
        }
    }

    /// Asks once whether this plan really is the one that is set.
    pub(super) fn doubt_plan(&mut self, minute: &Minute) {
        let tells = self.deck.doing == Doing::Sailing
            && self.deck.manoeuvre.is_none()
            && self.assessment.watching == Watching::Wind;
        if !tells {
            return;
        }
        let neighbours = self.neighbours();
        if self.plan_doubt.take(minute, neighbours) == Ask::Now {
            self.tell(EventKind::Hint(Hint::PlanDoubted));
        }
    }

    /// The nearest areas above and below the plan believed set, to its own.
    fn neighbours(&self) -> Neighbours {
        let Some(own) = self.plan().map(|plan| plan.area_m2).filter(|a| *a > 0.0) else {
            return Neighbours::default();
        };
        let ratios = || self.boat.ladder.plans.iter().map(|plan| plan.area_m2 / own);
        Neighbours {
            more: ratios().filter(|ratio| *ratio > 1.05).reduce(f64::min),
            less: ratios()
                .filter(|ratio| *ratio > 0.0 && *ratio < 0.95)
                .reduce(f64::max),
        }
    }

    /// The words of a hint.
    pub(super) fn hint_words(&self, hint: Hint) -> Text<96> {
        let plan_name = |id: PlanId| self.boat.ladder.plan(id).map_or("?", |p| p.name.as_str());
        match hint {
            Hint::OpenSetup(item) => {
                let name = self.boat.ladder.item(item).map_or("?", |i| i.name.as_str());
                format(format_args!("still open for the next reduction: {name}"))
            }
            Hint::ShakeOut(plan) => format(format_args!("{} would stand", plan_name(plan))),
            Hint::ReduceNow(_) | Hint::CanWait(_) => self.moment_words(),
            Hint::WatchDue => text("watch changed?"),
            Hint::PlanDoubted => format(format_args!(
                "is {} really set? heel and wind say otherwise",
                self.plan_name()
            )),
            Hint::DoingDoubted => format(format_args!(
                "is she really {}? speed and engine say otherwise",
                self.deck.doing.word()
            )),
        }
    }
}
