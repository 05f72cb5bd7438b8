//! How far a forecast has been off so far: when, and how strong.
//!
//! A grid of what may be wrong, up to 4 h early or late and 12 kn over or
//! under, each cell with its odds. Every ten minutes the measured mean is held
//! against what each cell would have had it be. The tails are heavy, so that one wild
//! mean convinces nobody; consecutive means count less than one each, since
//! they hang together; and what was long ago is forgotten. State is two small
//! arrays, whatever happens.

use super::aloft::Aloft;

/// Hours by which the weather may come later (+) or earlier (-) than told.
const SHIFTS: usize = 17;
const SHIFT_STEP_S: f64 = 1800.0;
/// Knots by which it may be stronger (+) or weaker (-).
const OFFSETS: usize = 13;
const OFFSET_STEP_KN: f64 = 2.0;

/// Ten-minute means hang together over about half an hour.
const COUNTS: f64 = 1.0 / 3.0;
/// What is learned from one mean fades to this by the next: six hours.
const REMEMBERED: f64 = 0.973;
/// A ten-minute mean wanders about the mean that a forecast can know.
const WANDER_KN: f64 = 1.5;
const WANDER_SHARE: f64 = 0.08;
/// A misfit of more says no more.
const WORST_KN: f64 = 15.0;
/// Share of a new misfit in the kept one: three hours.
const MISFIT_SHARE: f64 = 1.0 / 18.0;
/// The misfit of a forecast that is right.
const USUAL_MISFIT_KN: f64 = 2.5;

/// Errors at which a forecast counts for half.
const HALF_MISFIT_KN: f64 = 4.0;
const HALF_OFFSET_KN: f64 = 12.0;
const HALF_SHIFT_H: f64 = 5.0;

type Grid = [[f32; OFFSETS]; SHIFTS];

/// See the module.
#[derive(Clone, Debug)]
pub(super) struct Learned {
    /// Log-likelihood so far.
    heard: Grid,
    /// Odds of each cell now; they add up to 1.
    odds: Grid,
    /// Root of the mean square of what no cell explained, kn.
    misfit_kn: f64,
    means: u32,
}

/// The most likely error.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Error {
    /// Hours by which the weather is later (+) or earlier (-) than told.
    pub late_h: f64,
    /// One standard deviation of that.
    pub late_spread_h: f64,
    /// Knots by which it is stronger (+) or weaker (-).
    pub over_kn: f64,
    /// One standard deviation of that.
    pub over_spread_kn: f64,
    /// What is left over, kn.
    pub misfit_kn: f64,
    /// From how many ten-minute means.
    pub means: u32,
}

impl Learned {
    /// Nothing but what the table says of itself: how sure it is.
    pub(super) fn new(spread_kn: f64, timing_h: f64) -> Learned {
        let mut learned = Learned {
            heard: [[0.0; OFFSETS]; SHIFTS],
            odds: [[0.0; OFFSETS]; SHIFTS],
            misfit_kn: USUAL_MISFIT_KN,
            means: 0,
        };
        learned.weigh(spread_kn, timing_h, |_, _| 0.0);
        learned
    }

    /// Takes the ten-minute mean about a moment.
    pub(super) fn take(&mut self, aloft: &Aloft, timing_h: f64, unix_s: f64, mean_kn: f64) {
        self.take_misfit(aloft, unix_s, mean_kn);
        let mut now: Grid = [[0.0; OFFSETS]; SHIFTS];
        for ((shift, kept), fresh) in shifts().zip(&mut self.heard).zip(&mut now) {
            let Some(told) = aloft.at(unix_s - shift) else {
                continue;
            };
            let spread = residual_kn(told.mean_kn, told.spread_kn, aloft.least_spread_kn());
            for ((offset, kept), fresh) in offsets().zip(kept).zip(fresh) {
                let off = (mean_kn - (told.mean_kn + offset).max(0.0)) / spread;
                // Student's t with 4 degrees of freedom.
                let said = -2.5 * libm::log(1.0 + off * off / 4.0);
                *kept = (f64::from(*kept) * REMEMBERED + said * COUNTS) as f32;
                *fresh = said as f32;
            }
        }
        self.means = self.means.saturating_add(1);
        // What the wind is doing now counts in full for what comes next: a
        // front that is not here has not come, however sure it was.
        self.weigh(aloft.least_spread_kn(), timing_h, |shift, offset| {
            now.get(shift)
                .and_then(|row| row.get(offset))
                .map_or(0.0, |said| f64::from(*said) * (1.0 - COUNTS))
        });
    }

    /// Each shift, seconds, with the odds of each offset, kn.
    pub(super) fn cells(&self) -> impl Iterator<Item = (f64, impl Iterator<Item = (f64, f64)>)> {
        shifts().zip(&self.odds).map(|(shift, row)| {
            let row = row.iter().map(|odds| f64::from(*odds));
            (shift, offsets().zip(row))
        })
    }

    /// The most likely error.
    pub(super) fn error(&self) -> Error {
        let mut sums = [0.0; 4];
        for (shift, row) in self.cells() {
            for (offset, odds) in row {
                let late_h = shift / 3600.0;
                for (sum, value) in
                    sums.iter_mut()
                        .zip([late_h, late_h * late_h, offset, offset * offset])
                {
                    *sum += odds * value;
                }
            }
        }
        let [late, late_square, over, over_square] = sums;
        let spread = |square: f64, mean: f64| libm::sqrt((square - mean * mean).max(0.0));
        Error {
            late_h: late,
            late_spread_h: spread(late_square, late),
            over_kn: over,
            over_spread_kn: spread(over_square, over),
            misfit_kn: self.misfit_kn,
            means: self.means,
        }
    }

    /// How much the forecast is worth, 0 to 1: the more it has been off, even
    /// in a way that was learned, the less.
    pub(super) fn weight(&self) -> f64 {
        let error = self.error();
        let share = |off: f64, half: f64| 1.0 / (1.0 + (off / half) * (off / half));
        share((self.misfit_kn - USUAL_MISFIT_KN).max(0.0), HALF_MISFIT_KN)
            * share(error.over_kn, HALF_OFFSET_KN)
            * share(error.late_h, HALF_SHIFT_H)
    }

    /// What the corrected forecast did not explain of a mean.
    fn take_misfit(&mut self, aloft: &Aloft, unix_s: f64, mean_kn: f64) {
        let mut expected = 0.0;
        for (shift, row) in self.cells() {
            let told = aloft.at(unix_s - shift).map_or(0.0, |told| told.mean_kn);
            expected += row
                .map(|(offset, odds)| odds * (told + offset).max(0.0))
                .sum::<f64>();
        }
        let off = (mean_kn - expected).clamp(-WORST_KN, WORST_KN);
        let square = self.misfit_kn * self.misfit_kn;
        self.misfit_kn = libm::sqrt(square + (off * off - square) * MISFIT_SHARE);
    }

    /// Odds anew from what was known before, what was heard, and `more`.
    fn weigh(&mut self, spread_kn: f64, timing_h: f64, more: impl Fn(usize, usize) -> f64) {
        let mut most = f64::NEG_INFINITY;
        for (place, ((shift, heard), row)) in
            shifts().zip(&self.heard).zip(&mut self.odds).enumerate()
        {
            let late = shift / 3600.0 / timing_h;
            for (other, ((offset, heard), log)) in offsets().zip(heard).zip(row).enumerate() {
                let over = offset / spread_kn;
                let sum =
                    f64::from(*heard) + more(place, other) - 0.5 * (late * late + over * over);
                *log = sum as f32;
                most = most.max(sum);
            }
        }
        let cells = || self.odds.iter().flatten();
        let whole: f64 = cells().map(|log| libm::exp(f64::from(*log) - most)).sum();
        for log in self.odds.iter_mut().flatten() {
            *log = (libm::exp(f64::from(*log) - most) / whole) as f32;
        }
    }
}

/// What a forecast that is right in time and strength still leaves open, kn.
pub(super) fn residual_kn(mean_kn: f64, spread_kn: f64, least_spread_kn: f64) -> f64 {
    // The common part of the spread is what the grid learns.
    let more = (spread_kn * spread_kn - least_spread_kn * least_spread_kn).max(0.0);
    let wander = WANDER_SHARE * mean_kn;
    libm::sqrt(WANDER_KN * WANDER_KN + wander * wander + more)
}

fn shifts() -> impl Iterator<Item = f64> {
    (0..SHIFTS).map(|place| (place as f64 - (SHIFTS / 2) as f64) * SHIFT_STEP_S)
}

fn offsets() -> impl Iterator<Item = f64> {
    (0..OFFSETS).map(|place| (place as f64 - (OFFSETS / 2) as f64) * OFFSET_STEP_KN)
}
