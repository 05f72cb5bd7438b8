//! Dusk and dawn anywhere and at any time: what is told is a crossing, it is
//! the next one, and none is left out.

use cringle_core::sun::{height_deg, light, next_dawn, next_dusk};
use cringle_core::units::Position;
use cringle_core::view::Light;
use proptest::prelude::*;

const HOUR_MS: i64 = 3_600_000;

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn the_next_dusk_is_where_day_first_turns_to_night(
        latitude in -90.0..=90.0_f64,
        longitude in -180.0..=180.0_f64,
        unix_s in 1_600_000_000..2_200_000_000_i64,
    ) {
        let here = Position::new(latitude, longitude).unwrap();
        let from = unix_s * 1000;
        let is_day = |ms| light(Some(here), Some(ms)) == Light::Day;
        let until = match next_dusk(here, from) {
            Some(dusk) => {
                prop_assert!(dusk > from && dusk <= from + 37 * HOUR_MS);
                prop_assert!(is_day(dusk - 1000) && !is_day(dusk + 1000));
                dusk
            }
            None => from + 24 * HOUR_MS,
        };
        // Before it there is no other: day never turns to night by more than
        // a grazing hundredth of a degree.
        let mut was_day = is_day(from);
        let mut at = from;
        while at + HOUR_MS / 6 < until {
            at += HOUR_MS / 6;
            let day = is_day(at);
            let is_grazing = (height_deg(here, at) + 6.0).abs() < 0.01;
            prop_assert!(!was_day || day || is_grazing, "night at {at}, dusk {until}");
            was_day = day;
        }
    }

    #[test]
    fn where_there_is_a_dusk_and_a_dawn_they_take_turns(
        latitude in -60.0..=60.0_f64,
        longitude in -180.0..=180.0_f64,
        unix_s in 1_600_000_000..2_200_000_000_i64,
    ) {
        let here = Position::new(latitude, longitude).unwrap();
        let dusk = next_dusk(here, unix_s * 1000);
        let dawn = dusk.and_then(|dusk| next_dawn(here, dusk));
        let (Some(dusk), Some(dawn)) = (dusk, dawn) else {
            return Err(TestCaseError::fail("no dusk or dawn within 60 degrees"));
        };
        prop_assert!(dawn > dusk && dawn - dusk < 24 * HOUR_MS);
    }
}
