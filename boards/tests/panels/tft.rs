//! ILI9341 on a fake SPI bus: the bytes, a broken bus, a fresh start.
//!
//! Command bytes after the command list of the ILI9341 data sheet, V1.11,
//! section 8; from memory, checked against what the driver crate sends.

use crate::bench::{Free, Plug, Script, at};
use cringle_boards::board::Mounting;
use cringle_boards::frame::Frame;
use cringle_boards::panel::tft::{GEOMETRY, GlassWiring, Inversion, Lines, Order, Tft};
use cringle_boards::panel::{Haste, Kept, Notes, Panel, Redraw, RedrawLimits, Shown};
use embedded_graphics::pixelcolor::Rgb565;
use embedded_graphics::prelude::*;
use embedded_graphics::primitives::Rectangle;
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::delay::NoopDelay;
use embedded_hal_mock::eh1::digital::{
    Mock as PinMock, State as PinState, Transaction as PinTransaction,
};
use embedded_hal_mock::eh1::spi::Mock as SpiMock;
use mipidsi::models::ILI9341Rgb565;

type Driver = Tft<Plug<SpiMock<u8>>, PinMock, PinMock, Free, NoopDelay, ILI9341Rgb565>;

const GLASS: GlassWiring = GlassWiring {
    turn: Mounting::Upright,
    order: Order::Bgr,
    inversion: Inversion::Normal,
};

/// After the reset line: lie down, blue first, 16 bits a pixel, on.
fn start(script: Script) -> Script {
    script
        .command(0x36, &[0x68])
        .command(0xB4, &[0x00])
        .command(0x20, &[])
        .command(0x3A, &[0x55])
        .command(0x13, &[])
        .command(0x11, &[])
        .command(0x29, &[])
}

/// Columns, rows, "write memory", then the pixels, 4096 bytes at once.
fn area(script: Script, area: Rectangle, pixels: &[u8]) -> Script {
    let corner = area.bottom_right().unwrap();
    let span = |from: i32, to: i32| [(from as u16).to_be_bytes(), (to as u16).to_be_bytes()];
    let script = script
        .command(0x2A, &span(area.top_left.x, corner.x).concat())
        .command(0x2B, &span(area.top_left.y, corner.y).concat())
        .command(0x2C, &[]);
    pixels
        .chunks(4096)
        .fold(script, |script, chunk| script.write(chunk))
}

fn whole(script: Script, frame: &Frame) -> Script {
    area(script, frame.whole(), &pixels(frame, &frame.whole()))
}

/// Five bits red, six green, five blue, high byte first, written out plainly.
fn pixels(frame: &Frame, area: &Rectangle) -> Vec<u8> {
    let Frame::Colour(picture) = frame else {
        unreachable!()
    };
    area.points()
        .flat_map(|point| {
            let colour = picture.at(point).unwrap();
            let (r, g, b) = (colour.r(), colour.g(), colour.b());
            [r << 3 | g >> 3, (g & 0b111) << 5 | b]
        })
        .collect()
}

fn frame(spots: &[(Rectangle, Rgb565)]) -> Frame {
    let mut frame = Frame::blank(GEOMETRY);
    if let Frame::Colour(picture) = &mut frame {
        for (area, colour) in spots {
            picture.fill_solid(area, *colour).unwrap();
        }
    }
    frame
}

fn rectangle(x: i32, y: i32, width: u32, height: u32) -> Rectangle {
    Rectangle::new(Point::new(x, y), Size::new(width, height))
}

fn reset_line(starts: usize) -> PinMock {
    let levels = [PinState::Low, PinState::High].repeat(starts);
    let moves: Vec<PinTransaction> = levels.into_iter().map(PinTransaction::set).collect();
    PinMock::new(&moves)
}

/// Mocks that are handed out again at every opening, checked at the end.
struct Bench {
    spi: Plug<SpiMock<u8>>,
    data_command: PinMock,
    reset: PinMock,
}

impl Bench {
    fn new(script: &Script, starts: usize) -> Self {
        let (spi, data_command) = script.mocks();
        Bench {
            spi: Plug::new(spi),
            data_command,
            reset: reset_line(starts),
        }
    }

    fn panel(&self) -> Kept<Driver> {
        let (spi, dc, reset) = (
            self.spi.clone(),
            self.data_command.clone(),
            self.reset.clone(),
        );
        let open = Box::new(move |notes: &Notes| {
            let lines = Lines {
                data_command: dc.clone(),
                reset: reset.clone(),
                lamp: None,
            };
            let delay = NoopDelay::new();
            let spi = spi.clone();
            Ok(Tft::new(
                spi,
                lines,
                ILI9341Rgb565,
                GLASS,
                delay,
                notes.clone(),
            ))
        });
        Kept::new("/dev/spidev0.0", GEOMETRY, RedrawLimits::tft(), open)
    }

    fn done(mut self) {
        self.spi.inner.done();
        self.data_command.done();
        self.reset.done();
    }
}

#[test]
fn first_frame_resets_the_chip_and_sends_every_pixel_once() {
    let shown = frame(&[
        (rectangle(0, 0, 1, 1), Rgb565::RED),
        (rectangle(319, 239, 1, 1), Rgb565::BLUE),
        (rectangle(100, 50, 20, 30), Rgb565::new(1, 2, 3)),
    ]);
    let bench = Bench::new(&whole(start(Script::default()), &shown), 1);
    let mut panel = bench.panel();
    let Ok(Shown::Sent { bytes, redraw }) = panel.show(&shown, Haste::Routine, at(0)) else {
        panic!()
    };
    assert_eq!(redraw, Redraw::Whole);
    // 10 start bytes, 11 to set the area, 2 a pixel.
    assert_eq!(bytes, 10 + 11 + 320 * 240 * 2);
    bench.done();
}

#[test]
fn a_changed_spot_sends_its_band_and_nothing_else() {
    let before = frame(&[]);
    let spot = rectangle(40, 84, 3, 2);
    let after = frame(&[(spot, Rgb565::GREEN)]);
    let band = rectangle(40, 80, 3, 8);
    let script = whole(start(Script::default()), &before);
    let script = area(script, band, &pixels(&after, &band));
    let bench = Bench::new(&script, 1);
    let mut panel = bench.panel();
    panel.show(&before, Haste::Routine, at(0)).unwrap();
    let bytes = 11 + 3 * 8 * 2;
    let redraw = Redraw::Parts;
    assert_eq!(
        panel.show(&after, Haste::Routine, at(1)),
        Ok(Shown::Sent { bytes, redraw })
    );
    bench.done();
}

#[test]
fn a_broken_bus_is_told_and_started_afresh_when_it_is_back() {
    let before = frame(&[]);
    let after = frame(&[(rectangle(0, 0, 320, 240), Rgb565::WHITE)]);
    let script = whole(start(Script::default()), &before);
    // The data/command line still moves once before the dead bus is noticed.
    let script = script.data_command_low();
    let bench = Bench::new(&whole(start(script), &after), 2);
    let mut panel = bench.panel();
    panel.show(&before, Haste::Routine, at(0)).unwrap();
    bench.spi.pull();
    let fault = panel.show(&after, Haste::Call, at(1)).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "panel on /dev/spidev0.0 does not answer: SPI: Other"
    );
    bench.spi.push_in();
    assert!(
        panel.show(&after, Haste::Call, at(1)).is_err(),
        "left alone"
    );
    assert!(panel.show(&after, Haste::Call, at(2)).is_ok());
    bench.done();
}

#[test]
fn a_dead_data_command_line_is_told_by_its_name() {
    let stuck = MockError::Io(std::io::ErrorKind::BrokenPipe);
    let pin = PinMock::new(&[PinTransaction::set(PinState::Low).with_error(stuck)]);
    let mut bench = Bench::new(&Script::default(), 1);
    bench.data_command.done();
    bench.data_command = pin;
    let mut panel = bench.panel();
    let fault = panel
        .show(&frame(&[]), Haste::Routine, at(0))
        .unwrap_err()
        .to_string();
    assert!(fault.contains("data/command line"), "{fault}");
    bench.done();
}

#[test]
fn the_chip_is_started_afresh_every_ten_minutes() {
    let same = frame(&[]);
    let script = whole(start(whole(start(Script::default()), &same)), &same);
    let bench = Bench::new(&script, 2);
    let mut panel = bench.panel();
    panel.show(&same, Haste::Routine, at(0)).unwrap();
    assert_eq!(
        panel.show(&same, Haste::Routine, at(599)),
        Ok(Shown::Unchanged)
    );
    assert_eq!(panel.next_deadline(), Some(at(600)));
    panel.show(&same, Haste::Routine, at(600)).unwrap();
    bench.done();
}
