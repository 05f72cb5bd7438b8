//! 2.9 inch e-paper, 296x128, second version of its glass, over SPI.
//!
//! The driver crate waits for the busy line without end and takes an
//! unreadable one for idle, so the line is guarded: a chip that stays busy
//! too long, or that never gets busy when told to turn, is a fault.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use embedded_graphics::geometry::Point;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::spi::SpiDevice;
use epd_waveshare::epd2in9_v2::Epd2in9;
use epd_waveshare::prelude::{QuickRefresh, WaveshareDisplay};

use super::{Brightness, Change, Chip, Noted, Notes};
use crate::board::Mounting;
use crate::frame::{Depth, Frame, Geometry};

/// The only size of paper this drives, lying on its side.
pub const GEOMETRY: Geometry = Geometry {
    width: 296,
    height: 128,
    depth: Depth::Mono,
};

/// The longest wait for one turn: 1000 looks, 10 ms apart.
const MOST_LOOKS: u32 = 1000;

/// Pixels across and down as the chip counts them, standing.
const STANDING: (usize, usize) = (128, 296);

/// A busy line that neither hangs the program nor hides an empty plug.
#[derive(Debug)]
struct Guarded<BUSY> {
    line: Noted<BUSY>,
    looks: Arc<Looks>,
    notes: Notes,
}

#[derive(Debug, Default)]
struct Looks {
    busy_in_a_row: AtomicU32,
    was_busy: AtomicBool,
}

impl<BUSY: InputPin> digital::ErrorType for Guarded<BUSY> {
    type Error = BUSY::Error;
}

impl<BUSY: InputPin> InputPin for Guarded<BUSY> {
    fn is_high(&mut self) -> Result<bool, Self::Error> {
        if !self.line.is_high()? {
            self.looks.busy_in_a_row.store(0, Ordering::Relaxed);
            return Ok(false);
        }
        self.looks.was_busy.store(true, Ordering::Relaxed);
        // Past the limit it counts as idle at once, until it really is.
        if self.looks.busy_in_a_row.load(Ordering::Relaxed) >= MOST_LOOKS {
            self.notes
                .fault(|| "busy line stuck high for 10 s".to_string());
            return Ok(false);
        }
        self.looks.busy_in_a_row.fetch_add(1, Ordering::Relaxed);
        Ok(true)
    }

    fn is_low(&mut self) -> Result<bool, Self::Error> {
        self.is_high().map(|high| !high)
    }
}

/// The lines of an e-paper module beside its bus.
#[derive(Debug)]
pub struct Lines<BUSY, DC, RST> {
    /// High while the chip works.
    pub busy: BUSY,
    /// Low for commands, high for data.
    pub data_command: DC,
    /// Low resets the chip.
    pub reset: RST,
}

type Driver<SPI, BUSY, DC, RST, DELAY> =
    Epd2in9<Noted<SPI>, Guarded<BUSY>, Noted<DC>, Noted<RST>, DELAY>;

/// One sheet of paper on an SPI bus.
pub struct Paper<SPI, BUSY, DC, RST, DELAY> {
    spi: Noted<SPI>,
    unopened: Option<Lines<BUSY, DC, RST>>,
    driver: Option<Driver<SPI, BUSY, DC, RST, DELAY>>,
    delay: DELAY,
    turn: Mounting,
    looks: Arc<Looks>,
    notes: Notes,
}

impl<SPI, BUSY, DC, RST, DELAY> Paper<SPI, BUSY, DC, RST, DELAY>
where
    SPI: SpiDevice,
    BUSY: InputPin,
    DC: OutputPin,
    RST: OutputPin,
    DELAY: DelayNs,
{
    /// Takes the bus and lines; sends nothing yet.
    pub fn new(
        spi: SPI,
        lines: Lines<BUSY, DC, RST>,
        turn: Mounting,
        delay: DELAY,
        notes: Notes,
    ) -> Self {
        Paper {
            spi: Noted::new(spi, "SPI", notes.clone()),
            unopened: Some(lines),
            driver: None,
            delay,
            turn,
            looks: Arc::default(),
            notes,
        }
    }

    fn open(
        &mut self,
        lines: Lines<BUSY, DC, RST>,
    ) -> Result<Driver<SPI, BUSY, DC, RST, DELAY>, String> {
        let notes = &self.notes;
        let busy = Guarded {
            line: Noted::new(lines.busy, "busy line", notes.clone()),
            looks: Arc::clone(&self.looks),
            notes: notes.clone(),
        };
        let opened = Epd2in9::new(
            &mut self.spi,
            busy,
            Noted::new(lines.data_command, "data/command line", notes.clone()),
            Noted::new(lines.reset, "reset line", notes.clone()),
            &mut self.delay,
            None,
        );
        notes.judge(opened)
    }

    /// Runs a turn of the paper and sees that the chip took part in it.
    fn turning(
        &mut self,
        turn: impl FnOnce(
            &mut Driver<SPI, BUSY, DC, RST, DELAY>,
            &mut Noted<SPI>,
            &mut DELAY,
        ) -> Result<(), SPI::Error>,
    ) -> Result<(), String> {
        let driver = self.driver.as_mut().ok_or("not started")?;
        self.looks.was_busy.store(false, Ordering::Relaxed);
        let turned = turn(driver, &mut self.spi, &mut self.delay);
        self.notes.judge(turned)?;
        if !self.looks.was_busy.load(Ordering::Relaxed) {
            return Err("busy line never rose: is the panel plugged in?".into());
        }
        Ok(())
    }
}

impl<SPI, BUSY, DC, RST, DELAY> Chip for Paper<SPI, BUSY, DC, RST, DELAY>
where
    SPI: SpiDevice + Send,
    BUSY: InputPin + Send,
    DC: OutputPin + Send,
    RST: OutputPin + Send,
    DELAY: DelayNs + Send,
{
    fn start(&mut self) -> Result<(), String> {
        if let Some(lines) = self.unopened.take() {
            let driver = self.open(lines)?;
            self.driver = Some(driver);
            return Ok(());
        }
        let driver = self.driver.as_mut().ok_or("an earlier start failed")?;
        let woken = driver.wake_up(&mut self.spi, &mut self.delay);
        self.notes.judge(woken)
    }

    fn send_whole(&mut self, frame: &Frame) -> Result<(), String> {
        let image = packed(frame, self.turn)?;
        self.turning(|driver, spi, delay| {
            driver.update_frame(spi, &image, delay)?;
            driver.display_frame(spi, delay)
        })
    }

    /// The chip turns the whole sheet either way; "in part" means only those
    /// grains that differ, without the flash.
    fn send_parts(&mut self, change: &Change<'_>) -> Result<(), String> {
        let old = packed(change.old, self.turn)?;
        let new = packed(change.new, self.turn)?;
        self.turning(|driver, spi, delay| {
            driver.update_old_frame(spi, &old, delay)?;
            driver.update_new_frame(spi, &new, delay)?;
            driver.display_new_frame(spi, delay)
        })
    }

    /// Paper has no lamp.
    fn set_brightness(&mut self, _: Brightness) -> Result<(), String> {
        Ok(())
    }
}

/// The frame as the chip wants it: standing, eight pixels a byte, ink is 0.
fn packed(frame: &Frame, turn: Mounting) -> Result<Vec<u8>, String> {
    let Frame::Mono(picture) = frame else {
        return Err("a colour frame on paper".into());
    };
    let (across, down) = STANDING;
    let mut bytes = vec![0xFF; across / 8 * down];
    for row in 0..down {
        for column in 0..across {
            let point = match turn {
                Mounting::Upright => Point::new(row as i32, (across - 1 - column) as i32),
                Mounting::UpsideDown => Point::new((down - 1 - row) as i32, column as i32),
            };
            if picture.at(point) == Some(BinaryColor::On) {
                bytes[row * (across / 8) + column / 8] &= !(0x80 >> (column % 8));
            }
        }
    }
    Ok(bytes)
}
