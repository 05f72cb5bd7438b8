//! Text snapshots of xtask, written anew with `CRINGLE_BLESS` as those of the
//! tests are.

use std::path::Path;

use anyhow::{Context, Result, bail};

/// Compares, or writes if blessing.
pub(crate) fn compare(path: &Path, text: &str) -> Result<()> {
    if std::env::var_os("CRINGLE_BLESS").is_some() {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        return std::fs::write(path, text).with_context(|| path.display().to_string());
    }
    let known = std::fs::read_to_string(path).unwrap_or_default();
    if known == text {
        return Ok(());
    }
    let gone = known
        .lines()
        .filter(|line| !text.lines().any(|it| it == *line));
    let new = text
        .lines()
        .filter(|line| !known.lines().any(|it| it == *line));
    for (mark, line) in gone.map(|it| ('-', it)).chain(new.map(|it| ('+', it))) {
        println!("{mark} {line}");
    }
    bail!(
        "{} moved; if that is meant, run this with CRINGLE_BLESS=1",
        path.display()
    )
}
