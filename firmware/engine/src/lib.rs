//! The only driver of lines, acts and time through the core to events.
//!
//! Live, replay, strips of pictures, the closed loop of the simulator and
//! hindcasts differ only in where their inputs come from: a port, a recording,
//! a passage, a series of wind. All of them give these to one
//! [`engine::Engine`], and so see the same events for the same inputs.
//!
//! Beside it stands what an input is and how it is read back: recordings and
//! foreign logs, the words and names in them, the saved state, the decoders
//! that a boat file asks for. Nothing here looks at a clock or opens a port.

pub mod decoders;
pub mod engine;
pub mod input;
pub mod names;
pub mod player;
pub mod recording;
pub mod replay;
pub mod state;
pub mod unpack;
pub mod words;

/// A port's place in the list of ports, as it is in source ids.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PortId(pub u8);
