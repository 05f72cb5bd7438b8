//! The point of sail that limits are taken by: it does not follow a helm that
//! wanders about one of its edges.

use core::time::Duration;

use crate::act::PointOfSail;
use crate::call::Since;
use crate::picture::point_of_sail;
use crate::time::Timestamp;

/// A pilot in a sea holds a heading within 6 degrees (common practice, no
/// source); beyond that it is another course.
const WANDER_DEG: f64 = 7.0;
/// Another course has been held for so long.
const HELD: Duration = Duration::from_secs(10);
/// Near the edge, but never back over it for so long, is another course too.
const SETTLED: Duration = Duration::from_secs(600);

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct HeldPoint {
    point: Option<PointOfSail>,
    beyond: Since,
    across: Since,
}

impl HeldPoint {
    /// Takes the point of sail of a moment, and its true wind angle.
    pub(super) fn take(
        &mut self,
        point: Option<PointOfSail>,
        twa_deg: Option<f64>,
        now: Timestamp,
    ) -> Option<PointOfSail> {
        let (Some(held), Some(point)) = (self.point, point) else {
            self.point = self.point.or(point);
            return point;
        };
        let is_far = twa_deg.is_none_or(|twa| {
            let angle = twa.abs();
            let sides = [angle - WANDER_DEG, angle + WANDER_DEG];
            sides.iter().all(|angle| point_of_sail(*angle) != held)
        });
        self.across.track(point != held, now);
        self.beyond.track(point != held && is_far, now);
        if self.beyond.has_held(HELD, now) || self.across.has_held(SETTLED, now) {
            *self = HeldPoint {
                point: Some(point),
                ..HeldPoint::default()
            };
        }
        self.point
    }
}
