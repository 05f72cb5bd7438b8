//! The hindcast on invented minutes of weather: what runs aboard beside the odds
//! alone, the logistic and the fixed pre-alarm, limits by gust, and parts of a
//! recording.

use cringle::recorder::lines::Entry;
use cringle_core::boat::Calling;
use cringle_core::outlook::Summary;
use cringle_core::time::Timestamp;
use cringle_hindcast::calls::{Manner, judge};
use cringle_hindcast::cells::{By, Caller, Cell, Judged};
use cringle_hindcast::report::{self, Asked};
use cringle_hindcast::series::{Part, Sample, Series};
use cringle_hindcast::{KN_PER_MS, heard, lines, odds, table};
use cringle_sim::weather::{Climate, Plan};

const MANNER: Manner = Manner {
    least_standing_s: 300,
    longitude_deg: 0.0,
};

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

fn cells() -> Vec<Cell> {
    let times = [600, 1200, 2400];
    let pairs = [16.0, 20.0, 24.0].map(|kn| times.map(|time| Cell::new(kn, time)));
    pairs.into_iter().flatten().collect()
}

#[test]
fn invented_weather_is_judged_by_all_that_calls_aboard() {
    let series = vec![weather(300, 11)];
    let asked = Asked {
        cells: cells(),
        setting: Calling::default().odds,
        manner: MANNER,
    };
    let judged = odds::evaluate(&series, &asked.cells, &Part::default(), |_, _| {});
    let report = report::report(&asked, &judged, &series);
    let text = table::report(&report, &series);
    println!("{text}");
    let callers: Vec<Caller> = report.pools[0].rows.iter().map(|row| row.caller).collect();
    assert_eq!(callers, Caller::ALL);
    assert!(report.pools[0].judged >= 30, "{}", report.pools[0].judged);
    let at = |caller| report.at_setting.iter().find(|it| it.caller == caller);
    let (odds, aboard) = (at(Caller::Odds).unwrap(), at(Caller::Aboard).unwrap());
    // What stands beside the odds only adds.
    assert!(aboard.total.warned >= odds.total.warned);
    assert!(aboard.total.squalls_shortly > odds.total.squalls_shortly);
    let (worst, _) = aboard.worst_sounded.unwrap();
    assert!(worst >= aboard.total.sounded / aboard.total.days);
    for (words, key) in [("logistic reference", "logistic"), ("aboard", "aboard")] {
        assert!(text.contains(words), "{words}");
        let of_it = |it: &serde_json::Value| it["kind"] == "pooled" && it["caller"] == key;
        assert!(lines::report(&report, &series).iter().any(of_it), "{key}");
    }
    assert!(text.contains("the same sounded, worst cell"));
}

#[test]
fn ten_minute_means_have_no_last_minutes() {
    let samples: Vec<Sample> = (0..200)
        .map(|k| Sample {
            unix_s: k * 600,
            summary: Some(Summary::of_wind(12.0 + (k % 30) as f64 / 3.0, 600)),
        })
        .collect();
    let series = vec![Series::lay("invented", &samples, 60).unwrap()];
    let judged = odds::evaluate(&series, &cells(), &Part::default(), |_, _| {});
    let all: Vec<&Judged> = judged.iter().collect();
    assert!(!Caller::of(&all).contains(&Caller::Aboard));
    assert_eq!(Caller::by_setting(&all), Caller::Odds);
}

#[test]
fn a_fast_build_is_called_aboard_before_the_odds_call() {
    // 13 kn for three hours, then 9 kn more in half an hour.
    let kn = |minute: u32| 13.0 + 0.3 * f64::from(minute.saturating_sub(180).min(30));
    let wave = |minute: u32| 0.4 * f64::from(minute).sin();
    let series =
        vec![series((0..300).map(|minute| {
            Summary::of_wind(kn(minute) + wave(minute), 60)
        }))];
    let judged = odds::evaluate(
        &series,
        &[Cell::new(20.0, 600)],
        &Part::default(),
        |_, _| {},
    );
    let [it] = &judged[..] else {
        panic!("one cell");
    };
    let setting = Calling::default().odds;
    let lead = |caller| judge(it, caller, setting, &MANNER, 86_400).leads[0].1;
    assert_eq!(it.crossings.len(), 1);
    assert!(lead(Caller::Aboard) >= 420.0, "{}", lead(Caller::Aboard));
    assert!(lead(Caller::Aboard) > lead(Caller::Odds));
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
    assert_eq!(judged[0].crossings, judged[1].crossings);
    assert!(cells[1].words().starts_with("25 kn of gust"));
    // The gust of ten minutes over the mean of now is a little more than of
    // one: the limit comes a little nearer, as aboard.
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
