//! Judges calls on wind that has blown: how often the crew would have been
//! warned in time, and what that would have cost in needless readiness.
//!
//! In: series of wind, or recordings made into series. Out: for each limit and
//! call time who was warned and what was idle, beside the fixed pre-alarm in
//! both its forms. The definitions stand in [`cells`]; a reference in Python
//! (`tests/reference/outlook/trial_reference.py`) follows the same ones.
//!
//! Each limit is tried as if it were the present rung's, with the crew on that
//! rung throughout. Read first: [`cells`], then [`curve`].

pub mod bounds;
pub mod calls;
pub mod cells;
pub mod csv;
pub mod curve;
mod draw;
pub mod heard;
pub mod ladder;
pub mod lines;
pub mod logistic;
// Generated.
#[rustfmt::skip]
mod logistic_fitted;
pub mod odds;
pub mod page;
pub mod reliability;
pub mod report;
pub mod series;
pub mod sweep;
pub mod table;

/// Knots in one metre a second; 1 kn is 1852 m an hour exactly.
pub const KN_PER_MS: f64 = 3600.0 / 1852.0;

/// Seconds in a day.
pub const DAY_S: f64 = 86_400.0;
