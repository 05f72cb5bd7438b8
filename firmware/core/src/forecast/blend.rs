//! Measured odds and a forecast's, joined so that a forecast can only bring a
//! call forward.
//!
//! Odds are multiplied, not averaged: that the wind does nothing yet and that
//! a front is due are two witnesses. The forecast multiplies the measured odds
//! by how much likelier it makes the passing than it usually is, at least by 1
//! and at most by [`MOST`]: it never lowers them, and a forecast alone, against
//! wind far under the limit, is not enough by itself.

/// Odds against 1 that a limit worth asking about is passed in the next hour,
/// where nothing is known. Common practice, no source.
const USUAL: f64 = 0.05 / 0.95;
/// A forecast multiplies odds by at most this.
const MOST: f64 = 100.0;

/// Joined odds, never less than those measured. `weight` from 0 to 1.
pub(super) fn blended(measured: f64, told: f64, weight: f64) -> f64 {
    if !(told > 0.0 && measured < 1.0) {
        return measured;
    }
    let likelier = (told / (1.0 - told).max(1e-9) / USUAL).clamp(1.0, MOST);
    let factor = libm::pow(likelier, weight.clamp(0.0, 1.0));
    let against = measured / (1.0 - measured) * factor;
    // Rounding must not lower it either.
    (against / (1.0 + against)).max(measured)
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
        // Measured 1 in 500, told as likely as not: 1 in 28, worked by hand.
        let joined = blended(0.002, 0.5, 1.0);
        assert!((joined - 0.0367).abs() < 0.0005, "{joined}");
    }
}
