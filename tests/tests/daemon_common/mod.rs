//! A pseudo-terminal that stands for an instrument on a serial line.

#![allow(dead_code)] // Each test file uses its own part of this.

use std::fs::File;
use std::io::Write;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

/// The instrument's end of a serial line. The monitor's end is a link in the
/// file system, so that it can be plugged in again under the same name.
pub(crate) struct Pty {
    master: File,
    link: PathBuf,
}

/// A place for the monitor's end, in a directory of its own.
pub(crate) struct Link {
    _directory: tempfile::TempDir,
    path: PathBuf,
}

/// See [`Link`].
pub(crate) fn link() -> Link {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("serial");
    Link {
        _directory: directory,
        path,
    }
}

impl Link {
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }
}

impl Pty {
    /// Plugs an instrument in at this place.
    pub(crate) fn at(link: &Path) -> Pty {
        let master: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let slave = ptsname(&master, Vec::new()).unwrap();
        std::os::unix::fs::symlink(Path::new(slave.to_str().unwrap()), link).unwrap();
        Pty {
            master: File::from(master),
            link: link.to_owned(),
        }
    }

    /// Says something.
    pub(crate) fn write(&mut self, bytes: &[u8]) {
        self.master.write_all(bytes).unwrap();
    }
}

impl Drop for Pty {
    fn drop(&mut self) {
        std::fs::remove_file(&self.link).ok();
    }
}
