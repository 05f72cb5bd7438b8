//! Beaufort force of a wind in knots.

/// Least whole knots of forces 1 to 12, 10-minute mean at 10 m: WMO-No. 8,
/// table 5.1.
const LEAST_KNOTS: [f64; 12] = [
    1.0, 4.0, 7.0, 11.0, 17.0, 22.0, 28.0, 34.0, 41.0, 48.0, 56.0, 64.0,
];

/// The force. The table is in whole knots, so the wind is rounded first.
pub fn force(knots: f64) -> u8 {
    let whole = libm::round(knots);
    LEAST_KNOTS.iter().filter(|least| whole >= **least).count() as u8
}
