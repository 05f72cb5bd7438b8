//! The instrument's judgement, apart from any wire, screen or clock.
//!
//! Readings and time go in, a [`watch::Watch`] turns them into a picture of
//! wind and load and the minutes left, and events come out. Nothing here
//! allocates, does I/O or asks what time it is, so the same code runs aboard,
//! in replay, in the simulator and in hindcasts, and gives the same answers.
//!
//! Sign conventions: angles off the bow and rudder are positive to starboard,
//! heel is positive with the starboard side down, pitch with the bow up,
//! variation and deviation are positive to the east. Wind is named for where
//! it blows *from*.
#![no_std]

#[cfg(test)]
extern crate std;

pub mod act;
pub mod ahead;
pub mod angle;
pub mod bill;
pub mod boat;
pub mod call;
pub mod event;
pub mod forecast;
pub mod ladder;
pub mod moment;
pub mod outlook;
pub mod sense;
pub mod sun;
pub mod text;
pub mod time;
pub mod units;
pub mod view;
pub mod watch;

pub use sense::{fault, instruments, picture, reading, sources, stats, wind};
