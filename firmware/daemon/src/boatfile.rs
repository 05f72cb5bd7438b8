//! Finding the boat file, and the boat file's own words on what is wrong.

use std::path::{Path, PathBuf};

use cringle_boat::{BoatFile, LoadError, Problem, Weight};

use crate::answer::{Failure, aside};
use crate::board_io;

/// The environment variable that names the boat file.
pub const VARIABLE: &str = "CRINGLE_BOAT";
/// Where it is when nobody names it.
pub const USUAL_PLACE: &str = "/etc/cringle/boat.toml";

/// What is done where no boat file is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// It cannot go on.
    Refuse,
    /// The built-in example boat will do; this is said aloud.
    Example,
}

/// The boat file that was named, or the one in its usual place.
pub fn find(named: Option<&Path>, otherwise: Otherwise) -> Result<BoatFile, Failure> {
    match (place(named), otherwise) {
        (Some(path), _) => {
            let file = load(&path)?;
            tell_faults(&file);
            Ok(file)
        }
        (None, Otherwise::Refuse) => Err(none()),
        (None, Otherwise::Example) => {
            eprintln!("no boat file given: using the built-in example boat");
            example()
        }
    }
}

/// All that is to be said of a boat file that can be read, and of the board
/// that it names: the one verdict of every command.
pub fn verdict(file: &BoatFile) -> Vec<Problem> {
    let mut problems = cringle_boat::judge(file);
    if let Err(error) = board_io::named(None, file) {
        let what = format!("cannot be used: {error:#}");
        problems.push(file.fault(
            "board",
            what,
            "name a board that is known, or mend its file",
        ));
        problems.sort_by_key(|problem| problem.line);
    }
    problems
}

/// Says the faults of a boat file that is going to be used all the same: at
/// sea a wrong limit for one plan is better than no watch.
fn tell_faults(file: &BoatFile) {
    let problems = verdict(file);
    let faults = problems.iter().filter(|it| it.weight == Weight::Fault);
    let told = faults.map(|fault| aside(&fault.to_string())).count();
    if told > 0 {
        aside(&format!(
            "{}: {told} {}: calls may come wrong, late or not at all; `cringle check` says more",
            file.file,
            if told == 1 { "fault" } else { "faults" }
        ));
    }
}

/// Where a first boat file goes.
pub fn to_write(named: Option<&Path>) -> PathBuf {
    place(named).unwrap_or_else(|| PathBuf::from(USUAL_PLACE))
}

/// Where the boat file is that was named, or else the one in its usual place.
pub fn place_or_refuse(named: Option<&Path>) -> Result<PathBuf, Failure> {
    place(named).ok_or_else(none)
}

fn none() -> Failure {
    Failure::Usage(anyhow::anyhow!(
        "no boat file: give --boat FILE, set {VARIABLE}, or put one at {USUAL_PLACE}; \
         `cringle setup` writes a first one"
    ))
}

/// Where the boat file is, if there is one.
fn place(named: Option<&Path>) -> Option<PathBuf> {
    let by_variable = || std::env::var_os(VARIABLE).map(PathBuf::from);
    let usual = || {
        let usual = PathBuf::from(USUAL_PLACE);
        usual.exists().then_some(usual)
    };
    named
        .map(Path::to_owned)
        .or_else(by_variable)
        .or_else(usual)
}

/// Reads a boat file; all that is wrong with it is in the failure.
pub fn load(path: &Path) -> Result<BoatFile, Failure> {
    cringle_boat::load(path).map_err(|error: LoadError| Failure::Usage(error.into()))
}

/// Reads a boat file's text from a recording.
pub fn parse(name: &str, text: &str) -> Result<BoatFile, Failure> {
    cringle_boat::parse(name, text).map_err(|problems| Failure::Usage(problems.into()))
}

/// The built-in example boat.
pub fn example() -> Result<BoatFile, Failure> {
    cringle_boat::example().map_err(|problems| Failure::Usage(problems.into()))
}
