//! Fitted numbers of the logistic reference. Generated, do not edit:
//! `python tests/reference/outlook/fit_plain.py`.
//!
//! On: PyPI `openoa==3.2`, `examples/data/la_haute_borne.zip`,
//! four turbines, 2014 only (La Haute Borne open data, ENGIE, Etalab Open
//! Licence 2.0).

/// Intercept, gap, gap squared, rise10m, rise30m,
/// over_mean1h, over_mean3h, over_mean24h, sd1h, sd3h (all over the limit),
/// log of the call time over 10 min, its product with the gap.
pub(super) const WEIGHTS: [f64; 12] = [
    -1.598950,
    -16.040700,
    -5.226105,
    3.761963,
    0.230765,
    -1.869884,
    -2.219548,
    -0.862548,
    4.891062,
    3.063462,
    0.503067,
    1.914463,
];
