//! The recorder: everything that went into the core, so that it can be
//! judged again. Its format stands in [`cringle_engine::recording`], which
//! reads it.

mod disk;
mod files;
mod part;

pub use cringle_engine::recording::{lines, read};
pub use disk::{Packing, Recorder, RecorderState, Settings, WhenBehind, Writer};
