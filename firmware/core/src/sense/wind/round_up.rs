//! What the crew would meet if they came up.
//!
//! Off the wind the boat runs away from it, and the apparent wind hides how
//! much there is. Reefing may need her to come up; then all of it is there.

use crate::angle::{atan2_deg, cos_deg};

use super::Vector;
use super::triangle::apparent_wind;

/// A close reach, by true wind: just free enough to work on the main.
/// Common practice, no source.
pub const CLOSE_REACH_TWA_DEG: f64 = 60.0;

/// Boat speed on a close reach over boat speed before, off the wind. Worked
/// examples in the trade run from 0.76 to 0.85; the higher is the safe side.
pub const SPEED_KEPT: f64 = 0.85;

/// Coming up means little while she is already about there.
pub const OFF_THE_WIND_TWA_DEG: f64 = 75.0;

/// How fast the heeling lever falls with heel: cos^1.3, as in the UK Large
/// Commercial Yacht Code 11.2.2.
const LEVER_EXPONENT: f64 = 1.3;

/// Heel is not told beyond this: no formula holds there.
const MOST_HEEL_DEG: f64 = 60.0;

/// Apparent wind on a close reach in this true wind.
pub fn round_up_kn(tws_kn: f64, stw_now_kn: f64) -> f64 {
    let water = Vector {
        x: stw_now_kn.max(0.0) * SPEED_KEPT,
        y: 0.0,
    };
    apparent_wind(Vector::polar(tws_kn, CLOSE_REACH_TWA_DEG), water).speed()
}

/// Heel in apparent wind `aws_kn`, by the stiffness
/// of [`upright_stiffness`]; the lever falls as she heels.
pub fn heel_in(stiffness: f64, aws_kn: f64) -> f64 {
    let upright = stiffness * aws_kn * aws_kn;
    // The left side grows and the right side falls with heel: one crossing.
    let (mut low, mut high) = (0.0, MOST_HEEL_DEG);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if middle < upright * lever(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Stiffness with the falling lever taken out: degrees of heel a kn^2 of
/// apparent wind would give if the lever stayed as when upright.
pub fn upright_stiffness(heel_deg: f64, aws_kn: f64) -> Option<f64> {
    let force = aws_kn * aws_kn * lever(heel_deg);
    (force > 0.0).then(|| heel_deg.abs() / force)
}

/// AWA on that close reach, off the bow.
pub fn round_up_awa_deg(tws_kn: f64, stw_now_kn: f64) -> f64 {
    let wind = Vector::polar(tws_kn, CLOSE_REACH_TWA_DEG);
    atan2_deg(wind.y, wind.x + stw_now_kn.max(0.0) * SPEED_KEPT)
}

fn lever(heel_deg: f64) -> f64 {
    libm::pow(cos_deg(heel_deg.abs().min(MOST_HEEL_DEG)), LEVER_EXPONENT)
}
