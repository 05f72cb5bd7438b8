//! The hardware around the instrument: panels, keys, sounders and the files
//! that say how a board is wired.
//!
//! What can be decided without hardware is a plain value that is stepped with
//! the time ([`panel::RedrawLimits`], [`key::Debounce`]) and tested as such. The panel drivers are other people's crates, tested here on fake
//! buses. What remains, the thin part that touches `/dev/gpiochip*`, is in
//! [`gpio`]: it has no test, because a desk has no such lines.
//!
//! Everything here blocks: an e-paper panel takes two to three seconds to
//! turn. Call it from a thread of its own, never from the loop that hears the
//! wind.

pub mod backoff;
pub mod board;
pub mod frame;
pub mod gpio;
pub mod key;
pub mod panel;
pub mod sound;
