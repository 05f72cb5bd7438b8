//! The hindcast against a reference in Python, on invented series.
//!
//! Expected values come of `tests/reference/hindcast/make.py`, which follows
//! the words of the definitions by plain loops and shares no code with this.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use cringle_hindcast::curve::{Caller, Curve, LEVELS};
use cringle_hindcast::heard::{self, Reading};
use cringle_hindcast::judged::{Cell, Judged, Limit, running_mean};
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
        otherwise: || unreachable!("it is a series"),
        baud: 4800,
        mean_s: 60,
    };
    let (series, remarks) = heard::read(&[data(&format!("{name}.csv"))], &how).unwrap();
    assert!(remarks.is_empty(), "{remarks:?}");
    let expected = std::fs::read_to_string(data(&format!("{name}.json"))).unwrap();
    (series, serde_json::from_str(&expected).unwrap())
}

/// Odds that are a formula of the wind, as in the reference.
fn odds(series: &Series, limit_kn: f64) -> Vec<f64> {
    let one = |(slot, kn): (usize, f64)| {
        let sum = -12.0 * (kn / limit_kn - 1.0) - 0.8 * (0.37 * slot as f64).sin();
        (1e6 / (1.0 + sum.exp())).round() / 1e6
    };
    series.wind().into_iter().enumerate().map(one).collect()
}

fn judged(series: &Series, expected: &Value) -> Vec<Judged> {
    let each = series.wind();
    let wind: Arc<[f64]> = running_mean(&each, series.step_s).into();
    let keep: Arc<[bool]> = series.keep(&Part::default()).into();
    let cells = expected["cells"].as_array().unwrap();
    let cell = |it: &Value| {
        let limit_kn = it["limit_kn"].as_f64().unwrap();
        let cell = Cell::new(limit_kn, it["call_time_s"].as_u64().unwrap() as u32);
        let limit = Arc::new(Limit::new(&wind, &each, limit_kn, series.step_s));
        Judged::new(
            (0, series),
            (0, &cell),
            &limit,
            &keep,
            odds(series, limit_kn),
        )
    };
    cells.iter().map(cell).collect()
}

#[track_caller]
fn same_cell(found: &Judged, expected: &Value) {
    let times = expected["crossings_unix_s"].as_array().unwrap();
    let times: Vec<i64> = times.iter().map(|it| it.as_i64().unwrap()).collect();
    let crossings = found.crossings.iter().map(|slot| found.at_s(*slot));
    assert_eq!(crossings.collect::<Vec<_>>(), times);
    let missable = expected["missable"].as_u64().unwrap();
    assert_eq!(found.missable.len() as u64, missable);
    let idle = found.idle.iter().filter(|idle| **idle).count();
    assert_eq!(idle as u64, expected["idle_slots"].as_u64().unwrap());
}

#[track_caller]
fn agrees(name: &str) {
    let (series, expected) = read(name);
    assert_eq!(
        u64::from(series.step_s),
        expected["step_s"].as_u64().unwrap()
    );
    let judged = judged(&series, &expected);
    for (found, expected) in judged.iter().zip(expected["cells"].as_array().unwrap()) {
        same_cell(found, expected);
    }
    let pooled: Vec<&Judged> = judged.iter().collect();
    for caller in Caller::SWEPT {
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
fn one_minute_means_are_judged_as_by_the_reference() {
    agrees("one-minute");
}

#[test]
fn steps_that_wander_are_judged_as_by_the_reference() {
    agrees("uneven");
}

#[test]
fn ten_minute_means_are_judged_as_by_the_reference() {
    agrees("ten-minutes");
}

#[test]
fn quarters_of_an_hour_are_judged_as_by_the_reference() {
    agrees("quarter-hour");
}
