//! Heading held against the course over ground, and an instrument's own true
//! wind against ours: two that should agree over some minutes.

use crate::angle::{atan2_deg, cos_deg, sin_deg, wrap_180};
use crate::sense::fault::Fault;
use crate::time::Timestamp;

use super::evidence::Evidence;
use super::{Finding, Persistence};

/// Slower than this over the ground, a course says nothing of the bow.
const LEAST_SOG_KN: f64 = 2.5;
/// Leeway and a stream on the beam of most of her speed: a greater angle
/// between bow and course, for minutes, is a wrong heading. Common practice.
pub const MOST_DRIFT_DEG: f64 = 40.0;
/// It is over under this.
const OVER_DRIFT_DEG: f64 = 30.0;
/// The angle is smoothed over about so long...
const SMOOTHED_S: f64 = 60.0;
/// ...and must stay for so long.
const DRIFTED_S: u16 = 90;
/// How steady the smoothed angle must be, 0 to 1: she is not turning about.
const LEAST_STEADINESS: f64 = 0.8;

/// An instrument's true wind may differ by so much, knots...
const WIND_MAY_DIFFER_KN: f64 = 5.0;
/// ...or this share of the greater: it may be over ground, at 10 m, or damped.
const WIND_MAY_DIFFER_SHARE: f64 = 0.35;
/// For so many seconds of the smoothed difference.
const WIND_DIFFERS_S: u16 = 120;

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Crosschecks {
    drift: Option<(f64, f64)>,
    drifted: Persistence,
    over_kn: Option<f64>,
    differs: Persistence,
}

impl Crosschecks {
    /// Looks at one second.
    pub fn look(&mut self, seen: &Evidence, now: Timestamp, mut found: impl FnMut(Finding)) {
        let drifted = self.look_at_course(seen);
        if self.drifted.step(drifted, DRIFTED_S, DRIFTED_S) {
            let fault = Fault::HeadingAgainstCourse;
            found(Finding { fault, began: now });
        }
        let differs = self.look_at_true_wind(seen);
        if self.differs.step(differs, WIND_DIFFERS_S, WIND_DIFFERS_S) {
            let fault = Fault::TrueWindDiffers;
            found(Finding { fault, began: now });
        }
    }

    fn look_at_course(&mut self, seen: &Evidence) -> bool {
        let (Some(heading), Some(course)) = (seen.heading_true_deg, seen.cog_deg) else {
            self.drift = None;
            return false;
        };
        if seen.sog_kn.is_none_or(|sog| sog < LEAST_SOG_KN) {
            // Lying still clears nothing, and begins nothing.
            return self.drifted.is_so();
        }
        let off = wrap_180(course - heading);
        let fresh = (sin_deg(off), cos_deg(off));
        let (sin, cos) = self.drift.unwrap_or(fresh);
        let (sin, cos) = (
            sin + (fresh.0 - sin) / SMOOTHED_S,
            cos + (fresh.1 - cos) / SMOOTHED_S,
        );
        self.drift = Some((sin, cos));
        let steady = libm::sqrt(sin * sin + cos * cos) >= LEAST_STEADINESS;
        let line = if self.drifted.is_so() {
            OVER_DRIFT_DEG
        } else {
            MOST_DRIFT_DEG
        };
        steady && atan2_deg(sin, cos).abs() > line
    }

    fn look_at_true_wind(&mut self, seen: &Evidence) -> bool {
        let (Some(ours), Some(theirs)) = (seen.tws_kn, seen.their_tws_kn) else {
            self.over_kn = None;
            return false;
        };
        let fresh = theirs - ours;
        let over = self.over_kn.unwrap_or(fresh);
        let over = over + (fresh - over) / SMOOTHED_S;
        self.over_kn = Some(over);
        over.abs() > (WIND_MAY_DIFFER_SHARE * ours.max(theirs)).max(WIND_MAY_DIFFER_KN)
    }
}
