//! SSD1306 on a fake I2C bus: the bytes, a NAK, a pulled plug, a fresh start.
//!
//! Command bytes after the command table of the SSD1306 data sheet, rev 1.1,
//! section 9; from memory, checked against what the driver crate sends.

use std::sync::{Arc, Mutex};

use crate::bench::{Free, at};
use cringle_boards::board::Mounting;
use cringle_boards::frame::Frame;
use cringle_boards::panel::oled::{GEOMETRY, Oled};
use cringle_boards::panel::{
    Brightness, Haste, Kept, Notes, Panel, PanelFault, Redraw, RedrawLimits, Shown,
};
use embedded_graphics::geometry::Point;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::*;
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::delay::NoopDelay;
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

const ADDRESS: u8 = 0x3C;

type Driver = Oled<Mock, Free, NoopDelay>;

/// A command: control byte 0, then its bytes.
fn command(bytes: &[u8]) -> Transaction {
    Transaction::write(ADDRESS, [&[0x00], bytes].concat())
}

/// Data: control byte 0x40, at most 16 bytes at once.
fn data(bytes: &[u8]) -> Vec<Transaction> {
    bytes
        .chunks(16)
        .map(|chunk| Transaction::write(ADDRESS, [&[0x40], chunk].concat()))
        .collect()
}

/// Off, set up, on: what a fresh start sends.
fn start() -> Vec<Transaction> {
    [
        &[0xAE][..],   // off
        &[0xD5, 0x80], // clock
        &[0xA8, 63],   // 64 rows
        &[0xD3, 0],    // no offset
        &[0x40],       // first row at the top
        &[0x8D, 0x14], // charge pump on
        &[0x20, 0],    // bytes go along a page, then to the next
        &[0xDA, 0x12], // rows wired alternately
        &[0xA1],       // columns from the right
        &[0xC8],       // rows from the bottom: together upright
        &[0xD9, 0x21], // pre-charge
        &[0x81, 0x5F], // contrast
        &[0xDB, 0x40], // deselect level
        &[0xA4],       // show the memory
        &[0xA6],       // lit is lit
        &[0x2E],       // no scrolling
        &[0xAF],       // on
        &[0xD9, 0x21], // the brightness asked for: full
        &[0x81, 0xFF],
    ]
    .iter()
    .map(|bytes| command(bytes))
    .collect()
}

/// Columns and pages of an area, then its bytes, page by page.
fn area(columns: [u8; 2], pages: [u8; 2], bytes: &[u8]) -> Vec<Transaction> {
    let wide = usize::from(columns[1] - columns[0]) + 1;
    let mut sent = vec![
        command(&[0x21, columns[0], columns[1]]),
        command(&[0x22, pages[0], pages[1]]),
    ];
    for page in bytes.chunks(wide) {
        sent.extend(data(page));
    }
    sent
}

fn whole(frame: &Frame) -> Vec<Transaction> {
    area([0, 127], [0, 7], &packed(frame))
}

/// Eight rows a byte, the top row in the lowest bit, written out plainly.
fn packed(frame: &Frame) -> Vec<u8> {
    let Frame::Mono(picture) = frame else {
        unreachable!()
    };
    let mut bytes = Vec::new();
    for page in 0..8 {
        for x in 0..128 {
            let lit = |bit: i32| picture.at(Point::new(x, page * 8 + bit)) == Some(BinaryColor::On);
            bytes.push((0..8).map(|bit| u8::from(lit(bit)) << bit).sum());
        }
    }
    bytes
}

fn frame(lit: &[(i32, i32)]) -> Frame {
    let mut frame = Frame::blank(GEOMETRY);
    if let Frame::Mono(picture) = &mut frame {
        let dots = lit
            .iter()
            .map(|(x, y)| Pixel(Point::new(*x, *y), BinaryColor::On));
        picture.draw_iter(dots).unwrap();
    }
    frame
}

fn drive(bus: Mock, notes: &Notes) -> Driver {
    Oled::new(
        bus,
        ADDRESS,
        Mounting::Upright,
        None,
        NoopDelay::new(),
        notes.clone(),
    )
}

/// A panel on one bus that is opened again and again.
fn panel(expected: &[Vec<Transaction>]) -> (Mock, Kept<Driver>) {
    let bus = Mock::new(&expected.concat());
    let wires = bus.clone();
    let open = Box::new(move |notes: &Notes| Ok(drive(wires.clone(), notes)));
    (
        bus,
        Kept::new("/dev/i2c-1", GEOMETRY, RedrawLimits::oled(), open),
    )
}

fn bytes_of(expected: &[Vec<Transaction>]) -> u64 {
    // The mock keeps its bytes to itself; its debug text does not.
    expected
        .concat()
        .iter()
        .map(|sent| {
            let text = format!("{sent:?}");
            let list = text.split("expected_data: [").nth(1).unwrap();
            list.split(']').next().unwrap().split(',').count() as u64
        })
        .sum()
}

#[test]
fn first_frame_starts_the_chip_and_sends_every_page() {
    let shown = frame(&[(0, 0), (127, 63), (5, 12)]);
    let expected = [start(), whole(&shown)];
    let (mut bus, mut panel) = panel(&expected);
    let bytes = bytes_of(&expected);
    let redraw = Redraw::Whole;
    assert_eq!(
        panel.show(&shown, Haste::Routine, at(0)),
        Ok(Shown::Sent { bytes, redraw })
    );
    bus.done();
}

#[test]
fn a_changed_dot_sends_one_byte_of_one_page() {
    let before = frame(&[(5, 12)]);
    let after = frame(&[(5, 12), (5, 15)]);
    let change = area([5, 5], [1, 1], &[0b1001_0000]);
    let (mut bus, mut panel) = panel(&[start(), whole(&before), change.clone()]);
    panel.show(&before, Haste::Routine, at(0)).unwrap();
    let bytes = bytes_of(&[change]);
    let redraw = Redraw::Parts;
    assert_eq!(
        panel.show(&after, Haste::Routine, at(1)),
        Ok(Shown::Sent { bytes, redraw })
    );
    assert_eq!(bytes, 4 + 4 + 2);
    bus.done();
}

#[test]
fn an_unchanged_frame_sends_nothing_until_the_fresh_start_after_a_minute() {
    let same = frame(&[(64, 32)]);
    let (mut bus, mut panel) = panel(&[start(), whole(&same), start(), whole(&same)]);
    panel.show(&same, Haste::Routine, at(0)).unwrap();
    for second in 1..60 {
        let shown = panel.show(&same, Haste::Call, at(second));
        assert_eq!(shown, Ok(Shown::Unchanged));
    }
    assert_eq!(panel.next_deadline(), Some(at(60)));
    assert!(matches!(
        panel.show(&same, Haste::Routine, at(60)),
        Ok(Shown::Sent { .. })
    ));
    bus.done();
}

#[test]
fn a_nak_in_the_middle_is_told_and_the_next_try_starts_afresh() {
    let nak = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data);
    let before = frame(&[]);
    let after = frame(&[(0, 0)]);
    let (mut bus, mut panel) = panel(&[
        start(),
        whole(&before),
        vec![command(&[0x21, 0, 0]).with_error(nak)],
        start(),
        whole(&after),
    ]);
    panel.show(&before, Haste::Routine, at(0)).unwrap();
    let fault = panel.show(&after, Haste::Call, at(1)).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "panel on /dev/i2c-1 does not answer: I2C: NoAcknowledge(Data)"
    );
    assert_eq!(panel.next_deadline(), Some(at(2)));
    let redraw = Redraw::Whole;
    assert!(matches!(
        panel.show(&after, Haste::Routine, at(2)),
        Ok(Shown::Sent { redraw: got, .. }) if got == redraw
    ));
    bus.done();
}

#[test]
fn an_unplugged_panel_is_a_fault_at_every_frame_and_tried_ever_more_rarely() {
    let gone = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
    let shown = frame(&[(1, 1)]);
    let refused = || vec![command(&[0xAE]).with_error(gone)];
    let (mut bus, mut panel) = panel(&[refused(), refused(), refused(), start(), whole(&shown)]);
    // Once a second: tried at 0, 1, 3 and 7 s only, a fault all the while.
    for second in 0..7 {
        let fault = panel.show(&shown, Haste::Call, at(second)).unwrap_err();
        assert!(matches!(fault, PanelFault::Bus { .. }), "{fault}");
    }
    assert!(panel.show(&shown, Haste::Call, at(7)).is_ok());
    bus.done();
}

#[test]
fn a_node_that_cannot_be_opened_is_told_and_tried_again() {
    let shown = frame(&[]);
    let bus = Mock::new(&[start(), whole(&shown)].concat());
    let wires = bus.clone();
    let there = Arc::new(Mutex::new(false));
    let plugged = there.clone();
    let open = Box::new(move |notes: &Notes| {
        if *plugged.lock().unwrap() {
            Ok(drive(wires.clone(), notes))
        } else {
            Err("no such file or directory".to_string())
        }
    });
    let mut panel = Kept::new("/dev/i2c-1", GEOMETRY, RedrawLimits::oled(), open);
    let fault = panel.show(&shown, Haste::Routine, at(0)).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "panel on /dev/i2c-1 cannot be opened: no such file or directory"
    );
    *there.lock().unwrap() = true;
    assert!(panel.show(&shown, Haste::Routine, at(1)).is_ok());
    let mut bus = bus;
    bus.done();
}

#[test]
fn dimming_alone_sends_the_contrast_and_no_pixels() {
    let same = frame(&[]);
    let dim = vec![command(&[0xD9, 0x11]), command(&[0x81, 12])];
    let (mut bus, mut panel) = panel(&[start(), whole(&same), dim]);
    panel.show(&same, Haste::Routine, at(0)).unwrap();
    panel.set_brightness(Brightness::percent(5));
    panel.show(&same, Haste::Routine, at(1)).unwrap();
    bus.done();
}

#[test]
fn a_frame_of_another_size_is_refused_and_nothing_is_sent() {
    let (mut bus, mut panel) = panel(&[]);
    let colour = Frame::blank(cringle_boards::panel::tft::GEOMETRY);
    let fault = panel.show(&colour, Haste::Routine, at(0)).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "panel takes a 128x64 mono frame and was given 320x240 colour"
    );
    bus.done();
}
