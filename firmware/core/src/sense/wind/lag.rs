//! What a damped wind unit makes of the mast's motion.
//!
//! A unit that averages inside has averaged the mast's swing as well: to take
//! the whole swing out of its slow figures would put a swing in. So the mast's
//! velocity goes through the same lag first. What damping took off the gusts
//! cannot be given back; that is said in the gust's spread.

use super::Vector;
use crate::time::Timestamp;

/// After a pause of so many time constants nothing of before is left.
const FORGOTTEN: f64 = 8.0;

/// A first-order lag over both axes, exact for motion that goes straight from
/// one sample to the next.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lag {
    state: Option<State>,
}

#[derive(Clone, Copy, Debug)]
struct State {
    at: Timestamp,
    input: Vector,
    output: Vector,
}

impl Lag {
    /// The lagged figure at the moment of a sample.
    pub fn follow(&mut self, input: Vector, at: Timestamp, constant_s: f64) -> Vector {
        let output = match self.state {
            Some(before) if constant_s > 0.0 => {
                let seconds = at.secs_since(before.at);
                if seconds > FORGOTTEN * constant_s {
                    input
                } else if seconds > 0.0 {
                    let behind = (input - before.input).times(constant_s / seconds);
                    let kept = libm::exp(-seconds / constant_s);
                    input - behind + (before.output - before.input + behind).times(kept)
                } else {
                    before.output
                }
            }
            _ => input,
        };
        self.state = Some(State { at, input, output });
        output
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::TAU;

    /// A sine comes out smaller by sqrt(1 + w^2 T^2) and later by
    /// atan(w T)/w: first-order lag, any book on control.
    #[test]
    fn a_swing_comes_out_smaller_and_later_at_either_rate() {
        let (period, constant) = (7.0, 2.0);
        let w = TAU / period;
        let size = 1.0 / libm::sqrt(1.0 + w * w * constant * constant);
        let late = libm::atan(w * constant) / w;
        for (every_ms, most) in [(100, 0.002), (1000, 0.05)] {
            let mut lag = Lag::default();
            for n in 0..120_000 / every_ms {
                let t = (n * every_ms) as f64 / 1000.0;
                let input = Vector {
                    x: libm::sin(w * t),
                    y: 0.0,
                };
                let at = Timestamp::from_millis(n * every_ms);
                let found = lag.follow(input, at, constant);
                if t > 30.0 {
                    let expected = size * libm::sin(w * (t - late));
                    assert!((found.x - expected).abs() < most, "{t}: {}", found.x);
                }
            }
        }
    }
}
