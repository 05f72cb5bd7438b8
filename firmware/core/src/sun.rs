//! Daylight from position and UTC: how high the sun stands, and when civil
//! twilight begins and ends next.
//!
//! Declination and equation of time by Meeus' low-precision series
//! (Astronomical Algorithms, ch. 25 and 28, in the form of the NOAA solar
//! spreadsheet), taken at the very moment asked for. An event is found by
//! looking along the sun's height and halving in on the crossing, so nothing
//! special happens near the poles: where the sun does not cross, there is no
//! event.

use crate::angle::{cos_deg, degrees, radians, sin_deg, wrap_180, wrap_360};
use crate::units::Position;
use crate::view::Light;

/// Height of the sun's centre at which civil twilight ends: zenith 96.
/// Almanac for Computers 1990.
const CIVIL_DEG: f64 = -6.0;
/// Height of the sun's centre at sunrise and sunset, its half width and the
/// usual refraction taken off: zenith 90.833 (NOAA).
const HORIZON_DEG: f64 = -0.833;

/// How far ahead an event is looked for: a day and the drift of a day.
const AHEAD_MS: i64 = 25 * 60 * 60 * 1000;
/// Halvings of half a day until a third of a second is left.
const HALVINGS: u32 = 17;

/// Day or night at a place; unknown where place or time is.
pub fn light(position: Option<Position>, unix_ms: Option<i64>) -> Light {
    let (Some(position), Some(unix_ms)) = (position, unix_ms) else {
        return Light::Unknown;
    };
    if height_deg(position, unix_ms) >= CIVIL_DEG {
        Light::Day
    } else {
        Light::Night
    }
}

/// When civil twilight next ends in the evening, in Unix milliseconds; none
/// within the coming day in polar summer and winter.
pub fn next_dusk(position: Position, unix_ms: i64) -> Option<i64> {
    next_crossing(position, unix_ms, CIVIL_DEG, Sense::Sinks)
}

/// When civil twilight next begins in the morning.
pub fn next_dawn(position: Position, unix_ms: i64) -> Option<i64> {
    next_crossing(position, unix_ms, CIVIL_DEG, Sense::Rises)
}

/// When the sun next sets.
pub fn next_sunset(position: Position, unix_ms: i64) -> Option<i64> {
    next_crossing(position, unix_ms, HORIZON_DEG, Sense::Sinks)
}

/// When the sun next rises.
pub fn next_sunrise(position: Position, unix_ms: i64) -> Option<i64> {
    next_crossing(position, unix_ms, HORIZON_DEG, Sense::Rises)
}

/// Height of the sun's centre over the horizon, refraction left out.
pub fn height_deg(position: Position, unix_ms: i64) -> f64 {
    let sun = Sun::at(unix_ms);
    let latitude = position.latitude();
    let hour_angle = sun.hour_angle_deg(position, unix_ms);
    let sine = sin_deg(latitude) * sin_deg(sun.declination_deg)
        + cos_deg(latitude) * cos_deg(sun.declination_deg) * cos_deg(hour_angle);
    degrees(libm::asin(sine.clamp(-1.0, 1.0)))
}

const DAY_MS: i64 = 86_400_000;
/// Julian date of the Unix epoch.
const UNIX_JULIAN: f64 = 2_440_587.5;
/// Julian date of the epoch of the series, 2000-01-01 12:00.
const J2000: f64 = 2_451_545.0;

/// Which way the sun crosses a height.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sense {
    Rises,
    Sinks,
}

fn next_crossing(position: Position, unix_ms: i64, height: f64, sense: Sense) -> Option<i64> {
    // True before the crossing, not after.
    let before = |at: i64| match sense {
        Sense::Sinks => height_deg(position, at) >= height,
        Sense::Rises => height_deg(position, at) < height,
    };
    let end = unix_ms.saturating_add(AHEAD_MS);
    let mut early = unix_ms;
    while early < end {
        let late = early.saturating_add(to_turn_ms(position, early));
        if before(early) && !before(late) {
            return Some(halve(early, late, before));
        }
        early = late;
    }
    None
}

/// Milliseconds until the sun is next at its highest or its lowest, and a
/// little more, so that asking again there looks at the stretch after.
fn to_turn_ms(position: Position, unix_ms: i64) -> i64 {
    /// Milliseconds in which the hour angle grows by one degree.
    const DEGREE_MS: f64 = 240_000.0;
    let hour_angle = Sun::at(unix_ms).hour_angle_deg(position, unix_ms);
    let left = if hour_angle < 0.0 {
        -hour_angle
    } else {
        180.0 - hour_angle
    };
    (left * DEGREE_MS) as i64 + 1000
}

fn halve(mut early: i64, mut late: i64, before: impl Fn(i64) -> bool) -> i64 {
    for _ in 0..HALVINGS {
        let middle = early + (late - early) / 2;
        if before(middle) {
            early = middle;
        } else {
            late = middle;
        }
    }
    late
}

/// Where the sun is, for everybody on Earth.
struct Sun {
    declination_deg: f64,
    /// Apparent less mean solar time.
    equation_min: f64,
}

impl Sun {
    /// The sun's angle west of the meridian of a place, -180 to 180.
    fn hour_angle_deg(&self, position: Position, unix_ms: i64) -> f64 {
        let minutes = unix_ms.rem_euclid(DAY_MS) as f64 / 60_000.0;
        let solar_minutes = minutes + self.equation_min + 4.0 * position.longitude();
        wrap_180(solar_minutes / 4.0 - 180.0)
    }

    fn at(unix_ms: i64) -> Self {
        let julian = unix_ms as f64 / DAY_MS as f64 + UNIX_JULIAN;
        let t = (julian - J2000) / 36_525.0;
        let mean_longitude = wrap_360(280.466_46 + t * (36_000.769_83 + t * 0.000_303_2));
        let anomaly = 357.529_11 + t * (35_999.050_29 - t * 0.000_153_7);
        let eccentricity = 0.016_708_634 - t * (0.000_042_037 + t * 0.000_000_126_7);
        let centre = sin_deg(anomaly) * (1.914_602 - t * (0.004_817 + t * 0.000_014))
            + sin_deg(2.0 * anomaly) * (0.019_993 - t * 0.000_101)
            + sin_deg(3.0 * anomaly) * 0.000_289;
        let node = 125.04 - 1934.136 * t;
        let longitude = mean_longitude + centre - 0.005_69 - 0.004_78 * sin_deg(node);
        let seconds = 21.448 - t * (46.815 + t * (0.000_59 - t * 0.001_813));
        let obliquity = 23.0 + (26.0 + seconds / 60.0) / 60.0 + 0.002_56 * cos_deg(node);
        let tan_half = libm::tan(radians(obliquity / 2.0));
        let y = tan_half * tan_half;
        let e = eccentricity;
        let equation = y * sin_deg(2.0 * mean_longitude) - 2.0 * e * sin_deg(anomaly)
            + 4.0 * e * y * sin_deg(anomaly) * cos_deg(2.0 * mean_longitude)
            - 0.5 * y * y * sin_deg(4.0 * mean_longitude)
            - 1.25 * e * e * sin_deg(2.0 * anomaly);
        Sun {
            declination_deg: degrees(libm::asin(sin_deg(obliquity) * sin_deg(longitude))),
            equation_min: 4.0 * degrees(equation),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Unix milliseconds of a UTC moment (days by the Gregorian calendar).
    fn utc(year: i64, month: i64, day: i64, clock: &str) -> i64 {
        let years = if month <= 2 { year - 1 } else { year };
        let from_march = (month + 9) % 12;
        let day_of_year = (153 * from_march + 2) / 5 + day - 1;
        let days = 365 * years + years / 4 - years / 100 + years / 400 + day_of_year - 719_468;
        let mut seconds = 0;
        for part in clock.split(':') {
            seconds = seconds * 60 + part.parse::<i64>().unwrap();
        }
        (days * 86_400 + seconds) * 1000
    }

    fn place(latitude: f64, longitude: f64) -> Position {
        Position::new(latitude, longitude).unwrap()
    }

    #[track_caller]
    fn within_a_minute(found: Option<i64>, expected: i64, what: &str) {
        let off = found.unwrap_or_else(|| panic!("no {what}")) - expected;
        assert!(off.abs() <= 60_000, "{what} is {off} ms off");
    }

    /// Meeus iterated, equal to ephem 4.2.1 to 2 s: the project's table of
    /// check values.
    #[test]
    fn rise_set_dawn_and_dusk_agree_with_the_table() {
        for (at, before, day, dawn, rise, set, dusk) in [
            (
                (50.0, -4.0),
                (2026, 6, 21),
                (2026, 6, 21),
                "03:21:59",
                "04:06:40",
                "20:28:59",
                "21:13:40",
            ),
            (
                (38.5, -28.6),
                (2026, 3, 20),
                (2026, 3, 20),
                "07:31:34",
                "07:57:58",
                "20:06:17",
                "20:32:45",
            ),
            (
                (58.0, -6.0),
                (2026, 11, 25),
                (2026, 11, 25),
                "07:44:12",
                "08:32:05",
                "15:49:21",
                "16:37:12",
            ),
            // Here the local day begins on the UTC day before.
            (
                (-43.0, 147.0),
                (2026, 12, 20),
                (2026, 12, 21),
                "17:53:30",
                "18:28:54",
                "09:50:52",
                "10:26:16",
            ),
        ] {
            let here = place(at.0, at.1);
            let (y, m, d) = before;
            let from = utc(y, m, d, if at.1 > 100.0 { "12:00:00" } else { "00:00:00" });
            within_a_minute(next_dawn(here, from), utc(y, m, d, dawn), "dawn");
            within_a_minute(next_sunrise(here, from), utc(y, m, d, rise), "rise");
            let (y, m, d) = day;
            within_a_minute(next_sunset(here, from), utc(y, m, d, set), "set");
            within_a_minute(next_dusk(here, from), utc(y, m, d, dusk), "dusk");
        }
    }

    /// ephem 4.2.1, horizon -6, centre of the sun, no pressure.
    #[test]
    fn twilight_in_high_latitudes_agrees_with_an_almanac() {
        for (at, (y, m, d), dawn, dusk) in [
            ((70.0, 20.0), (2026, 12, 21), "08:34:23", "12:41:40"),
            ((78.0, 15.0), (2026, 10, 25), "06:43:12", "14:42:26"),
            ((-67.0, 140.0), (2026, 6, 21), "23:49:24", "05:34:16"),
            ((-77.85, 166.67), (2026, 4, 20), "20:41:17", "05:07:49"),
            ((65.0, 25.0), (2026, 5, 5), "00:09:58", "20:28:22"),
        ] {
            let here = place(at.0, at.1);
            let from = utc(y, m, d, "00:00:00");
            within_a_minute(next_dawn(here, from), utc(y, m, d, dawn), "dawn");
            within_a_minute(next_dusk(here, from), utc(y, m, d, dusk), "dusk");
        }
    }

    #[test]
    fn the_midnight_sun_and_the_polar_night_have_no_dusk() {
        let summer = utc(2026, 6, 21, "00:00:00");
        let winter = utc(2026, 12, 21, "00:00:00");
        let tromso = place(70.0, 20.0);
        assert_eq!(next_dusk(tromso, summer), None);
        assert_eq!(next_sunset(tromso, summer), None);
        assert_eq!(light(Some(tromso), Some(summer)), Light::Day);
        let svalbard = place(80.0, 15.0);
        assert_eq!(next_dawn(svalbard, winter), None);
        assert_eq!(
            light(Some(svalbard), Some(winter + DAY_MS / 2)),
            Light::Night
        );
        // The sun stays below the horizon, yet noon is civil twilight.
        assert_eq!(next_sunrise(tromso, winter), None);
        let noon = utc(2026, 12, 21, "10:38:00");
        assert_eq!(light(Some(tromso), Some(noon)), Light::Day);
        for latitude in [90.0, -90.0] {
            let pole = place(latitude, 0.0);
            assert!(height_deg(pole, summer).is_finite());
            assert_eq!(next_dusk(pole, summer), None);
        }
    }

    #[test]
    fn light_turns_to_night_at_dusk_and_back_at_dawn() {
        let here = place(58.0, -6.0);
        let from = utc(2026, 11, 25, "12:00:00");
        let dusk = next_dusk(here, from).unwrap();
        let dawn = next_dawn(here, dusk).unwrap();
        let at = |ms| light(Some(here), Some(ms));
        assert_eq!(
            [at(dusk - 1000), at(dusk + 1000)],
            [Light::Day, Light::Night]
        );
        assert_eq!(
            [at(dawn - 1000), at(dawn + 1000)],
            [Light::Night, Light::Day]
        );
    }

    #[test]
    fn without_position_or_time_the_light_is_unknown() {
        assert_eq!(light(None, Some(0)), Light::Unknown);
        assert_eq!(light(Some(place(50.0, 0.0)), None), Light::Unknown);
    }

    #[test]
    fn absurd_times_give_finite_heights_and_end() {
        let here = place(50.0, 0.0);
        for ms in [i64::MIN, i64::MIN / 2, -1, 0, i64::MAX / 2, i64::MAX] {
            assert!(height_deg(here, ms).is_finite());
            let _ = next_dusk(here, ms);
        }
    }
}
