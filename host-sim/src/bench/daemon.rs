//! The real daemon as a child process, on ports like aboard.
//!
//! It is started with a boat file of the made-up boat, one serial port for
//! each line, and a page on a free port of the loopback with a key made up for
//! it alone. Recording is begun and ended as aboard: by ending it and starting
//! it again; it takes up what it saved of its own state.

use std::collections::VecDeque;
use std::io::{BufRead, BufReader, Read};
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use anyhow::{Context, Result};
use serde_json::Value;

use super::client::{self, Answer};
use crate::boat_file::boat_file;
use crate::faults::Disk;
use crate::scenario::Scenario;

/// Event lines and log lines kept for the page.
const KEPT: usize = 400;
/// A daemon that is asked to end has so long for its last words.
const ENDS_WITHIN: Duration = Duration::from_secs(8);
/// More than any disk has, so that there is never room to record.
const MORE_THAN_ANY_DISK_MB: &str = "1000000000";

/// Whether the daemon records.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Recording {
    /// To the folder of recordings.
    On,
    /// Not at all.
    Off,
}

/// Where things are, and which program.
#[derive(Clone, Debug)]
pub struct Places {
    /// The program.
    pub program: PathBuf,
    /// Boat file, state and terminals.
    pub folder: PathBuf,
    /// Recordings.
    pub recordings: PathBuf,
}

/// The daemon and what it said.
pub struct Daemon {
    places: Places,
    ports: Vec<String>,
    page: SocketAddr,
    key: String,
    said: Arc<Mutex<Said>>,
    running: Mutex<Running>,
}

struct Running {
    child: Option<Child>,
    recording: Recording,
    disk: Disk,
}

/// What came out of it.
#[derive(Default)]
struct Said {
    /// Events, newest last, each with a number that only grows.
    events: VecDeque<(usize, Value)>,
    next: usize,
    /// Its log, newest last.
    log: VecDeque<String>,
}

impl Daemon {
    /// Writes the boat file for `scenario` and starts the program.
    pub fn start(places: Places, scenario: &Scenario) -> Result<Self> {
        let page = free_port()?;
        let key = made_up_key()?;
        let file = format!(
            "{}\n[page]\nlisten = \"{page}\"\nkey = \"{key}\"\n",
            boat_file(scenario)
        );
        let path = places.folder.join("boat.toml");
        std::fs::write(&path, file).with_context(|| format!("{}: cannot write", path.display()))?;
        let port = |line: &crate::instruments::LinePlan| {
            let terminal = terminals(&places.folder).join(&line.name);
            format!(
                "{}=serial:{}?baud={}",
                line.name,
                terminal.display(),
                line.baud
            )
        };
        let daemon = Self {
            ports: scenario.line.iter().map(port).collect(),
            places,
            page,
            key,
            said: Arc::default(),
            running: Mutex::new(Running {
                child: None,
                recording: Recording::Off,
                disk: Disk::Room,
            }),
        };
        daemon.set(Recording::Off, Disk::Room)?;
        Ok(daemon)
    }

    /// Ends it and starts it again, recording or not, with a disk like this.
    pub fn set(&self, recording: Recording, disk: Disk) -> Result<()> {
        let mut running = lock(&self.running);
        if let Some(child) = running.child.take() {
            end(child);
        }
        running.recording = recording;
        running.disk = disk;
        running.child = Some(self.spawn(recording, disk)?);
        Ok(())
    }

    /// Whether it records, and its disk.
    pub fn setting(&self) -> (Recording, Disk) {
        let running = lock(&self.running);
        (running.recording, running.disk)
    }

    /// How it ended, if it did so unasked.
    pub fn fallen(&self) -> Option<String> {
        let mut running = lock(&self.running);
        let status = running.child.as_mut()?.try_wait().ok()??;
        Some(format!("the daemon ended by itself: {status}"))
    }

    /// Ends it in good order.
    pub fn end(&self) {
        if let Some(child) = lock(&self.running).child.take() {
            end(child);
        }
    }

    /// Gets a path of its page.
    pub fn get(&self, path: &str) -> Result<Answer> {
        client::get(self.page, path)
    }

    /// Posts to its page, with the key.
    pub fn post(&self, path: &str, mut fields: Value) -> Result<Answer> {
        if let Value::Object(fields) = &mut fields {
            fields.insert("key".to_owned(), self.key.as_str().into());
        }
        client::post(self.page, path, &fields.to_string())
    }

    /// Events from this number on, and the number that comes next.
    pub fn events_since(&self, number: usize) -> (Vec<Value>, usize) {
        let said = lock(&self.said);
        let newer = said.events.iter().filter(|(at, _)| *at >= number);
        (newer.map(|(_, event)| event.clone()).collect(), said.next)
    }

    /// The last lines of its log.
    pub fn log(&self, lines: usize) -> Vec<String> {
        let said = lock(&self.said);
        let skip = said.log.len().saturating_sub(lines);
        said.log.iter().skip(skip).cloned().collect()
    }

    /// Where it records to.
    pub fn recordings(&self) -> &Path {
        &self.places.recordings
    }

    /// The program.
    pub fn program(&self) -> &Path {
        &self.places.program
    }

    fn spawn(&self, recording: Recording, disk: Disk) -> Result<Child> {
        let folder = &self.places.folder;
        let mut command = Command::new(&self.places.program);
        command.arg("watch").arg("--json");
        command.arg("--boat").arg(folder.join("boat.toml"));
        command.arg("--state").arg(folder.join("state"));
        for port in &self.ports {
            command.arg("--port").arg(port);
        }
        match recording {
            Recording::On => command.arg("--record").arg(&self.places.recordings),
            Recording::Off => command.arg("--no-record"),
        };
        if disk == Disk::Full {
            command.arg("--keep-free").arg(MORE_THAN_ANY_DISK_MB);
        }
        command.stdin(Stdio::null());
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let program = self.places.program.display();
        let mut child = command
            .spawn()
            .with_context(|| format!("{program}: cannot be started; give --cringle PATH"))?;
        if let Some(stdout) = child.stdout.take() {
            let said = Arc::clone(&self.said);
            each_line(stdout, move |line| lock(&said).event(&line));
        }
        if let Some(stderr) = child.stderr.take() {
            let said = Arc::clone(&self.said);
            each_line(stderr, move |line| lock(&said).log_line(line));
        }
        Ok(child)
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        self.end();
    }
}

impl Said {
    fn event(&mut self, line: &str) {
        let Ok(event) = serde_json::from_str(line) else {
            return;
        };
        self.events.push_back((self.next, event));
        self.next += 1;
        if self.events.len() > KEPT {
            self.events.pop_front();
        }
    }

    fn log_line(&mut self, line: String) {
        self.log.push_back(line);
        if self.log.len() > KEPT {
            self.log.pop_front();
        }
    }
}

/// Where the terminals of a bench are.
pub(super) fn terminals(folder: &Path) -> PathBuf {
    folder.join("lines")
}

/// Locks, whoever has panicked before: what is behind it is written whole.
pub(super) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn each_line(from: impl Read + Send + 'static, mut take: impl FnMut(String) + Send + 'static) {
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines() {
            match line {
                Ok(line) => take(line),
                Err(_) => break,
            }
        }
    });
}

/// Asks it to end, and makes it if it does not.
fn end(mut child: Child) {
    let asked = i32::try_from(child.id())
        .ok()
        .and_then(rustix::process::Pid::from_raw)
        .map(|pid| rustix::process::kill_process(pid, rustix::process::Signal::TERM));
    let until = Instant::now() + ENDS_WITHIN;
    while matches!(asked, Some(Ok(()))) && Instant::now() < until {
        if !matches!(child.try_wait(), Ok(None)) {
            return;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    // It may have gone meanwhile.
    let _ = child.kill();
    let _ = child.wait();
}

/// A port of the loopback that nobody listened on a moment ago.
fn free_port() -> Result<SocketAddr> {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).context("no free port")?;
    Ok(listener.local_addr()?)
}

fn made_up_key() -> Result<String> {
    let mut bytes = [0u8; 16];
    std::fs::File::open("/dev/urandom")
        .and_then(|mut random| random.read_exact(&mut bytes))
        .context("/dev/urandom: no key can be made up")?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}
