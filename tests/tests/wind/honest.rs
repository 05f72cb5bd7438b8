//! Honest hours: wind as buoys measured it, played at 1 Hz into a moored
//! boat. Nothing in it may be doubted.
//!
//! The series are not ours to keep. Where they lie is told by the
//! environment; without it this is skipped, aloud:
//!
//! ```sh
//! CRINGLE_HONEST_SERIES=one.csv:another.csv cargo test -p cringle-tests \\
//!     --test wind honest -- --nocapture
//! ```
//!
//! Columns `unix_s`, `speed_ms`, `direction_deg` and `gust_ms`, one row a
//! minute.

use std::collections::BTreeMap;
use std::path::Path;

use cringle_core::event::FaultTurn;
use cringle_core::instruments::Instruments;
use cringle_core::picture::{Picture, Turn};

use crate::aboard::{apparent, heading, heel, over_ground, pitch, rounded, say, stw};
use crate::physics::Dice;

const KNOTS: f64 = 1.0 / 0.514_444;

/// One row: seconds, mean and gust in knots, direction.
struct Row {
    at_s: i64,
    mean: f64,
    gust: f64,
    from_deg: f64,
}

fn rows(path: &Path) -> Vec<Row> {
    let text = std::fs::read_to_string(path).expect("a series");
    let mut lines = text.lines();
    let names: Vec<&str> = lines.next().expect("names").split(',').collect();
    let place = |name: &str| names.iter().position(|n| *n == name).expect("a column");
    let (at, speed, from, gust) = (
        place("unix_s"),
        place("speed_ms"),
        place("direction_deg"),
        place("gust_ms"),
    );
    lines
        .filter_map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            let number = |place: usize| fields.get(place)?.parse::<f64>().ok();
            Some(Row {
                at_s: number(at)? as i64,
                mean: number(speed)? * KNOTS,
                gust: number(gust)? * KNOTS,
                from_deg: number(from)?,
            })
        })
        .collect()
}

/// Fills the minutes to seconds: means joined by straight lines, with gusts
/// that follow themselves over 10 s and reach the greatest of the minute.
fn play(rows: &[Row]) -> BTreeMap<String, u32> {
    let mut picture = Picture::new(&Instruments::default());
    let mut dice = Dice::new(17);
    let mut doubts = BTreeMap::new();
    let (mut gust, mut swing) = (0.0, 0.0);
    for pair in rows.windows(2) {
        let [row, next] = pair else { continue };
        if next.at_s - row.at_s != 60 {
            continue;
        }
        let turn = (next.from_deg - row.from_deg + 540.0).rem_euclid(360.0) - 180.0;
        // The greatest of some 20 independent 3 s means lies 1.9 sd up.
        let sd = ((row.gust - row.mean) / 1.9).max(0.02);
        for second in 0..60 {
            let part = f64::from(second) / 60.0;
            gust = 0.9 * gust + 0.436 * dice.normal();
            swing = 0.9 * swing + 0.436 * dice.normal();
            let mean = row.mean + part * (next.mean - row.mean);
            let from = row.from_deg + part * turn + 4.0 * swing;
            let ms = (row.at_s - rows[0].at_s + i64::from(second)) as u64 * 1000;
            let yaw = dice.normal();
            say(&mut picture, ms, stw(0.0));
            say(&mut picture, ms, over_ground(0.1, 0.0));
            say(&mut picture, ms, heading(rounded(yaw, 1.0)));
            say(
                &mut picture,
                ms,
                heel(rounded(0.5 + 0.6 * dice.normal(), 0.1)),
            );
            say(&mut picture, ms, pitch(rounded(0.5 * dice.normal(), 0.1)));
            let speed = rounded((mean + sd * gust).max(0.0), 0.1);
            say(&mut picture, ms, apparent(rounded(from - yaw, 1.0), speed));
            while let Some(turn) = picture.next_turn() {
                if let Turn::Fault(fault, FaultTurn::Began) = turn {
                    *doubts.entry(fault.to_string()).or_default() += 1;
                }
            }
        }
    }
    doubts
}

#[test]
fn a_buoys_honest_hours_raise_no_doubt() {
    let Ok(paths) = std::env::var("CRINGLE_HONEST_SERIES") else {
        println!("skipped: CRINGLE_HONEST_SERIES names no series");
        return;
    };
    for path in paths.split(':') {
        let rows = rows(Path::new(path));
        let doubts = play(&rows);
        println!("{path}: {} minutes, doubts {doubts:?}", rows.len());
        // A gap in the series is a silence, and is said to be one; a wild
        // value of the noise that fills it is struck out, and is no doubt.
        let plain = ["lost", "no true wind direction", "has spikes"];
        let is_odd = |word: &str| !plain.iter().any(|end| word.ends_with(end));
        let odd: Vec<_> = doubts.iter().filter(|(word, _)| is_odd(word)).collect();
        assert!(odd.is_empty(), "{path}: {odd:?}");
    }
}
