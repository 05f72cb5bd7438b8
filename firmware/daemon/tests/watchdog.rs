//! The service manager's watchdog is fed only while the core takes its turns,
//! and whoever stops reading what the watch says does not hold it up.

use std::io::{BufRead, BufReader, ErrorKind, Write};
use std::os::fd::OwnedFd;
use std::os::unix::net::{UnixDatagram, UnixStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use cringle::aboard::Aboard;
use cringle::clock::Clock;
use cringle::engine::Engine;
use cringle::face::{Face, Input, Stroke};
use cringle::progress::Progress;
use cringle::store::EVENT_LOG;
use cringle::watch::{Parts, Watcher};
use cringle::wiring;
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::aboard::DataOrigin;

/// Only a failure waits so long.
const PATIENCE: Duration = Duration::from_secs(30);
/// Many times the period that is asked for.
const SILENCE: Duration = Duration::from_secs(2);
/// More signs of life than come before the watch hangs.
const MOST_SIGNS: usize = 1000;

/// A service manager that listens.
struct Manager {
    directory: tempfile::TempDir,
    socket: UnixDatagram,
}

impl Manager {
    fn new() -> Manager {
        let directory = tempfile::tempdir().unwrap();
        let socket = UnixDatagram::bind(directory.path().join("manager")).unwrap();
        socket.set_read_timeout(Some(PATIENCE)).unwrap();
        Manager { directory, socket }
    }

    fn place(&self, name: &str) -> PathBuf {
        self.directory.path().join(name)
    }

    /// Starts it as a service.
    fn start(&self, program: &mut Command) -> Service {
        let child = program
            .env("NOTIFY_SOCKET", self.place("manager"))
            .env("WATCHDOG_USEC", "500000")
            .env_remove("WATCHDOG_PID")
            .spawn()
            .unwrap();
        Service(child)
    }

    fn sign(&self) -> Option<String> {
        let mut bytes = [0; 256];
        match self.socket.recv(&mut bytes) {
            Ok(count) => {
                let words = String::from_utf8_lossy(&bytes[..count]);
                Some(words.trim_end().to_owned())
            }
            Err(error) if error.kind() == ErrorKind::WouldBlock => None,
            Err(error) => panic!("{error}"),
        }
    }
}

/// A program that does not outlive the test.
struct Service(Child);

impl Drop for Service {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// Shows a few moments, and then holds up the loop until it hears a line on
/// standard input.
struct HangingFace {
    shown: u32,
}

impl Face for HangingFace {
    fn show(&mut self, _: &View, _: &Aboard) {
        self.shown += 1;
        if self.shown == 4 {
            std::io::stdin()
                .lock()
                .read_line(&mut String::new())
                .unwrap();
        }
    }

    fn take(&mut self, _: Input, _: &View) -> Stroke {
        Stroke::Nothing
    }
}

#[test]
#[ignore = "no test by itself: the program that the test below starts"]
fn a_watch_with_a_face_that_hangs() {
    let boat_file = cringle_boat::example().unwrap();
    let parts = Parts {
        engine: Engine::new(&boat_file.boat, Vec::new(), None, Timestamp::ZERO),
        names: wiring::names(&boat_file, &[]),
        aboard: Aboard::new(&[], DataOrigin::Live),
        clock: Clock::real(),
        recorder: None,
        store: None,
        outputs: None,
        tellers: Vec::new(),
        faces: vec![Box::new(HangingFace { shown: 0 })],
        progress: Progress::default(),
        unsure: Vec::new(),
        boat_file,
    };
    let mut builder = tokio::runtime::Builder::new_current_thread();
    let runtime = builder.enable_all().build().unwrap();
    runtime.block_on(async {
        let (_news, coming) = tokio::sync::mpsc::channel(1);
        let (_keys, inputs) = tokio::sync::mpsc::channel(1);
        let mut watcher = Watcher::new(parts);
        watcher.run(&[], coming, inputs, Default::default()).await;
    });
}

#[test]
fn a_loop_that_hangs_gives_no_sign_of_life_and_one_that_goes_on_does() {
    let manager = Manager::new();
    let mut service = manager.start(
        Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", "a_watch_with_a_face_that_hangs"])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null()),
    );
    assert_eq!(manager.sign().as_deref(), Some("READY=1"));
    assert_eq!(manager.sign().as_deref(), Some("WATCHDOG=1"));

    manager.socket.set_read_timeout(Some(SILENCE)).unwrap();
    let before = (0..MOST_SIGNS).find(|_| manager.sign().is_none());
    assert!(before.is_some(), "it never hung");
    assert_eq!(manager.sign(), None);
    assert!(service.0.try_wait().unwrap().is_none(), "it ended");

    manager.socket.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut line = service.0.stdin.take().unwrap();
    line.write_all(b"\n").unwrap();
    assert_eq!(manager.sign().as_deref(), Some("WATCHDOG=1"));
}

/// A line that takes not one byte more, and its other end.
fn filled() -> (UnixStream, UnixStream) {
    let (mut into, out) = UnixStream::pair().unwrap();
    into.set_nonblocking(true).unwrap();
    for size in [4096, 1] {
        while into.write(&vec![b'\n'; size]).is_ok() {}
    }
    into.set_nonblocking(false).unwrap();
    (into, out)
}

#[test]
fn a_watch_whose_lines_nobody_reads_goes_on() {
    let manager = Manager::new();
    let ((into, out), (log_into, _log)) = (filled(), filled());
    let (_service, told) = unheard(&manager, into, log_into);
    // Once somebody reads, what waited is said from the first line on.
    let mut said = BufReader::new(out).lines().map(Result::unwrap);
    let first = said.find(|line| !line.is_empty()).unwrap();
    assert_eq!(told.lines().next(), Some(first.as_str()));
}

#[test]
fn a_watch_whose_lines_nobody_reads_ends_when_it_is_told_to() {
    let manager = Manager::new();
    let ((into, _out), (log_into, _log)) = (filled(), filled());
    let (mut service, _) = unheard(&manager, into, log_into);
    let pid = rustix::process::Pid::from_child(&service.0);
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    while manager.sign().expect("it does not end") != "STOPPING=1" {}
    assert_eq!(service.0.wait().unwrap().code(), Some(0));
}

/// A watch that could not say its first event, has taken many turns since,
/// and what is in its event log.
fn unheard(manager: &Manager, into: UnixStream, log_into: UnixStream) -> (Service, String) {
    let boat = manager.place("boat.toml");
    std::fs::write(&boat, cringle_boat::example_text()).unwrap();
    let state = manager.place("state");
    let service = manager.start(
        Command::new(env!("CARGO_BIN_EXE_cringle"))
            .args(["watch", "--json", "--no-record", "--boat"])
            .arg(&boat)
            .arg("--state")
            .arg(&state)
            .args(["--port", "gone=serial:/dev/nowhere?baud=4800"])
            .stdin(Stdio::null())
            .stdout(Stdio::from(OwnedFd::from(into)))
            .stderr(Stdio::from(OwnedFd::from(log_into))),
    );
    assert_eq!(manager.sign().as_deref(), Some("READY=1"));
    let told = || std::fs::read_to_string(state.join(EVENT_LOG)).unwrap_or_default();
    let mut signs = 0;
    while signs < 8 || told().is_empty() {
        assert_eq!(manager.sign().as_deref(), Some("WATCHDOG=1"));
        signs += 1;
        assert!(signs < MOST_SIGNS, "no event");
    }
    (service, told())
}
