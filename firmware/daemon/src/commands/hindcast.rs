//! `cringle hindcast`: calls judged on wind that has blown.

use std::io::{BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::anyhow;
use clap::Args;
use cringle_boat::BoatFile;
use cringle_core::boat::Calling;
use cringle_engine::replay::Unplayable;
use cringle_hindcast::aboard::{self, Played};
use cringle_hindcast::curve::{Caller, Curve};
use cringle_hindcast::heard::{self, Reading};
use cringle_hindcast::judged::{By, Cell, Judged};
use cringle_hindcast::report::{self, Asked, Report};
use cringle_hindcast::series::{Part, Series};
use cringle_hindcast::{ladder, lines, odds, page, table};

use crate::answer::{Failure, Verdict, aside, say};
use crate::boatfile::{self, Otherwise};

/// Call times without a ladder: six by day, two by day, two by night with one
/// asleep.
const CALL_TIMES_S: [u32; 3] = [600, 1200, 2400];
/// The longest call time for which there are odds.
const LONGEST_CALL_S: f64 = cringle_core::outlook::HORIZON_S as f64;

/// The arguments of `hindcast`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Series of wind (CSV with the columns unix_s and speed_ms or speed_kn)
    /// or recordings; gzipped or not.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The boat whose ladder is judged.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// Limits in knots instead of a ladder's.
    #[arg(long, value_name = "KN,KN..", value_delimiter = ',')]
    limits: Vec<Knots>,
    /// Call times beside the limits, such as 10m,20m,40m.
    #[arg(long, value_name = "T,T..", value_delimiter = ',')]
    call_times: Vec<CallTime>,
    /// The one setting: odds at which the call comes; else the boat file's.
    #[arg(long, value_name = "ODDS")]
    setting: Option<f64>,
    /// Judge from this moment on (Unix seconds, or such as 2015-01-01, UTC);
    /// what is before warms up.
    #[arg(long, value_name = "DATE")]
    from: Option<Moment>,
    /// Judge up to this moment.
    #[arg(long, value_name = "DATE")]
    to: Option<Moment>,
    /// Shortest mean that is judged as the wind, such as 1m or 10m.
    #[arg(long, value_name = "T", default_value = "1m")]
    mean: CallTime,
    /// Longitude by which nights are reckoned, degrees east; else UTC.
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    longitude: Option<f64>,
    /// Write the odds behind every judgement.
    #[arg(long, value_name = "FILE.csv")]
    odds: Option<PathBuf>,
    /// Write one page with curve, reliability and tables.
    #[arg(long, value_name = "FILE.html")]
    html: Option<PathBuf>,
    /// Only sweep the odds: play nothing as aboard.
    #[arg(long)]
    quick: bool,
    /// Found wanting (exit code 1) under this share warned at so many idle
    /// minutes per 24 h.
    #[arg(long, value_name = "IDLE=SHARE")]
    bar: Vec<Bar>,
    /// One JSON object a line on standard output.
    #[arg(long)]
    json: bool,
    /// The rate of the line, for a log that says nothing of time.
    #[arg(long, default_value_t = 4800)]
    baud: u32,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let mut asked = asked(arguments)?;
    let series = read(arguments)?;
    leave_out_gusts(&mut asked.cells, &series)?;
    let part = Part {
        from_s: arguments.from.map(|it| it.0),
        to_s: arguments.to.map(|it| it.0),
    };
    something_is_judged(&series, &part)?;
    let judged = odds::evaluate(&series, &asked.cells, &part, |done, all| {
        progress("worked out", done, all);
    });
    if let Some(path) = &arguments.odds {
        let mut file = create(path)?;
        let written = odds::write(&judged, &series, &mut file).and_then(|()| file.flush());
        written.map_err(|error| unwritten(path, error.into()))?;
    }
    let played = played(arguments, &asked, &series);
    let report = report::report(&asked, &judged, &played, &series);
    tell(arguments, &report, &series)?;
    Ok(met(&arguments.bar, &judged))
}

fn asked(arguments: &Arguments) -> Result<Asked, Failure> {
    let boat = match (&arguments.boat, arguments.limits.is_empty()) {
        (None, false) => None,
        (named, _) => Some(boatfile::find(named.as_deref(), Otherwise::Example)?),
    };
    let mut calling = boat
        .as_ref()
        .map_or(Calling::default(), |it| it.boat.calling);
    calling.odds = arguments.setting.unwrap_or(calling.odds);
    is_odds(calling.odds)?;
    if arguments.longitude.is_none() {
        aside("longitude not given: nights are 22 to 06 UTC");
    }
    Ok(Asked {
        cells: cells(arguments, boat.as_ref())?,
        calling,
        longitude_deg: arguments.longitude.unwrap_or(0.0),
    })
}

fn read(arguments: &Arguments) -> Result<Vec<Series>, Failure> {
    let reading = Reading {
        boat: arguments.boat.as_deref().map(boatfile::load).transpose()?,
        otherwise: || boatfile::find(None, Otherwise::Example).map_err(Unplayable::from),
        baud: arguments.baud,
        mean_s: arguments.mean.0,
    };
    let mut series = Vec::new();
    for paths in heard::joined(&arguments.files)? {
        let (one, remarks) = heard::read(&paths, &reading)?;
        for remark in remarks {
            aside(&remark);
        }
        series.push(one);
    }
    Ok(series)
}

/// A limit by gust needs gusts in every series.
fn leave_out_gusts(cells: &mut Vec<Cell>, series: &[Series]) -> Result<(), Failure> {
    let has_none = |it: &&Series| it.slots.iter().flatten().all(|slot| slot.gust_kn.is_none());
    let Some(without) = series.iter().find(has_none) else {
        return Ok(());
    };
    for cell in cells.extract_if(.., |cell| cell.by == By::Gust) {
        aside(&format!(
            "\"{}\" is left out: it is limited by gust, and {} has none",
            cell.name, without.name
        ));
    }
    match cells.is_empty() {
        false => Ok(()),
        true => Err(Failure::Usage(anyhow!(
            "no rung is left that can be judged without gusts: give --limits"
        ))),
    }
}

/// What the engine does, where it is asked and a series is fine enough.
fn played(arguments: &Arguments, asked: &Asked, series: &[Series]) -> Vec<Option<Played>> {
    let all = series.len() * asked.cells.len();
    if arguments.quick {
        return vec![None; all];
    }
    for it in series.iter().filter(|it| !aboard::is_played(it)) {
        let words = "too coarse to be played as aboard: the odds alone are judged";
        aside(&format!("{}: {} s is {words}", it.name, it.step_s));
    }
    let done = std::sync::atomic::AtomicUsize::new(0);
    aboard::play_all(series, &asked.cells, &asked.calling, || {
        let done = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        progress("played", done, all);
    })
}

fn cells(arguments: &Arguments, boat: Option<&BoatFile>) -> Result<Vec<Cell>, Failure> {
    let limits = &arguments.limits;
    if let (Some(boat), true) = (boat, limits.is_empty()) {
        if !arguments.call_times.is_empty() {
            let words = "--call-times goes with --limits: a ladder has its own";
            return Err(Failure::Usage(anyhow!(words)));
        }
        let (cells, remarks) = ladder::cells(boat);
        for remark in remarks {
            aside(&remark.to_string());
        }
        if cells.is_empty() {
            let words = "no rung of this boat can be judged: give --limits";
            return Err(Failure::Usage(anyhow!(words)));
        }
        return Ok(cells);
    }
    let mut call_times: Vec<u32> = arguments.call_times.iter().map(|it| it.0).collect();
    if call_times.is_empty() {
        call_times = CALL_TIMES_S.into();
    }
    let pairs = limits
        .iter()
        .flat_map(|limit| call_times.iter().map(|time| Cell::new(limit.0, *time)));
    Ok(pairs.collect())
}

fn something_is_judged(series: &[Series], part: &Part) -> Result<(), Failure> {
    for it in series {
        let keep = it.keep(part);
        let heard = it.slots.iter().zip(keep);
        if !heard.into_iter().any(|(slot, keep)| keep && slot.is_some()) {
            let name = &it.name;
            let words = format!("{name}: no sample between --from and --to");
            return Err(Failure::Usage(anyhow!(words)));
        }
    }
    Ok(())
}

fn tell(arguments: &Arguments, report: &Report, series: &[Series]) -> Result<(), Failure> {
    let tables = table::report(report, series);
    if let Some(path) = &arguments.html {
        let mut file = create(path)?;
        let page = page::page(report, &tables);
        let written = file.write_all(page.as_bytes()).and_then(|()| file.flush());
        written.map_err(|error| unwritten(path, error.into()))?;
    }
    if !arguments.json {
        say(tables.trim_end());
        return Ok(());
    }
    for line in lines::report(report, series) {
        say(&line.to_string());
    }
    Ok(())
}

fn met(bars: &[Bar], judged: &[Judged]) -> Verdict {
    let all: Vec<&Judged> = judged.iter().collect();
    let mut found = Verdict::Well;
    for bar in bars {
        let curve = Curve::sweep(Caller::Odds, &all);
        let share = curve.share_at(bar.idle_min);
        if share.is_none_or(|share| share < bar.share) {
            let share = share.map_or("nothing crossed".into(), |it| format!("{it:.3} warned"));
            eprintln!(
                "found wanting: {share} at {} idle minutes, {} asked",
                bar.idle_min, bar.share
            );
            found = Verdict::Wanting;
        }
    }
    found
}

fn create(path: &Path) -> Result<BufWriter<std::fs::File>, Failure> {
    let file = std::fs::File::create(path);
    file.map(BufWriter::new)
        .map_err(|error| unwritten(path, error.into()))
}

fn unwritten(path: &Path, error: anyhow::Error) -> Failure {
    let file = path.display();
    Failure::Environment(error.context(format!("{file} cannot be written")))
}

/// On a terminal one line that is written over, else a line at each tenth.
fn progress(what: &str, done: usize, all: usize) {
    if std::io::stderr().is_terminal() {
        let end = if done == all { "\n" } else { "" };
        eprint!("\r{what} {done} of {all} {end}");
    } else if done * 10 / all > (done - 1) * 10 / all {
        aside(&format!("{what} {done} of {all}"));
    }
}

fn is_odds(setting: f64) -> Result<(), Failure> {
    match setting > 0.0 && setting < 1.0 {
        true => Ok(()),
        false => Err(Failure::Usage(anyhow!(
            "the setting {setting} is outside 0 to 1: it is the odds at which the call comes"
        ))),
    }
}

/// A limit in knots.
#[derive(Clone, Copy, Debug)]
struct Knots(f64);

impl FromStr for Knots {
    type Err = String;

    fn from_str(text: &str) -> Result<Knots, String> {
        let value = text
            .trim()
            .parse()
            .map_err(|_| format!("{text:?} is no number of knots"))?;
        checked_knots(value).map(Knots)
    }
}

fn checked_knots(value: f64) -> Result<f64, String> {
    match (1.0..=150.0).contains(&value) {
        true => Ok(value),
        false => Err(format!("a limit of {value} kn is outside 1 to 150 kn")),
    }
}

/// A span of time: `20m`, `90s`, `1h`; a bare number is minutes.
#[derive(Clone, Copy, Debug)]
struct CallTime(u32);

impl FromStr for CallTime {
    type Err = String;

    fn from_str(text: &str) -> Result<CallTime, String> {
        let text = text.trim();
        let digits = text.trim_end_matches(|letter: char| letter.is_ascii_alphabetic());
        let unit_s = match text.get(digits.len()..) {
            Some("s") => 1.0,
            Some("" | "m" | "min") => 60.0,
            Some("h") => 3600.0,
            _ => return Err(format!("{text:?} is no time such as 20m, 90s or 1h")),
        };
        let number: Result<f64, _> = digits.parse();
        let number = number.map_err(|_| format!("{text:?} is no time such as 20m, 90s or 1h"))?;
        checked_time(number * unit_s).map(CallTime)
    }
}

fn checked_time(seconds: f64) -> Result<u32, String> {
    match (60.0..=LONGEST_CALL_S).contains(&seconds) {
        true => Ok(seconds.round() as u32),
        false => Err(format!(
            "{:.1} min is outside 1 min to {:.0} min",
            seconds / 60.0,
            LONGEST_CALL_S / 60.0
        )),
    }
}

/// A moment in Unix seconds.
#[derive(Clone, Copy, Debug)]
struct Moment(i64);

impl FromStr for Moment {
    type Err = String;

    fn from_str(text: &str) -> Result<Moment, String> {
        if let Ok(unix_s) = text.parse() {
            return Ok(Moment(unix_s));
        }
        if let Ok(moment) = text.parse::<jiff::Timestamp>() {
            return Ok(Moment(moment.as_second()));
        }
        let civil = text.parse::<jiff::civil::DateTime>();
        civil
            .and_then(|it| jiff::tz::TimeZone::UTC.to_timestamp(it))
            .map(|it| Moment(it.as_second()))
            .map_err(|_| format!("{text:?} is no date such as 2015-01-01, nor Unix seconds"))
    }
}

/// A share that must be warned of at so many idle minutes.
#[derive(Clone, Copy, Debug)]
struct Bar {
    idle_min: f64,
    share: f64,
}

impl FromStr for Bar {
    type Err = String;

    fn from_str(text: &str) -> Result<Bar, String> {
        let shape = || format!("{text:?} is not of the shape idle=share, such as 60=0.8");
        let (idle, share) = text.split_once('=').ok_or_else(shape)?;
        let idle_min: f64 = idle.trim().parse().map_err(|_| shape())?;
        let share: f64 = share.trim().parse().map_err(|_| shape())?;
        match idle_min > 0.0 && (0.0..=1.0).contains(&share) {
            true => Ok(Bar { idle_min, share }),
            false => Err(shape()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_minutes_unless_they_say_else() {
        let seconds =
            ["20m", "20", "90s", "1h", "10min"].map(|it| it.parse::<CallTime>().unwrap().0);
        assert_eq!(seconds, [1200, 1200, 90, 3600, 600]);
        for wrong in ["", "m", "20d", "-5m", "30s", "2h", "x"] {
            assert!(wrong.parse::<CallTime>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn moments_are_unix_seconds_or_dates() {
        for text in ["1420070400", "2015-01-01", "2015-01-01T00:00:00Z"] {
            assert_eq!(text.parse::<Moment>().unwrap().0, 1_420_070_400, "{text}");
        }
        assert!("yesterday".parse::<Moment>().is_err());
    }

    #[test]
    fn limits_must_be_winds() {
        assert_eq!("16".parse::<Knots>().unwrap().0, 16.0);
        for wrong in ["0", "-3", "nan", "1000", "F6"] {
            assert!(wrong.parse::<Knots>().is_err(), "{wrong}");
        }
    }
}
