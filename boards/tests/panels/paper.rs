//! 2.9 inch e-paper on a fake SPI bus with a busy line of its own.
//!
//! Command bytes after the command table of the SSD1680 data sheet, which the
//! glass's own sheet repeats; from memory, checked against what the driver
//! crate sends. The waveform table is the driver's own.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use crate::bench::{BusyLine, Free, Module, Plug, Script, at};
use cringle_boards::board::Mounting;
use cringle_boards::frame::Frame;
use cringle_boards::panel::paper::{GEOMETRY, Lines, Paper};
use cringle_boards::panel::{Haste, Kept, Notes, Panel, Redraw, RedrawLimits, Shown};
use embedded_graphics::geometry::Point;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_hal::spi::{self, SpiDevice};
use embedded_hal_mock::eh1::delay::NoopDelay;
use embedded_hal_mock::eh1::digital::Mock as PinMock;
use embedded_hal_mock::eh1::spi::Mock as SpiMock;

/// Bytes of a whole sheet: 128 across by 296 down, eight a byte.
const SHEET: usize = 128 / 8 * 296;

/// Keeps every byte written; a picture is found by its command.
#[derive(Clone, Default)]
struct Tape(Arc<std::sync::Mutex<Vec<u8>>>);

impl spi::ErrorType for Tape {
    type Error = spi::ErrorKind;
}

impl SpiDevice for Tape {
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), spi::ErrorKind> {
        for operation in operations {
            if let spi::Operation::Write(bytes) = operation {
                self.0.lock().unwrap().extend_from_slice(bytes);
            }
        }
        Ok(())
    }
}

type OnTape = Paper<Module<Plug<Tape>>, Module<Plug<Tape>>, Free, Free, NoopDelay>;

struct Bench {
    tape: Tape,
    plug: Plug<Tape>,
    module: Module<Plug<Tape>>,
}

impl Bench {
    fn new(line: BusyLine) -> Self {
        let tape = Tape::default();
        let plug = Plug::new(tape.clone());
        let module = Module::new(plug.clone(), line);
        Bench { tape, plug, module }
    }

    fn panel(&self, turn: Mounting) -> Kept<OnTape> {
        let module = self.module.clone();
        let open = Box::new(move |notes: &Notes| {
            let lines = Lines {
                busy: module.clone(),
                data_command: Free,
                reset: Free,
            };
            let delay = NoopDelay::new();
            Ok(Paper::new(
                module.clone(),
                lines,
                turn,
                delay,
                notes.clone(),
            ))
        });
        Kept::new("/dev/spidev0.0", GEOMETRY, RedrawLimits::paper(), open)
    }

    fn sent(&self) -> Vec<u8> {
        std::mem::take(&mut *self.tape.0.lock().unwrap())
    }
}

/// What was written to memory by the last command 0x24, "new picture".
fn picture(sent: &[u8]) -> &[u8] {
    let from = (0..sent.len())
        .rev()
        .find(|at| sent[*at] == 0x24 && sent.get(at + 1 + SHEET) == Some(&0x22))
        .expect("no picture was sent");
    &sent[from + 1..from + 1 + SHEET]
}

fn frame(inked: &[(i32, i32)]) -> Frame {
    let mut frame = Frame::blank(GEOMETRY);
    if let Frame::Mono(picture) = &mut frame {
        let dots = inked
            .iter()
            .map(|(x, y)| Pixel(Point::new(*x, *y), BinaryColor::On));
        picture.draw_iter(dots).unwrap();
    }
    frame
}

/// Where ink is on the sheet as the chip sees it: column and row, standing.
fn ink(sheet: &[u8]) -> Vec<(usize, usize)> {
    let mut dots = Vec::new();
    for row in 0..296 {
        for column in 0..128 {
            if sheet[row * 16 + column / 8] >> (7 - column % 8) & 1 == 0 {
                dots.push((column, row));
            }
        }
    }
    dots
}

#[test]
fn the_whole_first_turn_is_sent_byte_by_byte() {
    let shown = frame(&[]);
    let script = start(Script::default())
        .command_bytewise(0x24, &[0xFF; SHEET])
        .command_bytewise(0x22, &[0xC7])
        .bare(0x20);
    let (mut spi, mut data_command) = script.mocks();
    let module = Module::new(spi.clone(), BusyLine::Works(200));
    let lines_dc = data_command.clone();
    let open = Box::new(move |notes: &Notes| {
        let lines = Lines {
            busy: module.clone(),
            data_command: lines_dc.clone(),
            reset: Free,
        };
        let spi = module.clone();
        let delay = NoopDelay::new();
        Ok(Paper::new(
            spi,
            lines,
            Mounting::Upright,
            delay,
            notes.clone(),
        ))
    });
    type Mocked = Paper<Module<SpiMock<u8>>, Module<SpiMock<u8>>, PinMock, Free, NoopDelay>;
    let mut panel: Kept<Mocked> =
        Kept::new("/dev/spidev0.0", GEOMETRY, RedrawLimits::paper(), open);
    let shown = panel.show(&shown, Haste::Routine, at(0));
    assert!(matches!(shown, Ok(Shown::Sent { .. })), "{shown:?}");
    spi.done();
    data_command.done();
}

/// Soft reset, size, area, then the waveform and its voltages.
fn start(script: Script) -> Script {
    script
        .bare(0x12)
        .command_bytewise(0x01, &[0x27, 0x01, 0x00])
        .command_bytewise(0x11, &[0x03])
        .command_bytewise(0x44, &[0, 15])
        .command_bytewise(0x45, &[0, 0, 0x27, 0x01])
        .command_bytewise(0x21, &[0x00, 0x80])
        .command_bytewise(0x4E, &[0])
        .command_bytewise(0x4F, &[0, 0])
        .command_bytewise(0x32, &waveform())
        .command_bytewise(0x3F, &[0x22])
        .command_bytewise(0x03, &[0x17])
        .command_bytewise(0x04, &[0x41, 0x00, 0x32])
        .command_bytewise(0x2C, &[0x36])
}

/// The waveform of the driver crate for a whole turn.
fn waveform() -> Vec<u8> {
    let mut bytes = vec![0; 153];
    let rows: [(usize, &[u8]); 13] = [
        (0, &[0x80, 0x66]),
        (8, &[0x40]),
        (12, &[0x10, 0x66]),
        (20, &[0x20]),
        (24, &[0x80, 0x66]),
        (32, &[0x40]),
        (36, &[0x10, 0x66]),
        (44, &[0x20]),
        (60, &[0x14, 0x08]),
        (66, &[0x01, 0x0A, 0x0A, 0x00, 0x0A, 0x0A, 0x00, 0x01]),
        (116, &[0x14, 0x08, 0x00, 0x01, 0x00, 0x00, 0x01]),
        (129, &[0x01]),
        (144, &[0x44, 0x44, 0x44, 0x44, 0x44, 0x44]),
    ];
    for (at, row) in rows {
        bytes[at..at + row.len()].copy_from_slice(row);
    }
    bytes
}

#[test]
fn a_lying_frame_is_turned_to_the_standing_sheet() {
    let bench = Bench::new(BusyLine::Works(3));
    let corners = frame(&[(0, 0), (295, 0), (0, 127)]);
    let mut panel = bench.panel(Mounting::Upright);
    panel.show(&corners, Haste::Routine, at(0)).unwrap();
    assert_eq!(ink(picture(&bench.sent())), [(0, 0), (127, 0), (127, 295)]);

    let mut panel = bench.panel(Mounting::UpsideDown);
    panel.show(&corners, Haste::Routine, at(0)).unwrap();
    assert_eq!(ink(picture(&bench.sent())), [(0, 0), (0, 295), (127, 295)]);
}

#[test]
fn routine_changes_wait_and_a_call_does_not() {
    let bench = Bench::new(BusyLine::Works(3));
    let mut panel = bench.panel(Mounting::Upright);
    panel.show(&frame(&[]), Haste::Routine, at(0)).unwrap();
    bench.sent();
    let until = at(20);
    assert_eq!(
        panel.show(&frame(&[(8, 8)]), Haste::Routine, at(1)),
        Ok(Shown::Deferred { until })
    );
    assert_eq!(panel.next_deadline(), Some(until));
    assert!(bench.sent().is_empty());
    assert!(matches!(
        panel.show(&frame(&[(8, 8)]), Haste::Call, at(2)),
        Ok(Shown::Sent {
            redraw: Redraw::Parts,
            ..
        })
    ));
    assert_eq!(ink(picture(&bench.sent())), [(119, 8)]);
}

#[test]
fn a_turn_in_part_tells_the_chip_the_old_and_the_new_picture() {
    let bench = Bench::new(BusyLine::Works(3));
    let mut panel = bench.panel(Mounting::Upright);
    panel
        .show(&frame(&[(0, 0)]), Haste::Routine, at(0))
        .unwrap();
    bench.sent();
    panel.show(&frame(&[(295, 0)]), Haste::Call, at(1)).unwrap();
    let sent = bench.sent();
    assert_eq!(sent[0], 0x26, "the old picture comes first");
    assert_eq!(ink(&sent[1..1 + SHEET]), [(127, 0)]);
    assert_eq!(ink(picture(&sent)), [(127, 295)]);
}

#[test]
fn a_busy_line_stuck_high_is_a_fault_after_a_bounded_wait() {
    let bench = Bench::new(BusyLine::StuckHigh);
    let mut panel = bench.panel(Mounting::Upright);
    let fault = panel
        .show(&frame(&[]), Haste::Routine, at(0))
        .unwrap_err()
        .to_string();
    assert!(fault.contains("busy line stuck high"), "{fault}");
    let looks = bench.module.looked.load(Ordering::Relaxed);
    assert!((1000..1100).contains(&looks), "{looks} looks of 10 ms");
}

#[test]
fn a_module_that_never_gets_busy_is_not_there() {
    let bench = Bench::new(BusyLine::StuckLow);
    let mut panel = bench.panel(Mounting::Upright);
    let fault = panel
        .show(&frame(&[]), Haste::Routine, at(0))
        .unwrap_err()
        .to_string();
    assert!(fault.contains("busy line never rose"), "{fault}");
}

#[test]
fn a_broken_bus_is_told_and_the_sheet_is_wiped_when_it_is_back() {
    let bench = Bench::new(BusyLine::Works(3));
    let mut panel = bench.panel(Mounting::Upright);
    panel.show(&frame(&[]), Haste::Routine, at(0)).unwrap();
    bench.plug.pull();
    let fault = panel.show(&frame(&[(9, 9)]), Haste::Call, at(1));
    assert_eq!(
        fault.unwrap_err().to_string(),
        "panel on /dev/spidev0.0 does not answer: SPI: Other"
    );
    bench.plug.push_in();
    assert!(matches!(
        panel.show(&frame(&[(9, 9)]), Haste::Call, at(2)),
        Ok(Shown::Sent {
            redraw: Redraw::Whole,
            ..
        })
    ));
}

#[test]
fn after_twenty_turns_in_part_the_sheet_is_wiped_whole() {
    let bench = Bench::new(BusyLine::Works(1));
    let mut panel = bench.panel(Mounting::Upright);
    let mut redraws = Vec::new();
    for turn in 0..22_u64 {
        let now = at(turn * 20);
        let dot = frame(&[(turn as i32, 0)]);
        match panel.show(&dot, Haste::Routine, now) {
            Ok(Shown::Sent { redraw, .. }) => redraws.push(redraw),
            other => panic!("turn {turn}: {other:?}"),
        }
    }
    let whole: Vec<usize> = (0..22)
        .filter(|turn| redraws[*turn] == Redraw::Whole)
        .collect();
    assert_eq!(whole, [0, 21]);
}
