//! Judges calls on wind that has blown: how often the crew would have been
//! warned in time, and what that would have cost in needless readiness.
//!
//! In: series of wind, or recordings made into series. Out, for each limit and
//! call time: who was warned and what was idle, by sweeping the odds beside the
//! fixed pre-alarm in both its forms, and, on series of a minute, what became
//! of the calls that the engine raised when the series was played into it.
//!
//! Each limit is tried as if it were the present rung's, with the crew on that
//! rung throughout. Read first: [`judged`], which holds all definitions, then
//! [`curve`] and [`aboard`].

pub mod aboard;
pub mod alarm;
pub mod bounds;
pub mod csv;
pub mod curve;
mod draw;
pub mod heard;
pub mod judged;
pub mod ladder;
pub mod lines;
pub mod odds;
pub mod page;
pub mod reliability;
pub mod report;
pub mod series;
pub mod table;
pub mod tally;
pub mod truth;

/// Knots in one metre a second; 1 kn is 1852 m an hour exactly.
pub const KN_PER_MS: f64 = 3600.0 / 1852.0;

/// Seconds in a day.
pub const DAY_S: f64 = 86_400.0;
