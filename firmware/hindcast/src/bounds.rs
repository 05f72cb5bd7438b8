//! How sure the figures are: blocks of whole days, drawn anew with
//! replacement. Weather comes in spells, so a block is a week where there are
//! enough of them, else a day; series of one place share their days.

use super::curve::{Caller, Curve, crossed, score_at, straight};
use super::judged::Judged;
use super::tally::{Outcome, Tally};

/// Drawings.
const ROUNDS: usize = 200;
/// The seed; any other does as well.
const SEED: u64 = 20;
/// From so many days on a block is a week.
const WEEKS_FROM_DAYS: f64 = 60.0;
/// Settings at which the curve is held against itself.
const SETTINGS: usize = 160;
/// How far beyond the highest level a drawn curve may have to be known.
const REACH: f64 = 2.5;

/// 5th and 95th percentile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// 1 drawing in 20 was lower.
    pub low: f64,
    /// 1 drawing in 20 was higher.
    pub high: f64,
}

/// Length of a block, seconds.
pub fn block_s(judged: &[Judged]) -> i64 {
    let days = judged.iter().map(|it| it.days).fold(0.0, f64::max);
    match days > WEEKS_FROM_DAYS {
        true => 7 * 86_400,
        false => 86_400,
    }
}

/// Calls `round` once a drawing, with how many times each of `count` blocks
/// was drawn, and gives the bounds of each figure that it returns. A figure
/// that is not known in a round is left out of it.
pub fn draw<const N: usize>(
    count: usize,
    mut round: impl FnMut(&[f64]) -> [Option<f64>; N],
) -> [Option<Bounds>; N] {
    let mut random = Random(SEED);
    let mut times = vec![0.0; count];
    let mut found: [Vec<f64>; N] = std::array::from_fn(|_| Vec::with_capacity(ROUNDS));
    // One block says nothing of how blocks differ.
    let rounds = if count < 2 { 0 } else { ROUNDS };
    for _ in 0..rounds {
        times.fill(0.0);
        for _ in 0..count {
            times[random.below(count)] += 1.0;
        }
        for (all, one) in found.iter_mut().zip(round(&times)) {
            all.extend(one);
        }
    }
    found.map(|mut all| {
        all.sort_unstable_by(f64::total_cmp);
        let at = |share: f64| all.get((share * (all.len().max(1) - 1) as f64).round() as usize);
        Some(Bounds {
            low: *at(0.05)?,
            high: *at(0.95)?,
        })
    })
}

/// Bounds of the share warned at each idle level, one setting for all cells.
pub fn of_curve<const N: usize>(
    caller: Caller,
    cells: &[&Judged],
    curve: &Curve,
    levels: &[f64; N],
    block_s: i64,
) -> [Option<Bounds>; N] {
    let most = levels.iter().copied().fold(0.0, f64::max) * REACH;
    let settings: Vec<f64> = curve
        .thinned(most, SETTINGS)
        .iter()
        .map(|it| it.setting)
        .collect();
    let blocks = Swept::gather(caller, cells, &settings, block_s);
    draw(blocks.len(), |times| {
        let mut sum = vec![(0.0, 0.0); settings.len()];
        let (mut crossings, mut days) = (0.0, 0.0);
        for (block, times) in blocks.iter().zip(times).filter(|(_, times)| **times > 0.0) {
            crossings += times * block.crossings;
            days += times * block.days;
            for (sum, one) in sum.iter_mut().zip(&block.at) {
                sum.0 += times * one.0;
                sum.1 += times * one.1;
            }
        }
        let points = || {
            sum.iter()
                .map(|(idle, warned)| (idle / days, warned / crossings))
        };
        levels.map(|level| (crossings > 0.0).then(|| straight(points(), level)))
    })
}

/// Bounds of figures that come of sums.
pub fn of_outcomes<const N: usize>(
    outcomes: &[Outcome],
    figures: impl Fn(&Tally) -> [Option<f64>; N],
) -> [Option<Bounds>; N] {
    let blocks = blocks(outcomes);
    draw(blocks.len(), |times| {
        let mut total = Tally::default();
        for ((_, tally), times) in blocks.iter().zip(times) {
            total.add(tally, *times);
        }
        figures(&total)
    })
}

/// Bounds of percentiles of the lead.
pub fn of_leads<const N: usize>(outcomes: &[Outcome], shares: &[f64; N]) -> [Option<Bounds>; N] {
    let blocks = blocks(outcomes);
    let place = |block: i64| blocks.partition_point(|(it, _)| *it < block);
    let mut leads: Vec<(f64, usize)> = outcomes
        .iter()
        .flat_map(|it| it.leads.iter().map(|(block, lead)| (*lead, place(*block))))
        .collect();
    leads.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    draw(blocks.len(), |times| {
        let all: f64 = leads.iter().map(|(_, block)| times[*block]).sum();
        shares.map(|share| {
            let mut sum = 0.0;
            let reached = leads.iter().find(|(_, block)| {
                sum += times[*block];
                sum >= share * all
            });
            reached.filter(|_| all > 0.0).map(|(lead, _)| *lead)
        })
    })
}

/// Sums of all cells by block, in the order of time.
fn blocks(outcomes: &[Outcome]) -> Vec<(i64, Tally)> {
    let mut blocks = std::collections::BTreeMap::<i64, Tally>::new();
    for (block, tally) in outcomes.iter().flat_map(|it| &it.blocks) {
        blocks.entry(*block).or_default().add(tally, 1.0);
    }
    blocks.into_iter().collect()
}

/// Idle minutes and warned crossings of one block at each setting.
#[derive(Clone, Default)]
struct Swept {
    crossings: f64,
    days: f64,
    at: Vec<(f64, f64)>,
}

impl Swept {
    /// `settings` fall.
    fn gather(caller: Caller, cells: &[&Judged], settings: &[f64], block_s: i64) -> Vec<Swept> {
        let mut blocks = std::collections::BTreeMap::<i64, Swept>::new();
        let first = |score: f64| settings.partition_point(|setting| *setting > score);
        for it in crossed(cells) {
            let minutes = f64::from(it.limit.step_s) / 60.0;
            let block_of = |slot: usize| it.at_s(slot).div_euclid(block_s);
            let new = || Swept {
                at: vec![(0.0, 0.0); settings.len()],
                ..Swept::default()
            };
            // A block in which nothing happened is a block all the same.
            for slot in (0..it.keep.len()).filter(|slot| it.keep[*slot]) {
                let block = blocks.entry(block_of(slot)).or_insert_with(new);
                if !it.limit.wind[slot].is_nan() {
                    block.days += minutes * 60.0 / crate::DAY_S;
                }
                let score = caller.score(it, slot);
                if !it.idle[slot] || score.is_nan() {
                    continue;
                }
                if let Some(at) = block.at.get_mut(first(score)) {
                    at.0 += minutes;
                }
            }
            for &crossing in &it.missable {
                let block = blocks.entry(block_of(crossing)).or_insert_with(new);
                block.crossings += 1.0;
                if let Some(at) = block.at.get_mut(first(score_at(it, caller, crossing))) {
                    at.1 += 1.0;
                }
            }
        }
        let mut blocks: Vec<Swept> = blocks.into_values().collect();
        for block in &mut blocks {
            let mut sum = (0.0, 0.0);
            for at in &mut block.at {
                sum = (sum.0 + at.0, sum.1 + at.1);
                *at = sum;
            }
        }
        blocks
    }
}

/// A small generator: splitmix64 (public domain, Vigna; from memory).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bounds_of_a_mean_are_about_as_wide_as_theory_says() {
        // 400 blocks, half of them 1: standard error 0.025, 5 % at 1.645 of it.
        let value = |block: usize| f64::from(u8::from(block.is_multiple_of(2)));
        let [bounds] = draw(400, |times| {
            let sum: f64 = times.iter().enumerate().map(|(k, n)| n * value(k)).sum();
            [Some(sum / 400.0)]
        });
        let bounds = bounds.unwrap();
        assert!((bounds.low - (0.5 - 0.041)).abs() < 0.01, "{bounds:?}");
        assert!((bounds.high - (0.5 + 0.041)).abs() < 0.01, "{bounds:?}");
    }

    #[test]
    fn one_block_has_no_bounds() {
        assert_eq!(draw(1, |_| [Some(1.0)]), [None]);
    }
}
