//! The files of a recording, named by run and part.
//!
//! Runs are numbered, not dated: a boat's computer often does not know the
//! date when it starts, and a number sorts rightly all the same. The highest
//! number given so far is kept beside them, so that none is given twice though
//! its recording is gone.

use std::io;
use std::path::{Path, PathBuf};

use super::disk::Packing;
use crate::disk::{Disk, replace};

/// Holds the number of the newest run; hidden, so that `recordings/*` names recordings alone.
const NUMBER_FILE: &str = ".newest-run";

/// The name of a part.
pub(super) fn part_path(directory: &Path, run: u32, part: u32, packing: Packing) -> PathBuf {
    let ending = match packing {
        Packing::Gzip => "log.gz",
        Packing::Plain => "log",
    };
    directory.join(format!("run-{run:06}-part-{part:04}.{ending}"))
}

/// Takes the next number: it is on the disk before it is used.
pub(super) fn next_run(disk: &dyn Disk, directory: &Path) -> io::Result<u32> {
    let known = directory.join(NUMBER_FILE);
    let noted = match disk.read(&known) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).trim().parse().unwrap_or(0),
        Err(_) => 0,
    };
    let names = disk.list(directory)?;
    let highest = names.iter().filter_map(|(name, _)| run_of(name)).max();
    let next = highest.unwrap_or(0).max(noted).saturating_add(1);
    replace(disk, &known, format!("{next}\n").as_bytes())?;
    Ok(next)
}

/// Which recordings are kept.
pub(super) struct Kept {
    /// The oldest go until all together are no larger.
    pub(super) most_bytes: u64,
    /// Nor more than so many files.
    pub(super) most_parts: usize,
    /// This run stays whatever it takes.
    pub(super) spared_run: Option<u32>,
}

/// Removes recordings that are not kept, oldest first by their number: a date may
/// be wrong. Gives the names of those that are gone.
pub(super) fn prune(disk: &dyn Disk, directory: &Path, kept: &Kept) -> io::Result<Vec<String>> {
    let mut parts: Vec<_> = disk.list(directory)?;
    parts.retain(|(name, _)| run_of(name).is_some());
    // Names sort as runs and parts do.
    parts.sort();
    let mut total: u64 = parts.iter().map(|(_, bytes)| bytes).sum();
    let mut count = parts.len();
    let mut removed = Vec::new();
    for (name, bytes) in parts {
        if total <= kept.most_bytes && count <= kept.most_parts {
            break;
        }
        if kept.spared_run.is_some() && kept.spared_run == run_of(&name) {
            continue;
        }
        disk.remove(&directory.join(&name))?;
        total -= bytes;
        count -= 1;
        removed.push(name);
    }
    Ok(removed)
}

fn run_of(name: &str) -> Option<u32> {
    name.strip_prefix("run-")?.get(..6)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::disk::RealDisk;
    use std::fs;

    const ALL: Kept = Kept {
        most_bytes: u64::MAX,
        most_parts: usize::MAX,
        spared_run: None,
    };

    #[test]
    fn runs_are_counted_on_and_no_number_is_given_twice_though_all_are_gone() {
        let directory = tempfile::tempdir().unwrap();
        let next = || next_run(&RealDisk, directory.path()).unwrap();
        assert_eq!(next(), 1);
        fs::write(part_path(directory.path(), 3, 1, Packing::Plain), "x").unwrap();
        fs::write(part_path(directory.path(), 4, 1, Packing::Gzip), "x").unwrap();
        fs::write(directory.path().join("notes.txt"), "x").unwrap();
        assert_eq!(next(), 5);
        let none = Kept {
            most_parts: 0,
            ..ALL
        };
        prune(&RealDisk, directory.path(), &none).unwrap();
        assert_eq!(next(), 6);
    }

    #[test]
    fn the_oldest_runs_go_when_all_together_are_too_large_but_not_this_one() {
        let directory = tempfile::tempdir().unwrap();
        let part = |run, part| part_path(directory.path(), run, part, Packing::Gzip);
        for run in 1..=4 {
            fs::write(part(run, 1), [0; 100]).unwrap();
        }
        fs::write(directory.path().join("notes.txt"), [0; 1000]).unwrap();
        let prune = |kept: &Kept| prune(&RealDisk, directory.path(), kept).unwrap();
        let told = prune(&Kept {
            most_bytes: 250,
            ..ALL
        });
        assert_eq!(
            told,
            ["run-000001-part-0001.log.gz", "run-000002-part-0001.log.gz"]
        );
        assert!(part(3, 1).exists() && part(4, 1).exists());
        prune(&Kept {
            most_bytes: 0,
            spared_run: Some(3),
            ..ALL
        });
        assert!(part(3, 1).exists() && !part(4, 1).exists());
        assert!(directory.path().join("notes.txt").exists());
    }

    #[test]
    fn a_wrong_clock_removes_no_recording() {
        let directory = tempfile::tempdir().unwrap();
        let old = part_path(directory.path(), 1, 1, Packing::Gzip);
        fs::write(&old, "x").unwrap();
        // Written long ago, or so a clock that was wrong then or is wrong now says.
        let file = fs::File::options().write(true).open(&old).unwrap();
        file.set_modified(std::time::UNIX_EPOCH).unwrap();
        assert_eq!(prune(&RealDisk, directory.path(), &ALL).unwrap(), [""; 0]);
        assert!(old.exists());
    }
}
