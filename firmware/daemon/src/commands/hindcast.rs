//! `cringle hindcast`: calls judged on wind that has blown.

use std::io::{BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::anyhow;
use clap::Args;
use cringle_boat::BoatFile;
use cringle_core::boat::Calling;

use cringle_engine::replay::Unplayable;

use super::{Failure, Verdict, aside, say};
use crate::boatfile::{self, Otherwise};
use cringle_hindcast::bounds;
use cringle_hindcast::calls::Manner;
use cringle_hindcast::cells::{By, Caller, Cell, Judged};
use cringle_hindcast::heard::{self, Reading};
use cringle_hindcast::report::{self, Asked, Report};
use cringle_hindcast::series::{Part, Series};
use cringle_hindcast::sweep::{Sweep, Tried};
use cringle_hindcast::{curve, ladder, lines, odds, page, table};

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
    /// What if: setting, limit (knots), call_time (minutes), or a key of the
    /// boat, from a to b.
    #[arg(long, value_name = "KEY=A..B[/N]")]
    sweep: Option<Sweep>,
    /// Verdict wanting (exit code 1) under this share warned at so many idle
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
    let mut asked = Plan::of(arguments)?;
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
            aside(&remark.to_string());
        }
        series.push(one);
    }
    asked.leave_out_gusts(&series)?;
    let part = Part {
        from_s: arguments.from.map(|it| it.0),
        to_s: arguments.to.map(|it| it.0),
    };
    something_is_judged(&series, &part)?;
    let judged = odds::evaluate(&series, &asked.all_cells(), &part, progress);
    let (base, swept) = asked.split(judged);
    if let Some(path) = &arguments.odds {
        let mut file = create(path)?;
        let written = odds::write(&base, &series, &mut file).and_then(|()| file.flush());
        written.map_err(|error| unwritten(path, error.into()))?;
    }
    let report = report::report(&asked.asked, &base, &series);
    let tried = asked.try_all(&base, &swept);
    tell(arguments, &report, &series, tried.as_ref())?;
    Ok(met(&arguments.bar, &base))
}

/// What is judged, and what is tried beside it.
struct Plan {
    asked: Asked,
    sweep: Option<(Sweep, Vec<Variant>)>,
}

/// One value of a sweep.
struct Variant {
    value: f64,
    cells: Vec<Cell>,
    setting: f64,
}

impl Plan {
    fn of(arguments: &Arguments) -> Result<Plan, Failure> {
        let boat = match (&arguments.boat, arguments.limits.is_empty()) {
            (None, false) => None,
            (named, _) => Some(boatfile::find(named.as_deref(), Otherwise::Example)?),
        };
        let calling = boat
            .as_ref()
            .map_or(Calling::default(), |it| it.boat.calling);
        let setting = arguments.setting.unwrap_or(calling.odds);
        is_odds(setting)?;
        let cells = cells(arguments, boat.as_ref())?;
        if arguments.longitude.is_none() {
            eprintln!("longitude not given: nights are 22 to 06 UTC");
        }
        let manner = Manner {
            least_standing_s: calling.least_standing_s,
            longitude_deg: arguments.longitude.unwrap_or(0.0),
        };
        let sweep = match &arguments.sweep {
            None => None,
            Some(sweep) => {
                let variant = |value: &f64| {
                    variant(
                        &sweep.key,
                        *value,
                        arguments,
                        boat.as_ref(),
                        (&cells, setting),
                    )
                };
                let variants = sweep.values.iter().map(variant).collect::<Result<_, _>>()?;
                Some((sweep.clone(), variants))
            }
        };
        let asked = Asked {
            cells,
            setting,
            manner,
        };
        Ok(Plan { asked, sweep })
    }

    /// A limit by gust needs gusts in every series.
    fn leave_out_gusts(&mut self, series: &[Series]) -> Result<(), Failure> {
        let without = series
            .iter()
            .find(|it| it.slots.iter().flatten().all(|slot| slot.gust_kn.is_none()));
        let Some(without) = without else {
            return Ok(());
        };
        let cells = &mut self.asked.cells;
        for cell in cells.extract_if(.., |cell| cell.by == By::Gust) {
            eprintln!(
                "\"{}\" is left out: it is limited by gust, and {} has none",
                cell.name, without.name
            );
        }
        if cells.is_empty() {
            let words = "no rung is left that can be judged without gusts: give --limits";
            return Err(Failure::Usage(anyhow!(words)));
        }
        let swept = self.sweep.iter_mut().flat_map(|(_, variants)| variants);
        swept.for_each(|it| it.cells.retain(|cell| cell.by == By::Mean));
        Ok(())
    }

    /// The cells that are judged, then those that are only tried.
    fn all_cells(&self) -> Vec<Cell> {
        let variants = self.sweep.iter().flat_map(|(_, variants)| variants);
        let tried = variants.flat_map(|it| it.cells.iter().cloned());
        self.asked.cells.iter().cloned().chain(tried).collect()
    }

    fn split(&self, mut judged: Vec<Judged>) -> (Vec<Judged>, Vec<Judged>) {
        let count = self.asked.cells.len();
        let swept = judged.extract_if(.., |it| it.cell >= count).collect();
        (judged, swept)
    }

    fn try_all(&self, base: &[Judged], swept: &[Judged]) -> Option<(&Sweep, Vec<Tried>)> {
        let (sweep, variants) = self.sweep.as_ref()?;
        let block_s = bounds::block_s(base);
        let mut first = self.asked.cells.len();
        let tried = variants.iter().map(|it| {
            let cells = first..first + it.cells.len();
            first = cells.end;
            let of = swept.iter().filter(|one| cells.contains(&one.cell));
            let of: Vec<&Judged> = match it.cells.is_empty() {
                // Nothing but the setting is another.
                true => base.iter().collect(),
                false => of.collect(),
            };
            let (caller, manner) = (Caller::by_setting(&of), &self.asked.manner);
            Tried {
                value: it.value,
                found: report::judge_setting(caller, it.setting, manner, &of, block_s),
            }
        });
        Some((sweep, tried.collect()))
    }
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

fn variant(
    key: &str,
    value: f64,
    arguments: &Arguments,
    boat: Option<&BoatFile>,
    (cells, setting): (&[Cell], f64),
) -> Result<Variant, Failure> {
    let usage = |why: String| Failure::Usage(anyhow!("--sweep: {why}"));
    let with = |cells: Vec<Cell>| Variant {
        value,
        cells,
        setting,
    };
    let mut changed = cells.to_vec();
    match key {
        "setting" => {
            is_odds(value)?;
            return Ok(Variant {
                setting: value,
                ..with(Vec::new())
            });
        }
        "limit" => {
            let limit = checked_knots(value).map_err(usage)?;
            changed.iter_mut().for_each(|cell| cell.limit_kn = limit);
        }
        "call_time" => {
            let seconds = checked_time(value * 60.0).map_err(usage)?;
            changed
                .iter_mut()
                .for_each(|cell| cell.call_time_s = seconds);
        }
        _ => {
            let ladder = boat.filter(|_| arguments.limits.is_empty());
            let known = ladder::KEYS.join(", ");
            let mut boat = ladder.cloned().ok_or_else(|| {
                usage(format!(
                    "{key:?} is none of setting, limit, call_time; of a ladder (without \
                     --limits) also {known}"
                ))
            })?;
            ladder::set(&mut boat, key, value).map_err(usage)?;
            changed = ladder::cells(&boat).0;
            if changed.is_empty() {
                return Err(usage(format!("with {key} {value} no rung can be reduced")));
            }
        }
    }
    // Cells that have become alike would count twice.
    let mut seen: Vec<Cell> = Vec::new();
    for mut cell in changed {
        if !ladder_names(key) {
            cell.name.clear();
        }
        if !seen.contains(&cell) {
            seen.push(cell);
        }
    }
    Ok(with(seen))
}

/// Whether cells keep the names of plans when this key is changed.
fn ladder_names(key: &str) -> bool {
    !matches!(key, "limit" | "call_time")
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

fn tell(
    arguments: &Arguments,
    report: &Report,
    series: &[Series],
    tried: Option<&(&Sweep, Vec<Tried>)>,
) -> Result<(), Failure> {
    let mut tables = table::report(report, series);
    if let Some((sweep, tried)) = tried {
        tables += &table::sweep(sweep, tried);
    }
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
    if let Some((sweep, tried)) = tried {
        for line in lines::sweep(sweep, tried) {
            say(&line.to_string());
        }
    }
    Ok(())
}

fn met(bars: &[Bar], judged: &[Judged]) -> Verdict {
    let all: Vec<&Judged> = judged.iter().collect();
    let mut found = Verdict::Well;
    for bar in bars {
        let curve = curve::Curve::sweep(Caller::by_setting(&all), &all);
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
fn progress(done: usize, all: usize) {
    if std::io::stderr().is_terminal() {
        let end = if done == all { "\n" } else { "" };
        eprint!("\rworked out {done} of {all} {end}");
    } else if done * 10 / all > (done - 1) * 10 / all {
        eprintln!("worked out {done} of {all}");
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
