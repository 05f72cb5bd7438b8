//! When it gets dark here, worked out anew only when that has passed or the
//! boat has moved on: it is asked for every second.

use crate::angle::wrap_180;
use crate::sun;
use crate::units::Position;

/// Degrees of latitude or longitude over which dusk is taken as the same: a
/// minute at most.
const SAME_PLACE_DEG: f64 = 0.2;
/// Where no dusk comes within a day, looked for again after this.
const LOOK_AGAIN_MS: i64 = 3_600_000;
/// Milliseconds of the sun's time in a degree of longitude.
const MS_PER_DEGREE: f64 = 240_000.0;
const DAY_MS: i64 = 86_400_000;

/// When it gets dark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Dusk {
    /// Position or UTC is not known.
    Unknown,
    /// Not within a day.
    NotToday,
    /// In so many seconds.
    InSeconds(f64),
}

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DuskHere(Option<Found>);

#[derive(Clone, Copy, Debug)]
struct Found {
    place: Position,
    from_ms: i64,
    dusk_ms: Option<i64>,
}

impl DuskHere {
    /// Looks anew where that is due.
    pub(super) fn look(&mut self, place: Option<Position>, unix_ms: Option<i64>) {
        let (Some(place), Some(unix_ms)) = (place, unix_ms) else {
            return;
        };
        if self.0.is_none_or(|found| !found.holds(place, unix_ms)) {
            self.0 = Some(Found {
                place,
                from_ms: unix_ms,
                dusk_ms: sun::next_dusk(place, unix_ms),
            });
        }
    }

    /// When it gets dark, seen from a moment.
    pub(super) fn from(&self, unix_ms: Option<i64>) -> Dusk {
        match (self.0, unix_ms) {
            (Some(found), Some(unix_ms)) => match found.dusk_ms {
                Some(dusk) => Dusk::InSeconds(dusk.saturating_sub(unix_ms) as f64 / 1000.0),
                None => Dusk::NotToday,
            },
            _ => Dusk::Unknown,
        }
    }

    /// The day by the sun, where the boat last was: UTC's day ends at noon on
    /// the other side of the world.
    pub(super) fn day(&self, unix_ms: i64) -> i64 {
        let east = self.0.map_or(0.0, |found| found.place.longitude());
        unix_ms
            .saturating_add((east * MS_PER_DEGREE) as i64)
            .div_euclid(DAY_MS)
    }
}

impl Found {
    fn holds(&self, place: Position, unix_ms: i64) -> bool {
        let north = (place.latitude() - self.place.latitude()).abs();
        let east = wrap_180(place.longitude() - self.place.longitude()).abs();
        let until = self
            .dusk_ms
            .unwrap_or(self.from_ms.saturating_add(LOOK_AGAIN_MS));
        north.max(east) <= SAME_PLACE_DEG && (self.from_ms..until).contains(&unix_ms)
    }
}
