//! The `cringle` program.

use std::io::IsTerminal;
use std::process::ExitCode;

use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(cringle::terminal::log_writer)
        .with_ansi(std::io::stderr().is_terminal())
        .with_target(false)
        .init();
    cringle::commands::run()
}
