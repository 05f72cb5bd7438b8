//! The light that changes are reckoned by.
//!
//! It follows the sun: night falls on the call time the moment civil twilight
//! ends. What is no sunset does not: a clock that steps, a first fix, a
//! position that jumps. Light that such a thing would change is taken over
//! only when it has for a while changed nothing that is called, so that a step
//! neither raises nor hides a call; until then the light before it stands.
//! While a call stands, light may only darken.

use core::time::Duration;

use super::Watch;
use crate::angle::wrap_180;
use crate::call::Since;
use crate::call::threat::Demand;
use crate::sun;
use crate::time::Timestamp;
use crate::units::Position;
use crate::view::Light;

/// Clocks are put right by less than this without a step, milliseconds.
const STEP_MS: i64 = 30_000;
/// A boat does not jump so far, degrees.
const JUMP_DEG: f64 = 0.5;
/// The last position is good enough for the sun this long: a day's run moves
/// it by a quarter of an hour at most.
const PLACE_KEPT_MS: u64 = 86_400_000;

/// Another light must have changed nothing for so long. Longer than a lull
/// between two gusts.
const HARMLESS: Duration = Duration::from_secs(600);

/// See the module.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lit {
    used: Light,
    /// Since when another light would change nothing.
    harmless: Since,
    /// What the sun last said.
    seen: Light,
    /// UTC less the watch's own time.
    unix_less_now: Option<i64>,
    place: Option<(Position, Timestamp)>,
}

impl Default for Lit {
    fn default() -> Self {
        Lit {
            used: Light::Unknown,
            harmless: Since::default(),
            seen: Light::Unknown,
            unix_less_now: None,
            place: None,
        }
    }
}

/// What the sun says now, and how that came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sun {
    /// As it did.
    Same,
    /// It has crossed civil twilight by itself.
    Crossed,
    /// Time or place is another than it was.
    Stepped,
}

impl Lit {
    fn look(&mut self, place: Option<Position>, unix_ms: Option<i64>, now: Timestamp) -> Sun {
        let before = self.place;
        self.place = place
            .map(|place| (place, now))
            .or(before)
            .filter(|(_, at)| now.millis_since(*at) <= PLACE_KEPT_MS);
        let here = self.place.map(|(place, _)| place);
        let less = unix_ms.map(|unix_ms| unix_ms.saturating_sub(now.as_millis() as i64));
        let is_step = match (self.unix_less_now, less) {
            (Some(was), Some(is)) => is.saturating_sub(was).saturating_abs() > STEP_MS,
            _ => true,
        };
        let is_jump = match (before, here) {
            (Some((was, _)), Some(here)) => is_far(was, here),
            _ => true,
        };
        self.unix_less_now = less;
        let seen = core::mem::replace(&mut self.seen, sun::light(here, unix_ms));
        if seen == self.seen {
            Sun::Same
        } else if is_step || is_jump {
            Sun::Stepped
        } else {
            Sun::Crossed
        }
    }
}

fn is_far(was: Position, here: Position) -> bool {
    let north = (here.latitude() - was.latitude()).abs();
    let east = wrap_180(here.longitude() - was.longitude()).abs();
    north.max(east) > JUMP_DEG
}

impl Watch {
    /// Day or night here and now, as changes are reckoned by it.
    pub(super) fn light(&self) -> Light {
        self.lit.used
    }

    /// Looks at the sun, and takes its light over where that is allowed.
    pub(super) fn look_for_light(&mut self) {
        let place = self.picture.position(self.now);
        let sun = self.lit.look(place, self.unix_ms(), self.now);
        let (used, seen) = (self.lit.used, self.lit.seen);
        if used == seen {
            self.lit.harmless = Since::default();
            return;
        }
        let takes = match (sun, seen) {
            (Sun::Crossed, Light::Night) => true,
            (_, Light::Day) if self.standing.call().is_threat() => false,
            (Sun::Crossed, _) => true,
            (Sun::Same | Sun::Stepped, _) => self.is_harmless(used, seen),
        };
        self.lit.used = if takes { seen } else { used };
    }

    fn is_harmless(&mut self, used: Light, seen: Light) -> bool {
        let is_same = self.asked_by(seen) == self.asked_by(used);
        self.lit.harmless.track(is_same, self.now);
        // The first light is no step: nothing has been reckoned by another.
        let held = used == Light::Unknown || self.lit.harmless.has_held(HARMLESS, self.now);
        is_same && held
    }

    /// What would be asked for by this light; all figures are left as they
    /// were.
    fn asked_by(&mut self, light: Light) -> Demand {
        let kept = self.assessment.clone();
        let target = *self.standing.target();
        let used = core::mem::replace(&mut self.lit.used, light);
        let moment = self.look();
        self.lit.used = used;
        self.assessment = kept;
        *self.standing.target_mut() = target;
        self.standing.demand(&moment.threats, &moment.sums)
    }
}
