//! What can be asked of the program, and how each answers.
//!
//! Exit codes: 0 done, whatever was called; 1 what was judged was found
//! wanting; 2 usage or input; 3 environment, such as a device or the disk.

mod census;
mod check;
mod check_board;
mod demo;
mod hindcast;
mod replay;
mod screen;
mod setup;
mod strip;
mod watch;

use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};
use cringle_engine::replay::Unplayable;

/// Tells a sailing crew when to start shortening sail, early enough to be
/// done in time. Without a command it sails the built-in demo passage.
#[derive(Debug, Parser)]
#[command(name = "cringle", version, args_conflicts_with_subcommands = true)]
struct CommandLine {
    #[command(flatten)]
    demo: demo::Arguments,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the monitor aboard.
    Watch(watch::Arguments),
    /// Run a recording through the same core.
    Replay(replay::Arguments),
    /// Say what is on the wire.
    Census(census::Arguments),
    /// Judge a boat file, or say what a board's devices need.
    Check(check::Arguments),
    /// Draw the cockpit screen to a file.
    Screen(screen::Arguments),
    /// Write a first boat file.
    Setup(setup::Arguments),
    /// Judge limits and the setting on wind that has blown.
    Hindcast(hindcast::Arguments),
}

/// Why a command did not end well.
#[derive(Debug)]
pub enum Failure {
    /// Usage or input: exit code 2.
    Usage(anyhow::Error),
    /// A device or the disk: exit code 3.
    Environment(anyhow::Error),
}

impl From<Unplayable> for Failure {
    fn from(why: Unplayable) -> Failure {
        match why {
            Unplayable::Input(error) => Failure::Usage(error),
            Unplayable::Reading(error) => Failure::Environment(error),
        }
    }
}

impl From<Failure> for Unplayable {
    fn from(why: Failure) -> Unplayable {
        match why {
            Failure::Usage(error) => Unplayable::Input(error),
            Failure::Environment(error) => Unplayable::Reading(error),
        }
    }
}

/// How a command that ran to its end found things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// All well, or nothing was judged: exit code 0.
    Well,
    /// What was judged was found wanting: exit code 1.
    Wanting,
}

/// The command line as clap knows it, for manual pages and completions.
pub fn command() -> clap::Command {
    CommandLine::command()
}

/// Reads this program's arguments and does what they ask.
pub fn run() -> ExitCode {
    let line = CommandLine::parse();
    let done = match line.command {
        None => demo::run(&line.demo),
        Some(Command::Watch(arguments)) => watch::run(&arguments),
        Some(Command::Replay(arguments)) => replay::run(&arguments),
        Some(Command::Census(arguments)) => census::run(&arguments),
        Some(Command::Check(arguments)) => check::run(&arguments),
        Some(Command::Screen(arguments)) => screen::run(&arguments),
        Some(Command::Setup(arguments)) => setup::run(&arguments),
        Some(Command::Hindcast(arguments)) => hindcast::run(&arguments),
    };
    match done {
        Ok(Verdict::Well) => ExitCode::SUCCESS,
        Ok(Verdict::Wanting) => ExitCode::from(1),
        Err(Failure::Usage(error)) => told(&error, 2),
        Err(Failure::Environment(error)) => told(&error, 3),
    }
}

fn told(error: &anyhow::Error, code: u8) -> ExitCode {
    aside(&format!("cringle: {error:#}"));
    ExitCode::from(code)
}

/// Refuses a pace at which nothing can be told.
fn check_pace(pace: Option<f64>) -> Result<(), Failure> {
    match pace {
        Some(pace) if !(0.01..=1e6).contains(&pace) => {
            let words = "--pace takes a number from 0.01 up";
            Err(Failure::Usage(anyhow::anyhow!(words)))
        }
        Some(_) | None => Ok(()),
    }
}

/// Runs a loop that waits for ports, keys and time.
fn wait_for<T>(work: impl Future<Output = T>) -> Result<T, Failure> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map(|runtime| runtime.block_on(work))
        .map_err(|error| Failure::Environment(error.into()))
}

/// Says a line on standard error; once nobody listens, it says no more.
pub(crate) fn aside(line: &str) {
    use std::io::Write;
    // `eprintln` would end the program with a panic.
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}

/// Says a line on standard output; once nobody listens, it says no more.
fn say(line: &str) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    // A reader that has gone, such as `head`, is no fault.
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}
