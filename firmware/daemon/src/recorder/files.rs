//! The files of a recording, named by run and part.
//!
//! Runs are numbered, not dated: a boat's computer often does not know the
//! date when it starts, and a number sorts rightly all the same.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use super::disk::Packing;

/// The name of a part.
pub(super) fn part_path(directory: &Path, run: u32, part: u32, packing: Packing) -> PathBuf {
    let ending = match packing {
        Packing::Gzip => "log.gz",
        Packing::Plain => "log",
    };
    directory.join(format!("run-{run:06}-part-{part:04}.{ending}"))
}

/// One more than the highest run there is.
pub(super) fn next_run(directory: &Path) -> io::Result<u32> {
    let mut highest = 0;
    for entry in fs::read_dir(directory)? {
        let name = entry?.file_name();
        let run = name.to_str().and_then(run_of);
        highest = highest.max(run.unwrap_or(0));
    }
    Ok(highest + 1)
}

/// Which recordings are kept.
pub(super) struct Kept {
    /// Those not changed since then go; none where the date is not known.
    pub(super) not_before_ms: Option<i64>,
    /// The oldest go until all together are no larger.
    pub(super) most_bytes: u64,
    /// This run stays whatever it takes.
    pub(super) spared_run: Option<u32>,
}

/// Removes recordings that are not kept, oldest first.
pub(super) fn prune(directory: &Path, kept: &Kept) -> io::Result<()> {
    let mut parts = Vec::new();
    for entry in fs::read_dir(directory)? {
        let entry = entry?;
        let name = entry.file_name();
        let Some(run) = name.to_str().and_then(run_of) else {
            continue;
        };
        let facts = entry.metadata()?;
        let changed_ms = facts
            .modified()
            .ok()
            .and_then(|at| at.duration_since(UNIX_EPOCH).ok())
            .map_or(i64::MAX, |since| since.as_millis() as i64);
        parts.push((name, run, facts.len(), changed_ms));
    }
    // Names sort as runs and parts do.
    parts.sort();
    let mut total: u64 = parts.iter().map(|(_, _, bytes, _)| bytes).sum();
    for (name, run, bytes, changed_ms) in parts {
        let is_old = kept.not_before_ms.is_some_and(|then| changed_ms < then);
        let is_spared = kept.spared_run == Some(run);
        if !is_spared && (is_old || total > kept.most_bytes) {
            fs::remove_file(directory.join(name))?;
            total -= bytes;
        }
    }
    Ok(())
}

fn run_of(name: &str) -> Option<u32> {
    name.strip_prefix("run-")?.get(..6)?.parse().ok()
}

/// Opens a part that is not there yet.
pub(super) fn create(path: &Path) -> io::Result<File> {
    OpenOptions::new().append(true).create_new(true).open(path)
}

/// Bytes that the file system can still take.
pub(crate) fn free_bytes(directory: &Path) -> io::Result<u64> {
    let system = rustix::fs::statvfs(directory)?;
    Ok(system.f_bavail.saturating_mul(system.f_frsize))
}

/// Makes the names in a directory last, as a new file's name must.
pub(crate) fn sync_directory(directory: &Path) -> io::Result<()> {
    File::open(directory)?.sync_all()
}

/// Writes a whole file so that after a crash there is the old one or the new
/// one, and never a half.
pub fn write_whole(path: &Path, contents: &[u8]) -> io::Result<()> {
    let half_done = path.with_extension("new");
    let mut file = File::create(&half_done)?;
    file.write_all(contents)?;
    file.sync_all()?;
    fs::rename(&half_done, path)?;
    match path.parent() {
        Some(directory) => sync_directory(directory),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_are_counted_on_from_the_highest_packed_or_not() {
        let directory = tempfile::tempdir().unwrap();
        assert_eq!(next_run(directory.path()).unwrap(), 1);
        fs::write(part_path(directory.path(), 3, 1, Packing::Plain), "x").unwrap();
        fs::write(part_path(directory.path(), 4, 1, Packing::Gzip), "x").unwrap();
        fs::write(directory.path().join("notes.txt"), "x").unwrap();
        assert_eq!(next_run(directory.path()).unwrap(), 5);
    }

    #[test]
    fn the_oldest_runs_go_when_all_together_are_too_large_but_not_this_one() {
        let directory = tempfile::tempdir().unwrap();
        let part = |run, part| part_path(directory.path(), run, part, Packing::Gzip);
        for run in 1..=4 {
            fs::write(part(run, 1), [0; 100]).unwrap();
        }
        fs::write(directory.path().join("notes.txt"), [0; 1000]).unwrap();
        let kept = |most_bytes, spared_run| Kept {
            not_before_ms: None,
            most_bytes,
            spared_run,
        };
        prune(directory.path(), &kept(250, None)).unwrap();
        let left: Vec<_> = (1..=4).filter(|run| part(*run, 1).exists()).collect();
        assert_eq!(left, [3, 4]);
        prune(directory.path(), &kept(0, Some(3))).unwrap();
        assert!(part(3, 1).exists() && !part(4, 1).exists());
        let old = Kept {
            not_before_ms: Some(i64::MAX),
            ..kept(u64::MAX, None)
        };
        prune(directory.path(), &old).unwrap();
        assert!(!part(3, 1).exists());
        assert!(directory.path().join("notes.txt").exists());
    }
}
