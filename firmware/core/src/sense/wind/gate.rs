//! Keeps birds, radio and dropouts out of the wind, and lets a squall in.
//!
//! A sample far from the middle of the last ones is held back. If those after
//! it stay there too, it was wind: all are let through with their own times,
//! so a true onset loses nothing. If the next is back where it was, or they
//! jump about, it was a spike: it is dropped and counted.
//!
//! ```text
//!   near the middle          far
//!   --> let through        --> held --- 2 s or 2 slow ones agree --> let through
//!                               |------ the next is near, and near it -> too
//!                               |------ the next is near, apart from it -> dropped
//!                               '------ 15 s without agreement ---> dropped
//! ```

use heapless::{Deque, Vec};

use crate::time::Timestamp;

use super::{Heading, Vector};

/// Samples that make the middle.
const WINDOW: usize = 9;

/// Fewer tell no middle.
const LEAST_WINDOW: usize = 5;

/// Samples nearer together than this count as one for the middle.
const APART_MS: u64 = 190;

/// Most samples held back: over 2 s at the 12 a second of the thinned feeds.
pub const HELD: usize = 32;

/// Never nearer than this: a wind jumps by as much in half a second.
const LEAST_LIMIT_KN: f64 = 3.0;

/// Never nearer than this share of the middle wind.
const LEAST_LIMIT_SHARE: f64 = 0.25;

/// More of that share for each second since the last sample that was let
/// through: a slow sensor meets another gust each time.
const SHARE_A_SECOND: f64 = 0.05;

/// But no more seconds than this.
const MOST_SECONDS: f64 = 6.0;

/// Times the median distance from the middle. For wind with a normal spread
/// in both axes the median distance is 1.18 sd, so this is 5.3 sd.
const SPREADS: f64 = 4.5;

/// Strays of a quick sensor must agree for this long.
const AGREE_MS: u64 = 2_000;

/// Two strays this far apart in time are enough: a slow sensor.
const SLOW_AGREE_MS: u64 = 4_000;

/// Past this without agreement the held ones are dropped.
const GIVE_UP_MS: u64 = 15_000;

/// No cup at sea reads this; a stuck line does.
const FULL_SCALE_KN: f64 = 120.0;

/// From a wind over this nothing falls to a plain 0 between two samples.
const ALIVE_KN: f64 = 4.0;

/// One sample of wind in the mast's plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// When.
    pub at: Timestamp,
    /// What.
    pub felt: Vector,
    /// Where the bow pointed then.
    pub heading: Option<Heading>,
    /// How long it may stand if none follows, milliseconds.
    pub hold_ms: u32,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Gate {
    recent: Deque<Vector, WINDOW>,
    held: Deque<Sample, HELD>,
    dropped: u32,
    last_dropped: Option<Timestamp>,
    settled: Option<Settled>,
}

#[derive(Clone, Copy, Debug)]
struct Settled {
    middle: Vector,
    limit: f64,
    /// When the newest sample let through was taken.
    at: Timestamp,
    /// When the newest of those that make the middle was taken.
    kept: Timestamp,
}

impl Gate {
    /// Takes a sample; those that may be used come out in order of time.
    pub fn put(&mut self, sample: Sample, mut through: impl FnMut(Sample)) {
        if sample.felt.speed() >= FULL_SCALE_KN {
            self.count_drop(sample.at);
            return;
        }
        let Some(settled) = self.settled else {
            self.accept(&sample);
            through(sample);
            return;
        };
        let pause = sample.at.secs_since(settled.at).min(MOST_SECONDS);
        let limit = settled
            .limit
            .max((LEAST_LIMIT_SHARE + SHARE_A_SECOND * pause) * settled.middle.speed());
        if (sample.felt - settled.middle).speed() <= limit {
            self.let_neighbours_through(&sample, limit, &mut through);
            self.accept(&sample);
            through(sample);
            return;
        }
        if !self.agrees(&sample) {
            self.drop_held();
        }
        if self.held.is_full()
            && let Some(oldest) = self.held.pop_front()
        {
            self.count_drop(oldest.at);
        }
        // Made room for above.
        let _ = self.held.push_back(sample);
        if !self.is_confirmed(&settled) {
            return;
        }
        self.recent.clear();
        self.settled = None;
        while let Some(held) = self.held.pop_front() {
            self.accept(&held);
            through(held);
        }
        // A spike right after a squall is still a spike.
        while self.settled.is_none() {
            self.accept(&sample);
        }
    }

    /// Gives up on what has been held too long.
    pub fn tick(&mut self, now: Timestamp) {
        while let Some(first) = self.held.front().copied() {
            if now.millis_since(first.at) <= GIVE_UP_MS {
                break;
            }
            self.held.pop_front();
            self.count_drop(first.at);
        }
    }

    /// Starts anew: another unit speaks now.
    pub fn reset(&mut self) {
        self.drop_held();
        self.recent.clear();
        self.settled = None;
    }

    /// When the oldest sample still held was taken.
    pub fn held_since(&self) -> Option<Timestamp> {
        self.held.front().map(|sample| sample.at)
    }

    /// Samples dropped since the start.
    pub fn dropped(&self) -> u32 {
        self.dropped
    }

    /// When the newest dropped sample was taken.
    pub fn last_dropped(&self) -> Option<Timestamp> {
        self.last_dropped
    }

    /// The middle is that of samples some way apart: at 10 Hz nine in a row
    /// would tell less than a second.
    fn accept(&mut self, sample: &Sample) {
        if let Some(settled) = &mut self.settled
            && sample.at.millis_since(settled.kept) < APART_MS
        {
            settled.at = sample.at;
            return;
        }
        if self.recent.is_full() {
            self.recent.pop_front();
        }
        // Made room for above.
        let _ = self.recent.push_back(sample.felt);
        self.settled = settle(&self.recent, sample.at);
    }

    /// A spike stands apart from both its neighbours: what was held but lies
    /// by the sample after it was a step on the way, in a turn or a luff.
    fn let_neighbours_through(
        &mut self,
        sample: &Sample,
        limit: f64,
        through: &mut impl FnMut(Sample),
    ) {
        while let Some(held) = self.held.pop_front() {
            if (held.felt - sample.felt).speed() <= limit {
                self.accept(&held);
                through(held);
            } else {
                self.count_drop(held.at);
            }
        }
    }

    /// Whether a stray lies by the strays held before it.
    fn agrees(&self, sample: &Sample) -> bool {
        self.held.back().is_none_or(|last| {
            let apart = (sample.felt - last.felt).speed();
            apart <= (0.3 * last.felt.speed()).max(2.0 * LEAST_LIMIT_KN)
        })
    }

    fn is_confirmed(&self, settled: &Settled) -> bool {
        let (Some(first), Some(last)) = (self.held.front(), self.held.back()) else {
            return false;
        };
        // A cup does not stop dead: a plain 0 out of a living wind is a
        // broken line, and stays one until the wind itself is lost.
        if last.felt.speed() < 0.05 && settled.middle.speed() > ALIVE_KN {
            return false;
        }
        let span = last.at.millis_since(first.at);
        let slow = self.held.len() >= 2 && span >= SLOW_AGREE_MS;
        let quick = self.held.len() >= 3 && span >= AGREE_MS;
        slow || quick
    }

    fn drop_held(&mut self) {
        while let Some(held) = self.held.pop_front() {
            self.count_drop(held.at);
        }
    }

    fn count_drop(&mut self, at: Timestamp) {
        self.dropped = self.dropped.saturating_add(1);
        self.last_dropped = Some(at);
    }
}

/// Middle and limit once there are samples enough to tell.
fn settle(recent: &Deque<Vector, WINDOW>, at: Timestamp) -> Option<Settled> {
    if recent.len() < LEAST_WINDOW {
        return None;
    }
    let middle = Vector {
        x: median(recent.iter().map(|v| v.x)),
        y: median(recent.iter().map(|v| v.y)),
    };
    let squared = |v: &Vector| {
        let off = *v - middle;
        off.x * off.x + off.y * off.y
    };
    let spread = libm::sqrt(median(recent.iter().map(squared)));
    Some(Settled {
        middle,
        limit: (SPREADS * spread).max(LEAST_LIMIT_KN),
        at,
        kept: at,
    })
}

/// The middle one. A full window, which is nearly always, goes through a net
/// of comparisons; a young one puts each in its place among those before.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all = [0.0; WINDOW];
    let mut count = 0;
    for (place, value) in all.iter_mut().zip(values) {
        *place = value;
        count += 1;
    }
    if count == WINDOW {
        return median_of_nine(all);
    }
    let mut sorted: Vec<f64, WINDOW> = Vec::new();
    for value in all.into_iter().take(count) {
        let place = sorted.iter().take_while(|before| **before <= value).count();
        // The window holds no more than this has room for.
        let _ = sorted.insert(place, value);
    }
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// The middle of nine by nineteen comparisons: a well-known net (Paeth,
/// Graphics Gems, 1990; from memory), tried against sorting below.
fn median_of_nine(all: [f64; WINDOW]) -> f64 {
    let [
        mut a,
        mut b,
        mut c,
        mut d,
        mut e,
        mut f,
        mut g,
        mut h,
        mut i,
    ] = all;
    order(&mut b, &mut c);
    order(&mut e, &mut f);
    order(&mut h, &mut i);
    order(&mut a, &mut b);
    order(&mut d, &mut e);
    order(&mut g, &mut h);
    order(&mut b, &mut c);
    order(&mut e, &mut f);
    order(&mut h, &mut i);
    order(&mut a, &mut d);
    order(&mut f, &mut i);
    order(&mut e, &mut h);
    order(&mut d, &mut g);
    order(&mut b, &mut e);
    order(&mut c, &mut f);
    order(&mut e, &mut h);
    order(&mut e, &mut c);
    order(&mut g, &mut e);
    order(&mut e, &mut c);
    e
}

fn order(low: &mut f64, high: &mut f64) {
    let (a, b) = (*low, *high);
    *low = if b < a { b } else { a };
    *high = if b < a { a } else { b };
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All 512 rows of noughts and ones: a net that orders these orders all.
    #[test]
    fn the_net_finds_the_middle_of_every_nine() {
        for bits in 0..512u32 {
            let mut all = [0.0; WINDOW];
            for (place, value) in all.iter_mut().enumerate() {
                *value = f64::from(bits >> place & 1);
            }
            let middle = f64::from(u8::from(bits.count_ones() >= 5));
            assert_eq!(median_of_nine(all), middle, "{bits:b}");
        }
    }
}
