//! The service manager's watchdog is fed only while the core takes its turns.

use std::io::{BufRead, BufReader, ErrorKind, Write};
use std::os::fd::OwnedFd;
use std::os::unix::net::{UnixDatagram, UnixStream};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Only a failure waits so long.
const PATIENCE: Duration = Duration::from_secs(30);
/// Many times the period that is asked for.
const SILENCE: Duration = Duration::from_secs(2);
/// More signs of life than come before the first event.
const MOST_SIGNS: usize = 1000;

/// Says no more: the line must be taken before it can go on.
fn filled() -> (UnixStream, UnixStream, usize) {
    let (mut into, out) = UnixStream::pair().unwrap();
    into.set_nonblocking(true).unwrap();
    let mut filled = 0;
    for size in [4096, 1] {
        while let Ok(written) = into.write(&vec![b'\n'; size]) {
            filled += written;
        }
    }
    into.set_nonblocking(false).unwrap();
    (into, out, filled)
}

/// A program that does not outlive the test.
struct Ending(Child);

impl Drop for Ending {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

fn sign(manager: &UnixDatagram) -> Option<String> {
    let mut bytes = [0; 256];
    match manager.recv(&mut bytes) {
        Ok(count) => Some(
            String::from_utf8_lossy(&bytes[..count])
                .trim_end()
                .to_owned(),
        ),
        Err(error) if error.kind() == ErrorKind::WouldBlock => None,
        Err(error) => panic!("{error}"),
    }
}

/// The loop is made to hang by a standard output that nobody reads: the first
/// event cannot be told, and the core has no turn until it is.
#[test]
fn a_loop_that_hangs_gives_no_sign_of_life_and_one_that_goes_on_does() {
    let directory = tempfile::tempdir().unwrap();
    let boat = directory.path().join("boat.toml");
    std::fs::write(&boat, cringle_boat::example_text()).unwrap();
    let socket = directory.path().join("manager");
    let manager = UnixDatagram::bind(&socket).unwrap();
    manager.set_read_timeout(Some(PATIENCE)).unwrap();
    let (into, out, filled) = filled();

    let child = Command::new(env!("CARGO_BIN_EXE_cringle"))
        .env("NOTIFY_SOCKET", &socket)
        .env("WATCHDOG_USEC", "500000")
        .env_remove("WATCHDOG_PID")
        .args(["watch", "--json", "--no-record", "--boat"])
        .arg(&boat)
        .arg("--state")
        .arg(directory.path().join("state"))
        .args(["--port", "gone=serial:/dev/nowhere?baud=4800"])
        .stdin(Stdio::null())
        .stdout(Stdio::from(OwnedFd::from(into)))
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut child = Ending(child);
    assert_eq!(sign(&manager).as_deref(), Some("READY=1"));
    assert_eq!(sign(&manager).as_deref(), Some("WATCHDOG=1"));

    manager.set_read_timeout(Some(SILENCE)).unwrap();
    let before = (0..MOST_SIGNS).find(|_| sign(&manager).is_none());
    assert!(before.is_some(), "it never hung");
    assert_eq!(sign(&manager), None);
    assert!(child.0.try_wait().unwrap().is_none(), "it ended");

    manager.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut lines = BufReader::new(out).lines();
    let event = lines.by_ref().map(Result::unwrap).find(|it| !it.is_empty());
    assert!(event.unwrap().contains("\"event\""), "{filled}");
    assert_eq!(sign(&manager).as_deref(), Some("WATCHDOG=1"));
}
