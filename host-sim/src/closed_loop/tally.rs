//! What a run cost, and how sure a sum over runs is.

use crate::dice::Dice;
use crate::passage::Truth;

/// What one run, or the sum of many, cost.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally {
    /// Whole minutes sailed.
    pub minutes: f64,
    /// Minutes whose mean true wind was past the limit of the plan set.
    pub over_wind_min: f64,
    /// Minutes whose mean heel was past the limit.
    pub over_heel_min: f64,
    /// Furthest heel, degrees.
    pub worst_heel_deg: f64,
    /// How often she rounded up.
    pub round_ups: u32,
    /// Reductions begun.
    pub reductions: u32,
    /// Reductions after which the wind did pass the old limit.
    pub needed: u32,
    /// Reductions after which it did not.
    pub needless: u32,
    /// Reductions too near the end to tell.
    pub undecided: u32,
}

impl Tally {
    pub(super) fn second(&mut self, truth: &Truth) {
        self.worst_heel_deg = self.worst_heel_deg.max(truth.heel_deg.abs());
    }

    /// Both together.
    pub fn and(self, other: &Self) -> Self {
        Self {
            minutes: self.minutes + other.minutes,
            over_wind_min: self.over_wind_min + other.over_wind_min,
            over_heel_min: self.over_heel_min + other.over_heel_min,
            worst_heel_deg: self.worst_heel_deg.max(other.worst_heel_deg),
            round_ups: self.round_ups + other.round_ups,
            reductions: self.reductions + other.reductions,
            needed: self.needed + other.needed,
            needless: self.needless + other.needless,
            undecided: self.undecided + other.undecided,
        }
    }

    /// `count` per hundred hours sailed.
    pub fn per_100_h(&self, count: f64) -> f64 {
        if self.minutes <= 0.0 {
            return 0.0;
        }
        count * 6000.0 / self.minutes
    }
}

/// A value with the bounds that 95 of 100 resamplings lie within.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// The value over all runs.
    pub value: f64,
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
}

/// Block bootstrap of a rate per 100 h: whole runs are drawn with replacement,
/// as minutes within a run are autocorrelated. `runs` holds the runs of each
/// scenario, and each scenario keeps its number of runs.
pub fn bounds(runs: &[Vec<Tally>], count: fn(&Tally) -> f64, seed: u64) -> Bounds {
    const RESAMPLINGS: usize = 1000;
    let rate = |tally: Tally| tally.per_100_h(count(&tally));
    let all = runs.iter().flatten().fold(Tally::default(), Tally::and);
    let mut dice = Dice::new(seed, "bootstrap");
    let mut rates: Vec<f64> = (0..RESAMPLINGS)
        .map(|_| rate(resample(runs, &mut dice)))
        .collect();
    rates.sort_by(f64::total_cmp);
    Bounds {
        value: rate(all),
        low: rates[RESAMPLINGS / 40],
        high: rates[RESAMPLINGS - 1 - RESAMPLINGS / 40],
    }
}

fn resample(runs: &[Vec<Tally>], dice: &mut Dice) -> Tally {
    let mut sum = Tally::default();
    for of_scenario in runs {
        for _ in of_scenario {
            let at = (dice.uniform() * of_scenario.len() as f64) as usize;
            if let Some(tally) = of_scenario.get(at) {
                sum = sum.and(tally);
            }
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(over_wind_min: f64) -> Tally {
        Tally {
            minutes: 600.0,
            over_wind_min,
            ..Tally::default()
        }
    }

    #[test]
    fn bounds_hold_the_value_and_close_up_without_spread() {
        let same = bounds(&[vec![run(6.0); 5]], |tally| tally.over_wind_min, 1);
        assert_eq!((same.low, same.value, same.high), (60.0, 60.0, 60.0));
        let spread = vec![run(0.0), run(12.0), run(3.0), run(9.0)];
        let wide = bounds(&[spread], |tally| tally.over_wind_min, 1);
        assert!(wide.low < wide.value && wide.value < wide.high);
        assert_eq!(wide.value, 60.0);
    }
}
