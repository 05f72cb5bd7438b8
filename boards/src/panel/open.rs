//! From a board file to the panel it describes, on this computer's buses.
//!
//! Thin, and without a test of its own: it only opens device nodes. Nothing
//! is opened before the first frame, so this never fails; a panel that is not
//! there is a fault of [`Panel::show`].

use std::path::{Path, PathBuf};

use embedded_hal::delay::DelayNs;
use linux_embedded_hal::spidev::{SpiModeFlags, SpidevOptions};
use linux_embedded_hal::{Delay, I2cdev, SpidevDevice};
use mipidsi::models::{ILI9341Rgb565, Model, ST7789};

use super::oled::Oled;
use super::paper::{self, Paper};
use super::tft::{self, Tft};
use super::{Kept, Notes, Panel, RedrawLimits};
use crate::board::{Active, ChipSpec, LineName, PanelSpec, Pull, TftModel};
use crate::gpio::{Input, Output};

type LinuxTft<M> = Tft<SpidevDevice, Output, Output, Output, Delay, M>;

/// The panel of a board file.
pub fn panel(spec: &PanelSpec) -> Box<dyn Panel> {
    let geometry = spec.geometry();
    let node = spec.bus.display().to_string();
    let spec = spec.clone();
    match spec.chip {
        ChipSpec::Oled { .. } => {
            let open = Box::new(move |notes: &Notes| open_oled(&spec, notes));
            Box::new(Kept::new(node, geometry, RedrawLimits::oled(), open))
        }
        ChipSpec::Tft { model, .. } => match model {
            TftModel::Ili9341 => {
                let open = Box::new(move |notes: &Notes| open_tft(&spec, ILI9341Rgb565, notes));
                Box::new(Kept::new(node, geometry, RedrawLimits::tft(), open))
            }
            TftModel::St7789 => {
                let open = Box::new(move |notes: &Notes| open_tft(&spec, ST7789, notes));
                Box::new(Kept::new(node, geometry, RedrawLimits::tft(), open))
            }
        },
        ChipSpec::Paper { .. } => {
            let open = Box::new(move |notes: &Notes| open_paper(&spec, notes));
            Box::new(Kept::new(node, geometry, RedrawLimits::paper(), open))
        }
    }
}

fn open_oled(spec: &PanelSpec, notes: &Notes) -> Result<Oled<I2cdev, Output, Delay>, String> {
    let ChipSpec::Oled { address, reset } = &spec.chip else {
        return Err("not an OLED".into());
    };
    let bus = I2cdev::new(&spec.bus).map_err(|error| error.to_string())?;
    let reset = reset.as_ref().map(output).transpose()?;
    let notes = notes.clone();
    Ok(Oled::new(bus, *address, spec.turn, reset, Delay, notes))
}

fn open_tft<M>(spec: &PanelSpec, model: M, notes: &Notes) -> Result<LinuxTft<M>, String>
where
    M: Model<ColorFormat = embedded_graphics::pixelcolor::Rgb565>,
    Delay: DelayNs,
{
    let ChipSpec::Tft {
        clock_hz,
        data_command,
        reset,
        lamp,
        glass,
        ..
    } = &spec.chip
    else {
        return Err("not a TFT".into());
    };
    let spi = open_spi(&spec.bus, *clock_hz)?;
    let lines = tft::Lines {
        data_command: output(data_command)?,
        reset: output(reset)?,
        lamp: lamp.as_ref().map(output).transpose()?,
    };
    let turn = spec.turn;
    let glass = tft::GlassWiring { turn, ..*glass };
    Ok(Tft::new(spi, lines, model, glass, Delay, notes.clone()))
}

fn open_paper(
    spec: &PanelSpec,
    notes: &Notes,
) -> Result<Paper<SpidevDevice, Input, Output, Output, Delay>, String> {
    let ChipSpec::Paper {
        clock_hz,
        busy,
        data_command,
        reset,
    } = &spec.chip
    else {
        return Err("not paper".into());
    };
    let spi = open_spi(&spec.bus, *clock_hz)?;
    let lines = paper::Lines {
        // Pulled up, so that an empty plug reads as busy without end.
        busy: Input::open(busy, Pull::Up).map_err(|error| error.to_string())?,
        data_command: output(data_command)?,
        reset: output(reset)?,
    };
    Ok(Paper::new(spi, lines, spec.turn, Delay, notes.clone()))
}

fn open_spi(node: &PathBuf, clock_hz: u32) -> Result<SpidevDevice, String> {
    let mut spi = SpidevDevice::open(Path::new(node)).map_err(|error| error.to_string())?;
    let options = SpidevOptions::new()
        .bits_per_word(8)
        .max_speed_hz(clock_hz)
        .mode(SpiModeFlags::SPI_MODE_0)
        .build();
    spi.configure(&options).map_err(|error| error.to_string())?;
    Ok(spi)
}

fn output(line: &LineName) -> Result<Output, String> {
    Output::open(line, Active::High).map_err(|error| error.to_string())
}
