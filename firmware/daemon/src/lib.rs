//! The monitor's thin shell: ports, clock, recorder, state on disk, outputs
//! and commands. All judgement lives in `cringle-core`; this crate decides
//! nothing about wind or sail.

pub mod aboard;
pub mod answer;
pub mod before;
pub mod board_io;
pub mod boatfile;
pub mod clock;
pub mod commands;
pub mod demo;
pub mod disk;
pub mod events;
pub mod face;
pub mod forecast;
pub mod notify;
pub mod outputs;
pub mod page;
pub mod picture;
pub mod ports;
pub mod progress;
pub mod pulse;
pub mod receipt;
pub mod recorder;
pub mod store;
pub mod terminal;
pub mod voice;
pub mod watch;
pub mod wiring;

pub use cringle_engine::{engine, names, replay, state, words};
