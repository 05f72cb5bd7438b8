//! A line on a real pseudo-terminal, with a path that stays.
//!
//! Whoever listens opens the path like a serial port. Pulling the plug closes
//! the terminal (the listener reads end of file) and takes the path away;
//! plugging in makes a new one under the same path. Bytes that nobody listens
//! to are lost, as on a wire.

use std::io;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use rustix::event::{PollFd, PollFlags, poll};
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::io::Errno;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

/// A pseudo-terminal under a path of our choice.
#[derive(Debug)]
pub struct Pty {
    path: PathBuf,
    master: Option<OwnedFd>,
}

impl Pty {
    /// Makes a terminal and a symbolic link to it at `path`.
    pub fn new(path: &Path) -> Result<Self> {
        let mut pty = Self {
            path: path.to_owned(),
            master: None,
        };
        pty.plug_in()?;
        Ok(pty)
    }

    /// Where a listener finds it.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Makes the terminal, unless it is there.
    pub fn plug_in(&mut self) -> Result<()> {
        if self.master.is_none() {
            let master = self.make().with_context(|| {
                format!("{}: cannot make a pseudo-terminal", self.path.display())
            })?;
            self.master = Some(master);
        }
        Ok(())
    }

    /// Closes the terminal and takes the path away.
    pub fn pull_out(&mut self) {
        if self.master.take().is_some() {
            // Gone already is as good as removed.
            let _ = std::fs::remove_file(&self.path);
        }
    }

    /// Writes what the listener has room for; the rest is lost.
    pub fn write(&mut self, bytes: &[u8]) -> Result<()> {
        let Some(master) = &self.master else {
            return Ok(());
        };
        discard_input(master);
        let mut watched = [PollFd::new(master, PollFlags::OUT)];
        poll(&mut watched, Some(&rustix::event::Timespec::default()))?;
        let ready = watched[0].revents();
        if ready.contains(PollFlags::HUP) || !ready.contains(PollFlags::OUT) {
            return Ok(());
        }
        match rustix::io::write(master, bytes) {
            Ok(_) | Err(Errno::AGAIN | Errno::IO) => Ok(()),
            Err(error) => Err(io::Error::from(error))
                .with_context(|| format!("{}: cannot write", self.path.display())),
        }
    }

    fn make(&self) -> Result<OwnedFd> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        // Opened and closed once: only then does the kernel tell the master
        // whether anyone holds the other end.
        let other_end = open(
            name.as_c_str(),
            OFlags::RDWR | OFlags::NOCTTY,
            Mode::empty(),
        )?;
        let mut modes = tcgetattr(&other_end)?;
        modes.make_raw();
        tcsetattr(&other_end, OptionalActions::Now, &modes)?;
        drop(other_end);
        fcntl_setfl(&master, fcntl_getfl(&master)? | OFlags::NONBLOCK)?;
        self.link_to(name.to_str()?)?;
        Ok(master)
    }

    /// Puts the link in place in one step, so that the path is never half there.
    fn link_to(&self, target: &str) -> Result<()> {
        let fresh = self.path.with_extension("new");
        let _ = std::fs::remove_file(&fresh);
        std::os::unix::fs::symlink(target, &fresh)?;
        std::fs::rename(&fresh, &self.path)?;
        Ok(())
    }
}

impl Drop for Pty {
    fn drop(&mut self) {
        self.pull_out();
    }
}

/// A listener may talk back; nobody aboard the made-up boat cares.
fn discard_input(master: &OwnedFd) {
    let mut buffer = [0u8; 512];
    while matches!(rustix::io::read(master, &mut buffer), Ok(read) if read > 0) {}
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;
    use std::io::Read;

    fn listen(path: &Path) -> File {
        File::options()
            .read(true)
            .write(true)
            .open(path)
            .expect("the terminal opens")
    }

    fn read_line(file: &mut File) -> String {
        let mut line = Vec::new();
        let mut byte = [0u8];
        while line.last() != Some(&b'\n') {
            if file.read(&mut byte).expect("readable") == 0 {
                break;
            }
            line.push(byte[0]);
        }
        String::from_utf8_lossy(&line).into_owned()
    }

    #[test]
    fn a_listener_reads_what_is_written_and_nothing_older() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("mast");
        let mut pty = Pty::new(&path).expect("a terminal");
        pty.write(b"$WIMWV,nobody,listens\r\n")
            .expect("lost quietly");
        let mut listener = listen(&path);
        pty.write(b"$WIMWV,,R,,N,V*34\r\n").expect("written");
        assert_eq!(read_line(&mut listener), "$WIMWV,,R,,N,V*34\r\n");
    }

    #[test]
    fn a_pulled_plug_ends_the_file_and_comes_back_under_its_path() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("mast");
        let mut pty = Pty::new(&path).expect("a terminal");
        let mut listener = listen(&path);
        pty.pull_out();
        let mut byte = [0u8];
        assert!(matches!(listener.read(&mut byte), Ok(0) | Err(_)));
        assert!(!path.exists());
        pty.write(b"lost").expect("lost quietly");
        pty.plug_in().expect("plugged in");
        let mut listener = listen(&path);
        pty.write(b"$A*41\r\n").expect("written");
        assert_eq!(read_line(&mut listener), "$A*41\r\n");
    }

    #[test]
    fn a_listener_that_does_not_read_blocks_nobody() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("mast");
        let mut pty = Pty::new(&path).expect("a terminal");
        let _listener = listen(&path);
        for _ in 0..5000 {
            pty.write(b"$WIMWV,,R,,N,V*34\r\n")
                .expect("written or lost");
        }
    }
}
