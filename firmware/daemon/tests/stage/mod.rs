//! A watch with an instrument on a pseudo-terminal, and what it says.

#![allow(dead_code)] // Each test file uses its own part of this.

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use serde_json::Value;

/// Longer than anything here should take; only a failure waits so long.
const PATIENCE: Duration = Duration::from_secs(30);

/// And no more lines than this before what is waited for.
const MOST_LINES: usize = 100;

pub(crate) fn words(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// A sentence with its checksum and line end.
pub(crate) fn seal(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

/// A satellite fix at this second of an invented day.
pub(crate) fn rmc(second: u32) -> String {
    seal(&format!(
        "GPRMC,1200{second:02}.00,A,4807.038,N,00531.000,W,6.4,084.4,120626,,,A"
    ))
}

/// Not for the watch that is started beside: a copy of this end would keep the
/// line up when it is pulled.
const FLAGS: OpenptFlags = OpenptFlags::RDWR
    .union(OpenptFlags::NOCTTY)
    .union(OpenptFlags::CLOEXEC);

/// What the instrument can say.
pub(crate) enum Says {
    Wind,
    Heel,
    /// Heading and water speed.
    Water,
}

/// A place for the serial line and for what the watch keeps.
pub(crate) struct Stage {
    directory: tempfile::TempDir,
}

/// The instrument's end of the serial line.
pub(crate) struct Plug {
    master: File,
    link: PathBuf,
}

impl Stage {
    pub(crate) fn new() -> Stage {
        Stage::with("")
    }

    /// With this at the end of the boat file.
    pub(crate) fn with(more: &str) -> Stage {
        let directory = tempfile::tempdir().unwrap();
        let boat = format!("{}\n{more}", cringle_boat::example_text());
        std::fs::write(directory.path().join("boat.toml"), boat).unwrap();
        Stage { directory }
    }

    pub(crate) fn state(&self) -> PathBuf {
        self.directory.path().join("state")
    }

    fn link(&self) -> PathBuf {
        self.directory.path().join("mast")
    }

    pub(crate) fn plug_in(&self) -> Plug {
        let master: OwnedFd = openpt(FLAGS).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let slave = ptsname(&master, Vec::new()).unwrap();
        let link = self.link();
        std::os::unix::fs::symlink(Path::new(slave.to_str().unwrap()), &link).unwrap();
        Plug {
            master: File::from(master),
            link,
        }
    }
}

impl Plug {
    pub(crate) fn say(&mut self, line: Says) {
        let line = match line {
            Says::Wind => seal("WIMWV,041.0,R,15.6,N,A"),
            Says::Heel => seal("YXXDR,A,12.4,D,HEEL"),
            Says::Water => seal("VWVHW,080.0,T,084.0,M,6.2,N,11.5,K"),
        };
        self.master.write_all(line.as_bytes()).unwrap();
    }
}

impl Drop for Plug {
    fn drop(&mut self) {
        std::fs::remove_file(&self.link).ok();
    }
}

/// A watch that runs.
pub(crate) struct Watch {
    child: Child,
    said: Receiver<String>,
    told: Receiver<String>,
    kept: Vec<String>,
}

impl Watch {
    pub(crate) fn start(mut program: Command, stage: &Stage) -> Watch {
        let mut child = program
            .arg("watch")
            .arg("--json")
            .arg("--boat")
            .arg(stage.directory.path().join("boat.toml"))
            .arg("--state")
            .arg(stage.state())
            .args(["--keep-free", "0"])
            .args(["--port", "gone=serial:/dev/nowhere?baud=4800"])
            .arg("--port")
            .arg(format!("mast=serial:{}?baud=4800", stage.link().display()))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let said = lines(child.stdout.take().unwrap());
        let told = lines(child.stderr.take().unwrap());
        Watch {
            child,
            said,
            told,
            kept: Vec::new(),
        }
    }

    /// Waits for words on standard error; the line that has them.
    #[track_caller]
    pub(crate) fn told_about(&self, words: &str) -> String {
        self.told_about_all(&[words])
    }

    /// Waits for all of them, in whichever order they come; the last line.
    #[track_caller]
    pub(crate) fn told_about_all(&self, words: &[&str]) -> String {
        let mut awaited = words.to_vec();
        for _ in 0..MOST_LINES {
            let line = self.told.recv_timeout(PATIENCE);
            let line = line.unwrap_or_else(|_| panic!("never told about {awaited:?}"));
            // No terminal is there to take colours.
            assert!(!line.contains('\x1b'), "{line:?}");
            awaited.retain(|words| !line.contains(words));
            if awaited.is_empty() {
                return line;
            }
        }
        panic!("never told about {awaited:?}");
    }

    /// Waits for an event on standard output.
    #[track_caller]
    pub(crate) fn event(&mut self, is_it: impl Fn(&Value) -> bool) -> Value {
        for _ in 0..MOST_LINES {
            let line = self.said.recv_timeout(PATIENCE).expect("no such event");
            let event = serde_json::from_str(&line).unwrap();
            self.kept.push(line);
            if is_it(&event) {
                return event;
            }
        }
        panic!("no such event among {MOST_LINES}");
    }

    /// By which the system knows it.
    pub(crate) fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Kills it: it says nothing more to anybody.
    pub(crate) fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Ends the watch as a service manager does; gives all its event lines.
    pub(crate) fn end(self) -> String {
        self.end_told().0
    }

    /// The same, with what it told on standard error since it was last asked.
    pub(crate) fn end_told(mut self) -> (String, Vec<String>) {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
        let status = self.child.wait().unwrap();
        assert_eq!(status.code(), Some(0));
        self.kept.extend(self.said.iter());
        let kept = self.kept.iter().map(|line| format!("{line}\n"));
        (kept.collect(), self.told.iter().collect())
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn lines(from: impl Read + Send + 'static) -> Receiver<String> {
    let (sender, lines) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                return;
            }
        }
    });
    lines
}
