//! The monitor's thin shell: ports, clock, recorder, state on disk, outputs
//! and commands. All judgement lives in `cringle-core`; this crate decides
//! nothing about wind or sail.

pub mod clock;
pub mod events;
pub mod names;
pub mod ports;
pub mod recorder;
pub mod words;
