//! A regular series of judged wind, with its gaps.

use cringle_core::outlook::Summary;

/// Finest step that is judged: shorter samples become 1-minute means.
pub const FINEST_S: u32 = 60;

/// Wind at a regular step. A slot without a sample is a gap.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// The file it came from.
    pub name: String,
    /// Unix seconds at which the first slot begins.
    pub start_s: i64,
    /// Length of a slot, seconds.
    pub step_s: u32,
    /// What was heard in each slot.
    pub slots: Vec<Option<Summary>>,
}

/// One sample before it has its place on the grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Unix seconds at which its interval began.
    pub unix_s: i64,
    /// Wind, if it was known.
    pub summary: Option<Summary>,
}

/// The part of time that is judged; what lies before only warms up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Part {
    /// First Unix second, if there is one.
    pub from_s: Option<i64>,
    /// First Unix second after it.
    pub to_s: Option<i64>,
}

impl Part {
    /// Whether a moment lies in it.
    pub fn holds(&self, unix_s: i64) -> bool {
        self.from_s.is_none_or(|from| unix_s >= from) && self.to_s.is_none_or(|to| unix_s < to)
    }
}

impl Series {
    /// Lays samples on the grid of their own usual interval and phase; one that
    /// wanders a little falls into the nearest slot. Samples finer than a minute
    /// become means of at least `mean_s`, coarser ones too where `mean_s` is
    /// longer than they are.
    ///
    /// The times must only grow; of two in one slot the later wins.
    pub fn lay(name: &str, samples: &[Sample], mean_s: u32) -> Result<Series, String> {
        let found_s = interval_s(samples)?;
        let step_s = found_s.max(mean_s.max(FINEST_S));
        let (Some(first), step) = (samples.first(), i64::from(step_s)) else {
            return Err("no sample".into());
        };
        let phase_s = match step_s > found_s {
            true => 0,
            false => most_common(samples.iter().map(|it| it.unix_s.rem_euclid(step))).unwrap_or(0),
        };
        let mut series = Series {
            name: name.into(),
            start_s: (first.unix_s - phase_s).div_euclid(step) * step + phase_s,
            step_s,
            slots: Vec::new(),
        };
        if step_s > found_s {
            series.fill_with_means(samples, found_s);
        } else {
            series.fill(samples);
        }
        Ok(series)
    }

    /// Wind by slot in knots; a gap is not a number, neither over nor under.
    pub fn wind(&self) -> Vec<f64> {
        let mean = |slot: &Option<Summary>| slot.map_or(f64::NAN, |summary| summary.mean_kn);
        self.slots.iter().map(mean).collect()
    }

    /// Gusts by slot in knots, as [`Series::wind`].
    pub fn gust(&self) -> Vec<f64> {
        let gust = |slot: &Option<Summary>| slot.and_then(|it| it.gust_kn).unwrap_or(f64::NAN);
        self.slots.iter().map(gust).collect()
    }

    /// Unix seconds at which a slot begins.
    pub fn at_s(&self, slot: usize) -> i64 {
        self.start_s + slot as i64 * i64::from(self.step_s)
    }

    /// Which slots are judged.
    pub fn keep(&self, part: &Part) -> Vec<bool> {
        let slots = 0..self.slots.len();
        slots.map(|slot| part.holds(self.at_s(slot))).collect()
    }

    fn fill(&mut self, samples: &[Sample]) {
        let step = f64::from(self.step_s);
        if let Some(last) = samples.last() {
            let slots = (last.unix_s - self.start_s) / i64::from(self.step_s) + 2;
            self.slots.resize(slots as usize, None);
        }
        for sample in samples {
            let place = ((sample.unix_s - self.start_s) as f64 / step).round_ties_even() as usize;
            let step_s = self.step_s;
            let heard = sample.summary.map(|it| Summary {
                interval_s: step_s,
                ..it
            });
            if let Some(slot) = self.slots.get_mut(place) {
                *slot = heard;
            }
        }
    }

    /// A mean counts where at least half of its time was heard.
    fn fill_with_means(&mut self, samples: &[Sample], found_s: u32) {
        let step = i64::from(self.step_s);
        let need = self.step_s.div_ceil(2 * found_s) as usize;
        for group in samples.chunk_by(|a, b| a.unix_s.div_euclid(step) == b.unix_s.div_euclid(step))
        {
            let Some(first) = group.first() else {
                continue;
            };
            let place = ((first.unix_s - self.start_s) / step) as usize;
            let heard: Vec<Summary> = group.iter().filter_map(|sample| sample.summary).collect();
            self.slots.resize(place + 1, None);
            if heard.len() >= need
                && let Some(slot) = self.slots.last_mut()
            {
                *slot = Some(mean(&heard, self.step_s));
            }
        }
    }
}

/// One summary of several of like length.
fn mean(heard: &[Summary], interval_s: u32) -> Summary {
    let count = heard.len() as f64;
    let mean_kn = heard.iter().map(|it| it.mean_kn).sum::<f64>() / count;
    let (mut east, mut north, mut headed) = (0.0, 0.0, 0_u32);
    for degrees in heard.iter().filter_map(|it| it.direction_deg) {
        let (sin, cos) = degrees.to_radians().sin_cos();
        (east, north, headed) = (east + sin, north + cos, headed + 1);
    }
    let pressures: Vec<f64> = heard.iter().filter_map(|it| it.pressure_hpa).collect();
    Summary {
        mean_kn,
        gust_kn: heard.iter().filter_map(|it| it.gust_kn).reduce(f64::max),
        direction_deg: (headed > 0).then(|| east.atan2(north).to_degrees().rem_euclid(360.0)),
        pressure_hpa: (!pressures.is_empty())
            .then(|| pressures.iter().sum::<f64>() / pressures.len() as f64),
        interval_s,
    }
}

/// Longest interval that is judged: of coarser wind a call time says nothing.
const LONGEST_S: i64 = 900;

/// The usual interval, in whole seconds.
fn interval_s(samples: &[Sample]) -> Result<u32, String> {
    let steps = samples
        .windows(2)
        .map(|pair| pair[1].unix_s - pair[0].unix_s);
    match most_common(steps) {
        None => Err("one sample has no interval: a series needs at least two".into()),
        Some(step @ 1..=LONGEST_S) => Ok(step as u32),
        Some(step) => Err(format!(
            "samples are {step} s apart: a series of 1 s to {LONGEST_S} s can be judged"
        )),
    }
}

/// The value that comes most often; of several that which came first.
fn most_common(values: impl Iterator<Item = i64>) -> Option<i64> {
    let mut counts = std::collections::HashMap::<i64, (usize, usize)>::new();
    for (place, value) in values.enumerate() {
        counts.entry(value).or_insert((0, place)).0 += 1;
    }
    let best = |(_, (count, place)): &(i64, (usize, usize))| (*count, std::cmp::Reverse(*place));
    counts.into_iter().max_by_key(best).map(|(value, _)| value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(unix_s: i64, kn: f64) -> Sample {
        Sample {
            unix_s,
            summary: Some(Summary::of_wind(kn, 1)),
        }
    }

    #[test]
    fn a_missing_sample_is_a_gap_in_its_place() {
        let samples = [0, 600, 1800, 2400].map(|at| sample(at, at as f64 / 100.0));
        let series = Series::lay("x", &samples, 60).unwrap();
        let wind = series.wind();
        // One slot more: of the time after the last sample nothing is known.
        assert_eq!((series.step_s, wind.len()), (600, 6));
        assert!(wind[2].is_nan() && wind[5].is_nan());
        assert_eq!(wind[3], 18.0);
    }

    #[test]
    fn seconds_become_minutes_where_half_of_each_was_heard() {
        let heard = (30..60).chain(60..80).chain(120..180);
        let samples: Vec<_> = heard.map(|at| sample(at, at as f64)).collect();
        let series = Series::lay("x", &samples, 60).unwrap();
        let wind = series.wind();
        assert_eq!((series.start_s, series.step_s, wind.len()), (0, 60, 3));
        assert_eq!(wind[0], 44.5);
        assert!(wind[1].is_nan());
        assert_eq!(wind[2], 149.5);
    }

    #[test]
    fn steps_that_wander_fall_into_the_nearest_slot() {
        // 64, 65 and 66 s apart, in no order.
        let mut at = 1_700_000_000;
        let samples: Vec<_> = (0..200)
            .map(|k| {
                at += 64 + [1, 0, 2, 1, 1][k % 5];
                sample(at, k as f64)
            })
            .collect();
        let series = Series::lay("x", &samples, 60).unwrap();
        let heard = series.slots.iter().flatten().count();
        assert_eq!((series.step_s, heard), (65, 200));
    }

    #[test]
    fn a_quarter_of_an_hour_is_a_step_and_an_hour_is_not() {
        let every = |step| [0, step, 2 * step].map(|at| sample(at, 9.0));
        assert_eq!(Series::lay("x", &every(900), 60).unwrap().step_s, 900);
        assert!(Series::lay("x", &every(3600), 60).is_err());
    }

    #[test]
    fn a_direction_across_north_is_averaged_as_a_vector() {
        let one = Summary {
            direction_deg: Some(350.0),
            ..Summary::of_wind(10.0, 1)
        };
        let other = Summary {
            direction_deg: Some(20.0),
            ..one
        };
        let degrees = mean(&[one, other], 60).direction_deg.unwrap();
        assert!((degrees - 5.0).abs() < 1e-9, "{degrees}");
    }
}
