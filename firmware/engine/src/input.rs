//! What goes into the core, whoever brings it.

use cringle_core::act::Act;
use cringle_core::forecast::Table;
use cringle_core::reading::Reading;
use cringle_core::time::UtcFix;
use cringle_core::watch::Saved;

use crate::PortId;

/// One thing that went in.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// A line.
    Line(PortId, Vec<u8>),
    /// A quantity that needs no decoding.
    Reading(Reading),
    /// An act of the crew.
    Act(Act),
    /// A moment of UTC.
    Utc(UtcFix),
    /// Another forecast of the skipper, or none any more.
    Forecast(Box<Option<Table>>),
    /// What was saved before: the watch begins with it.
    State(Box<Saved>),
    /// Time went on.
    Tick,
}
