//! Running sums over the last seconds, in whole numbers.
//!
//! Whole numbers because a sum that a second was added to and is later taken
//! from again must not drift: after a year of it nothing is left behind. Each
//! second is rounded once, to a 2^20th of its unit, which is ten times finer
//! than what a unit at sea can tell.

use super::bin::Bin;
use super::circular::Resultant;

/// Steps in a knot or a degree.
const STEPS: f64 = (1u32 << 20) as f64;

/// Mean and spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Time-weighted mean.
    pub mean: f64,
    /// Time-weighted standard deviation.
    pub deviation: f64,
}

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sums {
    wind: Weighted,
    heel: Weighted,
    aws_ms: i64,
    aws: i64,
    twd: Pointing,
    twa: Pointing,
}

/// A figure weighted by the milliseconds that it stood.
#[derive(Clone, Copy, Debug, Default)]
struct Weighted {
    ms: i64,
    sum: i64,
    /// Past 64 bits: 150 kn squared in steps over ten minutes.
    squares: i128,
    /// Within the seconds, about their own means.
    about: i64,
}

/// A direction as the sum of its sines and cosines.
#[derive(Clone, Copy, Debug, Default)]
struct Pointing {
    ms: i64,
    sin: i64,
    cos: i64,
}

impl Sums {
    /// Takes a second in.
    pub fn add(&mut self, bin: &Bin) {
        self.put(bin, 1);
    }

    /// Takes it out again.
    pub fn take(&mut self, bin: &Bin) {
        self.put(bin, -1);
    }

    /// Milliseconds with wind.
    pub fn wind_ms(&self) -> i64 {
        self.wind.ms
    }

    /// Milliseconds with heel.
    pub fn heel_ms(&self) -> i64 {
        self.heel.ms
    }

    /// Milliseconds with AWS.
    pub fn aws_ms(&self) -> i64 {
        self.aws_ms
    }

    /// TWS.
    pub fn tws(&self) -> Option<Spread> {
        self.wind.spread()
    }

    /// Heel.
    pub fn heel(&self) -> Option<Spread> {
        self.heel.spread()
    }

    /// Mean AWS.
    pub fn aws_kn(&self) -> Option<f64> {
        (self.aws_ms > 0).then(|| self.aws as f64 / (self.aws_ms as f64 * STEPS))
    }

    /// TWD.
    pub fn twd(&self) -> Option<Resultant> {
        self.twd.resultant()
    }

    /// TWA.
    pub fn twa(&self) -> Option<Resultant> {
        self.twa.resultant()
    }

    fn put(&mut self, bin: &Bin, sign: i64) {
        self.wind.put(bin.wind_ms, bin.tws, bin.tws_about(), sign);
        self.heel.put(bin.heel_ms, bin.heel, bin.heel_about(), sign);
        let aws_ms = sign * i64::from(bin.aws_ms);
        self.aws_ms += aws_ms;
        self.aws += aws_ms * steps(bin.aws);
        self.twd.put(bin.twd_ms, bin.twd(), sign);
        self.twa.put(bin.twa_ms, bin.twa(), sign);
    }
}

impl Weighted {
    fn put(&mut self, ms: u16, mean: f32, about: f32, sign: i64) {
        let ms = sign * i64::from(ms);
        let mean = steps(mean);
        self.ms += ms;
        self.sum += ms * mean;
        self.squares += i128::from(ms) * i128::from(mean) * i128::from(mean);
        self.about += sign * steps(about);
    }

    fn spread(&self) -> Option<Spread> {
        if self.ms <= 0 {
            return None;
        }
        let ms = self.ms as f64;
        let sum = i128::from(self.sum);
        // Exact before it is rounded once: no difference of large squares.
        let between = i128::from(self.ms) * self.squares - sum * sum;
        let variance =
            between as f64 / (ms * ms * STEPS * STEPS) + self.about as f64 / (ms * STEPS);
        Some(Spread {
            mean: self.sum as f64 / (ms * STEPS),
            deviation: libm::sqrt(variance.max(0.0)),
        })
    }
}

impl Pointing {
    fn put(&mut self, ms: u16, (sin, cos): (f32, f32), sign: i64) {
        self.ms += sign * i64::from(ms);
        self.sin += sign * steps(sin);
        self.cos += sign * steps(cos);
    }

    fn resultant(&self) -> Option<Resultant> {
        let part = |sum: i64| sum as f64 / STEPS;
        Resultant::of(core::iter::once((
            part(self.sin),
            part(self.cos),
            self.ms as f64,
        )))
    }
}

/// Beyond what an `i64` holds it stays at its end: no wind and no heel does.
fn steps(value: f32) -> i64 {
    libm::round(f64::from(value) * STEPS) as i64
}
