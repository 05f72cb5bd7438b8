//! One live source for each quantity, and what is wrong with the others.
//!
//! Every (quantity, source) pair that was heard has a [`Slot`], which learns
//! its own period. The slot used is the one of lowest rank that is live; among
//! equal ranks the one in use is kept unless another is plainly quicker. A
//! dead source hands over at the next whole second; a better one comes back
//! only after it has been steady, so that a loose plug does not flap.

mod bounds;
mod slot;

use core::time::Duration;

use heapless::Vec;

pub use bounds::{age_bound, difference};
pub use slot::{Ageing, Slot};

use crate::instruments::MayDiffer;
use crate::reading::{Heard, Measure, Quantity, Reading, SourceId};
use crate::sense::health::Persistence;
use crate::time::Timestamp;

/// Most (quantity, source) pairs remembered. Where all are taken the longest
/// silent goes first, before that one whose period is not known; those in use
/// never go.
pub const MAX_SLOTS: usize = 48;

/// A better source is gone back to once it has been live this long, or for
/// five of its own periods if that is longer. Common practice, no source.
pub const STEADY: Duration = Duration::from_secs(10);

/// Two that differed must agree for this many seconds until it is over.
const AGREE_SECONDS: u16 = 30;

/// No source is heard more often than this: gates, waits and means are made
/// for it. A feed of 10 Hz loses nothing by it, however uneven.
const APART_MS: u64 = 80;

/// See the module.
pub struct Sources {
    may_differ: MayDiffer,
    slots: Vec<Slot, MAX_SLOTS>,
    /// Places in `slots`.
    chosen: [Option<u8>; Quantity::COUNT],
    ever: [Option<Timestamp>; Quantity::COUNT],
    apart: [Persistence; Quantity::COUNT],
}

/// A quantity is now taken from another source, or from none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HandOver {
    /// Which quantity.
    pub quantity: Quantity,
    /// From which source; none when all are silent or invalid.
    pub to: Option<SourceId>,
}

/// Hand-overs of one step: at most one a quantity.
pub type HandOvers = Vec<HandOver, { Quantity::COUNT }>;

impl Default for Sources {
    fn default() -> Self {
        Sources::new(MayDiffer::default())
    }
}

impl Sources {
    /// Nothing heard yet; two may differ by so much.
    pub fn new(may_differ: MayDiffer) -> Self {
        Sources {
            may_differ,
            slots: Vec::new(),
            chosen: [None; Quantity::COUNT],
            ever: [None; Quantity::COUNT],
            apart: [Persistence::default(); Quantity::COUNT],
        }
    }

    /// Whether a source says the next value sooner than it need be heard.
    pub fn is_too_soon(&self, reading: &Reading) -> bool {
        let quantity = reading.heard.quantity();
        matches!(reading.heard, Heard::Value(_))
            && self
                .slots
                .iter()
                .find(|slot| slot.source == reading.source && slot.quantity == quantity)
                .is_some_and(|slot| slot.is_good() && reading.at.millis_since(slot.at()) < APART_MS)
    }

    /// Takes a reading. Returns a hand-over if it brought one: the first
    /// source of a quantity is used at once.
    pub fn hear(&mut self, reading: &Reading) -> Option<HandOver> {
        let quantity = reading.heard.quantity();
        let place = self.place(quantity, reading)?;
        let slot = self.slots.get_mut(place)?;
        slot.rank = reading.rank;
        match reading.heard {
            Heard::Value(measure) => {
                slot.value(measure, reading.at);
                if let Some(ever) = self.ever.get_mut(quantity.index()) {
                    *ever = Some(reading.at);
                }
            }
            Heard::Invalid(_) => slot.invalid(reading.at),
        }
        let unchosen = self.chosen_id(quantity).is_none();
        let died = self.chosen_id(quantity) == Some(reading.source)
            && self.slots.get(place).is_some_and(Slot::is_invalid);
        if unchosen || died {
            self.choose(quantity, reading.at)
        } else {
            None
        }
    }

    /// Looks at every quantity once, at a whole second.
    pub fn review(&mut self, now: Timestamp) -> HandOvers {
        let mut hand_overs = HandOvers::new();
        let mut heard = [false; Quantity::COUNT];
        for slot in &mut self.slots {
            slot.review(now);
            if let Some(flag) = heard.get_mut(slot.quantity.index()) {
                *flag = true;
            }
        }
        for quantity in Quantity::ALL {
            if !heard.get(quantity.index()).is_some_and(|h| *h) {
                continue;
            }
            if let Some(turn) = self.choose(quantity, now) {
                // One a quantity, so it always fits.
                let _ = hand_overs.push(turn);
            }
            self.compare(quantity, now);
        }
        hand_overs
    }

    /// The slot that a quantity is taken from, live or not.
    pub fn chosen(&self, quantity: Quantity) -> Option<&Slot> {
        let place = self.chosen.get(quantity.index()).copied().flatten()?;
        self.slots.get(usize::from(place))
    }

    /// The source a quantity is taken from.
    pub fn chosen_id(&self, quantity: Quantity) -> Option<SourceId> {
        self.chosen(quantity).map(|slot| slot.source)
    }

    /// The value of a quantity, unless it is too old to trust.
    pub fn live(&self, quantity: Quantity, now: Timestamp) -> Option<Measure> {
        self.chosen(quantity)
            .filter(|slot| slot.is_live(now))
            .and_then(|slot| slot.measure())
    }

    /// When a quantity last had a valid value from any source.
    pub fn last_valid(&self, quantity: Quantity) -> Option<Timestamp> {
        self.ever.get(quantity.index()).copied().flatten()
    }

    /// Whether two live sources of a quantity have differed too long.
    pub fn is_disputed(&self, quantity: Quantity) -> bool {
        self.apart
            .get(quantity.index())
            .is_some_and(Persistence::is_so)
    }

    /// For how many seconds two live sources have differed that are not
    /// disputed yet: either they soon agree again, or one of them is wrong.
    pub fn undecided_s(&self, quantity: Quantity) -> u16 {
        let apart = self.apart.get(quantity.index());
        apart.map_or(0, |apart| apart.begun())
    }

    /// Whether a quantity is being said to be invalid by all who speak of it.
    pub fn is_invalid(&self, quantity: Quantity, now: Timestamp) -> bool {
        let mut spoken = false;
        for slot in self.slots.iter().filter(|s| s.quantity == quantity) {
            if slot.is_live(now) {
                return false;
            }
            spoken |= slot.is_invalid() && slot.is_talking(now);
        }
        spoken
    }

    /// Every slot, for the census of sources.
    pub fn slots(&self) -> impl Iterator<Item = &Slot> {
        self.slots.iter()
    }

    /// The place of a pair, made if it is new; none where all are in use.
    fn place(&mut self, quantity: Quantity, reading: &Reading) -> Option<usize> {
        let known = self
            .slots
            .iter()
            .position(|s| s.source == reading.source && s.quantity == quantity);
        if known.is_some() {
            return known;
        }
        let fresh = Slot::new(quantity, reading.source, reading.rank, reading.at);
        match self.slots.push(fresh) {
            Ok(()) => Some(self.slots.len().saturating_sub(1)),
            Err(fresh) => {
                let chosen = self.chosen;
                let is_chosen =
                    |place: usize| chosen.iter().flatten().any(|p| usize::from(*p) == place);
                let oldest = self
                    .slots
                    .iter()
                    .enumerate()
                    .filter(|(place, _)| !is_chosen(*place))
                    .min_by_key(|(_, slot)| (slot.period_ms().is_some(), slot.heard_at()))
                    .map(|(place, _)| place)?;
                *self.slots.get_mut(oldest)? = fresh;
                Some(oldest)
            }
        }
    }

    fn choose(&mut self, quantity: Quantity, now: Timestamp) -> Option<HandOver> {
        let held = self.chosen_id(quantity);
        let current = self.chosen(quantity).filter(|slot| slot.is_live(now));
        let place = self
            .slots
            .iter()
            .enumerate()
            .filter(|(_, slot)| slot.quantity == quantity && slot.is_live(now))
            .filter(|(_, slot)| current.is_none_or(|current| beats(slot, current)))
            .min_by_key(|(_, slot)| {
                let period = slot.period_ms().unwrap_or(u32::MAX);
                (slot.rank, period, slot.source)
            })
            .map(|(place, _)| place as u8);
        // Where nothing beats what is in use, it stays.
        if place.is_some() || current.is_none() {
            *self.chosen.get_mut(quantity.index())? = place;
        }
        let to = self.chosen_id(quantity);
        (to != held).then_some(HandOver { quantity, to })
    }

    fn compare(&mut self, quantity: Quantity, now: Timestamp) {
        let Some(chosen) = self.chosen(quantity).and_then(Slot::measure) else {
            return;
        };
        let id = self.chosen_id(quantity);
        let apart = self
            .slots
            .iter()
            .filter(|s| s.quantity == quantity && Some(s.source) != id && s.is_live(now))
            .filter_map(Slot::measure)
            .any(|other| {
                difference(&chosen, &other, &self.may_differ).is_some_and(|share| share > 1.0)
            });
        let begins = u16::from(self.may_differ.seconds);
        if let Some(state) = self.apart.get_mut(quantity.index()) {
            state.step(apart, begins, AGREE_SECONDS);
        }
    }
}

/// Whether a live source may take over from another live one: it is better
/// by rank, or twice as quick at the same rank, and has been steady.
fn beats(other: &Slot, current: &Slot) -> bool {
    let steady_ms = (STEADY.as_millis() as u64).max(5 * u64::from(other.period_ms().unwrap_or(0)));
    // By what was heard, not by silence since.
    if other.at().millis_since(other.steady_since()) < steady_ms {
        return false;
    }
    match other.rank.cmp(&current.rank) {
        core::cmp::Ordering::Less => true,
        core::cmp::Ordering::Equal => match (other.period_ms(), current.period_ms()) {
            (Some(quick), Some(slow)) => quick.saturating_mul(2) < slow,
            _ => false,
        },
        core::cmp::Ordering::Greater => false,
    }
}

#[cfg(test)]
mod tests;
