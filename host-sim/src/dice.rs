//! Chance that repeats: one seeded stream of numbers for each purpose.
//!
//! The generator is ChaCha with 8 rounds from a pinned crate; the normal
//! variates are made here with `libm`. A purpose has its own stream, so that a
//! fault added to a scenario does not change its weather.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

use crate::maths::TURN;

/// A seeded source of chance for one purpose.
#[derive(Clone, Debug)]
pub struct Dice {
    generator: ChaCha8Rng,
    spare_normal: Option<f64>,
}

impl Dice {
    /// The stream of `seed` that belongs to `purpose`.
    pub fn new(seed: u64, purpose: &str) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(fnv1a(purpose));
        Self {
            generator,
            spare_normal: None,
        }
    }

    /// Evenly spread in 0 .. 1.
    pub fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / (1u64 << 53) as f64;
        (self.generator.next_u64() >> 11) as f64 * STEP
    }

    /// Evenly spread between two values.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Gaussian, mean 0 and standard deviation 1 (Marsaglia's polar method).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if square < 1.0 && square > 0.0 {
                let factor = libm::sqrt(-2.0 * libm::log(square) / square);
                self.spare_normal = Some(y * factor);
                return x * factor;
            }
        }
    }

    /// True with the odds given.
    pub fn happens(&mut self, odds: f64) -> bool {
        self.uniform() < odds
    }

    /// True if an event of this rate falls into a step of `dt_s`.
    pub fn strikes(&mut self, per_hour: f64, dt_s: f64) -> bool {
        per_hour > 0.0 && self.uniform() < per_hour * dt_s / 3600.0
    }

    /// A waiting time with the mean given.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * libm::log(1.0 - self.uniform())
    }

    /// A factor around 1 whose logarithm has this standard deviation.
    pub fn factor(&mut self, spread: f64) -> f64 {
        libm::exp(spread * self.normal())
    }

    /// Any byte.
    pub fn byte(&mut self) -> u8 {
        (self.generator.next_u32() & 0xff) as u8
    }
}

/// A swell of chance: Gaussian, narrow-banded, of unit variance, exact for any
/// step, and free to change its period as it goes.
#[derive(Clone, Debug, Default)]
pub struct Swing {
    along: f64,
    across: f64,
}

impl Swing {
    /// One step on; `period_s` is the centre period, and the correlation dies
    /// out over `memory_s`.
    pub fn step(&mut self, dt_s: f64, period_s: f64, memory_s: f64, dice: &mut Dice) -> f64 {
        let keep = libm::exp(-dt_s / memory_s);
        let (sin, cos) = libm::sincos(TURN * dt_s / period_s);
        let fresh = libm::sqrt(1.0 - keep * keep);
        let (along, across) = (self.along, self.across);
        self.along = keep * (along * cos - across * sin) + fresh * dice.normal();
        self.across = keep * (along * sin + across * cos) + fresh * dice.normal();
        self.along
    }

    /// The value now.
    pub fn value(&self) -> f64 {
        self.along
    }

    /// A quarter period off: the slope that goes with a height.
    pub fn quadrature(&self) -> f64 {
        self.across
    }
}

/// Gaussian first-order noise of unit variance, exact for any step.
#[derive(Clone, Debug, Default)]
pub struct Drift {
    value: f64,
}

impl Drift {
    /// One step on with this correlation time.
    pub fn step(&mut self, dt_s: f64, time_constant_s: f64, dice: &mut Dice) -> f64 {
        let keep = libm::exp(-dt_s / time_constant_s);
        self.value = keep * self.value + libm::sqrt(1.0 - keep * keep) * dice.normal();
        self.value
    }
}

fn fnv1a(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_purpose_has_its_own_stream_and_repeats_it() {
        let draw = |purpose| -> Vec<f64> {
            let mut dice = Dice::new(7, purpose);
            (0..8).map(|_| dice.normal()).collect()
        };
        assert_eq!(draw("weather"), draw("weather"));
        assert_ne!(draw("weather"), draw("faults"));
    }

    #[test]
    fn normals_have_unit_variance_and_the_right_tails() {
        let mut dice = Dice::new(1, "test");
        let n = 200_000;
        let draws: Vec<f64> = (0..n).map(|_| dice.normal()).collect();
        let mean = draws.iter().sum::<f64>() / n as f64;
        let variance = draws.iter().map(|x| x * x).sum::<f64>() / n as f64;
        let beyond_two = draws.iter().filter(|x| x.abs() > 2.0).count() as f64 / n as f64;
        assert!(mean.abs() < 0.01 && (variance - 1.0).abs() < 0.015);
        // 4.55 % of a Gaussian lies beyond two standard deviations.
        assert!((beyond_two - 0.0455).abs() < 0.002, "{beyond_two}");
    }

    #[test]
    fn the_generator_has_not_changed() {
        // Pins the crate's stream: a change here changes every scenario.
        let mut dice = Dice::new(1, "pin");
        assert_eq!(dice.generator.next_u64(), PINNED);
    }

    const PINNED: u64 = 1_323_694_939_935_732_153;
}
