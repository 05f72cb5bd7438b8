//! What can be asked of the program, and how each answers.
//!
//! Exit codes: 0 done, whatever was called; 1 what was judged was found
//! wanting; 2 usage or input; 3 environment, such as a device or the disk.

mod calibrate;
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

use crate::answer::{Failure, Verdict, aside};

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
    /// Find the instruments' corrections in sailing logs.
    Calibrate(calibrate::Arguments),
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
        Some(Command::Calibrate(arguments)) => calibrate::run(&arguments),
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
