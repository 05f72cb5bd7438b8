//! How a command ends, and what it says on the way.

use cringle_engine::replay::Unplayable;

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

/// Refuses a pace at which nothing can be told.
pub(crate) fn check_pace(pace: Option<f64>) -> Result<(), Failure> {
    match pace {
        Some(pace) if !(0.01..=1e6).contains(&pace) => {
            let words = "--pace takes a number from 0.01 up";
            Err(Failure::Usage(anyhow::anyhow!(words)))
        }
        Some(_) | None => Ok(()),
    }
}

/// Runs a loop that waits for ports, keys and time.
pub(crate) fn wait_for<T>(work: impl Future<Output = T>) -> Result<T, Failure> {
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
pub(crate) fn say(line: &str) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    // A reader that has gone, such as `head`, is no fault.
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}
