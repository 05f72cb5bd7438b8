//! Whether odds are honest: what was said against what came.
//!
//! Judged are moments with the wind under the limit that do not linger. The
//! event: the judged wind comes to or over the limit within the call time.
//! Climatology is each cell's own base rate on the judged series: it knows the
//! place and the year, which the odds do not.

use std::collections::{BTreeMap, BTreeSet};

use super::bounds::{self, Bounds};
use super::judged::Judged;

/// Ten equal bands of odds.
pub const BANDS: usize = 10;

/// One band of odds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Band {
    /// Mean of the odds that were said.
    pub said: f64,
    /// Share that came true.
    pub came: f64,
    /// Bounds of that.
    pub bounds: Option<Bounds>,
    /// Moments.
    pub samples: f64,
    /// Days on which it was said.
    pub days: usize,
}

/// The whole account.
#[derive(Clone, Debug, PartialEq)]
pub struct Reliability {
    /// From never to always; none where it was never said.
    pub bands: [Option<Band>; BANDS],
    /// Skill of the Brier score against climatology; none without outcomes
    /// of both kinds.
    pub skill: Option<f64>,
    /// Bounds of that.
    pub skill_bounds: Option<Bounds>,
    /// Days in all.
    pub days: usize,
}

/// Sums of one block of time.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    /// Number, said, came, by band.
    bands: [[f64; 3]; BANDS],
    brier: f64,
    climate: f64,
}

impl Sums {
    fn add(&mut self, more: &Sums, times: f64) {
        let bands = self.bands.iter_mut().zip(&more.bands);
        for (sum, one) in bands.flat_map(|(sums, ones)| sums.iter_mut().zip(ones)) {
            *sum += times * one;
        }
        self.brier += times * more.brier;
        self.climate += times * more.climate;
    }

    fn came(&self, band: usize) -> Option<f64> {
        let [number, _, came] = self.bands[band];
        (number > 0.0).then(|| came / number)
    }

    fn skill(&self) -> Option<f64> {
        (self.climate > 0.0).then(|| 1.0 - self.brier / self.climate)
    }
}

/// Holds all odds of these cells against what came.
pub fn account(cells: &[&Judged], block_s: i64) -> Reliability {
    let mut blocks = BTreeMap::<i64, Sums>::new();
    let mut days: [BTreeSet<i64>; BANDS] = std::array::from_fn(|_| BTreeSet::new());
    for it in cells {
        let outcomes: Vec<(usize, f64, bool)> = it.outcomes().collect();
        let came = outcomes.iter().filter(|(_, _, came)| *came).count();
        let base = came as f64 / outcomes.len().max(1) as f64;
        for (slot, said, came) in outcomes {
            let at_s = it.at_s(slot);
            let came = f64::from(u8::from(came));
            let band = ((said * BANDS as f64) as usize).min(BANDS - 1);
            days[band].insert(at_s.div_euclid(86_400));
            let sums = blocks.entry(at_s.div_euclid(block_s)).or_default();
            for (sum, one) in sums.bands[band].iter_mut().zip([1.0, said, came]) {
                *sum += one;
            }
            sums.brier += (said - came).powi(2);
            sums.climate += (base - came).powi(2);
        }
    }
    let blocks: Vec<Sums> = blocks.into_values().collect();
    let sum = |times: &[f64]| {
        let mut total = Sums::default();
        for (block, times) in blocks.iter().zip(times) {
            total.add(block, *times);
        }
        total
    };
    let drawn = bounds::draw::<{ BANDS + 1 }>(blocks.len(), |times| {
        let total = sum(times);
        std::array::from_fn(|k| match k {
            BANDS => total.skill(),
            band => total.came(band),
        })
    });
    let total = sum(&vec![1.0; blocks.len()]);
    let band = |k: usize| {
        let [number, said, _] = total.bands[k];
        Some(Band {
            said: said / number,
            came: total.came(k)?,
            bounds: drawn[k],
            samples: number,
            days: days[k].len(),
        })
    };
    Reliability {
        bands: std::array::from_fn(band),
        skill: total.skill(),
        skill_bounds: drawn[BANDS],
        days: days.into_iter().flatten().collect::<BTreeSet<_>>().len(),
    }
}
