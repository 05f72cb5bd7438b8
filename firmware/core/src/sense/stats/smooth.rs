//! A wind smoothed as a vector, for eyes rather than for judgement.

use crate::time::Timestamp;
use crate::wind::Vector;

/// Time constant. Quick enough to steer by, slow enough to read.
const TIME_CONSTANT_S: f64 = 4.0;

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub struct Smooth {
    value: Option<(Vector, Timestamp)>,
    began: Timestamp,
}

impl Smooth {
    /// Takes one sample.
    pub fn put(&mut self, sample: Vector, at: Timestamp) {
        self.value = Some(match self.value {
            None => {
                self.began = at;
                (sample, at)
            }
            Some((old, before)) => {
                let pause = at.secs_since(before);
                let share = pause / (TIME_CONSTANT_S + pause);
                (old + (sample - old).times(share), at.max(before))
            }
        });
    }

    /// Takes one sample, or forgets where there is none.
    pub fn put_or_clear(&mut self, sample: Option<Vector>, at: Timestamp) {
        match sample {
            Some(sample) => self.put(sample, at),
            None => self.clear(),
        }
    }

    /// Forgets: what follows is another signal.
    pub fn clear(&mut self) {
        self.value = None;
    }

    /// When the newest sample was taken.
    pub fn at(&self) -> Option<Timestamp> {
        self.value.map(|(_, at)| at)
    }

    /// The smoothed vector once it is smooth: a wave is not taken for wind.
    pub fn settled(&self) -> Option<Vector> {
        self.value
            .filter(|(_, at)| at.secs_since(self.began) >= 2.0 * TIME_CONSTANT_S)
            .map(|(vector, _)| vector)
    }

    /// The smoothed vector.
    pub fn get(&self) -> Option<Vector> {
        self.value.map(|(vector, _)| vector)
    }
}
