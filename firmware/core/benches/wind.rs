//! What a reading, a second, a view and a day cost. `cargo bench -p
//! cringle-core --bench wind`.

use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::instruments::{Instruments, Switch};
use cringle_core::picture::Picture;
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::time::Timestamp;
use cringle_core::units::{Degrees, Knots, Metres, SignedKnots};
use divan::Bencher;
use divan::counter::ItemsCount;

fn main() {
    divan::main();
}

fn reading(ms: u64, measure: Measure) -> Reading {
    Reading {
        source: SourceId(measure.quantity().index() as u32),
        rank: Rank::AUTOMATIC,
        at: Timestamp::from_millis(ms),
        heard: Heard::Value(measure),
    }
}

/// Wind and heel every `every_ms`, speed and heading once a second, swinging
/// as aboard.
fn passage(seconds: u64, every_ms: u64) -> Vec<Reading> {
    let mut readings = Vec::new();
    for ms in (0..seconds * 1000).step_by(every_ms as usize) {
        let t = ms as f64 / 1000.0;
        let angle = BowAngle::new(35.0 + 6.0 * (t * 0.9).sin() + 2.0 * (t * 7.1).sin());
        let speed = Knots::new(20.0 + 2.0 * (t * 0.3).sin() + (t * 5.3).sin());
        readings.push(reading(
            ms,
            Measure::ApparentWind {
                angle: angle.unwrap(),
                speed: speed.unwrap(),
            },
        ));
        let heel = Degrees::new(20.0 + 10.0 * (t * 0.9).sin()).unwrap();
        readings.push(reading(ms, Measure::Heel(heel)));
        if ms % 1000 == 0 {
            let stw = SignedKnots::new(6.0 + 0.2 * (t * 0.1).sin()).unwrap();
            readings.push(reading(ms, Measure::WaterSpeed(stw)));
            let heading = Bearing::new(60.0 + 3.0 * (t * 0.5).sin()).unwrap();
            readings.push(reading(ms, Measure::HeadingTrue(heading)));
        }
    }
    readings
}

/// Every correction on.
fn instruments() -> Instruments {
    let mut instruments = Instruments {
        heel_correction: Switch::On,
        mast_motion: Metres::new(18.0).ok(),
        leeway_k: Some(12.0),
        masthead_height: Metres::new(18.0).ok(),
        ..Instruments::default()
    };
    for (off_bow, by) in [(20.0, 4.0), (60.0, 3.0), (120.0, 1.0)] {
        let entry = (Degrees::new(off_bow).unwrap(), Degrees::new(by).unwrap());
        instruments.upwash_table.push(entry).unwrap();
    }
    instruments
}

fn run(readings: &[Reading], instruments: &Instruments) -> Picture {
    let mut picture = Picture::new(instruments);
    for reading in readings {
        picture.hear(reading, reading.at);
        while picture.next_turn().is_some() {}
    }
    picture
}

/// An hour with wind and heel at this many a second, a reading at a time.
#[divan::bench(args = [1, 10])]
fn readings(bencher: Bencher, hertz: u64) {
    let readings = passage(3600, 1000 / hertz);
    let instruments = instruments();
    bencher
        .counter(ItemsCount::new(readings.len()))
        .bench_local(|| run(&readings, &instruments));
}

/// A whole day with wind and heel ten times a second.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn day_at_ten_hertz(bencher: Bencher) {
    let readings = passage(86_400, 100);
    let instruments = instruments();
    bencher
        .counter(ItemsCount::new(readings.len()))
        .bench_local(|| run(&readings, &instruments));
}

/// A whole day in which nothing is heard.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn silent_day(bencher: Bencher) {
    let instruments = instruments();
    bencher.bench_local(|| {
        let mut picture = Picture::new(&instruments);
        picture.tick(Timestamp::ZERO);
        picture.tick(Timestamp::from_secs(86_400));
        picture
    });
}

/// Wind and heel as a view shows them, with three hours behind.
#[divan::bench]
fn view(bencher: Bencher) {
    let readings = passage(3 * 3600, 1000);
    let picture = run(&readings, &instruments());
    let now = Timestamp::from_secs(3 * 3600);
    bencher.bench_local(|| (picture.wind(now), picture.heel(now, Some(20.0))));
}
