//! Keeps wild values out of heel, log and compass, and lets a true step in.
//!
//! A boat cannot heel, speed up or turn faster than so much: a value farther
//! from the last than that is held back. If those after it stay by it, she did
//! broach or ground, or the wheel fouled, and it is let in one or two seconds
//! late. If the next is back where it was, or they jump about, it was a spike:
//! it is never heard, and counted.

use crate::angle::wrap_180;
use crate::reading::{Measure, Quantity};
use crate::time::Timestamp;

/// Longer without a value and the next is taken as it comes.
const FORGOTTEN_MS: u64 = 10_000;

/// The time between two values counts for no more than this.
const MOST_SECONDS: f64 = 2.0;

/// So many strays over so long agree: a quick sensor.
const QUICK: (u8, u64) = (3, 1_000);

/// A slow one.
const SLOW: (u8, u64) = (2, 2_000);

/// Quantities that are watched for spikes.
const WATCHED: [Quantity; 6] = [
    Quantity::Heel,
    Quantity::Pitch,
    Quantity::WaterSpeed,
    Quantity::HeadingTrue,
    Quantity::HeadingMagnetic,
    Quantity::HeadingCompass,
];

/// How far a value may be from the last: by itself, and for each second
/// since. Common practice, no source.
#[derive(Clone, Copy, Debug)]
struct Pace {
    at_once: f64,
    a_second: f64,
}

impl Pace {
    fn of(quantity: Quantity) -> Pace {
        match quantity {
            // A roll of 20 either way in 5 s passes upright at 25 a second.
            Quantity::Heel | Quantity::Pitch => Pace {
                at_once: 8.0,
                a_second: 30.0,
            },
            // Down a wave she gains a knot a second.
            Quantity::WaterSpeed => Pace {
                at_once: 1.5,
                a_second: 1.0,
            },
            // A gybe turns her at 30 a second at most.
            _ => Pace {
                at_once: 15.0,
                a_second: 40.0,
            },
        }
    }

    fn reaches(self, from: f64, to: f64, seconds: f64, quantity: Quantity) -> bool {
        let apart = match quantity {
            Quantity::HeadingTrue | Quantity::HeadingMagnetic | Quantity::HeadingCompass => {
                wrap_180(to - from)
            }
            _ => to - from,
        };
        apart.abs() <= self.at_once + self.a_second * seconds.min(MOST_SECONDS)
    }
}

/// Spikes of all watched quantities.
#[derive(Clone, Debug, Default)]
pub struct Spikes {
    gates: [Gate; WATCHED.len()],
}

/// What is to be done with a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is heard.
    Heard,
    /// It is not, at least not yet.
    HeldBack,
}

impl Spikes {
    /// Judges the next value of the source in use.
    pub fn pass(&mut self, measure: &Measure, at: Timestamp) -> Verdict {
        let quantity = measure.quantity();
        match (self.gate_mut(quantity), value(measure)) {
            (Some(gate), Some(value)) => gate.pass(value, at, quantity),
            _ => Verdict::Heard,
        }
    }

    /// Starts anew: another source speaks now.
    pub fn reset(&mut self, quantity: Quantity) {
        if let Some(gate) = self.gate_mut(quantity) {
            gate.last = None;
            gate.drop_held(gate.newest);
        }
    }

    /// Spikes of a quantity since the start.
    pub fn count(&self, quantity: Quantity) -> u32 {
        self.gate(quantity).map_or(0, |gate| gate.dropped)
    }

    /// When the newest of a quantity came.
    pub fn last(&self, quantity: Quantity) -> Option<Timestamp> {
        self.gate(quantity)?.last_dropped
    }

    fn gate(&self, quantity: Quantity) -> Option<&Gate> {
        self.gates.get(place(quantity)?)
    }

    fn gate_mut(&mut self, quantity: Quantity) -> Option<&mut Gate> {
        self.gates.get_mut(place(quantity)?)
    }
}

fn place(quantity: Quantity) -> Option<usize> {
    WATCHED.iter().position(|watched| *watched == quantity)
}

fn value(measure: &Measure) -> Option<f64> {
    match measure {
        Measure::Heel(angle) | Measure::Pitch(angle) => Some(angle.get()),
        Measure::WaterSpeed(speed) => Some(speed.get()),
        Measure::HeadingTrue(bearing)
        | Measure::HeadingMagnetic(bearing)
        | Measure::HeadingCompass(bearing) => Some(bearing.degrees()),
        _ => None,
    }
}

/// The gate of one quantity.
#[derive(Clone, Copy, Debug, Default)]
struct Gate {
    /// The newest that was heard.
    last: Option<f64>,
    /// When the newest came, heard or not.
    newest: Timestamp,
    held: Option<Held>,
    dropped: u32,
    last_dropped: Option<Timestamp>,
}

#[derive(Clone, Copy, Debug)]
struct Held {
    first: Timestamp,
    newest: f64,
    count: u8,
}

impl Gate {
    fn pass(&mut self, fresh: f64, at: Timestamp, quantity: Quantity) -> Verdict {
        let pace = Pace::of(quantity);
        // The time since the newest, not since the last that was heard, or a
        // wild one would only have to wait.
        let seconds = at.secs_since(self.newest);
        let is_forgotten = at.millis_since(self.newest) > FORGOTTEN_MS;
        let dropped_at = core::mem::replace(&mut self.newest, at);
        let last = self.last.filter(|_| !is_forgotten);
        if last.is_none_or(|last| pace.reaches(last, fresh, seconds, quantity)) {
            self.drop_held(dropped_at);
            self.last = Some(fresh);
            return Verdict::Heard;
        }
        let agreeing = self
            .held
            .filter(|held| pace.reaches(held.newest, fresh, seconds, quantity));
        if agreeing.is_none() {
            self.drop_held(dropped_at);
        }
        let held = Held {
            first: agreeing.map_or(at, |held| held.first),
            newest: fresh,
            count: agreeing.map_or(1, |held| held.count.saturating_add(1)),
        };
        let span = at.millis_since(held.first);
        let is_step = [QUICK, SLOW]
            .iter()
            .any(|(count, ms)| held.count >= *count && span >= *ms);
        if is_step {
            self.held = None;
            self.last = Some(fresh);
            return Verdict::Heard;
        }
        self.held = Some(held);
        Verdict::HeldBack
    }

    fn drop_held(&mut self, at: Timestamp) {
        if let Some(held) = self.held.take() {
            self.dropped = self.dropped.saturating_add(u32::from(held.count));
            self.last_dropped = Some(at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::angle::Bearing;
    use crate::units::{Degrees, SignedKnots};
    use std::vec;
    use std::vec::Vec;

    fn heel(value: f64) -> Measure {
        Measure::Heel(Degrees::new(value).unwrap())
    }

    fn stw(value: f64) -> Measure {
        Measure::WaterSpeed(SignedKnots::new(value).unwrap())
    }

    fn heading(value: f64) -> Measure {
        Measure::HeadingTrue(Bearing::new(value).unwrap())
    }

    /// What is heard of values so many milliseconds apart.
    fn heard(values: &[Measure], every_ms: u64) -> (Vec<usize>, u32) {
        let mut spikes = Spikes::default();
        let quantity = values[0].quantity();
        let passed = (0..values.len())
            .filter(|n| {
                let at = Timestamp::from_millis(*n as u64 * every_ms);
                spikes.pass(&values[*n], at) == Verdict::Heard
            })
            .collect();
        (passed, spikes.count(quantity))
    }

    #[test]
    fn a_single_wild_value_is_never_heard_and_is_counted() {
        for every_ms in [100, 1000] {
            for (usual, wild) in [
                (heel(15.0), heel(-80.0)),
                (stw(6.0), stw(0.0)),
                (stw(6.0), stw(60.0)),
                (heading(358.0), heading(200.0)),
            ] {
                let values = [usual, usual, wild, usual, wild, wild, usual];
                assert_eq!(heard(&values, every_ms), (vec![0, 1, 3, 6], 3), "{wild:?}");
            }
        }
    }

    #[test]
    fn a_true_step_is_heard_within_two_seconds() {
        for (every_ms, late) in [(100, 10), (1000, 2), (2500, 1)] {
            for (from, to) in [
                (heel(15.0), heel(75.0)),
                (stw(6.0), stw(0.1)),
                (heading(10.0), heading(190.0)),
            ] {
                let mut values = vec![from; 5];
                values.extend([to; 20]);
                let (passed, dropped) = heard(&values, every_ms);
                let first = passed.iter().find(|n| **n >= 5).unwrap();
                assert!(*first <= 5 + late, "{to:?} every {every_ms} ms: {first}");
                assert_eq!((passed.len() - 5, dropped), (25 - first, 0));
            }
        }
    }

    #[test]
    fn a_roll_a_broach_and_a_tack_through_north_lose_nothing() {
        for every_ms in [100, 200, 1000] {
            let at = |n: usize| n as f64 * every_ms as f64 / 1000.0;
            let roll: Vec<Measure> = (0..60)
                .map(|n| heel(5.0 + 20.0 * libm::sin(core::f64::consts::TAU * at(n) / 5.0)))
                .collect();
            assert_eq!(heard(&roll, every_ms).0.len(), 60);
            let broach: Vec<Measure> = (0..60)
                .map(|n| heel((15.0 + 20.0 * at(n)).min(70.0)))
                .collect();
            assert_eq!(heard(&broach, every_ms).0.len(), 60);
            let tack: Vec<Measure> = (0..60)
                .map(|n| heading(crate::angle::wrap_360(310.0 + (25.0 * at(n)).min(95.0))))
                .collect();
            assert_eq!(heard(&tack, every_ms).0.len(), 60);
        }
    }
}
