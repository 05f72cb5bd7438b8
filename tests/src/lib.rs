//! What the whole-program tests share: recorded inputs and snapshots.

pub mod net;
pub mod packed;
pub mod snapshot;
