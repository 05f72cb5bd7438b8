//! Is the figure on the screen true? Of the minutes shown as aboard while the
//! wind is under the limit: how often the limit was passed sooner, how often
//! the figure jumped, and what it said before a crossing.

use crate::aboard::Played;
use crate::judged::Judged;
use crate::tally::Stands;

/// Figures above this are not held against what came.
const SHOWN_TO_MIN: f64 = 60.0;
/// What the wind did is known so far ahead.
const KNOWN_MIN: usize = 70;
/// A change of more than this, and more than a quarter of the figure, from one
/// minute to the next is a jump.
const JUMP_MIN: f64 = 5.0;
/// Minutes before a crossing at which the figure is told.
pub const BEFORE_MIN: [usize; 3] = [40, 20, 10];

/// What was found, over all cells.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Truth {
    /// Minutes shown under the limit, and those that were too many.
    pub shown: usize,
    /// See `shown`.
    pub early: usize,
    /// Jumps of the figure.
    pub jumps: usize,
    /// What was shown at [`BEFORE_MIN`] before each crossing.
    pub before: [Vec<f64>; BEFORE_MIN.len()],
    /// Crossings looked at.
    pub crossings: usize,
    /// Minutes for which the call had stood at each crossing.
    pub leads_min: Vec<f64>,
}

impl Truth {
    /// Share of shown minutes in which the limit was passed sooner: what the
    /// figure promises.
    pub fn early_share(&self) -> Option<f64> {
        (self.shown > 0).then(|| self.early as f64 / self.shown as f64)
    }

    /// Jumps in an hour shown.
    pub fn jumps_an_hour(&self) -> Option<f64> {
        (self.shown > 0).then(|| self.jumps as f64 * 60.0 / self.shown as f64)
    }

    /// The median shown so long before, where anything was.
    pub fn median_before(&self, place: usize) -> Option<f64> {
        median(self.before.get(place)?)
    }

    /// The median lead, minutes.
    pub fn median_lead_min(&self) -> Option<f64> {
        median(&self.leads_min)
    }

    /// Holds what one cell showed against what came.
    pub fn add(&mut self, it: &Judged, played: &Played) {
        let step_min = f64::from(it.limit.step_s) / 60.0;
        let slots = it.limit.wind.len();
        let is_under = |slot: usize| it.keep[slot] && it.limit.wind[slot] < it.limit.limit_kn;
        let soonest = |slot: usize| played.soonest_min[slot];
        let mut passed: Option<usize> = None;
        for slot in (0..slots).rev() {
            let left_min = passed.map_or(f64::INFINITY, |at| (at - slot) as f64 * step_min);
            if it.limit.wind[slot] >= it.limit.limit_kn {
                passed = Some(slot);
            }
            let shown = soonest(slot).filter(|it| (0.0..=SHOWN_TO_MIN).contains(it));
            if let Some(shown) = shown.filter(|_| is_under(slot) && slot + KNOWN_MIN < slots) {
                self.shown += 1;
                self.early += usize::from(left_min < shown);
            }
        }
        let pairs = (1..slots).filter(|slot| is_under(*slot));
        self.jumps += pairs
            .filter(|&slot| jumps(soonest(slot - 1), soonest(slot)))
            .count();
        for &crossing in &it.crossings {
            self.crossings += 1;
            for (all, minutes) in self.before.iter_mut().zip(BEFORE_MIN) {
                let slot = crossing.checked_sub(it.limit.slots(60 * minutes as u32));
                all.extend(slot.and_then(soonest));
            }
            let stood = played.stands[..crossing].iter().rev();
            let stood = stood.take_while(|it| **it != Stands::Not).count();
            self.leads_min.push(stood as f64 * step_min);
        }
    }
}

/// From and to nothing is a jump as well.
fn jumps(before: Option<f64>, after: Option<f64>) -> bool {
    match (before, after) {
        (None, None) => false,
        (Some(before), Some(after)) => {
            let is_shown = before.min(after) <= SHOWN_TO_MIN;
            is_shown && (after - before).abs() > JUMP_MIN.max(0.25 * before.min(after))
        }
        (Some(_), None) | (None, Some(_)) => true,
    }
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let high = sorted.get(sorted.len() / 2)?;
    let low = sorted.get(sorted.len().saturating_sub(1) / 2)?;
    Some((low + high) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jump_is_five_minutes_and_a_quarter_or_from_nothing() {
        assert!(jumps(Some(10.0), Some(16.0)));
        assert!(!jumps(Some(10.0), Some(14.0)));
        assert!(!jumps(Some(40.0), Some(48.0)));
        assert!(jumps(Some(40.0), Some(51.0)));
        assert!(!jumps(Some(70.0), Some(99.0)));
        assert!(jumps(None, Some(80.0)) && !jumps(None, None));
    }

    #[test]
    fn the_median_of_few() {
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[1.0, 2.0]), Some(1.5));
    }
}
