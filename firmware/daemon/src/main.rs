//! The `cringle` program.

use std::io::IsTerminal;
use std::process::ExitCode;

use tracing_subscriber::filter::{LevelFilter, Targets};
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

fn main() -> ExitCode {
    let lines = tracing_subscriber::fmt::layer()
        .with_writer(cringle::voice::log_writer)
        .with_ansi(std::io::stderr().is_terminal())
        .with_target(false);
    tracing_subscriber::registry()
        .with(wanted())
        .with(lines)
        .init();
    let code = cringle::commands::run();
    cringle::voice::settle_log();
    code
}

/// What is logged: a level, or levels by module, in `$RUST_LOG`.
fn wanted() -> Targets {
    let asked = std::env::var("RUST_LOG").ok();
    let targets = asked.and_then(|words| words.parse().ok());
    targets.unwrap_or_else(|| Targets::new().with_default(LevelFilter::INFO))
}
