//! ILI9341 and ST7789, 320x240 in colour, over SPI.
//!
//! SPI does not acknowledge: bytes into an empty plug look like bytes into
//! glass. All that can be noticed is an error of the adapter or a line, so
//! the chip is started afresh from time to time, and the wiring sheet says
//! what a pulled plug looks like.

use embedded_graphics::geometry::Size;
use embedded_graphics::pixelcolor::Rgb565;
use embedded_graphics::primitives::Rectangle;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::OutputPin;
use embedded_hal::spi::SpiDevice;
use mipidsi::interface::{Interface, InterfaceKind, SpiInterface};
use mipidsi::models::Model;
use mipidsi::options::{ColorInversion, ColorOrder, Orientation, Rotation};
use mipidsi::{Builder, Display};

use super::{Brightness, Change, Chip, Noted, Notes};
use crate::board::Mounting;
use crate::frame::{Depth, Frame, Geometry};

/// The only size of glass this drives, lying on its side.
pub const GEOMETRY: Geometry = Geometry {
    width: 320,
    height: 240,
    depth: Depth::Colour,
};

/// The glass as the chip counts it, standing.
const STANDING: (u16, u16) = (240, 320);

/// Bytes a write: Linux takes 4096 at once unless told otherwise.
const CHUNK: usize = 4096;

/// How a module's glass is wired to its chip; modules of one chip differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GlassWiring {
    /// Which way up it is mounted.
    pub turn: Mounting,
    /// Which end of a pixel is red.
    pub order: Order,
    /// Whether its colours come out inverted.
    pub inversion: Inversion,
}

/// Which end of a pixel is red.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Red first: most ST7789 modules.
    Rgb,
    /// Blue first: most ILI9341 modules.
    Bgr,
}

/// Whether the colours of a module come out inverted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inversion {
    /// As they are: most ILI9341 modules.
    Normal,
    /// Turned round: most ST7789 modules.
    Inverted,
}

/// An SPI link that owns its buffer, so that a chip can be put away and
/// opened again without leaking one.
struct Link<SPI, DC> {
    spi: SPI,
    dc: DC,
    buffer: Vec<u8>,
}

impl<SPI: SpiDevice, DC: OutputPin> Link<SPI, DC> {
    fn borrowed(&mut self) -> SpiInterface<'_, &mut SPI, &mut DC> {
        SpiInterface::new(&mut self.spi, &mut self.dc, &mut self.buffer)
    }
}

impl<SPI: SpiDevice, DC: OutputPin> Interface for Link<SPI, DC> {
    type Word = u8;
    type Error = mipidsi::interface::SpiError<SPI::Error, DC::Error>;
    const KIND: InterfaceKind = InterfaceKind::Serial4Line;

    fn send_command(&mut self, command: u8, args: &[u8]) -> Result<(), Self::Error> {
        self.borrowed().send_command(command, args)
    }

    fn send_pixels<const N: usize>(
        &mut self,
        pixels: impl IntoIterator<Item = [u8; N]>,
    ) -> Result<(), Self::Error> {
        self.borrowed().send_pixels(pixels)
    }

    fn send_repeated_pixel<const N: usize>(
        &mut self,
        pixel: [u8; N],
        count: u32,
    ) -> Result<(), Self::Error> {
        self.borrowed().send_repeated_pixel(pixel, count)
    }
}

type Wires<SPI, DC> = Link<Noted<SPI>, Noted<DC>>;

/// Where the parts of the driver are: before its first start, or running.
enum DriverParts<SPI: SpiDevice, DC: OutputPin, RST: OutputPin, M: Model<ColorFormat = Rgb565>> {
    Apart(Wires<SPI, DC>, M, RST),
    Running(Display<Wires<SPI, DC>, M, RST>),
    /// A start failed on the way; the panel is to be opened anew.
    Lost,
}

/// One TFT on an SPI bus.
pub struct Tft<SPI, DC, RST, LAMP, DELAY, M>
where
    SPI: SpiDevice,
    DC: OutputPin,
    RST: OutputPin,
    M: Model<ColorFormat = Rgb565>,
{
    state: DriverParts<SPI, DC, RST, M>,
    lamp: Option<LAMP>,
    delay: DELAY,
    glass: GlassWiring,
    notes: Notes,
}

/// The lines of a TFT beside its bus.
#[derive(Debug)]
pub struct Lines<DC, RST, LAMP> {
    /// Low for commands, high for data.
    pub data_command: DC,
    /// Low resets the chip.
    pub reset: RST,
    /// High lights the glass, if it is switched at all.
    pub lamp: Option<LAMP>,
}

impl<SPI, DC, RST, LAMP, DELAY, M> Tft<SPI, DC, RST, LAMP, DELAY, M>
where
    SPI: SpiDevice,
    DC: OutputPin,
    RST: OutputPin,
    LAMP: OutputPin,
    DELAY: DelayNs,
    M: Model<ColorFormat = Rgb565>,
{
    /// Takes the bus and lines; sends nothing yet.
    pub fn new(
        spi: SPI,
        lines: Lines<DC, RST, LAMP>,
        model: M,
        glass: GlassWiring,
        delay: DELAY,
        notes: Notes,
    ) -> Self {
        let link = Link {
            spi: Noted::new(spi, "SPI", notes.clone()),
            dc: Noted::new(lines.data_command, "data/command line", notes.clone()),
            buffer: vec![0; CHUNK],
        };
        Tft {
            state: DriverParts::Apart(link, model, lines.reset),
            lamp: lines.lamp,
            delay,
            glass,
            notes,
        }
    }

    fn send_area(&mut self, frame: &Frame, area: &Rectangle) -> Result<(), String> {
        let (Frame::Colour(picture), DriverParts::Running(display)) = (frame, &mut self.state)
        else {
            return Err("not started, or a mono frame on a colour panel".into());
        };
        let Some(corner) = area.bottom_right().filter(|_| area.size != Size::zero()) else {
            return Ok(());
        };
        let colours = picture.pixels_in(area).map(|pixel| pixel.1);
        let sent = display.set_pixels(
            area.top_left.x as u16,
            area.top_left.y as u16,
            corner.x as u16,
            corner.y as u16,
            colours,
        );
        self.notes.judge(sent)
    }
}

impl<SPI, DC, RST, LAMP, DELAY, M> Chip for Tft<SPI, DC, RST, LAMP, DELAY, M>
where
    SPI: SpiDevice + Send,
    DC: OutputPin + Send,
    RST: OutputPin + Send,
    LAMP: OutputPin + Send,
    DELAY: DelayNs + Send,
    M: Model<ColorFormat = Rgb565> + Send,
{
    fn start(&mut self) -> Result<(), String> {
        let (link, model, reset) = match core::mem::replace(&mut self.state, DriverParts::Lost) {
            DriverParts::Apart(link, model, reset) => (link, model, reset),
            DriverParts::Running(display) => match display.release() {
                (link, model, Some(reset)) => (link, model, reset),
                (_, _, None) => return Err("the driver lost its reset line".into()),
            },
            DriverParts::Lost => return Err("an earlier start failed".into()),
        };
        let started = Builder::new(model, link)
            .reset_pin(reset)
            .display_size(STANDING.0, STANDING.1)
            .orientation(orientation(self.glass.turn))
            .color_order(match self.glass.order {
                Order::Rgb => ColorOrder::Rgb,
                Order::Bgr => ColorOrder::Bgr,
            })
            .invert_colors(match self.glass.inversion {
                Inversion::Normal => ColorInversion::Normal,
                Inversion::Inverted => ColorInversion::Inverted,
            })
            .init(&mut self.delay);
        self.state = DriverParts::Running(self.notes.judge(started)?);
        Ok(())
    }

    fn send_whole(&mut self, frame: &Frame) -> Result<(), String> {
        self.send_area(frame, &frame.whole())
    }

    fn send_parts(&mut self, change: &Change<'_>) -> Result<(), String> {
        change
            .areas
            .iter()
            .try_for_each(|area| self.send_area(change.new, area))
    }

    /// The lamp is on or off; the night palette of the screen does the dimming.
    fn set_brightness(&mut self, brightness: Brightness) -> Result<(), String> {
        let Some(lamp) = &mut self.lamp else {
            return Ok(());
        };
        let set = if brightness.as_percent() == 0 {
            lamp.set_low()
        } else {
            lamp.set_high()
        };
        set.map_err(|error| format!("lamp line: {error:?}"))
    }
}

fn orientation(turn: Mounting) -> Orientation {
    Orientation::new().rotate(match turn {
        Mounting::Upright => Rotation::Deg90,
        Mounting::UpsideDown => Rotation::Deg270,
    })
}
