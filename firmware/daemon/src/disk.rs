//! What store and recorder ask of a disk, so that a test can put another one
//! in its place: one that fills up, tears what was not synced, or stands still.
//!
//! Files of ours are made with a mode of their own, whatever the umask is, and
//! are never reached through a link that somebody else may have planted; what is
//! no plain file is refused before a byte goes into it.

use std::fmt::Debug;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::Path;
use std::time::Duration;

use rustix::fs::OFlags;

/// Owner writes, the group reads (the crew's log readers), others nothing.
pub const KEPT_MODE: u32 = 0o640;
/// Owner alone: what holds a key.
pub const SECRET_MODE: u32 = 0o600;

/// A write that is not done after this is a fault: a person who acted must know soon.
pub const TOO_OLD: Duration = Duration::from_secs(5);

/// One file that is written to.
pub trait DiskFile: Write + Send {
    /// To the card with all that was written.
    fn sync(&mut self) -> io::Result<()>;

    /// Bytes that it has.
    fn size(&self) -> io::Result<u64>;

    /// Its last byte; none where it is empty.
    fn last_byte(&mut self) -> io::Result<Option<u8>>;
}

/// A disk.
pub trait Disk: Debug + Send + Sync {
    /// Makes a directory with those above it, if it is not there.
    fn make_directory(&self, directory: &Path) -> io::Result<()>;

    /// Opens a file to add to, which is made if it is not there.
    fn append(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;

    /// Makes a file that is not there yet.
    fn create_new(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;

    /// Reads a whole file.
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;

    /// Puts a file in the place of another.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Takes a file away.
    fn remove(&self, path: &Path) -> io::Result<()>;

    /// Names in a directory, with their sizes.
    fn list(&self, directory: &Path) -> io::Result<Vec<(String, u64)>>;

    /// Whether there is anything by this name.
    fn is_there(&self, path: &Path) -> bool;

    /// Bytes that the file system can still take.
    fn free_bytes(&self, directory: &Path) -> io::Result<u64>;

    /// Makes the names in a directory last, as a new file's name must.
    fn sync_directory(&self, directory: &Path) -> io::Result<()>;
}

/// Writes a whole file so that after a crash there is the old one or the new
/// one, and never a half.
pub fn replace(disk: &dyn Disk, path: &Path, contents: &[u8]) -> io::Result<()> {
    let half_done = path.with_extension("new");
    // Left by a crash, or planted: a name is taken away, what it leads to stays.
    match disk.remove(&half_done) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut file = disk.create_new(&half_done)?;
    file.write_all(contents)?;
    file.sync()?;
    drop(file);
    disk.rename(&half_done, path)?;
    match path.parent() {
        Some(directory) => disk.sync_directory(directory),
        None => Ok(()),
    }
}

/// What to do about a disk that refuses.
pub(crate) fn remedy(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            "make room: remove old recordings or give another --state"
        }
        io::ErrorKind::ReadOnlyFilesystem => {
            "the disk has become read-only, often a failing card: mount it again or change it"
        }
        io::ErrorKind::PermissionDenied => "let this account write there",
        _ => "look at the disk, or give another --state",
    }
}

/// The computer's own.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn make_directory(&self, directory: &Path) -> io::Result<()> {
        fs::create_dir_all(directory)
    }

    fn append(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut options = OpenOptions::new();
        options.read(true).append(true).create(true);
        Ok(Box::new(plain_file(&mut options, path)?))
    }

    fn create_new(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        Ok(Box::new(new_file(path, KEPT_MODE)?))
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        plain_file(OpenOptions::new().read(true), path)?.read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn list(&self, directory: &Path) -> io::Result<Vec<(String, u64)>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(directory)? {
            let entry = entry?;
            if let Ok(name) = entry.file_name().into_string() {
                names.push((name, entry.metadata()?.len()));
            }
        }
        Ok(names)
    }

    fn is_there(&self, path: &Path) -> bool {
        fs::symlink_metadata(path).is_ok()
    }

    fn free_bytes(&self, directory: &Path) -> io::Result<u64> {
        let system = rustix::fs::statvfs(directory)?;
        Ok(system.f_bavail.saturating_mul(system.f_frsize))
    }

    fn sync_directory(&self, directory: &Path) -> io::Result<()> {
        File::open(directory)?.sync_all()
    }
}

impl DiskFile for File {
    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn size(&self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }

    fn last_byte(&mut self) -> io::Result<Option<u8>> {
        if self.size()? == 0 {
            return Ok(None);
        }
        let mut last = [0];
        self.seek(SeekFrom::End(-1))?;
        self.read_exact(&mut last)?;
        Ok(last.first().copied())
    }
}

/// Makes a new file with this mode, whatever the umask is; a link in its place
/// is refused.
pub fn new_file(path: &Path, mode: u32) -> io::Result<File> {
    let file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(mode)
        .open(path)?;
    file.set_permissions(fs::Permissions::from_mode(mode))?;
    Ok(file)
}

/// Writes a file that a person asked for by name: a new one in the place of an
/// old one, so that neither a link nor a FIFO is written through. A device that
/// is named outright, such as `/dev/stdout` or `/dev/null`, is written to as it is.
pub fn write_named(path: &Path, contents: &[u8], mode: u32) -> io::Result<()> {
    use std::os::unix::fs::FileTypeExt;
    let kind = fs::symlink_metadata(path).map(|facts| facts.file_type());
    match kind {
        Ok(kind) if kind.is_char_device() => return fs::write(path, contents),
        // The system's own links to what is open already.
        Ok(_) if path.starts_with("/dev") || path.starts_with("/proc") => {
            return fs::write(path, contents);
        }
        Ok(kind) if !kind.is_file() => {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "it is a link, a pipe or a directory: name a file, or take that away first",
            ));
        }
        _ => {}
    }
    let half_done = path.with_extension(format!("{}.new", std::process::id()));
    let mut file = new_file(&half_done, mode)?;
    let written = file.write_all(contents).and_then(|()| file.sync_all());
    written
        .and_then(|()| fs::rename(&half_done, path))
        .inspect_err(|_| drop(fs::remove_file(&half_done)))
}

/// Opens without following a link and without waiting for a FIFO's other end.
fn plain_file(options: &mut OpenOptions, path: &Path) -> io::Result<File> {
    let flags = OFlags::NOFOLLOW | OFlags::NONBLOCK;
    let file = options
        .mode(KEPT_MODE)
        .custom_flags(flags.bits() as i32)
        .open(path)?;
    if !file.metadata()?.is_file() {
        let words = "it is no plain file: take it away";
        return Err(io::Error::new(io::ErrorKind::InvalidInput, words));
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    fn mode(path: &Path) -> u32 {
        fs::metadata(path).unwrap().permissions().mode() & 0o777
    }

    #[test]
    fn a_planted_link_or_pipe_is_neither_followed_nor_waited_for() {
        let place = tempfile::tempdir().unwrap();
        let treasure = place.path().join("treasure");
        fs::write(&treasure, "gold").unwrap();
        let state = place.path().join("state.json");
        // The state's half-done file, the log, and a picture: all planted.
        symlink(&treasure, place.path().join("state.new")).unwrap();
        replace(&RealDisk, &state, b"{}\n").unwrap();
        let log = place.path().join("events.jsonl");
        symlink(&treasure, &log).unwrap();
        assert!(RealDisk.append(&log).is_err());
        let picture = place.path().join("screen.png");
        symlink(&treasure, &picture).unwrap();
        assert!(write_named(&picture, b"png", KEPT_MODE).is_err());
        assert_eq!(fs::read_to_string(&treasure).unwrap(), "gold");
        assert_eq!(fs::read_to_string(&state).unwrap(), "{}\n");
        let pipe = place.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        assert!(made.unwrap().success());
        assert!(RealDisk.append(&pipe).is_err() && RealDisk.read(&pipe).is_err());
        assert!(write_named(&pipe, b"png", KEPT_MODE).is_err());
    }

    #[test]
    fn modes_do_not_rest_on_the_umask() {
        let place = tempfile::tempdir().unwrap();
        let at = |name: &str| place.path().join(name);
        replace(&RealDisk, &at("state.json"), b"{}").unwrap();
        write_named(&at("boat.toml"), b"key", SECRET_MODE).unwrap();
        drop(RealDisk.create_new(&at("part")).unwrap());
        assert_eq!(mode(&at("state.json")), 0o640);
        assert_eq!(mode(&at("part")), 0o640);
        assert_eq!(mode(&at("boat.toml")), 0o600);
    }
}
