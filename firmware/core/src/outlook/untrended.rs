//! Fitted numbers of a level without trend. Generated, do not edit:
//! `python tests/reference/outlook/fit_plain.py`.
//!
//! On: PyPI `openoa==3.2`, `examples/data/la_haute_borne.zip`,
//! four turbines, 2014 only (La Haute Borne open data, ENGIE, Etalab Open
//! Licence 2.0).

/// Log-odds: intercept, gap, gap squared, log of minutes over 10, its product
/// with the gap. The gap is 1 less level over limit.
pub(super) const LOG_ODDS: [f64; 5] = [
    -1.708997,
    -16.263901,
    -7.523643,
    0.737495,
    2.798233,
];
