//! The last day in minutes, and what the odds look at in it.
//!
//! A *slot* is a minute; a *block* is the mean of the ten slots that end at a
//! slot, at least five of them known. `now` is the newest block, of as many
//! slots as there are. Columns and their order are those of
//! `tests/reference/outlook/features.py`, which the fit reads.
//!
//! Differences are taken before sums, so that adding a constant to all wind
//! leaves them as they are.

use super::fitted::COLUMNS;

/// Numbers in a row.
pub(super) const WIDTH: usize = COLUMNS - 1;

const DAY: usize = 1440;
const BLOCK: usize = 10;
const BLOCK_KNOWN: u32 = 5;
/// Kept, so that the day's oldest block has all its slots.
const SLOTS: usize = DAY + BLOCK;

/// Minutes looked back on, each set in rising order.
const MEANS: [usize; 13] = [1, 2, 3, 5, 10, 20, 30, 60, 120, 180, 360, 720, 1440];
const MAXIMA: [usize; 9] = [5, 10, 20, 30, 60, 120, 180, 360, 1440];
const LAGS: [usize; 5] = [5, 10, 20, 30, 60];
const MINIMA: [usize; 5] = [10, 30, 60, 180, 360];
const SPREADS: [usize; 4] = [5, 10, 30, 60];
const BLOCK_SPREADS: [usize; 3] = [60, 180, 720];
const STEPS: [usize; 2] = [60, 360];
/// Places in `MEANS`: the last minute, three and five minutes, and those that
/// the last five are held against.
const ONE: usize = 0;
const THREE: usize = 2;
const FIVE: usize = 3;
const OVER_MEANS: [usize; 5] = [4, 5, 6, 7, 9];

/// Levels, which stand first in a row.
const LEVELS: usize = 1 + MEANS.len() + MAXIMA.len();
/// Differences, which follow them.
const CHANGES: usize = LAGS.len() + MINIMA.len() + OVER_MEANS.len() + 2;

/// A ring of minutes; not a number stands for "not known".
#[derive(Clone, Debug)]
pub(super) struct History {
    // As f32 a day of minutes takes 6 KB.
    slots: [f32; SLOTS],
    /// Place of the newest slot.
    newest: usize,
    /// Slots pushed, at most all.
    pushed: usize,
}

/// What the odds look at, in the unit of the wind.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row([f64; WIDTH]);

impl Row {
    /// The mean of the last ten minutes, or of what there is of them.
    pub(super) fn now(&self) -> f64 {
        let [now, ..] = self.0;
        now
    }

    /// The row as the trees see it at a limit.
    ///
    /// A rise is measured against the limit, a fall against the wind: so the
    /// odds rise with a lower limit, with wind scaled up and with wind added.
    pub(super) fn at_limit(&self, limit: f64) -> [f64; WIDTH] {
        let now = self.now();
        let mut out = self.0;
        for (place, value) in out.iter_mut().enumerate() {
            let is_change = (LEVELS..LEVELS + CHANGES).contains(&place);
            if place + 1 == WIDTH {
                // Minutes known.
            } else if is_change && *value < 0.0 {
                // Below nothing known the wind cannot fall.
                *value = if now > 0.0 { *value / now } else { 0.0 };
            } else {
                *value /= limit;
            }
        }
        out
    }
}

impl History {
    pub(super) const fn new() -> Self {
        Self {
            slots: [f32::NAN; SLOTS],
            newest: 0,
            pushed: 0,
        }
    }

    /// Adds a minute.
    pub(super) fn push(&mut self, minute: Option<f64>) {
        self.newest = (self.newest + 1) % SLOTS;
        self.pushed = (self.pushed + 1).min(SLOTS);
        if let Some(slot) = self.slots.get_mut(self.newest) {
            *slot = minute.map_or(f32::NAN, |kn| kn as f32);
        }
    }

    /// The row for now, if the last minute is known.
    pub(super) fn row(&self) -> Option<Row> {
        if self.slot(0).is_nan() {
            return None;
        }
        let now = self.block(0).mean();
        let means = self.means(now);
        let mut row = Filling {
            row: [0.0; WIDTH],
            next: 0,
        };
        row.put([now]);
        row.put(means);
        row.put(self.extremes(now, MAXIMA, f64::max));
        row.put(LAGS.map(|lag| known_or_zero(now - self.full_block(lag))));
        row.put(self.extremes(now, MINIMA, f64::min).map(|low| now - low));
        let [one, three, five] = [ONE, THREE, FIVE].map(|place| mean_at(&means, place));
        row.put(OVER_MEANS.map(|place| five - mean_at(&means, place)));
        row.put([three - now, one - now]);
        row.put(self.spreads(now));
        row.put(self.block_spreads(now));
        row.put(self.steps(now));
        row.put([self.known()]);
        Some(Row(row.row))
    }

    /// The mean of the last ten minutes, or not a number where fewer than half
    /// of them are known.
    pub(super) fn ten_minutes(&self) -> f64 {
        self.full_block(0)
    }

    /// Means over `MEANS`.
    fn means(&self, now: f64) -> [f64; MEANS.len()] {
        let mut off = Sums::default();
        let mut age = 0;
        MEANS.map(|back| {
            while age < back {
                off.add(self.slot(age) - now);
                age += 1;
            }
            now + off.mean()
        })
    }

    /// Highest or lowest block over the last minutes.
    fn extremes<const N: usize>(
        &self,
        now: f64,
        windows: [usize; N],
        pick: fn(f64, f64) -> f64,
    ) -> [f64; N] {
        let mut extreme = now;
        let mut age = 0;
        windows.map(|back| {
            while age < back {
                // `f64::max` and `min` pass over what is not known.
                extreme = pick(extreme, self.full_block(age));
                age += 1;
            }
            extreme
        })
    }

    /// Standard deviation of the minutes over `SPREADS`.
    fn spreads(&self, now: f64) -> [f64; SPREADS.len()] {
        let mut off = Sums::default();
        let mut age = 0;
        SPREADS.map(|back| {
            while age < back {
                off.add(self.slot(age) - now);
                age += 1;
            }
            off.deviation()
        })
    }

    /// Standard deviation of blocks that do not overlap, over `BLOCK_SPREADS`.
    fn block_spreads(&self, now: f64) -> [f64; BLOCK_SPREADS.len()] {
        let mut off = Sums::default();
        let mut age = 0;
        BLOCK_SPREADS.map(|back| {
            while age < back {
                off.add(now - self.block_or_now(age, now));
                age += BLOCK;
            }
            off.deviation()
        })
    }

    /// Mean size of the steps between them, over `STEPS`.
    fn steps(&self, now: f64) -> [f64; STEPS.len()] {
        let mut size = Sums::default();
        let mut age = BLOCK;
        STEPS.map(|back| {
            while age < back {
                let later = self.block_or_now(age - BLOCK, now);
                size.add(libm::fabs(self.full_block(age) - later));
                age += BLOCK;
            }
            size.mean()
        })
    }

    /// Minutes known of the last day.
    fn known(&self) -> f64 {
        (0..DAY).filter(|age| !self.slot(*age).is_nan()).count() as f64
    }

    fn slot(&self, age: usize) -> f64 {
        if age >= self.pushed {
            return f64::NAN;
        }
        let place = (self.newest + SLOTS - age) % SLOTS;
        self.slots
            .get(place)
            .map_or(f64::NAN, |slot| f64::from(*slot))
    }

    fn block(&self, age: usize) -> Sums {
        let mut block = Sums::default();
        for slot in age..age + BLOCK {
            block.add(self.slot(slot));
        }
        block
    }

    /// A block of which enough is known, or not a number.
    fn full_block(&self, age: usize) -> f64 {
        let block = self.block(age);
        if block.known < BLOCK_KNOWN {
            return f64::NAN;
        }
        block.mean()
    }

    fn block_or_now(&self, age: usize, now: f64) -> f64 {
        if age == 0 { now } else { self.full_block(age) }
    }
}

fn mean_at(means: &[f64; MEANS.len()], place: usize) -> f64 {
    means.get(place).copied().unwrap_or(0.0)
}

fn known_or_zero(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value }
}

/// A row being filled from the left.
struct Filling {
    row: [f64; WIDTH],
    next: usize,
}

impl Filling {
    fn put<const N: usize>(&mut self, values: [f64; N]) {
        for value in values {
            if let Some(place) = self.row.get_mut(self.next) {
                *place = value;
            }
            self.next += 1;
        }
    }
}

/// Sums of what is known.
#[derive(Default)]
struct Sums {
    sum: f64,
    squares: f64,
    known: u32,
}

impl Sums {
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
