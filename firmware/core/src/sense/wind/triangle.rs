//! The wind triangle: apparent less the boat's own velocity is true.

use super::Vector;
use super::vector::Turn;

/// The boat's velocity through the water, in boat axes: the log reads the
/// part along the keel, leeway adds the part across.
pub fn through_water(stw_kn: f64, leeway_deg: f64) -> Vector {
    let slope = if leeway_deg == 0.0 {
        0.0
    } else {
        libm::tan(crate::angle::radians(leeway_deg))
    };
    Vector {
        x: stw_kn,
        y: stw_kn * slope,
    }
}

/// True wind over the water in boat axes: what drives the sails.
pub fn true_wind(apparent: Vector, water_velocity: Vector) -> Vector {
    apparent - water_velocity
}

/// Wind over the ground in compass axes: what weather reports speak of. It
/// differs from the true wind by the current. `heading` is a turn by the true
/// heading.
pub fn ground_wind(apparent: Vector, heading: Turn, ground_velocity: Vector) -> Vector {
    apparent.turned_by(heading) - ground_velocity
}

/// The apparent wind that a true wind makes aboard a moving boat.
pub fn apparent_wind(true_wind: Vector, water_velocity: Vector) -> Vector {
    true_wind + water_velocity
}
