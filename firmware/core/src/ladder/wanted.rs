//! Readiness: which set-up items the next reduction wants, and what each
//! open one would buy.

use heapless::Vec;

use super::choose::Choice;
use super::time::{Circumstances, route_time};
use super::{Change, ItemId, Ladder, MAX_ITEMS, PlanId, Standing};
use crate::act::Readiness;
use crate::boat::Crew;
use crate::view::Wanted;

/// The set-up items that lie ahead of a plan, those for the next reduction
/// first. Asked for as soon as the plan is entered, so that the reduction
/// after it is short. With a choice the next reduction is that choice; without
/// one it is any change to the nearest rung below. Permanently rigged items
/// are never asked for.
pub fn wanted_items(
    ladder: &Ladder,
    plan: PlanId,
    chosen: Option<&Choice>,
) -> Vec<(ItemId, Wanted), MAX_ITEMS> {
    let nearest = ladder.reductions(plan).map(|c| ladder.rung(c.to)).min();
    let is_next = |change: &Change| match chosen {
        Some(choice) => choice.has_step(change.from, change.to),
        None => change.from == plan && Some(ladder.rung(change.to)) == nearest,
    };
    let is_ahead = |change: &Change| change.from >= plan && change.to > plan;
    let mut wanted = Vec::new();
    for now in [Wanted::Now, Wanted::Later] {
        for (place, item) in ladder.setup.iter().enumerate() {
            let id = ItemId(place as u8);
            let mut uses = ladder.changes.iter().filter(|c| c.setup.contains(&id));
            let is_wanted = match now {
                Wanted::Now => uses.any(is_next),
                Wanted::Later => uses.any(is_ahead),
            };
            let is_new = !wanted.iter().any(|(other, _)| *other == id);
            if is_wanted && is_new && item.standing == Standing::WhenNeeded {
                // As many places as items: never full.
                let _ = wanted.push((id, now));
            }
        }
    }
    wanted
}

/// What making an item ready does for a reduction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Buys {
    /// Takes so many minutes off the call time; 0 where it is not needed.
    Minutes(f64),
    /// Makes a change possible that these hands cannot make while it is open.
    Opens,
    /// Changes nothing: the change is out of reach either way.
    Nothing,
}

impl Buys {
    /// In minutes; none where it cannot be said so.
    pub const fn minutes(self) -> Option<f64> {
        match self {
            Buys::Minutes(minutes) => Some(minutes),
            Buys::Opens | Buys::Nothing => None,
        }
    }
}

/// What an item buys on the way along these changes: the call time with it
/// open less the call time with it ready.
pub fn buys(
    ladder: &Ladder,
    crew: &Crew,
    route: &[&Change],
    item: ItemId,
    now: &Circumstances,
) -> Buys {
    let with = |readiness| {
        let then = now.with_item(item, readiness);
        route_time(ladder, crew, route, &then)
            .job()
            .map(|job| job.time.total_s())
    };
    match (with(Readiness::Open), with(Readiness::Ready)) {
        (Some(open), Some(ready)) => Buys::Minutes((open - ready) / 60.0),
        (None, Some(_)) => Buys::Opens,
        (_, None) => Buys::Nothing,
    }
}
