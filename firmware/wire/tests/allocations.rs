//! From bytes to readings nothing is allocated.
//!
//! A file of its own: the counting allocator is the whole process's.

// A global allocator cannot be written without it.
#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use cringle_core::time::Timestamp;
use cringle_wire::census::Census;
use cringle_wire::decode::{Decoder, Out, PortOptions};
use cringle_wire::encode::wind;
use cringle_wire::frame::Liner;
use cringle_wire::recording::LineTime;
use cringle_wire::sentence::Talker;

thread_local! {
    /// Allocations of this thread: the test runner's own do not count.
    static COUNT: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

// SAFETY: hands every call on to the system's allocator unchanged.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        COUNT.with(|count| count.set(count.get() + 1));
        // SAFETY: the caller's promises are handed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        // SAFETY: the caller's promises are handed on.
        unsafe { System.dealloc(block, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

fn allocations(work: impl FnOnce()) -> u64 {
    let before = COUNT.with(Cell::get);
    work();
    COUNT.with(Cell::get) - before
}

const LINES: &str = include_str!("lines.txt");

#[test]
fn the_counter_counts() {
    assert_eq!(allocations(|| drop(std::hint::black_box(Box::new(1)))), 1);
}

#[test]
fn no_line_of_any_sentence_allocates() {
    let mut stream = LINES.replace('\n', "\r\n").into_bytes();
    // Faults take no other way.
    stream.extend_from_slice(
        b"\xFF\x00garbage$WIMWV,1$WIMWV,1*00\r\n\\c:1*00\\$WIMWV,nan,R,1,N,A*00\r\n",
    );
    stream.extend_from_slice(&[b'$'; 10]);
    stream.extend_from_slice(&[b'1'; 400]);
    let mut liner = Liner::new();
    let mut decoder = Decoder::new(0, PortOptions::default());
    let mut census = Census::new(Timestamp::ZERO);
    let mut readings = 0;
    let count = allocations(|| {
        census.bytes(0, &stream);
        liner.feed(&stream, &mut |line| {
            census.line(0, line, Timestamp::ZERO);
            decoder.decode(line, Timestamp::ZERO, &mut |out| {
                census.out(0, &out);
                readings += u32::from(matches!(out, Out::Reading(_)));
            });
        });
    });
    assert_eq!(count, 0);
    assert!(readings > 40, "{readings}");
}

#[test]
fn neither_a_log_s_time_nor_writing_allocates() {
    let count = allocations(|| {
        let mut times = LineTime::default();
        for line in LINES.lines() {
            times.read(line.as_bytes());
        }
        let talker = Talker::from_text("II");
        let line = talker.map(|talker| wind::mwv_true(talker, None));
        assert!(line.is_some_and(|line| line.is_ok()));
    });
    assert_eq!(count, 0);
}
