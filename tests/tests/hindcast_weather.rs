//! The hindcast on invented minutes of weather: what runs aboard beside the odds
//! alone and the fixed pre-alarm, limits by gust, and parts of a recording.

use cringle::recorder::lines::Entry;
use cringle_core::boat::Calling;
use cringle_core::outlook::Summary;
use cringle_core::time::Timestamp;
use cringle_hindcast::aboard;
use cringle_hindcast::curve::Caller;
use cringle_hindcast::judged::{By, Cell};
use cringle_hindcast::report::{self, Asked};
use cringle_hindcast::series::{Part, Sample, Series};
use cringle_hindcast::{KN_PER_MS, heard, lines, odds, page, table};
use cringle_sim::weather::{Climate, Plan};

fn series(summaries: impl Iterator<Item = Summary>) -> Series {
    let samples: Vec<Sample> = (0..)
        .map(|minute| minute * 60)
        .zip(summaries)
        .map(|(unix_s, summary)| Sample {
            unix_s,
            summary: Some(summary),
        })
        .collect();
    Series::lay("invented", &samples, 60).unwrap()
}

/// A squally open sea, so that a few hundred hours hold something to warn of.
fn weather(hours: usize, seed: u64) -> Series {
    let plan = Plan {
        climate: Some(Climate {
            memory_h: 12.0,
            fronts_per_week: 6.0,
            squalls_per_week: 6.0,
            ..Climate::default()
        }),
        ..Plan::default()
    };
    let rows = cringle_sim::series::Series::new(&plan, 10.0, 0.0, 60, seed);
    series(rows.take(hours * 60).map(|row| Summary {
        gust_kn: Some(row.gust_ms * KN_PER_MS),
        ..Summary::of_wind(row.speed_ms * KN_PER_MS, 60)
    }))
}

#[test]
fn invented_weather_is_judged_as_aboard_beside_the_odds_and_fixed_alarms() {
    let series = vec![weather(96, 11)];
    let asked = Asked {
        cells: vec![Cell::new(16.0, 600), Cell::new(20.0, 1200)],
        calling: Calling::default(),
        longitude_deg: 0.0,
    };
    let judged = odds::evaluate(&series, &asked.cells, &Part::default(), |_, _| {});
    let played = aboard::play_all(&series, &asked.cells, &asked.calling, || {});
    let report = report::report(&asked, &judged, &played, &series);
    let text = table::report(&report, &series);
    println!("{text}");
    let callers: Vec<Caller> = report.at_setting.iter().map(|it| it.caller).collect();
    let all = [
        Caller::Fraction,
        Caller::Knots,
        Caller::Odds,
        Caller::Aboard,
    ];
    assert_eq!(callers, all);
    let [fraction, .., aboard] = &report.at_setting[..] else {
        panic!("four callers");
    };
    assert!(aboard.total.crossings >= 5.0, "{:?}", aboard.total);
    assert!(aboard.total.warned > 0.0 && aboard.total.raised > 0.0);
    assert!(aboard.total.night_h > 0.0);
    // The fixed pre-alarm beside it idles no longer.
    assert!(fraction.total.idle_min <= aboard.total.idle_min);
    let truth = report.truth.as_ref().unwrap();
    assert!(truth.shown > 100 && truth.crossings >= 5, "{truth:?}");
    let is_figure = |it: &serde_json::Value| it["kind"] == "figure" && it["early"].is_number();
    assert!(lines::report(&report, &series).iter().any(is_figure));
    assert!(page::page(&report, &text).contains("Was the figure true?"));
}

#[test]
fn ten_minute_means_are_not_played() {
    let winds = (0..50).map(|k| Sample {
        unix_s: k * 600,
        summary: Some(Summary::of_wind(12.0, 600)),
    });
    let series = vec![Series::lay("invented", &winds.collect::<Vec<_>>(), 60).unwrap()];
    let cells = [Cell::new(20.0, 600)];
    let played = aboard::play_all(&series, &cells, &Calling::default(), || {});
    assert_eq!(played, [None]);
}

#[test]
fn a_limit_by_gust_is_that_of_the_mean_under_steady_gusts() {
    let wind = |minute: u32| 15.0 + 6.0 * (f64::from(minute) / 40.0).sin();
    let series = vec![series((0..3000).map(|minute| Summary {
        gust_kn: Some(1.25 * wind(minute)),
        ..Summary::of_wind(wind(minute), 60)
    }))];
    let by_gust = Cell {
        by: By::Gust,
        ..Cell::new(25.0, 1200)
    };
    let cells = [Cell::new(20.0, 1200), by_gust];
    let judged = odds::evaluate(&series, &cells, &Part::default(), |_, _| {});
    assert!(!judged[0].crossings.is_empty());
    // The highest gust of ten minutes is there a little before their mean.
    for (gust, mean) in judged[1].crossings.iter().zip(&judged[0].crossings) {
        assert!((1..=10).contains(&(mean - gust)), "{gust} {mean}");
    }
    assert!(cells[1].words().starts_with("25 kn of gust"));
    for slot in 100..3000 {
        let (mean, gust) = (judged[0].odds[slot], judged[1].odds[slot]);
        assert!(gust >= 0.5 * mean, "at {slot}: {mean} {gust}");
    }
}

#[test]
fn parts_of_one_run_are_one_series_and_others_are_not() {
    let directory = tempfile::tempdir().unwrap();
    let write = |name: &str, run, part, from_s: u64| {
        let path = directory.path().join(name);
        let text = cringle_boat::example_text();
        let mut entries = vec![Entry::Format(1), Entry::Part { run, part }];
        entries.push(Entry::Port(cringle::ports::PortId(0), "log".into()));
        entries.extend(text.lines().map(|line| Entry::Boat(line.into())));
        entries.push(Entry::Start(Timestamp::ZERO));
        for second in from_s..from_s + 180 {
            let body = "WIMWV,045.0,T,20.0,N,A";
            let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
            entries.push(Entry::Heard {
                port: cringle::ports::PortId(0),
                at: Timestamp::from_secs(second),
                unix_ms: Some(1_700_000_000_000 + second as i64 * 1000),
                line: format!("${body}*{sum:02X}").into_bytes(),
            });
        }
        let bytes: Vec<u8> = entries.iter().flat_map(Entry::write).collect();
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let (one, two) = (write("a-1", 7, 1, 1), write("a-2", 7, 2, 181));
    let other = write("b-1", 8, 1, 1);
    let groups = heard::joined(&[one.clone(), two.clone(), other.clone()]).unwrap();
    assert_eq!(groups, [vec![one.clone(), two], vec![other]]);
    let how = heard::Reading {
        boat: None,
        otherwise: || unreachable!("a boat is given, or it is a series"),
        baud: 4800,
        mean_s: 60,
    };
    let minutes = |paths| heard::read(paths, &how).unwrap().0.slots.len();
    assert_eq!(minutes(&groups[0]), minutes(&[one]) + 3);
}
