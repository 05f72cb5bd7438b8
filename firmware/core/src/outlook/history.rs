//! The last day in minutes, and what the odds look at in it.
//!
//! A *slot* is a minute; a *block* is the mean of ten slots, at least five of
//! them known. Block `k` ended `10 k` minutes ago, so summaries of one and of
//! ten minutes give numbers of the same kind. Columns and their order are those
//! of `tests/reference/outlook/features.py`, which the fit reads.
//!
//! Differences are taken before sums, so that adding a constant to all wind
//! leaves them as they are.

use super::filter::Filter;

/// Numbers in a row, the look-ahead not counted.
pub(super) const WIDTH: usize = 32;

const DAY: usize = 1440;
const SLOTS: usize = 30;
const BLOCK: usize = 10;
const BLOCK_KNOWN: u32 = 5;
const BLOCKS: usize = DAY / BLOCK;

/// Rings of minutes; not a number stands for "not known".
#[derive(Clone, Debug)]
pub(super) struct History {
    slots: [f64; SLOTS],
    blocks: [f64; DAY],
    /// Slots pushed, modulo a day (which both rings divide).
    pushed: usize,
}

/// What the odds look at, for any limit.
#[derive(Clone, Debug)]
pub(super) struct Row {
    /// Levels first (they rise with the wind), then differences and spreads.
    pub(super) features: [f64; WIDTH],
    /// The last minute.
    pub(super) latest: f64,
}

impl Row {
    /// The last ten minutes.
    pub(super) fn block(&self) -> f64 {
        let [block, ..] = self.features;
        block
    }
}

impl History {
    pub(super) const fn new() -> Self {
        Self {
            slots: [f64::NAN; SLOTS],
            blocks: [f64::NAN; DAY],
            pushed: 0,
        }
    }

    /// Adds a minute.
    pub(super) fn push(&mut self, minute: Option<f64>) {
        self.pushed = (self.pushed + 1) % DAY;
        let at = self.pushed;
        if let Some(slot) = self.slots.get_mut(at % SLOTS) {
            *slot = minute.unwrap_or(f64::NAN);
        }
        let mut mean = Mean::default();
        for age in (0..BLOCK).rev() {
            mean.add(self.slot(age));
        }
        let block = if mean.known >= BLOCK_KNOWN {
            mean.mean()
        } else {
            f64::NAN
        };
        if let Some(place) = self.blocks.get_mut(at) {
            *place = block;
        }
    }

    /// The row for now, if the last minute and the last block are known.
    pub(super) fn row(&self, filter: &Filter) -> Option<Row> {
        let mut blocks = [f64::NAN; BLOCKS];
        for (k, block) in blocks.iter_mut().enumerate() {
            *block = self.block(k);
        }
        let [now, ..] = blocks;
        let latest = self.slot(0);
        if now.is_nan() || latest.is_nan() {
            return None;
        }
        let mut row = Filling {
            features: [0.0; WIDTH],
            next: 0,
        };
        row.put(now);
        for n in [3, 6, 18, 36, 144] {
            row.put(highest(now, first(&blocks, n)));
        }
        for n in [10, 30] {
            row.put((0..n).map(|age| self.slot(age)).fold(latest, f64::max));
        }
        for n in [1, 2, 3, 6] {
            let then = blocks.get(n).copied().unwrap_or(f64::NAN);
            row.put(if then.is_nan() { 0.0 } else { now - then });
        }
        for n in [3, 6, 12, 18, 36, 72, 144] {
            row.put(fall(now, first(&blocks, n)).mean());
        }
        for n in [6, 36] {
            row.put(now - first(&blocks, n).iter().copied().fold(now, f64::min));
        }
        for n in [3, 6, 18, 72] {
            row.put(fall(now, first(&blocks, n)).deviation());
        }
        for n in [6, 36] {
            row.put(steps(first(&blocks, n + 1)).mean());
        }
        row.put(latest - now);
        row.put(self.last_minutes(now));
        row.put(self.scatter(&blocks));
        row.put(filter.trend()?);
        row.put(now - filter.level()?);
        Some(Row {
            features: row.features,
            latest,
        })
    }

    /// Mean of the last three minutes, from the block.
    fn last_minutes(&self, now: f64) -> f64 {
        let mut mean = Mean::default();
        for age in (0..3).rev() {
            mean.add(self.slot(age) - now);
        }
        mean.mean()
    }

    /// Root mean square of the minutes of the last half hour about their blocks.
    fn scatter(&self, blocks: &[f64; BLOCKS]) -> f64 {
        let mut squares = Mean::default();
        for age in (0..SLOTS).rev() {
            let block = blocks.get(age / BLOCK).copied().unwrap_or(f64::NAN);
            let off = self.slot(age) - block;
            squares.add(off * off);
        }
        libm::sqrt(squares.mean())
    }

    fn slot(&self, age: usize) -> f64 {
        let at = (self.pushed + DAY - age) % SLOTS;
        self.slots.get(at).copied().unwrap_or(f64::NAN)
    }

    fn block(&self, k: usize) -> f64 {
        let at = (self.pushed + DAY - k * BLOCK) % DAY;
        self.blocks.get(at).copied().unwrap_or(f64::NAN)
    }
}

/// A row being filled from the left.
struct Filling {
    features: [f64; WIDTH],
    next: usize,
}

impl Filling {
    fn put(&mut self, value: f64) {
        if let Some(place) = self.features.get_mut(self.next) {
            *place = value;
        }
        self.next += 1;
    }
}

/// Sums of what is known.
#[derive(Default)]
struct Mean {
    sum: f64,
    squares: f64,
    known: u32,
}

impl Mean {
    fn add(&mut self, value: f64) {
        if !value.is_nan() {
            self.sum += value;
            self.squares += value * value;
            self.known += 1;
        }
    }

    /// 0 where nothing is known.
    fn mean(&self) -> f64 {
        if self.known == 0 {
            return 0.0;
        }
        self.sum / f64::from(self.known)
    }

    /// Standard deviation, 0 where fewer than two are known.
    fn deviation(&self) -> f64 {
        if self.known < 2 {
            return 0.0;
        }
        let known = f64::from(self.known);
        let variance = (self.squares - self.sum * self.sum / known) / (known - 1.0);
        libm::sqrt(variance.max(0.0))
    }
}

fn first(blocks: &[f64; BLOCKS], n: usize) -> &[f64] {
    blocks.get(..n).unwrap_or(blocks)
}

/// `f64::max` passes over what is not known.
fn highest(now: f64, blocks: &[f64]) -> f64 {
    blocks.iter().copied().fold(now, f64::max)
}

/// By how much now stands over each block.
fn fall(now: f64, blocks: &[f64]) -> Mean {
    let mut mean = Mean::default();
    for block in blocks {
        mean.add(now - block);
    }
    mean
}

/// Sizes of the steps between neighbouring blocks.
fn steps(blocks: &[f64]) -> Mean {
    let mut mean = Mean::default();
    for (later, earlier) in blocks.iter().zip(blocks.iter().skip(1)) {
        mean.add(libm::fabs(later - earlier));
    }
    mean
}
