//! What a hindcast hands out: odds that anyone can check, one page, lines, and
//! recordings judged like series.

use std::io::Write;
use std::path::{Path, PathBuf};

use cringle_core::boat::Calling;
use cringle_hindcast::aboard::Played;
use cringle_hindcast::heard::{self, Reading};
use cringle_hindcast::judged::{Cell, Judged};
use cringle_hindcast::report::{self, Asked, Report};
use cringle_hindcast::series::{Part, Series};
use cringle_hindcast::{lines, odds, page, table};

const HOW: Reading = Reading {
    boat: None,
    otherwise: || unreachable!("a boat is given, or it is a series"),
    baud: 4800,
    mean_s: 60,
};

fn invented() -> Series {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/hindcast/ten-minutes.csv");
    heard::read(&[path], &HOW).unwrap().0
}

fn judged(series: &[Series], part: &Part) -> (Asked, Vec<Judged>) {
    let asked = Asked {
        cells: vec![Cell::new(14.0, 600), Cell::new(18.0, 1200)],
        calling: Calling {
            odds: 0.2,
            ..Calling::default()
        },
        longitude_deg: 0.0,
    };
    let judged = odds::evaluate(series, &asked.cells, part, |_, _| {});
    (asked, judged)
}

fn unplayed(judged: &[Judged]) -> Vec<Option<Played>> {
    vec![None; judged.len()]
}

fn whole() -> (Vec<Series>, Vec<Judged>, Report) {
    let series = vec![invented()];
    let (asked, judged) = judged(&series, &Part::default());
    let report = report::report(&asked, &judged, &unplayed(&judged), &series);
    (series, judged, report)
}

/// A script of its own: share warned at a setting, from the series and the
/// odds as they were written, and nothing else of the hindcast's.
fn share_by_hand(series: &Series, odds: &str, limit: f64, call_time: i64, setting: f64) -> f64 {
    let mut standing = std::collections::BTreeSet::new();
    for line in odds.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let [unix_s, kn, seconds, odds] = fields[..] else {
            panic!("{line}");
        };
        let mine = kn.parse() == Ok(limit) && seconds.parse() == Ok(call_time);
        if mine && odds.parse().is_ok_and(|odds: f64| odds >= setting) {
            standing.insert(unix_s.parse::<i64>().unwrap());
        }
    }
    let wind = series.wind();
    let (mut crossings, mut warned) = (0.0, 0.0);
    for k in 3..wind.len() {
        let before = wind[k - 3..k].iter().all(|kn| *kn < limit);
        let after = wind[k..].iter().take(3).filter(|kn| **kn >= limit).count();
        if before && wind[k] >= limit && after >= 2 {
            crossings += 1.0;
            let due = k - call_time as usize / 600;
            let lingers = wind[due - 3..=due].iter().any(|kn| *kn >= limit);
            if lingers {
                crossings -= 1.0;
                continue;
            }
            let stood = standing.contains(&(series.at_s(k) - call_time));
            warned += f64::from(u8::from(stood));
        }
    }
    warned / crossings
}

#[test]
fn the_odds_as_written_give_the_same_share_by_hand() {
    let series = vec![invented()];
    let (_, judged) = judged(&series, &Part::default());
    let mut written = Vec::new();
    odds::write(&judged, &series, &mut written).unwrap();
    let written = String::from_utf8(written).unwrap();
    assert!(written.starts_with("unix_s,limit_kn,call_time_s,odds\n"));
    let heard = series[0].slots.iter().flatten().count();
    assert_eq!(written.lines().count(), 1 + 2 * heard);
    for setting in [0.300_000_5, 0.400_000_5, 0.500_000_5] {
        let by_hand = share_by_hand(&series[0], &written, 18.0, 1200, setting);
        let stands = judged[1].missable.iter().filter(|crossing| {
            judged[1]
                .due(**crossing)
                .is_some_and(|slot| judged[1].odds[slot] >= setting)
        });
        let share = stands.count() as f64 / judged[1].missable.len() as f64;
        assert!((share - by_hand).abs() < 1e-12, "{share} and {by_hand}");
        assert!(by_hand > 0.0 && by_hand < 1.0, "{by_hand} says nothing");
    }
}

#[test]
fn a_judged_part_is_only_part_of_what_is_counted() {
    let series = vec![invented()];
    let middle_s = series[0].at_s(series[0].slots.len() / 2);
    let (_, all) = judged(&series, &Part::default());
    let count = |from_s, to_s| {
        let (_, judged) = judged(&series, &Part { from_s, to_s });
        judged[0].crossings.len()
    };
    let (before, after) = (count(None, Some(middle_s)), count(Some(middle_s), None));
    assert!(before > 0 && after > 0);
    assert_eq!(before + after, all[0].crossings.len());
}

#[test]
fn a_later_setting_never_stands_longer() {
    let (_, _, report) = whole();
    for pair in report.prices.windows(2) {
        assert!(pair[0].setting > pair[1].setting);
        assert!(pair[0].total.idle_min <= pair[1].total.idle_min);
        assert!(pair[0].share() <= pair[1].share());
    }
}

#[test]
fn bounds_enclose_what_they_bound_and_are_the_same_each_time() {
    let (_, _, report) = whole();
    let mut bounded = 0;
    for share in report.pools[0].rows.iter().flat_map(|row| &row.shares) {
        let (value, bounds) = (share.value.unwrap(), share.bounds.unwrap());
        assert!(bounds.low <= bounds.high);
        bounded += i32::from(bounds.low <= value && value <= bounds.high);
    }
    assert!(bounded >= 15, "{bounded} of 18");
    let again = whole().2;
    assert_eq!(
        report.pools[0].rows[2].shares,
        again.pools[0].rows[2].shares
    );
}

#[test]
fn the_page_needs_nothing_else_and_shows_day_and_night() {
    let (series, _, report) = whole();
    let page = page::page(&report, &table::report(&report, &series));
    for wanted in [
        "<svg",
        "polyline",
        "prefers-color-scheme:dark",
        "Brier skill",
    ] {
        assert!(page.contains(wanted), "{wanted}");
    }
    for outside in ["http", "<script", "<link", "<img", "url(", "@import"] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert_eq!(page.matches("<svg").count(), page.matches("</svg>").count());
}

#[test]
fn every_line_is_an_object_with_its_kind() {
    let (series, _, report) = whole();
    let lines = lines::report(&report, &series);
    for kind in [
        "series", "pooled", "cell", "setting", "price", "soonest", "decile", "brier",
    ] {
        assert!(lines.iter().any(|it| it["kind"] == kind), "{kind}");
    }
    assert!(lines.iter().all(|it| it["v"] == 1));
    let pooled = lines.iter().find(|it| it["kind"] == "pooled").unwrap();
    for key in [
        "share_warned",
        "share_warned_low",
        "share_warned_high",
        "judged",
    ] {
        assert!(pooled[key].is_number(), "{key}: {pooled}");
    }
}

#[test]
fn a_calm_series_shows_no_share_instead_of_a_good_one() {
    let mut series = invented();
    for slot in series.slots.iter_mut().flatten() {
        slot.mean_kn = 5.0;
    }
    let series = vec![series];
    let (asked, judged) = judged(&series, &Part::default());
    let report = report::report(&asked, &judged, &unplayed(&judged), &series);
    for row in &report.pools[0].rows {
        assert!(row.shares.iter().all(|it| it.value.is_none()));
    }
    assert_eq!(report.at_setting.last().unwrap().figures[0].value, None);
    assert_eq!(report.reliability.skill, None);
}

/// One line a second: masthead true wind over water at 20 kn, then 30 kn.
fn log(directory: &Path) -> PathBuf {
    let path = directory.join("passage.log");
    let mut file = std::fs::File::create(&path).unwrap();
    for second in 0..900_u64 {
        let kn = if second < 600 { 20.0 } else { 30.0 };
        let unix_ms = 1_700_000_000_000 + second * 1000;
        let wind = sentence(&format!("WIMWV,045.0,T,{kn:.1},N,A"), '$');
        let tag = sentence(&format!("c:{unix_ms}"), '\\');
        writeln!(file, "{tag}\\{wind}\r").unwrap();
    }
    path
}

fn sentence(body: &str, first: char) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{first}{body}*{sum:02X}")
}

#[test]
fn a_log_of_sentences_becomes_minutes_with_their_times() {
    let directory = tempfile::tempdir().unwrap();
    let how = Reading {
        boat: cringle_boat::example().ok(),
        ..HOW
    };
    let (series, _) = heard::read(&[log(directory.path())], &how).unwrap();
    assert_eq!((series.step_s, series.start_s), (60, 1_700_000_000));
    let wind = series.wind();
    assert!((14..=15).contains(&wind.len()), "{}", wind.len());
    assert!((wind[5] - 20.0).abs() < 0.5, "{wind:?}");
    assert!((wind[13] - 30.0).abs() < 0.5, "{wind:?}");
}

#[test]
fn packed_series_are_read_as_well() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("wind.csv.gz");
    let plain = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/hindcast/ten-minutes.csv");
    let file = std::fs::File::create(&path).unwrap();
    let mut packer = flate2::write::GzEncoder::new(file, flate2::Compression::fast());
    packer.write_all(&std::fs::read(plain).unwrap()).unwrap();
    packer.finish().unwrap();
    let (series, _) = heard::read(&[path], &HOW).unwrap();
    assert_eq!(series.slots, invented().slots);
}
