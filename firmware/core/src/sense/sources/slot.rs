//! One source of one quantity: its newest value, its own measured period, and
//! how old the value may grow.

use crate::reading::{Measure, Quantity, Rank, SourceId};
use crate::time::Timestamp;

use super::bounds::age_bound;

/// Intervals remembered for the period.
const INTERVALS: usize = 8;

/// A value may miss three periods and this: lines stumble over bursts of
/// other sentences, and gateways pause for some seconds now and then.
const STUMBLE_MS: u32 = 3_000;

/// The age limit until a period has been measured, at most the bound.
const UNMEASURED_AGE_MS: u32 = 10_000;

/// This many times running invalid and the source counts as dead at once.
const INVALID_RUN: u8 = 3;

/// See the module.
#[derive(Clone, Debug)]
pub struct Slot {
    /// Of which quantity.
    pub quantity: Quantity,
    /// Who says it.
    pub source: SourceId,
    /// How willingly it is used.
    pub rank: Rank,
    measure: Option<Measure>,
    at: Timestamp,
    heard: Timestamp,
    steady: Timestamp,
    /// In hundredths of a second, newest last written.
    intervals: [u16; INTERVALS],
    measured: u8,
    invalid: u8,
    period_ms: u32,
    age: Ageing,
}

/// How old a value may be before it is no longer trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ageing {
    /// In milliseconds.
    pub limit_ms: u32,
}

impl Slot {
    pub(super) fn new(quantity: Quantity, source: SourceId, rank: Rank, now: Timestamp) -> Self {
        Slot {
            quantity,
            source,
            rank,
            measure: None,
            at: now,
            heard: now,
            steady: now,
            intervals: [0; INTERVALS],
            measured: 0,
            invalid: 0,
            period_ms: 0,
            age: Ageing {
                limit_ms: UNMEASURED_AGE_MS.min(age_bound(quantity)),
            },
        }
    }

    pub(super) fn value(&mut self, measure: Measure, at: Timestamp) {
        let gap = at.millis_since(self.at);
        if self.measure.is_some() {
            if gap > u64::from(self.age.limit_ms) {
                self.steady = at;
            }
            // Longer silences are gaps, not a period.
            if gap > 0 && gap <= u64::from(age_bound(self.quantity)) {
                self.learn(gap as u32);
            }
        } else {
            self.steady = at;
        }
        if self.invalid > 0 {
            self.steady = at;
        }
        self.invalid = 0;
        self.measure = Some(measure);
        self.at = self.at.max(at);
        self.heard = self.heard.max(at);
    }

    pub(super) fn invalid(&mut self, at: Timestamp) {
        self.invalid = self.invalid.saturating_add(1);
        self.heard = self.heard.max(at);
        self.steady = self.heard;
    }

    /// Forgets a value past its age, so that it cannot come back by itself.
    pub(super) fn review(&mut self, now: Timestamp) {
        if self.measure.is_some() && !self.is_live(now) && self.invalid < INVALID_RUN {
            self.steady = now;
        }
    }

    /// The newest value, however old: ask [`Slot::is_live`] first.
    pub fn measure(&self) -> Option<Measure> {
        self.measure
    }

    /// When the newest value came.
    pub fn at(&self) -> Timestamp {
        self.at
    }

    /// When anything was last heard of it, valid or not.
    pub fn heard_at(&self) -> Timestamp {
        self.heard
    }

    /// Since when it has been live without a break.
    pub fn steady_since(&self) -> Timestamp {
        self.steady
    }

    /// Median of the last intervals, once there are three.
    pub fn period_ms(&self) -> Option<u32> {
        (self.measured >= 3).then_some(self.period_ms)
    }

    /// How old its value may be now.
    pub fn ageing(&self) -> Ageing {
        self.age
    }

    /// Whether the newest value can be trusted.
    pub fn is_live(&self, now: Timestamp) -> bool {
        self.measure.is_some()
            && self.invalid < INVALID_RUN
            && now.millis_since(self.at) <= u64::from(self.age.limit_ms)
    }

    /// Whether the newest that was said was a value.
    pub fn is_good(&self) -> bool {
        self.measure.is_some() && self.invalid == 0
    }

    /// Whether the sensor says itself that it has no valid value.
    pub fn is_invalid(&self) -> bool {
        self.invalid >= INVALID_RUN || (self.measure.is_none() && self.invalid > 0)
    }

    /// Whether it is heard at all, valid or not.
    pub fn is_talking(&self, now: Timestamp) -> bool {
        now.millis_since(self.heard)
            <= u64::from(
                self.age
                    .limit_ms
                    .max(UNMEASURED_AGE_MS.min(age_bound(self.quantity))),
            )
    }

    fn learn(&mut self, gap_ms: u32) {
        let place = usize::from(self.measured) % INTERVALS;
        if let Some(interval) = self.intervals.get_mut(place) {
            *interval = (gap_ms / 10).min(u32::from(u16::MAX)) as u16;
        }
        // Wraps from 16 to 8: stays "full" and keeps the place.
        self.measured += 1;
        if usize::from(self.measured) == 2 * INTERVALS {
            self.measured = INTERVALS as u8;
        }
        let known = usize::from(self.measured).min(INTERVALS);
        // An ordinary interval of a known source changes little: the sorting
        // is done once round, or as soon as one is out of the ordinary.
        let ordinary = gap_ms <= self.period_ms + self.period_ms / 2;
        if known == INTERVALS && ordinary && place != 0 {
            return;
        }
        let mut sorted = self.intervals;
        let Some(sorted) = sorted.get_mut(..known) else {
            return;
        };
        sorted.sort_unstable();
        let median = sorted.get(known / 2).copied().unwrap_or(0);
        // The longest but one: one silence in eight is a gap, two are a habit.
        let long = sorted.get(known.saturating_sub(2)).copied().unwrap_or(0);
        self.period_ms = u32::from(median) * 10;
        if known >= 3 {
            // Or half as long again as a habitual silence: an uneven 1 to
            // 18 s sensor must not flap.
            let limit = (self.period_ms * 3 + STUMBLE_MS).max(u32::from(long) * 15);
            self.age = Ageing {
                limit_ms: limit.min(age_bound(self.quantity)),
            };
        }
    }
}
