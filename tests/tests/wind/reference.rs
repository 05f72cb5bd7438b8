//! Figures from other libraries, made by `tests/reference/wind/make.py` with
//! the versions pinned beside it: triangles from three-dimensional rotations
//! (scipy), statistics of uneven samples (pandas), slopes (numpy).

use cringle_core::angle::wrap_180;
use cringle_core::instruments::{Instruments, Switch};
use cringle_core::picture::Picture;
use cringle_core::stats::trend::trend;
use cringle_core::stats::{Held, Seconds, WindSample};
use cringle_core::time::Timestamp;

use crate::aboard::{apparent, heading, heel, over_ground, pitch, say, secs, stw};

/// A table of numbers, by column name.
struct Table {
    names: Vec<String>,
    rows: Vec<Vec<f64>>,
}

impl Table {
    fn load(name: &str) -> Table {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("reference/wind")
            .join(name);
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines();
        let names = lines.next().unwrap().split(',').map(String::from).collect();
        let number = |word: &str| word.parse().unwrap_or(f64::NAN);
        let rows = lines
            .map(|line| line.split(',').map(number).collect())
            .collect();
        Table { names, rows }
    }

    fn get(&self, row: &[f64], name: &str) -> f64 {
        let column = self.names.iter().position(|n| n == name).unwrap();
        row[column]
    }
}

#[test]
fn triangles_agree_with_rotations_in_space() {
    let table = Table::load("triangle.csv");
    assert!(table.rows.len() >= 240);
    for row in &table.rows {
        let get = |name| table.get(row, name);
        let mut picture = Picture::new(&Instruments {
            heel_correction: Switch::On,
            leeway_k: Some(get("k")),
            ..Instruments::default()
        });
        for second in 0..12 {
            let ms = second * 1000;
            say(&mut picture, ms, heel(get("heel")));
            say(&mut picture, ms, pitch(get("pitch")));
            say(&mut picture, ms, stw(get("stw")));
            say(&mut picture, ms, heading(get("heading")));
            say(&mut picture, ms, over_ground(get("sog"), get("cog")));
            say(&mut picture, ms, apparent(get("awa"), get("aws")));
        }
        for late in 12..15 {
            picture.tick(secs(late));
        }
        let wind = picture.wind(secs(14));
        for (found, name) in [(wind.tws_kn, "tws"), (wind.ground_kn, "gws")] {
            assert!(
                (found.unwrap() - get(name)).abs() < 1e-6,
                "{name}: {found:?} {row:?}"
            );
        }
        for (found, name) in [
            (wind.twa_deg, "twa"),
            (wind.twd_deg, "twd"),
            (wind.ground_deg, "gwd"),
        ] {
            let error = wrap_180(found.unwrap() - get(name));
            assert!(error.abs() < 1e-6, "{name}: {found:?} {row:?}");
        }
    }
}

/// Feeds a series to the bins and compares at every stop.
fn check_series(samples: &str, expected: &str) {
    let samples = Table::load(samples);
    let expected = Table::load(expected);
    let mut signal = Held::new(Timestamp::ZERO);
    let mut seconds = Seconds::new(0);
    let mut rest = samples.rows.iter().peekable();
    let mut compared = 0;
    for row in &expected.rows {
        let want = |name: &str| expected.get(row, name);
        let stop = want("upto") as u64;
        while let Some(sample) = rest.next_if(|s| samples.get(s, "ms") < stop as f64 * 1000.0) {
            let angle = samples.get(sample, "twa").to_radians();
            let wind = WindSample {
                tws_kn: samples.get(sample, "tws"),
                twa: Some(angle.sin_cos()),
                ..WindSample::default()
            };
            let at = Timestamp::from_millis(samples.get(sample, "ms") as u64);
            signal.put(wind, at, 3_000, |piece, s| seconds.add_wind(piece, s));
            while seconds.closed() < at.as_millis() / 1000 {
                seconds.close_one();
            }
        }
        signal.settle(secs(stop), |piece, s| seconds.add_wind(piece, s));
        while seconds.closed() < stop {
            seconds.close_one();
        }
        for span in [60usize, 120, 600] {
            let window = seconds.window(span, 0);
            let share = want(&format!("share_{span}"));
            assert!((window.share() - share).abs() < 1e-9, "{stop} {span}");
            let (mean, deviation) = (
                want(&format!("mean_{span}")),
                want(&format!("deviation_{span}")),
            );
            let Some(spread) = window.tws() else {
                assert!(mean.is_nan());
                continue;
            };
            near(spread.mean, mean, &format!("mean {span} at {stop}"));
            near(
                spread.deviation,
                deviation,
                &format!("spread {span} at {stop}"),
            );
            compared += 1;
        }
        let ten = seconds.window(600, 0);
        near(ten.gust_kn().unwrap(), want("gust_600"), "gust");
        let twa = ten.twa().unwrap();
        assert!(wrap_180(twa.mean_deg - want("twa_600")).abs() < 1e-4);
        near(twa.length, want("length_600"), "length");
    }
    assert!(compared >= 60, "{compared}");
}

#[track_caller]
fn near(found: f64, expected: f64, what: &str) {
    assert!(
        (found - expected).abs() <= 1e-6 * expected.abs().max(1e-3),
        "{what}: {found} for {expected}"
    );
}

#[test]
fn uneven_samples_give_the_statistics_that_pandas_gives() {
    check_series("series.csv", "series_expected.csv");
}

#[test]
fn a_real_mast_gives_the_statistics_that_pandas_gives() {
    check_series("mast.csv", "mast_expected.csv");
}

#[test]
fn slopes_agree_with_numpy() {
    let table = Table::load("trend.csv");
    for row in &table.rows {
        let points = row
            .iter()
            .skip(1)
            .enumerate()
            .map(|(n, kn)| (n as f64 / 60.0, *kn));
        let found = trend(points).unwrap();
        near(found.per_hour, table.get(row, "slope"), "slope");
        // Independent noise of 1 kn over an hour: 0.45 kn/h by the textbook.
        assert!((0.3..0.7).contains(&found.spread), "{}", found.spread);
    }
}
