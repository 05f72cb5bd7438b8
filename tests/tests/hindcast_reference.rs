//! The hindcast against the reference in Python, on invented series.
//!
//! Expected values come of `tests/reference/hindcast/make.py`, which uses its
//! own crossings, sweep and odds (numpy) and shares no code with this one.

use std::path::{Path, PathBuf};

use cringle_hindcast::cells::{Caller, Cell, Judged};
use cringle_hindcast::curve::{Curve, LEVELS};
use cringle_hindcast::heard::{self, Reading};
use cringle_hindcast::odds;
use cringle_hindcast::series::{Part, Series};
use serde_json::Value;

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data/hindcast")
        .join(name)
}

fn read(name: &str) -> (Series, Value) {
    let how = Reading {
        boat: None,
        otherwise: || unreachable!("a boat is given, or it is a series"),
        baud: 4800,
        mean_s: 60,
    };
    let (series, remarks) = heard::read(&[data(&format!("{name}.csv"))], &how).unwrap();
    assert!(remarks.is_empty(), "{remarks:?}");
    let expected = std::fs::read_to_string(data(&format!("{name}.json"))).unwrap();
    (series, serde_json::from_str(&expected).unwrap())
}

fn cells(expected: &Value) -> Vec<Cell> {
    let cells = expected["cells"].as_array().unwrap();
    let cell = |it: &Value| {
        let seconds = it["call_time_s"].as_u64().unwrap();
        Cell::new(it["limit_kn"].as_f64().unwrap(), seconds as u32)
    };
    cells.iter().map(cell).collect()
}

#[track_caller]
fn same_cell(found: &Judged, expected: &Value) {
    let times = expected["crossings_unix_s"].as_array().unwrap();
    let times: Vec<i64> = times.iter().map(|it| it.as_i64().unwrap()).collect();
    let crossings = found.crossings.iter().map(|slot| found.at_s(*slot));
    assert_eq!(crossings.collect::<Vec<_>>(), times);
    let idle = found.idle.iter().filter(|idle| **idle).count();
    assert_eq!(idle as u64, expected["idle_slots"].as_u64().unwrap());
    let known: Vec<f64> = found
        .odds
        .iter()
        .copied()
        .filter(|it| !it.is_nan())
        .collect();
    assert_eq!(known.len() as u64, expected["odds_known"].as_u64().unwrap());
    let sum: f64 = known.iter().sum();
    let by_reference = expected["odds_sum"].as_f64().unwrap();
    assert!(
        (sum - by_reference).abs() < 1e-6,
        "{sum} for {by_reference}"
    );
}

fn agrees(name: &str) {
    let (series, expected) = read(name);
    let cells = cells(&expected);
    let judged = odds::evaluate(&[series], &cells, &Part::default(), |_, _| {});
    let all = expected["cells"].as_array().unwrap();
    assert_eq!(judged.len(), all.len());
    for (found, expected) in judged.iter().zip(all) {
        same_cell(found, expected);
    }
    let pooled: Vec<&Judged> = judged.iter().collect();
    // The reference knows nothing of what stands beside the odds aboard.
    for caller in Caller::ALL.into_iter().filter(|it| *it != Caller::Aboard) {
        let curve = Curve::sweep(caller, &pooled);
        let shares = expected["share_warned"][caller.key()].as_array().unwrap();
        for (level, share) in LEVELS.iter().zip(shares) {
            let found = curve.share_at(*level).unwrap();
            let share = share.as_f64().unwrap();
            assert!(
                (found - share).abs() < 1e-9,
                "{name}, {caller:?}, {level} min: {found} for {share}"
            );
        }
    }
}

#[test]
fn ten_minute_means_are_judged_as_by_the_reference() {
    agrees("ten-minutes");
}

#[test]
fn one_minute_means_are_judged_as_by_the_reference() {
    agrees("one-minute");
}
