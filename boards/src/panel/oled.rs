//! SSD1306 and SSD1309, 128x64, over I2C.
//!
//! The SSD1309 takes the same commands; it has no charge pump and ignores the
//! one that starts it (its 2.42 inch modules make the glass's voltage on the
//! board). Most of those modules need the reset line; small SSD1306 ones have
//! none.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::primitives::Rectangle;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::OutputPin;
use embedded_hal::i2c::I2c;
use ssd1306::mode::{BufferedGraphicsMode, DisplayConfig};
use ssd1306::prelude::{DisplayRotation, DisplaySize128x64, I2CInterface};
use ssd1306::{I2CDisplayInterface, Ssd1306};

use super::{Brightness, Change, Chip, Noted, Notes};
use crate::board::Mounting;
use crate::frame::{Depth, Frame, Geometry};

/// The only size of glass this drives.
pub const GEOMETRY: Geometry = Geometry {
    width: 128,
    height: 64,
    depth: Depth::Mono,
};

type Display<I2C> =
    Ssd1306<I2CInterface<Noted<I2C>>, DisplaySize128x64, BufferedGraphicsMode<DisplaySize128x64>>;

/// One OLED on an I2C bus.
pub struct Oled<I2C, RST, DELAY> {
    display: Display<I2C>,
    reset: Option<RST>,
    delay: DELAY,
    notes: Notes,
}

impl<I2C, RST, DELAY> Oled<I2C, RST, DELAY>
where
    I2C: I2c,
    RST: OutputPin,
    DELAY: DelayNs,
{
    /// Takes the bus; sends nothing yet.
    pub fn new(
        bus: I2C,
        address: u8,
        turn: Mounting,
        reset: Option<RST>,
        delay: DELAY,
        notes: Notes,
    ) -> Self {
        let rotation = match turn {
            Mounting::Upright => DisplayRotation::Rotate0,
            Mounting::UpsideDown => DisplayRotation::Rotate180,
        };
        let bus = Noted::new(bus, "I2C", notes.clone());
        let interface = I2CDisplayInterface::new_custom_address(bus, address);
        Oled {
            display: Ssd1306::new(interface, DisplaySize128x64, rotation)
                .into_buffered_graphics_mode(),
            reset,
            delay,
            notes,
        }
    }

    /// Copies one area into the driver's buffer and flushes it.
    fn send_area(&mut self, frame: &Frame, area: &Rectangle) -> Result<(), String> {
        let Frame::Mono(picture) = frame else {
            return Err("a colour frame on a mono panel".into());
        };
        let drawn = self.display.draw_iter(picture.pixels_in(area));
        let flushed = drawn.and_then(|()| self.display.flush());
        self.notes.judge(flushed)
    }
}

impl<I2C, RST, DELAY> Chip for Oled<I2C, RST, DELAY>
where
    I2C: I2c + Send,
    RST: OutputPin + Send,
    DELAY: DelayNs + Send,
{
    fn start(&mut self) -> Result<(), String> {
        if let Some(reset) = &mut self.reset {
            self.display
                .reset(reset, &mut self.delay)
                .map_err(|error| format!("reset line: {error:?}"))?;
        }
        let started = self.display.init();
        self.notes.judge(started)
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

    fn set_brightness(&mut self, brightness: Brightness) -> Result<(), String> {
        // Contrast 0 is still lit: the glass is never dark by dimming.
        let contrast = u16::from(brightness.as_percent()) * 255 / 100;
        let level = ssd1306::prelude::Brightness::custom(
            if brightness.as_percent() < 20 { 1 } else { 2 },
            contrast.min(255) as u8,
        );
        let set = self.display.set_brightness(level);
        self.notes.judge(set)
    }
}
