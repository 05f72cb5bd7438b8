//! The last good moment: what a change of sail costs these people now, beside
//! what it costs at each later hour at which something known changes.
//!
//! In: the stretches of time ahead with the work in each (`spans`), odds that
//! the change is wanted by a time, and weights (`costs`). Out: [`Advice`].
//!
//! A *policy* is a moment at which the change is made of the crew's own will,
//! unless it is called for before; the last policy is to make it only when
//! called. The expected cost of each is the sum over the stretches before it
//! of the odds of being called in them times the cost of being called then,
//! and the odds of not having been called times the cost at its own moment;
//! what is never wanted is undone later and costs that too.
//!
//! Within a stretch waiting gains nothing, so only the beginnings of later
//! stretches are compared; and as long as there is time enough in the present
//! one for the work and a notice, now is not the *last* good moment, and
//! nothing is said.

pub mod costs;
pub mod persistence;
pub mod spans;
#[cfg(test)]
mod tests;

use heapless::Vec;

pub use costs::{Costs, Darkness, HintSound, Work};
pub use spans::{Conditions, MAX_SPANS, Stretch, Turning, Turnings};

/// How far ahead is looked: the longest night at the latitudes that are
/// sailed. Common practice, no source.
pub const HORIZON_S: f64 = 12.0 * 3600.0;
/// The hint comes so long before the work has to begin: a meal, a sail trimmed
/// first. Common practice, no source.
pub const NOTICE_S: f64 = 30.0 * 60.0;
/// Waiting, or not waiting, is clearly better at so many times the cost...
const CLEARLY: f64 = 1.25;
/// ...and at so many minutes of work.
const CLEARLY_MIN: f64 = 3.0;
/// A change less likely wanted than this by the horizon is not spoken of.
/// Common practice, no source.
pub const WORTH_SAYING: f64 = 0.2;

/// One stretch with its work and its odds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Seconds from now.
    pub from_s: f64,
    /// Seconds from now.
    pub to_s: f64,
    /// The change, made in it.
    pub work: Work,
    /// Odds that it is wanted before the end of it.
    pub odds_by_end: f64,
}

/// What is compared.
#[derive(Clone, Debug, Default)]
pub struct Question {
    /// From now on, in order, without gaps.
    pub spans: Vec<Span, MAX_SPANS>,
    /// What undoing it costs, if it never was wanted.
    pub undo_cost: f64,
    /// Odds of being called from which on waiting is out of the question: a
    /// moment more likely called before is none to wait for.
    pub pressing_odds: f64,
}

/// What comes out of the comparison.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Advice {
    /// Neither is clearly better.
    Nothing,
    /// Now, rather than at the stretch at this place, by far the dearest of
    /// those in which it may be wanted.
    Now {
        /// The place of that stretch.
        before: usize,
    },
    /// It can wait for the stretch at this place.
    CanWait {
        /// The place of that stretch.
        until: usize,
    },
}

/// One policy with its expected cost.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Policy {
    /// Place of the stretch in which the change is made; none: only when
    /// called.
    place: Option<usize>,
    cost: f64,
}

impl Question {
    /// Compares now with all that is later.
    pub fn compare(&self, costs: &Costs) -> Advice {
        let Some(first) = self.spans.first() else {
            return Advice::Nothing;
        };
        if self.odds_by_horizon() < WORTH_SAYING {
            return Advice::Nothing;
        }
        let now = self.cost_at(0.0, 0, costs);
        let waiting = self.best_later(costs);
        // What makes waiting dear must be that things change, not waiting.
        let all_alike = self.with_all_as(first.work).best_later(costs);
        let is_now_better = self.is_last_chance()
            && is_clearly_better(now, waiting.cost)
            && is_clearly_better(all_alike.cost, waiting.cost);
        if is_now_better {
            return Advice::Now {
                before: self.dearest(costs),
            };
        }
        self.worth_waiting_for(now, costs)
    }

    fn worth_waiting_for(&self, now: f64, costs: &Costs) -> Advice {
        let is_likely_in_time = |policy: &Policy| {
            let span = policy.place.and_then(|place| self.spans.get(place));
            span.is_some_and(|span| self.odds_by(span.from_s) < self.pressing_odds)
        };
        let best = self
            .begun_later(costs)
            .filter(is_likely_in_time)
            .reduce(|a, b| if b.cost < a.cost { b } else { a });
        match best {
            Some(Policy {
                place: Some(until),
                cost,
            }) if is_clearly_better(cost, now) => Advice::CanWait { until },
            _ => Advice::Nothing,
        }
    }

    /// Whether the present stretch has no more time than the work and a notice.
    fn is_last_chance(&self) -> bool {
        self.spans.first().is_some_and(|first| {
            let work = first.work.minutes().map(|minutes| minutes * 60.0);
            work.is_some_and(|work_s| first.to_s <= work_s + NOTICE_S)
        })
    }

    /// Adds a stretch at the end; one with the same work as the last only
    /// makes that longer.
    pub fn push(&mut self, span: Span) {
        match self.spans.last_mut() {
            Some(last) if last.work == span.work => {
                last.to_s = span.to_s;
                last.odds_by_end = span.odds_by_end;
            }
            _ => {
                // As many as there are stretches.
                let _ = self.spans.push(span);
            }
        }
    }

    /// The odds that it is wanted at all.
    pub fn odds_by_horizon(&self) -> f64 {
        self.spans.last().map_or(0.0, |span| span.odds_by_end)
    }

    /// The best policy that begins later than now, or never of itself.
    fn best_later(&self, costs: &Costs) -> Policy {
        let when_called = Policy {
            place: None,
            cost: self.called_before(f64::INFINITY, costs),
        };
        self.begun_later(costs)
            .fold(when_called, |a, b| if b.cost < a.cost { b } else { a })
    }

    /// At the beginning of each later stretch.
    fn begun_later(&self, costs: &Costs) -> impl Iterator<Item = Policy> {
        let later = self.spans.iter().enumerate().skip(1);
        later.map(move |(place, span)| Policy {
            place: Some(place),
            cost: self.cost_at(span.from_s, place, costs),
        })
    }

    /// Expected cost of making the change at a moment in a stretch, unless
    /// called before.
    fn cost_at(&self, at_s: f64, place: usize, costs: &Costs) -> f64 {
        let own = self.spans.get(place).map_or(0.0, |s| s.work.cost(costs));
        let not_called = 1.0 - self.odds_by(at_s);
        let never = 1.0 - self.odds_by_horizon();
        self.called_before(at_s, costs) + not_called * own + never * self.undo_cost
    }

    /// Expected cost of being called before a moment.
    fn called_before(&self, at_s: f64, costs: &Costs) -> f64 {
        let mut before = 0.0;
        let mut whole = 0.0;
        for span in self.spans.iter().filter(|span| span.from_s < at_s) {
            let by = self.odds_by(span.to_s.min(at_s));
            whole += (by - before).max(0.0) * span.work.cost_called(costs);
            before = by;
        }
        whole
    }

    /// Odds that it is wanted by a moment: even between the ends of a stretch.
    fn odds_by(&self, at_s: f64) -> f64 {
        let mut before = 0.0;
        for span in &self.spans {
            if at_s < span.to_s {
                let share = (at_s - span.from_s) / (span.to_s - span.from_s).max(1.0);
                return before + (span.odds_by_end - before).max(0.0) * share.clamp(0.0, 1.0);
            }
            before = span.odds_by_end;
        }
        before
    }

    fn with_all_as(&self, work: Work) -> Question {
        let mut same = self.clone();
        for span in &mut same.spans {
            span.work = work;
        }
        same
    }

    /// The later stretch that adds most to the cost of waiting.
    fn dearest(&self, costs: &Costs) -> usize {
        let mut before = self.spans.first().map_or(0.0, |span| span.odds_by_end);
        let mut dearest = (0, f64::NEG_INFINITY);
        for (place, span) in self.spans.iter().enumerate().skip(1) {
            let odds = (span.odds_by_end - before).max(0.0);
            before = span.odds_by_end;
            let adds = odds * span.work.cost_called(costs);
            if adds > dearest.1 {
                dearest = (place, adds);
            }
        }
        dearest.0
    }
}

/// Whether one cost is clearly less than another.
fn is_clearly_better(less: f64, more: f64) -> bool {
    more >= less * CLEARLY && more - less >= CLEARLY_MIN
}
