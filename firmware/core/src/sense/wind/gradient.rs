//! Wind at 10 m from wind at the masthead.

use crate::instruments::Gradient;

/// Roughness of the open sea in metres: Davenport-Wieringa class "sea"
/// (Stull's table; EPA meteorological monitoring guidance 6.6.3).
pub const OPEN_SEA_ROUGHNESS_M: f64 = 0.0002;

/// The height that forecasts speak of.
pub const REFERENCE_M: f64 = 10.0;

/// Wind at 10 m over wind at `height_m`; none where the law says nothing.
pub fn to_ten_metres(law: Gradient, height_m: f64) -> Option<f64> {
    let factor = match law {
        Gradient::LogOpenSea => logarithmic(height_m, OPEN_SEA_ROUGHNESS_M),
        Gradient::Log(roughness_m) => logarithmic(height_m, roughness_m),
        Gradient::Power(exponent) => libm::pow(REFERENCE_M / height_m, exponent),
    };
    (factor.is_finite() && factor > 0.0 && height_m > 0.0).then_some(factor)
}

fn logarithmic(height_m: f64, roughness_m: f64) -> f64 {
    libm::log(REFERENCE_M / roughness_m) / libm::log(height_m / roughness_m)
}
