//! The skipper's forecast as it is given on the command line: a file, rows in
//! one line, or the word for none.

use std::path::Path;

use anyhow::{Context, anyhow};
use cringle_core::forecast::Table;

use crate::answer::Failure;

/// What stands for no forecast, though the boat file has one.
const NONE: &str = "none";

/// Reads what was given: an existing file goes before a table.
pub fn given(words: &str) -> Result<Option<Table>, Failure> {
    if words == NONE {
        return Ok(None);
    }
    let path = Path::new(words);
    if path.is_file() {
        return file(path).map(Some);
    }
    let table = cringle_boat::read_forecast(words).map_err(|why| {
        Failure::Usage(anyhow!("{why}").context("--forecast is no file, and as a table"))
    })?;
    Ok(Some(table))
}

fn file(path: &Path) -> Result<Table, Failure> {
    let name = path.display().to_string();
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read forecast {name}"))
        .map_err(Failure::Usage)?;
    let table = cringle_boat::parse_forecast(&name, &text)
        .map_err(|problems| Failure::Usage(problems.into()))?;
    table.ok_or_else(|| Failure::Usage(anyhow!("{name} holds no [[forecast]]")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_a_file_and_none_are_told_apart() {
        let row = "2026-11-08T12:00Z 18 from 210";
        assert!(given(row).is_ok_and(|table| table.is_some()));
        assert!(given("none").is_ok_and(|table| table.is_none()));
        let file = tempfile::NamedTempFile::new().unwrap();
        let path = file.path().to_str().unwrap();
        assert!(given(path).is_err(), "an empty file");
        std::fs::write(
            path,
            "[[forecast]]\ntime = 2026-11-08T12:00:00Z\nwind_kn = 18\nfrom_deg = 210\n",
        )
        .unwrap();
        let by_file = given(path).ok().flatten();
        assert_eq!(by_file, given(row).ok().flatten());
        assert!(given("no-such-file.toml").is_err());
    }
}
