//! What the crew has said: the plan set, what is ready, who is there.

use core::time::Duration;

use heapless::Vec;

use crate::act::{Condition, Doing, Hands, Helm, NotNow, Readiness, Rigging, Sea};
use crate::boat::Boat;
use crate::forecast::Table;
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
    /// How long it calls after it was due.
    keeps: Duration,
}

/// Whether sail has been shortened for a squall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Met {
    /// It is still to be done.
    NotYet,
    /// It has been.
    Shortened,
}

/// A squall that was seen, as it is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SavedSquall {
    /// Whole minutes until it is likely to be here; fewer than none where it
    /// was due already.
    pub due_min: i16,
    /// Whether sail has been shortened for it.
    pub met: Met,
}

/// Which forecast was in use.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum SavedForecast {
    /// The boat's own, if she has one.
    #[default]
    OfTheBoat,
    /// One that was entered on the way; none if it was taken away.
    Entered(Option<Table>),
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
    /// A squall in sight.
    pub squall: Option<SavedSquall>,
    /// The skipper's forecast; what was learned of it begins anew.
    pub forecast: SavedForecast,
}

impl Saved {
    /// The same so much later: a squall has come nearer, or is over.
    pub fn aged(mut self, span: Duration) -> Saved {
        let minutes = i64::try_from(span.as_secs().div_ceil(60)).unwrap_or(i64::MAX);
        self.squall = self.squall.and_then(|squall| {
            let due_min = i64::from(squall.due_min).saturating_sub(minutes);
            let keeps_min = (SQUALL_KEEPS.as_secs() / 60) as i64;
            let due_min = i16::try_from(due_min).ok()?;
            (i64::from(due_min) > -keeps_min).then_some(SavedSquall { due_min, ..squall })
        });
        self
    }
}

impl Squall {
    fn saved(self, now: Timestamp) -> SavedSquall {
        // Rather a minute early than late.
        let ahead = self.due.millis_since(now) / 60_000;
        let over = now.millis_since(self.due).div_ceil(60_000);
        let minutes = |millis: u64| i16::try_from(millis).unwrap_or(i16::MAX);
        SavedSquall {
            due_min: minutes(ahead) - minutes(over),
            met: self.met,
        }
    }

    /// Time begins anew with a watch: what was due before it did is due then,
    /// and keeps calling for what is left.
    fn restored(saved: SavedSquall, now: Timestamp) -> Option<Self> {
        let span = |minutes: i16| Duration::from_secs(u64::from(minutes.unsigned_abs()) * 60);
        if saved.due_min >= 0 {
            return Some(Squall {
                due: now.after(span(saved.due_min)),
                met: saved.met,
                keeps: SQUALL_KEEPS,
            });
        }
        let keeps = SQUALL_KEEPS.checked_sub(span(saved.due_min))?;
        Some(Squall {
            due: now,
            met: saved.met,
            keeps,
        })
    }
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
    pub(crate) fn restored(boat: &Boat, saved: &Saved, now: Timestamp) -> Self {
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
        deck.squall = saved.squall.and_then(|it| Squall::restored(it, now));
        if saved.limits == Confirmation::Confirmed {
            deck.limits = Confirmation::Confirmed;
        }
        if saved.wind == Confirmation::Confirmed {
            deck.wind = Confirmation::Confirmed;
        }
        deck
    }

    /// All that outlives a restart, but for the forecast.
    pub(crate) fn saved(&self, now: Timestamp) -> Saved {
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
            squall: self.squall.map(|squall| squall.saved(now)),
            forecast: SavedForecast::OfTheBoat,
        }
    }

    /// A squall is in sight, so many minutes away; none any more at 0.
    pub(crate) fn see_squall(&mut self, minutes: u8, now: Timestamp) {
        self.squall = (minutes > 0).then(|| Squall {
            due: now.after(Duration::from_secs(u64::from(minutes) * 60)),
            met: Met::NotYet,
            keeps: SQUALL_KEEPS,
        });
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
            .is_some_and(|squall| now >= squall.due.after(squall.keeps))
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
