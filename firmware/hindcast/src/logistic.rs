//! The logistic reference: gap, trends, spread and call time in one sum, from
//! the speed alone. It is the mark that anything more must beat.
//!
//! Fitted on 2014 as the outlook was, by `tests/reference/outlook/fit_plain.py`.
//! It looks at ten-minute blocks, and shares no code with the outlook.

use super::logistic_fitted::WEIGHTS;

/// Length of a block, seconds.
const BLOCK_S: u32 = 600;
/// Blocks in a day.
const DAY: usize = 144;

/// What it sees at one slot; all in knots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    block: f64,
    /// Rises over 10 and 30 min, what it stands over the means of 1, 3 and
    /// 24 h, deviations over 1 and 3 h.
    changes: [f64; 7],
}

/// What it sees at each slot of a wind; none where the slot or its block was
/// not heard.
pub fn look(wind: &[f64], step_s: u32) -> Vec<Option<Seen>> {
    let each = (BLOCK_S / step_s).max(1) as usize;
    let blocks = blocks(wind, each);
    (0..wind.len())
        .map(|slot| {
            let block = blocks[slot];
            if block.is_nan() || wind[slot].is_nan() {
                return None;
            }
            let before = |k: usize| slot.checked_sub(k * each).map_or(f64::NAN, |at| blocks[at]);
            let rise = |k: usize| match block - before(k) {
                rise if rise.is_nan() => 0.0,
                rise => rise,
            };
            let over = |count: usize| Spread::of((0..count).map(|k| block - before(k)));
            let (hour, three, day) = (over(6), over(18), over(DAY));
            Some(Seen {
                block,
                changes: [
                    rise(1),
                    rise(3),
                    hour.mean,
                    three.mean,
                    day.mean,
                    hour.deviation,
                    three.deviation,
                ],
            })
        })
        .collect()
}

impl Seen {
    /// Odds that the limit is passed within the call time.
    pub fn odds(&self, limit_kn: f64, call_time_s: u32) -> f64 {
        let gap = 1.0 - self.block / limit_kn;
        let log_t = (f64::from(call_time_s) / 600.0).ln();
        let [ten, thirty, hour, three, day, sd_hour, sd_three] =
            self.changes.map(|change| change / limit_kn);
        let inputs = [
            1.0,
            gap,
            gap * gap,
            ten,
            thirty,
            hour,
            three,
            day,
            sd_hour,
            sd_three,
            log_t,
            log_t * gap,
        ];
        let sum: f64 = inputs
            .iter()
            .zip(WEIGHTS)
            .map(|(x, weight)| x * weight)
            .sum();
        1.0 / (1.0 + (-sum).exp())
    }
}

/// The mean of the ten minutes that end with each slot, where half is known.
fn blocks(wind: &[f64], each: usize) -> Vec<f64> {
    let block = |slot: usize| {
        let window = &wind[(slot + 1).saturating_sub(each)..=slot];
        let known = window.iter().filter(|kn| !kn.is_nan());
        let (sum, count) = known.fold((0.0, 0), |(sum, count), kn| (sum + kn, count + 1));
        match 2 * count >= each {
            true => sum / f64::from(count as u32),
            false => f64::NAN,
        }
    };
    (0..wind.len()).map(block).collect()
}

/// Mean and deviation of what is known.
struct Spread {
    mean: f64,
    deviation: f64,
}

impl Spread {
    fn of(values: impl Iterator<Item = f64>) -> Spread {
        let (mut sum, mut squares, mut count) = (0.0, 0.0, 0.0);
        for value in values.filter(|value| !value.is_nan()) {
            sum += value;
            squares += value * value;
            count += 1.0;
        }
        let variance = match count >= 2.0 {
            true => (squares - sum * sum / count) / (count - 1.0),
            false => 0.0,
        };
        Spread {
            mean: sum / f64::max(count, 1.0),
            deviation: variance.max(0.0).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearer_the_limit_and_more_time_are_likelier() {
        let odds = |kn: f64, call_time_s| {
            let seen = look(&[kn; 200], 600)[199].unwrap();
            seen.odds(20.0, call_time_s)
        };
        assert!(odds(18.0, 1200) > odds(16.0, 1200));
        assert!(odds(18.0, 2400) > odds(18.0, 1200));
    }

    #[test]
    fn a_gap_is_not_looked_through() {
        let mut wind = [15.0; 60];
        wind[30..36].fill(f64::NAN);
        let seen = look(&wind, 60);
        assert!(seen[29].is_some() && seen[30].is_none());
        assert!(seen[39].is_none(), "four of ten minutes");
        assert!(seen[40].is_some());
    }
}
