//! What unloads her at once, where the change no longer fits before the limit
//! or nothing is left to take in.
//!
//! It buys time and is no reduction. Upwind: ease and luff, heave to. Reaching:
//! bear away or luff, whichever unloads her. Running: never bear away, never
//! round up. The skipper decides; the boat file has the crew's own list.

use heapless::Vec;

use super::{Ladder, MAX_PLANS, PlanId};
use crate::act::{Hands, PointOfSail};
use crate::text::{Text, text};

/// Most entries of the list.
pub const MAX_AT_ONCE: usize = 8;

/// The longest name, in bytes: with the sum it makes one line.
pub const AT_ONCE_NAME: usize = 18;

/// A place in the boat file's list, or beyond it for common practice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AtOnceId(pub u8);

/// One entry of the boat file's list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AtOnce {
    /// As the crew says it; short, for it stands before the sum.
    pub name: Text<AT_ONCE_NAME>,
    /// Minutes it takes.
    pub minutes: f64,
    /// Hands it takes, the one who steers counted in.
    pub hands: u8,
    /// On which points of sail; none for all.
    pub points: Vec<PointOfSail, 3, u8>,
    /// Under which plans; none for all that carry sail.
    pub plans: Vec<PlanId, MAX_PLANS, u8>,
}

impl AtOnce {
    fn fits(&self, ladder: &Ladder, plan: PlanId, point: PointOfSail) -> bool {
        let is_point = self.points.is_empty() || self.points.contains(&point);
        let is_plan = match self.plans.is_empty() {
            true => ladder.plan(plan).is_some_and(|it| it.area_m2 > 0.0),
            false => self.plans.contains(&plan),
        };
        is_point && is_plan
    }
}

/// What unloads her at once. It advises; the skipper decides.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AtOnceView {
    /// Which.
    pub id: AtOnceId,
    /// As the crew says it.
    pub name: Text<AT_ONCE_NAME>,
    /// Minutes it takes.
    pub minutes: f64,
    /// Hands it takes, the one who steers counted in.
    pub hands: u8,
}

/// Common practice, no source: close-hauled, reaching, running, bare poles.
/// What serves running turns her neither way, so it serves on any course.
const USUAL: [(&str, f64); 4] = [
    ("ease and luff", 1.0),
    ("luff or bear away", 1.0),
    ("drop the headsail", 3.0),
    ("clip on, steer", 2.0),
];

impl Ladder {
    /// What can be done at once under a plan: the first entry of the list that
    /// those on deck can do, else the one of fewest hands, else common
    /// practice. Where the point of sail is not known, it is as for running.
    pub fn choose_at_once(
        &self,
        plan: PlanId,
        point: Option<PointOfSail>,
        hands: Hands,
    ) -> AtOnceId {
        let point = point.unwrap_or(PointOfSail::Running);
        let all = self.at_once.iter().enumerate();
        let mut fitting = all.filter(|(_, it)| it.fits(self, plan, point));
        let fewest = fitting.clone();
        let found = fitting
            .find(|(_, it)| it.hands <= hands.on_deck)
            .or_else(|| fewest.min_by_key(|(_, it)| it.hands));
        let has_sail = self.plan(plan).is_some_and(|it| it.area_m2 > 0.0);
        let usual = match point {
            _ if !has_sail => 3,
            PointOfSail::CloseHauled => 0,
            PointOfSail::Reaching => 1,
            PointOfSail::Running => 2,
        };
        AtOnceId(found.map_or(MAX_AT_ONCE + usual, |(place, _)| place) as u8)
    }

    /// What this is.
    pub fn at_once(&self, id: AtOnceId) -> AtOnceView {
        let place = usize::from(id.0);
        if let Some(listed) = self.at_once.get(place) {
            return AtOnceView {
                id,
                name: listed.name.clone(),
                minutes: listed.minutes,
                hands: listed.hands,
            };
        }
        let usual = USUAL.get(place.saturating_sub(MAX_AT_ONCE));
        let (name, minutes) = usual.copied().unwrap_or_default();
        AtOnceView {
            id,
            name: text(name),
            minutes,
            hands: 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::Plan;

    fn entry(name: &str, hands: u8, points: &[PointOfSail], plans: &[PlanId]) -> AtOnce {
        AtOnce {
            name: text(name),
            minutes: 1.0,
            hands,
            points: points.iter().copied().collect(),
            plans: plans.iter().copied().collect(),
        }
    }

    fn ladder(list: &[AtOnce]) -> Ladder {
        let plan = |area_m2| Plan {
            area_m2,
            ..Plan::default()
        };
        Ladder {
            plans: [plan(60.0), plan(0.0)].into_iter().collect(),
            at_once: list.iter().cloned().collect(),
            ..Ladder::default()
        }
    }

    fn name(
        ladder: &Ladder,
        plan: u8,
        point: Option<PointOfSail>,
        on_deck: u8,
    ) -> Text<AT_ONCE_NAME> {
        let hands = Hands { on_deck, below: 2 };
        let id = ladder.choose_at_once(PlanId(plan), point, hands);
        ladder.at_once(id).name
    }

    #[test]
    fn the_first_that_those_on_deck_can_do_is_taken() {
        let luff = PointOfSail::CloseHauled;
        let list = [
            entry("heave to", 2, &[luff], &[]),
            entry("ease", 1, &[luff], &[]),
        ];
        let ladder = ladder(&list);
        assert_eq!(name(&ladder, 0, Some(luff), 2), "heave to");
        assert_eq!(name(&ladder, 0, Some(luff), 1), "ease");
        assert_eq!(name(&ladder, 0, Some(luff), 0), "ease");
    }

    #[test]
    fn running_or_on_an_unknown_course_she_is_not_turned() {
        let ladder = ladder(&[]);
        for point in [None, Some(PointOfSail::Running)] {
            assert_eq!(name(&ladder, 0, point, 1), "drop the headsail");
        }
    }

    #[test]
    fn bare_poles_have_an_entry_of_their_own() {
        let bare = [entry("stream drogue", 1, &[], &[PlanId(1)])];
        let with = ladder(&bare);
        assert_eq!(name(&with, 1, None, 1), "stream drogue");
        assert_eq!(name(&with, 0, None, 1), "drop the headsail");
        let without = ladder(&[entry("ease", 1, &[], &[])]);
        assert_eq!(name(&without, 1, None, 1), "clip on, steer");
    }
}
