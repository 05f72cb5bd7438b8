//! What the crew has said: the plan set, what is ready, who is there.

use core::time::Duration;

use heapless::Vec;

use crate::act::{Condition, Doing, Hands, Helm, NotNow, Readiness, Rigging, Sea};
use crate::boat::Boat;
use crate::instruments::Confirmation;
use crate::ladder::{Ladder, MAX_ITEMS, MAX_RIGGED, PlanId, Standing};
use crate::time::Timestamp;
use crate::view::{Manoeuvre, PlanView, PutOff};

/// A squall that was seen keeps calling this long after it was due.
const SQUALL_KEEPS: Duration = Duration::from_secs(30 * 60);

/// See the module.
#[derive(Clone, Debug)]
pub(crate) struct Deck {
    pub(crate) plan: PlanView,
    pub(crate) readiness: Vec<Readiness, MAX_ITEMS>,
    pub(crate) rigging: Vec<Rigging, MAX_RIGGED>,
    pub(crate) hands: Hands,
    pub(crate) condition: Condition,
    pub(crate) helm: Helm,
    pub(crate) doing: Doing,
    pub(crate) sea: Option<Sea>,
    pub(crate) limits: Confirmation,
    pub(crate) wind: Confirmation,
    pub(crate) manoeuvre: Option<Manoeuvre>,
    pub(crate) not_now: Option<PutOff>,
    pub(crate) squall: Option<Squall>,
    pub(crate) dark_declined_day: Option<i64>,
}

/// A squall that was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Squall {
    /// When it is likely to be here.
    pub(crate) due: Timestamp,
    /// Whether sail has been shortened for it.
    pub(crate) met: Met,
}

/// Whether sail has been shortened for a squall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Met {
    NotYet,
    Shortened,
}

/// What is worth keeping when the power fails, and the start of a recording:
/// all that the crew has said that outlives a restart.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// The plan believed set.
    pub plan: PlanId,
    /// Set-up items by their place in the ladder.
    pub readiness: Vec<Readiness, MAX_ITEMS>,
    /// Items in the way by their place in the ladder.
    pub rigging: Vec<Rigging, MAX_RIGGED>,
    /// Who is there.
    pub hands: Hands,
    /// How fit.
    pub condition: Condition,
    /// Who steers.
    pub helm: Helm,
    /// What she is doing.
    pub doing: Doing,
    /// Sea set by hand.
    pub sea: Option<Sea>,
    /// Whether the skipper has vouched for the limits.
    pub limits: Confirmation,
    /// Whether the fitter has vouched for the wind unit.
    pub wind: Confirmation,
}

impl Deck {
    /// What the boat file assumes at a cold start.
    pub(crate) fn new(boat: &Boat) -> Self {
        Deck {
            plan: PlanView {
                id: boat.start.plan,
                confirmed: None,
            },
            readiness: at_rest(&boat.ladder),
            rigging: boat
                .ladder
                .rigged
                .iter()
                .map(|_| Rigging::Cleared)
                .collect(),
            hands: boat.start.hands,
            condition: Condition::Fresh,
            helm: boat.start.helm,
            doing: boat.start.doing,
            sea: None,
            limits: boat.calling.limits,
            wind: boat.instruments.wind_confirmed,
            manoeuvre: None,
            not_now: None,
            squall: None,
            dark_declined_day: None,
        }
    }

    /// What was saved, on top of what the boat file assumes. A saved part
    /// that does not fit this boat is left out.
    pub(crate) fn restored(boat: &Boat, saved: &Saved) -> Self {
        let mut deck = Deck::new(boat);
        if boat.ladder.plan(saved.plan).is_some() {
            deck.plan.id = saved.plan;
        }
        for (now, was) in deck.readiness.iter_mut().zip(&saved.readiness) {
            *now = *was;
        }
        for (now, was) in deck.rigging.iter_mut().zip(&saved.rigging) {
            *now = *was;
        }
        deck.hands = saved.hands;
        deck.condition = saved.condition;
        deck.helm = saved.helm;
        deck.doing = saved.doing;
        deck.sea = saved.sea;
        if saved.limits == Confirmation::Confirmed {
            deck.limits = Confirmation::Confirmed;
        }
        if saved.wind == Confirmation::Confirmed {
            deck.wind = Confirmation::Confirmed;
        }
        deck
    }

    /// All that outlives a restart.
    pub(crate) fn saved(&self) -> Saved {
        Saved {
            plan: self.plan.id,
            readiness: self.readiness.clone(),
            rigging: self.rigging.clone(),
            hands: self.hands,
            condition: self.condition,
            helm: self.helm,
            doing: self.doing,
            sea: self.sea,
            limits: self.limits,
            wind: self.wind,
        }
    }

    /// A plan is set: it ends a begun change, and what a change used up has
    /// to be made ready again.
    pub(crate) fn set_plan(&mut self, ladder: &Ladder, plan: PlanId, now: Timestamp) {
        let before = self.plan.id;
        if let Some(change) = ladder.change(before, plan) {
            for item in &change.setup {
                let standing = ladder.item(*item).map(|item| item.standing);
                if standing == Some(Standing::WhenNeeded)
                    && let Some(ready) = self.readiness.get_mut(item.0 as usize)
                {
                    *ready = Readiness::Open;
                }
            }
        }
        self.plan = PlanView {
            id: plan,
            confirmed: Some(now),
        };
        self.manoeuvre = None;
        self.not_now = None;
        if let Some(squall) = &mut self.squall {
            if plan > before {
                squall.met = Met::Shortened;
            } else if now < squall.due {
                // Sail was made again before it came.
                squall.met = Met::NotYet;
            }
        }
    }

    /// Drops what time has ended.
    pub(crate) fn expire(&mut self, now: Timestamp) {
        if self
            .squall
            .is_some_and(|squall| now >= squall.due.after(SQUALL_KEEPS))
        {
            self.squall = None;
        }
        if self.not_now.is_some_and(|put_off| now >= put_off.until) {
            self.not_now = None;
        }
    }

    /// Puts a call off, 20 to 60 minutes.
    pub(crate) fn put_off(&mut self, minutes: u8, because: NotNow, now: Timestamp) {
        let minutes = u64::from(minutes.clamp(20, 60));
        self.not_now = Some(PutOff {
            until: now.after(Duration::from_secs(minutes * 60)),
            because,
        });
    }
}

fn at_rest(ladder: &Ladder) -> Vec<Readiness, MAX_ITEMS> {
    ladder
        .setup
        .iter()
        .map(|item| match item.standing {
            Standing::Permanent => Readiness::Ready,
            Standing::WhenNeeded => Readiness::Open,
        })
        .collect()
}
