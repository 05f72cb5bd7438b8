//! Constant memory: no allocation, however long and however odd the day.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use cringle_core::instruments::Instruments;
use cringle_core::picture::Picture;
use cringle_core::reading::{Heard, Quantity, Rank, Reading, SourceId};

use crate::aboard::{apparent, heading, heel, secs, stw};
use crate::physics::Dice;

thread_local! {
    static ALLOCATIONS: Cell<u64> = const { Cell::new(0) };
}

/// Counts what this thread asks for.
struct Counting;

// SAFETY: every call is handed on unchanged to the system's allocator.
#[allow(unsafe_code)] // A global allocator cannot be written without.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let _ = ALLOCATIONS.try_with(|count| count.set(count.get() + 1));
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn nothing_is_allocated_and_odd_readings_do_no_harm() {
    let mut dice = Dice::new(99);
    let mut picture = Picture::new(&Instruments::default());
    let before = ALLOCATIONS.with(Cell::get);
    let mut shown = 0.0;
    for n in 0..300_000u64 {
        let at = cringle_core::time::Timestamp::from_millis(n * 170);
        let measure = match n % 4 {
            0 => apparent(360.0 * dice.uniform(), 60.0 * dice.uniform()),
            1 => stw(10.0 * dice.uniform()),
            2 => heading(360.0 * dice.uniform()),
            _ => heel(80.0 * dice.uniform() - 40.0),
        };
        let quantity = Quantity::ALL[(dice.uniform() * 22.0) as usize % 22];
        let heard = if dice.uniform() < 0.05 {
            Heard::Invalid(quantity)
        } else {
            Heard::Value(measure)
        };
        let reading = Reading {
            source: SourceId((dice.uniform() * 70.0) as u32),
            rank: Rank((dice.uniform() * 3.0) as u8),
            at,
            heard,
        };
        picture.hear(&reading, at);
        while picture.next_turn().is_some() {}
        if n % 1000 == 0 {
            let wind = picture.wind(at);
            for figure in [
                wind.aws_kn,
                wind.tws_kn,
                wind.mean_10min_kn,
                wind.gust_kn,
                wind.trend_kn_h,
            ] {
                assert!(figure.is_none_or(f64::is_finite));
                shown += figure.unwrap_or(0.0);
            }
            let _ = (picture.heel(at, Some(20.0)), picture.motion(at));
            let _ = (picture.pressure(at), picture.sources(at), picture.needs(at));
        }
    }
    let after = ALLOCATIONS.with(Cell::get);
    assert!(shown > 0.0);
    assert_eq!(after - before, 0);
}

#[test]
fn the_picture_leaves_room_for_the_rest_of_the_watch() {
    let size = size_of::<Picture>();
    println!("a picture holds {size} bytes");
    assert!(size <= 64 * 1024);
    let picture = Picture::new(&Instruments::default());
    assert_eq!(picture.next_deadline(), None);
    assert!(picture.wind(secs(10)).tws_kn.is_none());
}
