//! Heel or pitch as a curve: what it was, and how fast it moved, at the
//! moment of a wind sample.
//!
//! Samples are gathered into knots half a second wide, which takes the noise
//! out of a quick sensor, and the curve through the four knots about a moment
//! gives value and rate. A sensor slower than about 1 Hz cannot give a roll
//! of 4 to 8 s, and then no rate is told at all.

use heapless::Deque;

use crate::time::Timestamp;

/// Knots kept: 12 s of a quick sensor.
const KNOTS: usize = 24;

/// Width of a knot. Averaging over 0.5 s keeps 99 % of a 7 s roll.
const KNOT_MS: u64 = 500;

/// Knots farther apart than this do not show a roll.
const WIDEST_MS: u64 = 1_300;

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Track {
    knots: Deque<Knot, KNOTS>,
    gathering: Option<Gathering>,
    newest: Option<(Timestamp, f64)>,
}

#[derive(Clone, Copy, Debug)]
struct Knot {
    at_ms: f64,
    value: f64,
}

#[derive(Clone, Copy, Debug)]
struct Gathering {
    began: Timestamp,
    count: f64,
    time_sum: f64,
    value_sum: f64,
}

/// Value and rate at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moving {
    /// Degrees.
    pub value: f64,
    /// Degrees a second.
    pub rate: f64,
}

impl Track {
    /// Takes one sample, in order of time.
    pub fn put(&mut self, at: Timestamp, value: f64) {
        let sparse = self
            .newest
            .is_none_or(|(before, _)| at.millis_since(before) >= KNOT_MS);
        self.newest = Some((at, value));
        match &mut self.gathering {
            Some(gathering) if at.millis_since(gathering.began) < KNOT_MS => {
                gathering.add(at, value);
            }
            _ => {
                self.close_knot();
                let mut gathering = Gathering {
                    began: at,
                    count: 0.0,
                    time_sum: 0.0,
                    value_sum: 0.0,
                };
                gathering.add(at, value);
                self.gathering = Some(gathering);
            }
        }
        if sparse {
            // A slow sensor's sample is a knot by itself: no need to wait.
            self.close_knot();
        }
    }

    /// The newest sample as it is.
    pub fn newest(&self) -> Option<f64> {
        self.newest.map(|(_, value)| value)
    }

    /// Whether knots lie close enough together to show a roll.
    pub fn is_quick(&self) -> bool {
        let mut backwards = self.knots.iter().rev();
        let (Some(last), Some(before)) = (backwards.next(), backwards.next()) else {
            return false;
        };
        last.at_ms - before.at_ms <= WIDEST_MS as f64
    }

    /// Root mean square of the rate over the last seconds, degrees a second;
    /// none where the knots lie too far apart to show a roll.
    pub fn rate_rms(&self) -> Option<f64> {
        let later = self.knots.iter().skip(1);
        let (mut squares, mut count) = (0.0, 0.0);
        for (a, b) in self.knots.iter().zip(later) {
            let span_ms = b.at_ms - a.at_ms;
            if (1.0..=WIDEST_MS as f64).contains(&span_ms) {
                let rate = (b.value - a.value) * 1000.0 / span_ms;
                squares += rate * rate;
                count += 1.0;
            }
        }
        (count > 0.0).then(|| libm::sqrt(squares / count))
    }

    /// Value and rate at a moment with two close knots on either side.
    pub fn at(&self, at: Timestamp) -> Option<Moving> {
        let t = at.as_millis() as f64;
        // The moment is near the newest knots, so from there backwards.
        let last = self.knots.len().checked_sub(2)?;
        if self.knots.get(last)?.at_ms <= t {
            return None;
        }
        let before = (0..last)
            .rev()
            .find(|place| self.knots.get(*place).is_some_and(|knot| knot.at_ms <= t))?;
        let first = before.checked_sub(1)?;
        let knot = |offset: usize| self.knots.get(first + offset).copied();
        cubic(&[knot(0)?, knot(1)?, knot(2)?, knot(3)?], t)
    }

    /// Whether a moment lies too far back or ahead for [`Track::at`] ever to
    /// answer, so that waiting for more knots is no use.
    pub fn is_hopeless(&self, at: Timestamp) -> bool {
        let t = at.as_millis() as f64;
        !self.is_quick()
            || self
                .knots
                .iter()
                .nth(1)
                .is_none_or(|second| second.at_ms > t)
    }

    fn close_knot(&mut self) {
        let Some(gathering) = self.gathering.take() else {
            return;
        };
        if self.knots.is_full() {
            self.knots.pop_front();
        }
        let knot = Knot {
            at_ms: gathering.time_sum / gathering.count,
            value: gathering.value_sum / gathering.count,
        };
        // Made room for above.
        let _ = self.knots.push_back(knot);
    }
}

impl Gathering {
    fn add(&mut self, at: Timestamp, value: f64) {
        self.count += 1.0;
        self.time_sum += at.as_millis() as f64;
        self.value_sum += value;
    }
}

/// The curve of third degree through four knots, and its slope a second.
fn cubic(knots: &[Knot; 4], t_ms: f64) -> Option<Moving> {
    let mut value = 0.0;
    let mut slope = 0.0;
    for pair in knots.windows(2) {
        if let [a, b] = pair
            && !(1.0..=WIDEST_MS as f64).contains(&(b.at_ms - a.at_ms))
        {
            return None;
        }
    }
    for (i, knot) in knots.iter().enumerate() {
        let mut below = 1.0;
        let mut product = 1.0;
        let mut change = 0.0;
        for (j, other) in knots.iter().enumerate() {
            if i == j {
                continue;
            }
            below *= (knot.at_ms - other.at_ms) / 1000.0;
            let distance = (t_ms - other.at_ms) / 1000.0;
            change = change * distance + product;
            product *= distance;
        }
        value += knot.value * product / below;
        slope += knot.value * change / below;
    }
    Some(Moving { value, rate: slope })
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::TAU;

    /// Worst error of rate over a roll of 12 degrees in 7 s (peak 10.8/s).
    fn worst_rate_error(period_ms: u64) -> Option<f64> {
        let heel = |ms: f64| 25.0 + 12.0 * libm::sin(TAU * ms / 7000.0);
        let rate = |ms: f64| 12.0 * TAU / 7.0 * libm::cos(TAU * ms / 7000.0);
        let mut track = Track::default();
        let mut worst: Option<f64> = None;
        for n in 0..60_000 / period_ms {
            let now = n * period_ms;
            track.put(Timestamp::from_millis(now), heel(now as f64));
            let asked = now.saturating_sub(2_500);
            if let Some(moving) = track.at(Timestamp::from_millis(asked)) {
                let error = (moving.rate - rate(asked as f64)).abs();
                worst = Some(worst.unwrap_or(0.0).max(error));
            }
        }
        worst
    }

    #[test]
    fn a_roll_is_followed_at_ten_and_at_one_hertz() {
        assert!(worst_rate_error(100).unwrap() < 0.35);
        assert!(worst_rate_error(1000).unwrap() < 1.0);
    }

    #[test]
    fn a_slow_sensor_gives_no_rate_rather_than_a_wrong_one() {
        assert_eq!(worst_rate_error(2000), None);
    }
}
