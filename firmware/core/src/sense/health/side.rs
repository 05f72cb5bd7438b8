//! A wind angle without its side: 0 to 180 where it should be either way.
//!
//! Two signs of it. The boat heels to windward by this angle, for minutes. Or
//! she turns, and the true wind direction swings with her, where it would
//! have stayed had the angle been on the other side. One angle that was
//! plainly to port clears the unit for good.

use heapless::Deque;

use crate::angle::{atan2_deg, cos_deg, sin_deg, wrap_180};
use crate::sense::fault::Fault;
use crate::time::Timestamp;

use super::evidence::Evidence;
use super::{Finding, Persistence};

/// An angle this far to port, in wind enough to hold a vane, has a side.
const PORT_DEG: f64 = -10.0;
/// See above.
const VANE_STEADY_KN: f64 = 4.0;
/// Seconds of it: one wild value is no proof.
const PORT_SECONDS: u8 = 5;

/// Heel to windward of this much, for so long, in so much wind is no crew on
/// the rail.
const WINDWARD_HEEL_DEG: f64 = 6.0;
/// See above.
const WINDWARD_S: u16 = 120;
/// See above.
const WINDWARD_AWS_KN: f64 = 10.0;
/// Wind angles at which she heels for sure.
const HEELING_AWA_DEG: core::ops::RangeInclusive<f64> = 25.0..=120.0;

/// A stretch of so many seconds on about one heading is compared with those
/// before it.
const STRETCH_S: u16 = 30;
/// How steady its heading must be, 0 to 1: within some 15 degrees.
const STEADY: f64 = 0.966;
/// Stretches remembered: ten minutes.
const STRETCHES: usize = 20;
/// A turn of more than this between two of them may have been through the
/// wind.
const TURNED_DEG: f64 = 50.0;
/// It was, if the wind's direction swung by more than this as the angle
/// reads...
const SWUNG_DEG: f64 = 40.0;
/// ...and by less than this had the angle changed its side.
const STAYED_DEG: f64 = 20.0;
/// True wind angles at which a change of side is one of direction.
const SIDED_TWA_DEG: core::ops::RangeInclusive<f64> = 25.0..=155.0;
/// So many turns, and no angle to port in any of them.
const TURNS: u8 = 2;

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Side {
    port_seconds: u8,
    windward: Persistence,
    gathering: Stretch,
    stretches: Deque<(f32, f32), STRETCHES>,
    turns: u8,
    found: Option<Timestamp>,
}

/// Sums of one stretch.
#[derive(Clone, Copy, Debug, Default)]
struct Stretch {
    seconds: u16,
    heading: (f64, f64),
    twa: (f64, f64),
}

impl Side {
    /// Looks at one second.
    pub fn look(&mut self, seen: &Evidence, now: Timestamp, mut found: impl FnMut(Finding)) {
        if let (Some(awa), Some(aws)) = (seen.awa_deg, seen.aws_kn) {
            self.look_at_angle(awa, aws, seen);
        }
        let is_signed = self.port_seconds >= PORT_SECONDS;
        if !is_signed && (self.windward.is_so() || self.turns >= TURNS) {
            let fault = Fault::AngleUnsigned;
            let began = *self.found.get_or_insert(now);
            found(Finding { fault, began });
        }
    }

    /// A vane that has not turned since then told nothing of its side: what
    /// was found before stands.
    pub fn forget_since(&mut self, began: Timestamp) {
        if self.found.is_none_or(|found| found >= began) {
            *self = Side {
                port_seconds: self.port_seconds,
                ..Side::default()
            };
        }
    }

    fn look_at_angle(&mut self, awa: f64, aws: f64, seen: &Evidence) {
        if awa < PORT_DEG && aws >= VANE_STEADY_KN {
            self.port_seconds = self.port_seconds.saturating_add(1);
        }
        let is_to_windward = aws >= WINDWARD_AWS_KN
            && HEELING_AWA_DEG.contains(&awa)
            && seen.heel_deg.is_some_and(|heel| heel >= WINDWARD_HEEL_DEG);
        // What was found stands until an angle to port is heard.
        if !self.windward.is_so() {
            self.windward.step(is_to_windward, WINDWARD_S, WINDWARD_S);
        }
        if let (Some(heading), Some(twa)) = (seen.heading_deg, seen.twa_deg) {
            self.gather(heading, twa);
        }
    }

    fn gather(&mut self, heading: f64, twa: f64) {
        let sums = &mut self.gathering;
        sums.seconds += 1;
        add(&mut sums.heading, heading);
        add(&mut sums.twa, twa);
        if sums.seconds < STRETCH_S {
            return;
        }
        let whole = core::mem::take(sums);
        let length =
            |(sin, cos): (f64, f64)| libm::sqrt(sin * sin + cos * cos) / f64::from(STRETCH_S);
        if length(whole.heading) < STEADY || length(whole.twa) < STEADY {
            return;
        }
        let angle = |(sin, cos): (f64, f64)| atan2_deg(sin, cos);
        self.compare(angle(whole.heading), angle(whole.twa));
    }

    /// Holds a stretch against those before it.
    fn compare(&mut self, heading: f64, twa: f64) {
        let has_swung = |(was_heading, was_twa): &(f32, f32)| {
            let (was_heading, was_twa) = (f64::from(*was_heading), f64::from(*was_twa));
            let direction = was_heading + was_twa;
            wrap_180(heading - was_heading).abs() >= TURNED_DEG
                && SIDED_TWA_DEG.contains(&was_twa)
                && SIDED_TWA_DEG.contains(&twa)
                && wrap_180(heading + twa - direction).abs() >= SWUNG_DEG
                && (wrap_180(heading - twa - direction).abs() <= STAYED_DEG
                    || wrap_180(heading + twa - (was_heading - was_twa)).abs() <= STAYED_DEG)
        };
        if self.stretches.iter().any(has_swung) {
            self.turns = self.turns.saturating_add(1);
            self.stretches.clear();
        }
        if self.stretches.is_full() {
            self.stretches.pop_front();
        }
        // Made room for above.
        let _ = self.stretches.push_back((heading as f32, twa as f32));
    }
}

fn add((sin, cos): &mut (f64, f64), angle_deg: f64) {
    *sin += sin_deg(angle_deg);
    *cos += cos_deg(angle_deg);
}
