//! The monitor's thin shell: ports, clock, recorder, state on disk, outputs
//! and commands. All judgement lives in `cringle-core`; this crate decides
//! nothing about wind or sail.

pub mod aboard;
pub mod clock;
pub mod engine;
pub mod events;
pub mod face;
pub mod names;
pub mod notify;
pub mod outputs;
pub mod picture;
pub mod ports;
pub mod recorder;
pub mod state;
pub mod store;
pub mod terminal;
pub mod watch;
pub mod wiring;
pub mod words;
