//! Measured odds and a forecast's, joined so that a forecast can only bring a
//! call forward.
//!
//! Two ways, and both can only add. Measured odds are multiplied by how much
//! likelier the forecast makes the passing than it usually is: a wind that has
//! begun to stir when a front is due calls sooner. And the forecast by itself
//! is believed for a part of its odds: a sharp front shows in no wind before
//! it. That part was chosen on invented weather (15 days of the fronts of
//! `tests/tests/forecast/table.rs`, seeds 0 to 14): with 0.3 of its odds an
//! exact forecast warned of 0.40 of the crossings for 65 idle minutes a day,
//! with 0.6 of 0.60 for 80, with all of 0.73 for 101 (none: 0.13 for 58); the
//! worst wrong one cost 132, 175 and 268. That table judges on other days.

/// Odds against 1 that a limit worth asking about is passed in the next hour,
/// where nothing is known. Common practice, no source.
const USUAL: f64 = 0.05 / 0.95;
/// A forecast multiplies odds by at most this.
const MOST: f64 = 100.0;
/// The part of its odds for which a forecast is believed by itself.
const BELIEVED: f64 = 0.5;

/// Joined odds, never less than those measured. `weight` from 0 to 1.
pub(super) fn blended(measured: f64, told: f64, weight: f64) -> f64 {
    if !(told > 0.0 && measured < 1.0) {
        return measured;
    }
    let likelier = (told / (1.0 - told).max(1e-9) / USUAL).clamp(1.0, MOST);
    let weight = weight.clamp(0.0, 1.0);
    let against = measured / (1.0 - measured) * libm::pow(likelier, weight);
    let stirred = against / (1.0 + against);
    let by_itself = BELIEVED * weight * told.min(1.0);
    // Rounding must not lower it either.
    (1.0 - (1.0 - stirred) * (1.0 - by_itself)).max(measured)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_are_never_lowered_and_grow_with_what_is_told() {
        let steps = || (0..=50).map(|step| f64::from(step) / 50.0);
        for measured in steps() {
            for weight in steps() {
                let mut before = measured;
                for told in steps() {
                    let joined = blended(measured, told, weight);
                    assert!(
                        joined >= before && joined <= 1.0,
                        "{measured} {told} {weight}"
                    );
                    before = joined;
                }
            }
        }
    }

    #[test]
    fn nothing_told_or_no_weight_changes_nothing() {
        assert_eq!(blended(0.03, 0.0, 1.0), 0.03);
        assert_eq!(blended(0.03, f64::NAN, 1.0), 0.03);
        assert!((blended(0.03, 0.9, 0.0) - 0.03).abs() < 1e-15);
    }

    #[test]
    fn a_front_that_is_due_calls_while_the_wind_is_still_quiet() {
        // Measured 1 in 500, told as likely as not: 19 times as much against
        // it, 0.0367, and a quarter of what is left; worked by hand.
        let joined = blended(0.002, 0.5, 1.0);
        assert!((joined - 0.2775).abs() < 0.0005, "{joined}");
    }
}
