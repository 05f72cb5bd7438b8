//! `cringle check`: judges a boat file, and a board's wiring.

use std::path::{Path, PathBuf};

use clap::Args;
use cringle_boat::{BoatFile, LoadError, Problem, Remark, Weight};
use serde_json::json;

use super::{Failure, Found, check_board, say};

/// The arguments of `check`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The boat file.
    #[arg(value_name = "FILE", required_unless_present = "board")]
    file: Option<PathBuf>,
    #[command(flatten)]
    board: check_board::Arguments,
    /// One JSON object for each error or remark on standard output.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Found, Failure> {
    let board = check_board::run(&arguments.board, arguments.json)?;
    let boat = match &arguments.file {
        Some(file) => check(file, arguments)?,
        None => Found::Well,
    };
    Ok(match (boat, board) {
        (Found::Well, Found::Well) => Found::Well,
        (Found::Wanting, _) | (_, Found::Wanting) => Found::Wanting,
    })
}

fn check(file: &Path, arguments: &Arguments) -> Result<Found, Failure> {
    match cringle_boat::load(file) {
        Ok(boat_file) => Ok(judge(&boat_file, arguments.json)),
        Err(LoadError::Wrong(problems)) => {
            if arguments.json {
                problems
                    .iter()
                    .for_each(|problem| say(&problem_json(problem)));
            }
            let count = problems.count();
            let errors = match count {
                1 => "1 error".to_owned(),
                _ => format!("{count} errors"),
            };
            let words = format!("{errors} in {}", file.display());
            Err(Failure::Usage(match arguments.json {
                true => anyhow::anyhow!(words),
                false => anyhow::anyhow!("{words}\n{problems}"),
            }))
        }
        Err(error) => Err(Failure::Usage(error.into())),
    }
}

fn problem_json(problem: &Problem) -> String {
    json!({
        "v": 1,
        "kind": "error",
        "file": problem.file,
        "line": problem.line,
        "key": problem.key,
        "what": problem.what,
        "mend": problem.mend,
    })
    .to_string()
}

/// Says every remark; faults among them find the file wanting.
fn judge(boat_file: &BoatFile, json: bool) -> Found {
    let remarks = cringle_boat::judge(boat_file);
    for remark in &remarks {
        match json {
            true => say(&remark_json(remark)),
            false => eprintln!("{remark}"),
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
    match faults {
        0 => Found::Well,
        _ => Found::Wanting,
    }
}

fn remark_json(remark: &Remark) -> String {
    json!({
        "v": 1,
        "kind": match remark.weight {
            Weight::Note => "note",
            Weight::Fault => "fault",
        },
        "file": remark.file,
        "line": remark.line,
        "key": remark.key,
        "what": remark.what,
        "mend": remark.mend,
    })
    .to_string()
}
