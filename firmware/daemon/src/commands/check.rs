//! `cringle check`: judges a boat file, and lists what each reduction takes so
//! that a crew can see whether it agrees with what they know. Of a board it
//! says what is missing, see [`check_board`].

use std::path::{Path, PathBuf};

use clap::Args;
use cringle_boat::{BoatFile, CallTimes, LoadError, Problem, Weight};
use cringle_core::ladder::PlanId;
use serde_json::json;

use super::check_board;
use crate::answer::{Failure, Verdict, aside, say};
use crate::boatfile;

/// The arguments of `check`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The boat file; else the one given by --boat, $CRINGLE_BOAT, or
    /// /etc/cringle/boat.toml.
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// The boat file, as other commands are given it.
    #[arg(long, value_name = "FILE", conflicts_with = "file")]
    boat: Option<PathBuf>,
    #[command(flatten)]
    board: check_board::Arguments,
    /// One JSON object for each error, remark or reduction on standard output.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let named = arguments.file.as_deref().or(arguments.boat.as_deref());
    let board = check_board::run(&arguments.board, arguments.json)?;
    if named.is_none() && arguments.board.is_given() {
        return Ok(board);
    }
    match (check(named, arguments)?, board) {
        (Verdict::Well, Verdict::Well) => Ok(Verdict::Well),
        (Verdict::Wanting, _) | (_, Verdict::Wanting) => Ok(Verdict::Wanting),
    }
}

fn check(named: Option<&Path>, arguments: &Arguments) -> Result<Verdict, Failure> {
    let path = boatfile::place_or_refuse(named)?;
    let loaded = cringle_boat::load(&path);
    match loaded {
        Ok(boat_file) => Ok(judge(&boat_file, arguments.json)),
        Err(error) => Err(told(error, &path, arguments.json)),
    }
}

/// A file with errors, told in full.
fn told(error: LoadError, path: &Path, json: bool) -> Failure {
    match error {
        LoadError::Wrong(problems) => {
            if json {
                problems
                    .iter()
                    .for_each(|problem| say(&problem_json(problem)));
            }
            let count = problems.count();
            let errors = match count {
                1 => "1 error".to_owned(),
                _ => format!("{count} errors"),
            };
            let words = format!("{errors} in {}", path.display());
            Failure::Usage(match json {
                true => anyhow::anyhow!(words),
                false => anyhow::anyhow!("{words}\n{problems}"),
            })
        }
        error => Failure::Usage(error.into()),
    }
}

fn problem_json(problem: &Problem) -> String {
    json!({
        "v": 1,
        "kind": problem.weight.word(),
        "file": problem.file,
        "line": problem.line,
        "key": problem.key,
        "what": problem.what,
        "mend": problem.mend,
    })
    .to_string()
}

/// Says every remark; faults among them find the file wanting.
fn judge(boat_file: &BoatFile, json: bool) -> Verdict {
    let remarks = boatfile::verdict(boat_file);
    for remark in &remarks {
        match json {
            true => say(&problem_json(remark)),
            false => aside(&remark.to_string()),
        }
    }
    let faults = remarks
        .iter()
        .filter(|remark| remark.weight == Weight::Fault)
        .count();
    if !json {
        eprintln!(
            "{}: {} plans, {faults} faults, {} notes",
            boat_file.file,
            boat_file.boat.ladder.plans.len(),
            remarks.len() - faults
        );
    }
    tell_call_times(boat_file, json);
    match faults {
        0 => Verdict::Well,
        _ => Verdict::Wanting,
    }
}

/// Says how long before the limit each reduction is called, at the least.
fn tell_call_times(boat_file: &BoatFile, json: bool) {
    let all = cringle_boat::call_times(boat_file);
    if json {
        for times in &all {
            say(&times_json(boat_file, times));
        }
        return;
    }
    if all.is_empty() {
        return;
    }
    say("call times in minutes: slight sea, fresh hands, all set-up open; -- cannot be done");
    let named: Vec<_> = all
        .iter()
        .map(|times| {
            let (from, to) = (plan(boat_file, times.from), plan(boat_file, times.to));
            (format!("{from} -> {to}"), times)
        })
        .collect();
    let width = named.iter().map(|(name, _)| name.chars().count()).max();
    let width = width.unwrap_or_default();
    let row = |name: &str, cells: [&str; 4]| {
        let [all, day, night, alone] = cells;
        say(&format!(
            "{name:<width$}  {all:>11}  {day:>6}  {night:>8}  {alone:>5}"
        ));
    };
    row("", ["all on deck", "by day", "by night", "alone"]);
    for (name, times) in named {
        let cells = [
            times.all_on_deck_min,
            times.by_day_min,
            times.by_night_min,
            times.alone_min,
        ]
        .map(|cell| cell.map_or("--".to_owned(), |minutes| format!("{minutes:.0}")));
        row(&name, cells.each_ref().map(String::as_str));
    }
}

fn times_json(boat_file: &BoatFile, times: &CallTimes) -> String {
    let tenths = |minutes: Option<f64>| minutes.map(|minutes| (minutes * 10.0).round() / 10.0);
    json!({
        "v": 1,
        "kind": "call_time",
        "file": boat_file.file,
        "from": plan(boat_file, times.from),
        "to": plan(boat_file, times.to),
        "all_on_deck_min": tenths(times.all_on_deck_min),
        "by_day_min": tenths(times.by_day_min),
        "by_night_min": tenths(times.by_night_min),
        "alone_min": tenths(times.alone_min),
    })
    .to_string()
}

fn plan(boat_file: &BoatFile, id: PlanId) -> &str {
    let plan = boat_file.boat.ladder.plan(id);
    plan.map_or("", |plan| plan.name.as_str())
}
