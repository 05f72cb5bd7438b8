//! A passage cut into legs on a steady heading, and legs into pieces.

use cringle_core::angle::wrap_180;

use crate::gather::Sample;
use crate::solve::Plane;

/// Heading may change by so much within [`TURN_S`] on a leg, degrees.
const STEADY_DEG: f64 = 25.0;
/// Seconds over which a turn is looked for.
const TURN_S: usize = 20;
/// Seconds left out after a turn: she has to gather way and be trimmed.
const SETTLES_S: f64 = 60.0;
/// A leg under so many seconds says too little.
const LEAST_LEG_S: f64 = 120.0;
/// Slower than this log and leeway say nothing, knots.
const LEAST_STW_KN: f64 = 2.0;
/// In less apparent wind than this the vane swings, knots.
const LEAST_AWS_KN: f64 = 5.0;
/// Samples further apart than this end a leg, seconds.
const GAP_S: f64 = 5.0;

/// A piece of a leg: sums over its seconds.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// Which leg it is of.
    pub(crate) leg: usize,
    /// Its middle.
    pub(crate) at_s: f64,
    /// Its seconds.
    pub(crate) seconds: Vec<Sample>,
    /// SOG and COG over the whole leg.
    pub(crate) leg_over_ground: Plane,
}

impl Piece {
    /// The mean of something over its seconds.
    pub(crate) fn mean(&self, what: impl Fn(&Sample) -> f64) -> f64 {
        self.seconds.iter().map(what).sum::<f64>() / self.weight()
    }

    /// The mean of a vector over its seconds.
    pub(crate) fn mean_plane(&self, what: impl Fn(&Sample) -> Plane) -> Plane {
        let sum = self
            .seconds
            .iter()
            .map(what)
            .fold(Plane::default(), |a, b| a + b);
        sum * (1.0 / self.weight())
    }

    /// Seconds.
    pub(crate) fn weight(&self) -> f64 {
        self.seconds.len().max(1) as f64
    }

    /// Mean heel, where it is measured throughout.
    pub(crate) fn heel_deg(&self) -> Option<f64> {
        let sum: Option<f64> = self.seconds.iter().map(|s| s.heel_deg).sum();
        Some(sum? / self.weight())
    }
}

/// The steady legs of a log.
#[derive(Clone, Debug)]
pub(crate) struct Passage {
    seconds: Vec<Vec<Sample>>,
    /// How many legs.
    pub(crate) legs: usize,
    /// How many turns from one leg to the next took the wind to the other side.
    pub(crate) tacks: usize,
}

impl Passage {
    pub(crate) fn of(samples: &[Sample]) -> Passage {
        let mut legs: Vec<Vec<Sample>> = Vec::new();
        let mut leg: Vec<Sample> = Vec::new();
        let mut quiet_until = f64::NEG_INFINITY;
        for (place, sample) in samples.iter().enumerate() {
            let before = place.checked_sub(TURN_S).and_then(|at| samples.get(at));
            let gap = place
                .checked_sub(1)
                .and_then(|at| samples.get(at))
                .is_some_and(|last| sample.at_s - last.at_s > GAP_S);
            let turned = before.is_some_and(|before| {
                wrap_180(sample.heading_deg - before.heading_deg).abs() > STEADY_DEG
            });
            if turned || gap {
                quiet_until = sample.at_s + SETTLES_S;
                close(&mut legs, &mut leg);
            }
            let sails = sample.stw_kn > LEAST_STW_KN && sample.felt.length() > LEAST_AWS_KN;
            if sample.at_s >= quiet_until && sails {
                leg.push(*sample);
            }
        }
        close(&mut legs, &mut leg);
        let sides: Vec<bool> = legs.iter().map(|leg| is_starboard(leg)).collect();
        let tacks = sides
            .windows(2)
            .filter(|pair| pair.first() != pair.last())
            .count();
        Passage {
            legs: legs.len(),
            seconds: legs,
            tacks,
        }
    }

    pub(crate) fn hours(&self) -> f64 {
        self.seconds.iter().map(Vec::len).sum::<usize>() as f64 / 3600.0
    }

    /// The pieces of about so many seconds, in order of time.
    pub(crate) fn pieces(&self, seconds: usize) -> Vec<Piece> {
        let of_leg = |(leg, all): (usize, &Vec<Sample>)| {
            let count = (all.len() as f64 / seconds as f64).round().max(1.0) as usize;
            let size = all.len().div_ceil(count).max(1);
            let sum = all
                .iter()
                .map(|s| s.over_ground)
                .fold(Plane::default(), |a, b| a + b);
            let leg_over_ground = sum * (1.0 / all.len().max(1) as f64);
            all.chunks(size)
                .filter_map(|chunk| {
                    let middle = chunk.get(chunk.len() / 2)?;
                    Some(Piece {
                        leg,
                        at_s: middle.at_s,
                        seconds: chunk.to_vec(),
                        leg_over_ground,
                    })
                })
                .collect::<Vec<_>>()
        };
        self.seconds.iter().enumerate().flat_map(of_leg).collect()
    }

    /// Each leg's side of the wind, starboard true, and its mean heading.
    pub(crate) fn sides(&self) -> impl Iterator<Item = (bool, f64)> {
        self.seconds.iter().map(|leg| {
            let heading = leg
                .iter()
                .map(|s| Plane::polar(1.0, s.heading_deg))
                .fold(Plane::default(), |a, b| a + b);
            (is_starboard(leg), heading.direction_deg())
        })
    }

    /// Each leg's mean heel, where it is measured.
    pub(crate) fn heels(&self) -> impl Iterator<Item = f64> {
        self.seconds.iter().filter_map(|leg| {
            let sum: Option<f64> = leg.iter().map(|s| s.heel_deg).sum();
            Some(sum? / leg.len().max(1) as f64)
        })
    }
}

fn is_starboard(leg: &[Sample]) -> bool {
    leg.iter().map(|s| s.felt.y).sum::<f64>() >= 0.0
}

fn close(legs: &mut Vec<Vec<Sample>>, leg: &mut Vec<Sample>) {
    let ended = std::mem::take(leg);
    // What was steered just before the turn was found belongs to the turn.
    let keep = ended.len().saturating_sub(TURN_S);
    if keep as f64 >= LEAST_LEG_S {
        legs.push(ended.into_iter().take(keep).collect());
    }
}
