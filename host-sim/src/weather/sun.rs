//! Day or night, from date and position.
//!
//! The short NOAA series for declination and equation of time; good to about
//! two minutes, which is plenty for how fast a crew works in the dark. The
//! simulator keeps its own so that the one under test is not its own judge.

use crate::maths::{TURN, deg, rad};

/// Civil twilight ends with the sun this far under the horizon.
const CIVIL_TWILIGHT_DEG: f64 = -6.0;

/// Height of the sun's centre over the horizon, without refraction.
pub fn altitude_deg(unix_s: f64, latitude_deg: f64, longitude_deg: f64) -> f64 {
    let days = unix_s / 86_400.0;
    let hours = (days - libm::floor(days)) * 24.0;
    // Days since 2000-01-01 modulo a mean year: the series wants no better.
    let year_day = (days - 10_957.0) - 365.25 * libm::floor((days - 10_957.0) / 365.25);
    let y = TURN / 365.25 * year_day;
    let (sin1, cos1) = libm::sincos(y);
    let (sin2, cos2) = libm::sincos(2.0 * y);
    let (sin3, cos3) = libm::sincos(3.0 * y);
    let declination = 0.006_918 - 0.399_912 * cos1 + 0.070_257 * sin1 - 0.006_758 * cos2
        + 0.000_907 * sin2
        - 0.002_697 * cos3
        + 0.001_48 * sin3;
    let equation_min = 229.18
        * (0.000_075 + 0.001_868 * cos1 - 0.032_077 * sin1 - 0.014_615 * cos2 - 0.040_849 * sin2);
    let solar_hours = hours + longitude_deg / 15.0 + equation_min / 60.0;
    let hour_angle = rad((solar_hours - 12.0) * 15.0);
    let latitude = rad(latitude_deg);
    let sine = libm::sin(latitude) * libm::sin(declination)
        + libm::cos(latitude) * libm::cos(declination) * libm::cos(hour_angle);
    deg(libm::asin(sine.clamp(-1.0, 1.0)))
}

/// True once civil twilight is over.
pub fn is_dark(unix_s: f64, latitude_deg: f64, longitude_deg: f64) -> bool {
    altitude_deg(unix_s, latitude_deg, longitude_deg) < CIVIL_TWILIGHT_DEG
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn civil_dusk_comes_when_the_almanac_says() {
        // 50 N 4 W, 2026-06-21, civil dusk 21:13:40 UTC: worked out with the
        // ephem 4.2.1 package and an iterated Meeus series.
        let midnight = 1_782_000_000.0;
        let dusk = midnight + 21.0 * 3600.0 + 13.0 * 60.0 + 40.0;
        assert!(!is_dark(dusk - 240.0, 50.0, -4.0));
        assert!(is_dark(dusk + 240.0, 50.0, -4.0));
    }

    #[test]
    fn the_midnight_sun_never_sets() {
        let midnight = 1_782_000_000.0;
        for hour in 0..24 {
            assert!(!is_dark(midnight + f64::from(hour) * 3600.0, 70.0, 20.0));
        }
    }
}
