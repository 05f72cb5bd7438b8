//! Boat files: one TOML file describes the boat, her instruments, her sail
//! plans and her crew. Read here into the core's types, with every error of a
//! file named at once: file, line, key, what is wrong and how to mend it.
//!
//! The format is described in this crate's `README.md`.

mod example;
mod file;
mod forecast;
mod judge;
mod moment;
pub mod ports;
mod read;
mod settings;
mod times;
pub mod toml_file;

pub use example::{EXAMPLE_NAME, TEMPLATES, Template, example, example_text};
pub use file::{BoatFile, load, parse, parse_bytes};
pub use forecast::{parse_forecast, read_forecast, write_forecast};
pub use judge::judge;
pub use settings::{
    AlertSentences, Checksum, Hulls, Outputs, Page, PortSettings, Preference, Recorder, SendWhat,
    Sign, Transducer,
};
pub use times::{CallTimes, call_times};
pub use toml_file::{LoadError, Problem, Problems, Weight};
