//! A screen with its keys, whatever it is made of.

use cringle_core::act::Act;
use cringle_core::forecast::Table;
use cringle_core::view::View;
use cringle_screen::ui::{Key, Press};

use crate::aboard::Aboard;
pub use crate::receipt::Receipt;

/// Shows the picture and turns keys into acts.
pub trait Face {
    /// Shows this moment.
    fn show(&mut self, view: &View, aboard: &Aboard);

    /// Takes a key; those meant for another face come to nothing.
    fn take(&mut self, input: Input, view: &View) -> Stroke;

    /// What is wrong with its own devices, for the others to show.
    fn faults(&self) -> Vec<String> {
        Vec::new()
    }
}

/// Something that a person did.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// Pressed a key of the keyboard.
    Character(char),
    /// Pressed a key of the board.
    Key(Key, Press),
    /// Did something that needs no screen.
    Act(Act),
    /// Entered another forecast, or took it away.
    Forecast(Option<Box<Table>>),
    /// Wants to know when what came before is on the disk.
    Kept(Receipt),
    /// Wound the clock on, where it is wound by hand.
    Wound,
}

/// What came of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stroke {
    /// Nothing that concerns the watch.
    Nothing,
    /// The crew did something.
    Act(Act),
    /// The program is to end.
    Quit,
}
