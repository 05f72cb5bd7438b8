//! The boat's own ladder of sail plans: what each can stand, what it takes to
//! go from one to another, and how long that takes with these hands.
//!
//! The ladder is a small graph. Its plans stand in order from most sail to
//! least; changes lead between any two of them.

mod at_once;
mod choose;
mod limits;
mod time;
mod wanted;

pub use at_once::{AT_ONCE_NAME, AtOnce, AtOnceId, AtOnceView, MAX_AT_ONCE};
pub use choose::{Choice, NEXT_RUNG, Reason, WORTH_MINUTES, choose, choose_up};
pub use limits::{
    CLOSE_REACH_KN, apparent_on_close_reach, brought_forward, effective_limit,
    true_wind_for_round_up,
};
pub use time::{
    Circumstances, Feasibility, Job, Mustering, Obstacle, Steering, call_time, deadline, muster_s,
    route_time,
};
pub use wanted::{Buys, buys, wanted_items};

use heapless::Vec;

use crate::act::PointOfSail;
use crate::text::{Name, Text};
use crate::units::{Degrees, Knots};

/// A plan's place in [`Ladder::plans`], 0 for the most sail.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlanId(pub u8);

/// An item's place in [`Ladder::setup`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ItemId(pub u8);

/// An item's place in [`Ladder::rigged`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RiggedId(pub u8);

/// Most sail plans a ladder holds.
pub const MAX_PLANS: usize = 16;
/// Most changes a ladder holds.
pub const MAX_CHANGES: usize = 40;
/// Most set-up items a ladder holds.
pub const MAX_ITEMS: usize = 16;
/// Most "rigged now" items a ladder holds.
pub const MAX_RIGGED: usize = 8;

/// All that the boat file says of sail plans and changes. References between
/// its parts are checked by whoever builds it; a wrong one is never followed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ladder {
    /// From most sail to least.
    pub plans: Vec<Plan, MAX_PLANS>,
    /// Ways between plans.
    pub changes: Vec<Change, MAX_CHANGES>,
    /// What may have to be made ready before a change.
    pub setup: Vec<SetupItem, MAX_ITEMS>,
    /// What may stand in the way of a change.
    pub rigged: Vec<RiggedItem, MAX_RIGGED>,
    /// What unloads her at once, the first choice first.
    pub at_once: Vec<AtOnce, MAX_AT_ONCE>,
}

/// Most sails named in one plan.
pub const MAX_SAILS: usize = 6;
/// Most changes in a row that are reckoned as one reduction.
pub const MAX_ROUTE: usize = 6;

/// One sail plan: a rung of the ladder.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// As the crew says it: "two reefs, staysail".
    pub name: Name,
    /// As it fits the smallest screen.
    pub short: Text<10>,
    /// What is set, in the crew's own words: "main, third reef", "staysail".
    pub sails: Vec<Text<24>, MAX_SAILS>,
    /// Sail area.
    pub area_m2: f64,
    /// True wind over water at the masthead that it stands.
    pub limits: Limits,
    /// Steady heel that it may have; none where heel says nothing
    /// (a multihull).
    pub heel_limit: Option<Degrees>,
    /// Steady trim that it may have, bow down; for boats whose bows bury
    /// before they heel.
    pub trim_limit: Option<Degrees>,
    /// The plan of like area in whose place this one may be set: a trysail
    /// for the fourth reef. Both then share a rung.
    pub alternative_to: Option<PlanId>,
}

/// A plan's limits by point of sail.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// True wind forward of 60 degrees.
    pub close_hauled: Limit,
    /// 60 to 120.
    pub reaching: Limit,
    /// Abaft 120.
    pub running: Limit,
}

impl Limits {
    /// The limit for one point of sail.
    pub const fn at(&self, point: PointOfSail) -> &Limit {
        match point {
            PointOfSail::CloseHauled => &self.close_hauled,
            PointOfSail::Reaching => &self.reaching,
            PointOfSail::Running => &self.running,
        }
    }
}

/// What judges the wind: mean, gust, or whichever comes first. A limit with
/// neither belongs to the last plan: nothing is left to take in.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limit {
    /// 1-minute mean.
    pub mean: Option<Knots>,
    /// 3-second gust.
    pub gust: Option<Knots>,
}

/// A way from one plan to another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Change {
    /// Plan before.
    pub from: PlanId,
    /// Plan after.
    pub to: PlanId,
    /// Minutes of work by hands on deck, fewest hands first; fewer hands than
    /// the first entry cannot do it.
    pub minutes: Vec<HandsMinutes, 4>,
    /// What must be ready before.
    pub setup: Vec<ItemId, 6>,
    /// Highest true wind in which it can still be done.
    pub highest_wind: Option<Knots>,
    /// Whether the boat must come up to do it.
    pub course: Course,
    /// Where she must come up, the most apparent wind that she may meet on a
    /// close reach.
    pub round_up: Option<Knots>,
}

/// Whether a change can be made on the course she is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Course {
    /// She must be brought up towards the wind first.
    #[default]
    ComesUp,
    /// She can stay on her course: a headsail is rolled in.
    Holds,
}

/// The work of a change by one number of hands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HandsMinutes {
    /// People working on deck.
    pub hands: u8,
    /// Minutes, by day in a slight sea.
    pub minutes: f64,
}

/// Something to be made ready before a change: a pendant led, a trysail on
/// its track.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SetupItem {
    /// As the crew says it.
    pub name: Name,
    /// Minutes it takes.
    pub minutes: f64,
    /// Hands it takes.
    pub hands: u8,
    /// Highest true wind in which it can still be made ready.
    pub highest_wind: Option<Knots>,
    /// Ready since the boat was fitted out: permanently rigged.
    pub standing: Standing,
}

/// Whether an item is always ready.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Standing {
    /// Made ready when it is needed.
    #[default]
    WhenNeeded,
    /// Rigged for good.
    Permanent,
}

/// Something up that must come down before any change: preventer, pole, kite.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RiggedItem {
    /// As the crew says it.
    pub name: Name,
    /// Minutes to take it in.
    pub minutes: f64,
    /// Hands it takes.
    pub hands: u8,
    /// Highest true wind in which it can still be taken in.
    pub highest_wind: Option<Knots>,
}

impl Ladder {
    /// The plan with this id.
    pub fn plan(&self, id: PlanId) -> Option<&Plan> {
        self.plans.get(id.0 as usize)
    }

    /// The set-up item with this id.
    pub fn item(&self, id: ItemId) -> Option<&SetupItem> {
        self.setup.get(id.0 as usize)
    }

    /// The change between two plans, if there is one.
    pub fn change(&self, from: PlanId, to: PlanId) -> Option<&Change> {
        self.changes.iter().find(|c| c.from == from && c.to == to)
    }

    /// Changes that leave a plan for less sail, nearest plan first.
    pub fn reductions(&self, from: PlanId) -> impl Iterator<Item = &Change> {
        let mut order: Vec<&Change, MAX_CHANGES> = self
            .changes
            .iter()
            .filter(|c| c.from == from && c.to > from)
            .collect();
        order.sort_unstable_by_key(|c| c.to);
        order.into_iter()
    }

    /// Changes that leave a plan for more sail, nearest plan first.
    pub fn increases(&self, from: PlanId) -> impl Iterator<Item = &Change> {
        let mut order: Vec<&Change, MAX_CHANGES> = self
            .changes
            .iter()
            .filter(|c| c.from == from && c.to < from)
            .collect();
        order.sort_unstable_by_key(|c| core::cmp::Reverse(c.to));
        order.into_iter()
    }

    /// The thing that may stand in the way with this id.
    pub fn rigged_item(&self, id: RiggedId) -> Option<&RiggedItem> {
        self.rigged.get(id.0 as usize)
    }

    /// The rung a plan stands on: itself, or the plan that it may replace.
    pub fn rung(&self, id: PlanId) -> PlanId {
        match self.plan(id).and_then(|plan| plan.alternative_to) {
            Some(other) if self.plan(other).is_some() => other,
            _ => id,
        }
    }

    /// The changes that lead from one plan down (or up) to another: the one
    /// change between them, else the shortest chain that only goes that way.
    /// Does not depend on the moment, so a target's way is always the same.
    pub fn route(&self, from: PlanId, to: PlanId) -> Option<Vec<&Change, MAX_ROUTE>> {
        if let Some(change) = self.change(from, to) {
            return Some(core::iter::once(change).collect());
        }
        let onward = |c: &&Change, at: PlanId| {
            c.from == at
                && if to > from {
                    c.to > at && c.to <= to
                } else {
                    c.to < at && c.to >= to
                }
        };
        let mut chains: Vec<Vec<&Change, MAX_ROUTE>, MAX_PLANS> = Vec::new();
        let mut reached: Vec<PlanId, MAX_PLANS> = Vec::new();
        chains.push(Vec::new()).ok()?;
        let mut next = 0;
        // Breadth first, so the first chain to arrive is a shortest one.
        while let Some(chain) = chains.get(next).cloned() {
            next += 1;
            let at = chain.last().map_or(from, |change| change.to);
            for change in self.changes.iter().filter(|c| onward(c, at)) {
                let mut longer = chain.clone();
                if longer.push(change).is_err() {
                    continue;
                }
                if change.to == to {
                    return Some(longer);
                }
                if !reached.contains(&change.to) && reached.push(change.to).is_ok() {
                    chains.push(longer).ok()?;
                }
            }
        }
        None
    }
}
