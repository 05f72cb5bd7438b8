//! Silent words beside the call: what could be made ready, when more sail
//! would stand, and when to reef before dark.

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
/// The hint to reef before dark comes this long before the call time runs
/// into civil dusk.
const BEFORE_DARK: Duration = Duration::from_secs(45 * 60);
/// A forecast counts for it when the limit is at least this likely to be
/// passed in the dark, by what the forecast has been worth.
const FORECAST_DARK_ODDS: f64 = 0.3;
/// Where no dawn comes within a day.
const LONGEST_NIGHT_S: f64 = 24.0 * 3600.0;
/// Few hands: this many or fewer aboard.
const FEW_HANDS: u8 = 3;

/// What has been hinted at already.
#[derive(Clone, Debug, Default)]
pub(super) struct Hinted {
    asked: [bool; MAX_ITEMS],
    pub(super) lull_since: Option<Timestamp>,
    shake_out: Option<PlanId>,
    dark_day: Option<i64>,
    before_dark: bool,
}

impl Hinted {
    /// A new plan has needs of its own.
    pub(super) fn forget_plan(&mut self) {
        let dark_day = self.dark_day;
        *self = Hinted {
            dark_day,
            ..Hinted::default()
        };
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
            self.hinted.before_dark = false;
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
        self.look_for_dark();
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
            .hinted
            .before_dark
            .then_some(Hint::BeforeDark)
            .into_iter()
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

    fn look_for_dark(&mut self) {
        self.hinted.before_dark = self.should_reef_before_dark();
        let today = self.day();
        if self.hinted.before_dark && today.is_some() && self.hinted.dark_day != today {
            self.hinted.dark_day = today;
            self.tell(EventKind::Hint(Hint::BeforeDark));
        }
    }

    fn should_reef_before_dark(&self) -> bool {
        let hands = self.deck.hands;
        let few = hands.on_deck.saturating_add(hands.below) <= FEW_HANDS;
        let declined =
            self.deck.dark_declined_day.is_some() && self.deck.dark_declined_day == self.day();
        if !few || declined || self.light() != Light::Day {
            return false;
        }
        let (Dusk::InSeconds(dusk_s), Some(call_time_s)) = (self.dusk(), self.assessment.work_s())
        else {
            return false;
        };
        let in_time = dusk_s >= call_time_s * 0.5;
        let soon = dusk_s <= call_time_s + BEFORE_DARK.as_secs() as f64;
        let likely = self
            .assessment
            .limit_kn
            .filter(|_| self.wind_ahead_is_current())
            .and_then(|limit| self.wind_ahead.odds(limit, HORIZON_S))
            .is_some_and(|odds| odds >= self.setting() * SHAKE_OUT_ODDS);
        in_time && soon && (likely || self.is_forecast_in_the_dark(dusk_s))
    }

    /// Whether the forecast has the limit passed in the dark hours.
    fn is_forecast_in_the_dark(&self, dusk_s: f64) -> bool {
        let dark_s = self.seconds_of_dark(dusk_s).unwrap_or(LONGEST_NIGHT_S);
        self.plan()
            .map(|plan| effective_limit(plan, self.point()))
            .and_then(|limit| self.forecast_between(limit, dusk_s, dusk_s + dark_s))
            .is_some_and(|odds| odds >= FORECAST_DARK_ODDS)
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
            Hint::BeforeDark => text("the limit is likely in the dark: reef while there is light"),
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
