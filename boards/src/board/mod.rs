//! The board file: what is wired where. Data, so that a fitter changes a pin
//! or a panel without compiling anything.

mod legible;
mod line;
mod missing;
mod parse;

use std::path::PathBuf;

use cringle_boat::Problems;

use crate::frame::Geometry;
use crate::gpio::KeyLine;
use crate::key::KeyName;
use crate::panel::tft::{GlassWiring, Inversion, Order};
use crate::panel::{oled, paper, tft};

pub use legible::{Legibility, SMALLEST_ARC_MINUTES};
pub use line::{Active, LineName, Pull};
pub use missing::{Account, Missing, missing, missing_for};

/// The boards that are known by name, and their files.
pub const SHIPPED: &[(&str, &str)] = &[
    (
        "chart-table-paper",
        include_str!("../../chart-table-paper/board.toml"),
    ),
    (
        "cockpit-colour",
        include_str!("../../cockpit-colour/board.toml"),
    ),
    (
        "cockpit-oled",
        include_str!("../../cockpit-oled/board.toml"),
    ),
];

/// All that a board file says.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardFile {
    /// What to call the board.
    pub name: String,
    /// The panel, if it has one.
    pub panel: Option<PanelSpec>,
    /// The keys, in the order of the file.
    pub keys: Vec<(KeyName, KeyLine)>,
    /// Buzzer, bunk sounder and beacon.
    pub sounders: Vec<SounderSpec>,
    /// Serial ports of the listeners that are part of the board.
    pub serial: Vec<SerialSpec>,
}

/// A panel: its chip, its bus and its glass.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelSpec {
    /// The chip and how it is wired.
    pub chip: ChipSpec,
    /// The device node of its bus.
    pub bus: PathBuf,
    /// Which way up it is mounted.
    pub turn: Mounting,
    /// Size of the lit glass or the sheet and how far away it is read.
    pub legibility: Legibility,
}

impl PanelSpec {
    /// Size and depth of its frames.
    pub fn geometry(&self) -> Geometry {
        match self.chip {
            ChipSpec::Oled { .. } => oled::GEOMETRY,
            ChipSpec::Tft { .. } => tft::GEOMETRY,
            ChipSpec::Paper { .. } => paper::GEOMETRY,
        }
    }
}

/// The chip of a panel and its lines.
#[derive(Clone, Debug, PartialEq)]
pub enum ChipSpec {
    /// SSD1306 or SSD1309 over I2C.
    Oled {
        /// Seven-bit address, 0x3C or 0x3D.
        address: u8,
        /// Its reset line, if it has one.
        reset: Option<LineName>,
    },
    /// ILI9341 or ST7789 over SPI.
    Tft {
        /// Which of the two.
        model: TftModel,
        /// Clock of the bus.
        clock_hz: u32,
        /// Data/command line.
        data_command: LineName,
        /// Reset line.
        reset: LineName,
        /// Line of its lamp, if it is switched.
        lamp: Option<LineName>,
        /// Colours of this module.
        glass: GlassWiring,
    },
    /// 2.9 inch e-paper over SPI.
    Paper {
        /// Clock of the bus.
        clock_hz: u32,
        /// Busy line.
        busy: LineName,
        /// Data/command line.
        data_command: LineName,
        /// Reset line.
        reset: LineName,
    },
}

/// Which TFT chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TftModel {
    /// ILI9341.
    Ili9341,
    /// ST7789.
    St7789,
}

impl TftModel {
    /// What most modules of this chip need.
    pub const fn usual(self) -> (Order, Inversion) {
        match self {
            TftModel::Ili9341 => (Order::Bgr, Inversion::Normal),
            TftModel::St7789 => (Order::Rgb, Inversion::Inverted),
        }
    }
}

/// Which way up a panel is mounted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mounting {
    /// As its maker draws it.
    Upright,
    /// Turned by half.
    UpsideDown,
}

/// Which sounder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SounderName {
    /// At the panel.
    Buzzer,
    /// At the bunk of who is called next.
    Bunk,
    /// A signal light beside the panel.
    Beacon,
}

impl SounderName {
    /// Every sounder there can be.
    pub const ALL: [SounderName; 3] = [SounderName::Buzzer, SounderName::Bunk, SounderName::Beacon];

    /// As the board file writes it.
    pub const fn as_str(self) -> &'static str {
        match self {
            SounderName::Buzzer => "buzzer",
            SounderName::Bunk => "bunk",
            SounderName::Beacon => "beacon",
        }
    }
}

/// A sounder and its line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SounderSpec {
    /// Which one.
    pub name: SounderName,
    /// The line that drives it.
    pub line: LineName,
    /// The level at which it sounds.
    pub active: Active,
}

/// A serial port of the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SerialSpec {
    /// What the boat file calls it.
    pub name: String,
    /// Its device node.
    pub device: PathBuf,
}

impl BoardFile {
    /// Reads the text of a board file; `file` is what its problems call it.
    /// All that is wrong comes back at once, in the order of the lines.
    pub fn parse(file: &str, text: &str) -> Result<BoardFile, Problems> {
        parse::board(file, text)
    }

    /// Every GPIO line the board uses, with what for.
    pub fn lines(&self) -> Vec<(String, &LineName)> {
        let mut lines: Vec<(String, &LineName)> = Vec::new();
        if let Some(panel) = &self.panel {
            lines.extend(panel.chip.lines());
        }
        for (key, wired) in &self.keys {
            lines.push((format!("key {}", key.as_str()), &wired.line));
        }
        for sounder in &self.sounders {
            lines.push((format!("sounder {}", sounder.name.as_str()), &sounder.line));
        }
        lines
    }
}

impl ChipSpec {
    fn lines(&self) -> Vec<(String, &LineName)> {
        let named = |what: &str, line| (format!("panel {what}"), line);
        match self {
            ChipSpec::Oled { reset, .. } => reset.iter().map(|line| named("reset", line)).collect(),
            ChipSpec::Tft {
                data_command,
                reset,
                lamp,
                ..
            } => [named("data_command", data_command), named("reset", reset)]
                .into_iter()
                .chain(lamp.iter().map(|line| named("lamp", line)))
                .collect(),
            ChipSpec::Paper {
                busy,
                data_command,
                reset,
                ..
            } => vec![
                named("busy", busy),
                named("data_command", data_command),
                named("reset", reset),
            ],
        }
    }
}

#[cfg(test)]
mod tests;
