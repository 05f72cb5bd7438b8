//! Raises, keeps, escalates and rests the call.
//!
//! [`judge`] says what the figures of one moment ask for, [`hold`] keeps that
//! from chattering, and [`life`] gives the standing call its alert's life:
//! unacknowledged, silenced, acknowledged, raised again when things worsen,
//! over but unanswered; and says what should sound where.

pub mod hold;
pub mod judge;
pub mod life;
