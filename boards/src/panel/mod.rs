//! Panels: a frame goes in, and either it is on the glass or there is a fault.
//!
//! [`Kept`] holds any [`Chip`] and does what all panels need: sends only what
//! changed, starts the chip again at set times and after every bus error, and
//! leaves a dead bus alone for a while. The chips themselves are driven by
//! their crates ([`oled`], [`tft`], [`paper`]).
//!
//! A panel keeps its last picture when its cable or this program dies. So a
//! fault is returned from every [`Panel::show`] until a frame is really sent,
//! for the other screens and the buzzer to tell; and see the wiring sheets.

mod kept;
mod notes;
pub mod oled;
pub mod open;
mod panel_thread;
pub mod paper;
mod redraw_limits;
pub mod tft;

use cringle_core::time::Timestamp;
use embedded_graphics::primitives::Rectangle;

use crate::frame::{Frame, Geometry};

pub use kept::{Chip, Kept, Opener};
pub use notes::{Noted, Notes};
pub use panel_thread::PanelThread;
pub use redraw_limits::{Redraw, RedrawLimits};

/// Anything that shows frames.
pub trait Panel: Send {
    /// The size and depth of frame it takes.
    fn geometry(&self) -> Geometry;

    /// Brings the frame to the glass as far as its limits allow. Blocks.
    fn show(&mut self, frame: &Frame, haste: Haste, now: Timestamp) -> Result<Shown, PanelFault>;

    /// How bright from the next frame on. Paper has no lamp.
    fn set_brightness(&mut self, brightness: Brightness);

    /// When to call [`Panel::show`] again though nothing changed: a deferred
    /// frame, a retry, or the regular fresh start.
    fn next_deadline(&self) -> Option<Timestamp>;

    /// Bytes put on the bus since it was made, starts included.
    fn bytes_sent(&self) -> u64;
}

/// How soon a frame matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Haste {
    /// Numbers moved.
    Routine,
    /// A call, a fault or a key press: paper turns at once.
    Call,
    /// The same, after a fresh start of the chip: wipes what paper has kept of
    /// older pictures.
    Whole,
}

/// What became of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// The glass already shows it.
    Unchanged,
    /// It is on the glass now.
    Sent {
        /// Bytes that went over the bus for it.
        bytes: u64,
        /// Whether all of it was sent, after a fresh start of the chip.
        redraw: Redraw,
    },
    /// Paper is resting: offer it again then. What it shows is old until then.
    Deferred {
        /// The moment it may turn again.
        until: Timestamp,
    },
}

/// Brightness in percent, never out of range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Brightness(u8);

impl Brightness {
    /// As bright as it goes.
    pub const FULL: Brightness = Brightness(100);

    /// From percent; more than 100 is 100.
    pub const fn percent(percent: u8) -> Self {
        Brightness(if percent > 100 { 100 } else { percent })
    }

    /// Percent, 0 to 100.
    pub const fn as_percent(self) -> u8 {
        self.0
    }
}

/// Why the glass does not show the frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PanelFault {
    /// The device node or a line could not be opened.
    Open {
        /// The device node of the board file.
        node: String,
        /// What the system said.
        why: String,
    },
    /// The bus gave an error, or the chip did not answer as it must.
    Bus {
        /// The device node of the board file.
        node: String,
        /// What the bus or the chip did.
        why: String,
    },
    /// The frame is not of this panel's size or depth.
    Frame {
        /// What the panel takes.
        wanted: Geometry,
        /// What it was given.
        given: Geometry,
    },
}

impl core::fmt::Display for PanelFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            PanelFault::Open { node, why } => write!(f, "panel on {node} cannot be opened: {why}"),
            PanelFault::Bus { node, why } => write!(f, "panel on {node} does not answer: {why}"),
            PanelFault::Frame { wanted, given } => {
                write!(f, "panel takes a {wanted} frame and was given {given}")
            }
        }
    }
}

impl std::error::Error for PanelFault {}

/// The areas to send and the frames they come from.
#[derive(Clone, Copy, Debug)]
pub struct Change<'a> {
    /// What the glass shows now.
    pub old: &'a Frame,
    /// What it is to show.
    pub new: &'a Frame,
    /// Where they differ.
    pub areas: &'a [Rectangle],
}
