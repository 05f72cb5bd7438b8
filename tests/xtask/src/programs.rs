//! Runs the programs that the steps are made of.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

pub(crate) fn cargo(root: &Path, arguments: &[&str]) -> Result<()> {
    succeed(Command::new("cargo").args(arguments).current_dir(root))
}

pub(crate) fn succeed(command: &mut Command) -> Result<()> {
    let status = command
        .status()
        .with_context(|| format!("{:?} did not start", command.get_program()))?;
    if !status.success() {
        bail!("{command:?} ended with {status}");
    }
    Ok(())
}
