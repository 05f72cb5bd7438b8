//! The files of a recording: named by run and part, packed when closed.
//!
//! Runs are numbered, not dated: a boat's computer often does not know the
//! date when it starts, and a number sorts rightly all the same.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufReader, Write};
use std::path::{Path, PathBuf};

use flate2::Compression;
use flate2::write::GzEncoder;

/// The name of a part.
pub(super) fn part_path(directory: &Path, run: u32, part: u32) -> PathBuf {
    directory.join(format!("run-{run:06}-part-{part:04}.log"))
}

/// One more than the highest run there is.
pub(super) fn next_run(directory: &Path) -> io::Result<u32> {
    let mut highest = 0;
    for entry in fs::read_dir(directory)? {
        let name = entry?.file_name();
        let run = name
            .to_str()
            .and_then(|name| name.strip_prefix("run-")?.get(..6)?.parse().ok());
        highest = highest.max(run.unwrap_or(0));
    }
    Ok(highest + 1)
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

/// Packs a closed part beside itself and only then removes it.
pub(super) fn pack(path: &Path) -> io::Result<()> {
    let mut packed_path = path.as_os_str().to_owned();
    packed_path.push(".gz");
    let packed_path = PathBuf::from(packed_path);
    let half_done = path.with_extension("gz-part");
    let mut packed = GzEncoder::new(File::create(&half_done)?, Compression::default());
    io::copy(&mut BufReader::new(File::open(path)?), &mut packed)?;
    let mut file = packed.finish()?;
    file.flush()?;
    file.sync_all()?;
    fs::rename(&half_done, &packed_path)?;
    fs::remove_file(path)
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
        fs::write(part_path(directory.path(), 4, 1), "x").unwrap();
        pack(&part_path(directory.path(), 4, 1)).unwrap();
        fs::write(directory.path().join("notes.txt"), "x").unwrap();
        assert_eq!(next_run(directory.path()).unwrap(), 5);
    }

    #[test]
    fn a_packed_part_reads_as_before() {
        let directory = tempfile::tempdir().unwrap();
        let path = part_path(directory.path(), 1, 1);
        fs::write(&path, "a line\n").unwrap();
        pack(&path).unwrap();
        assert!(!path.exists());
        let mut words = String::new();
        crate::ports::open(&directory.path().join("run-000001-part-0001.log.gz"))
            .unwrap()
            .read_to_string(&mut words)
            .unwrap();
        assert_eq!(words, "a line\n");
    }
}
