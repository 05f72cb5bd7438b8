//! The event log and the state file, written on a thread of their own: a card
//! may take a second to answer, and the watch does not wait for it.
//!
//! The event log is bounded: when it is full it becomes `events.1.jsonl`, what
//! was that `events.2.jsonl`, and so on; the oldest goes.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use crate::recorder::files::{sync_directory, write_whole};

/// The event log in the state directory.
pub const EVENT_LOG: &str = "events.jsonl";
/// The state file in the state directory.
pub const STATE_FILE: &str = "state.json";

/// The event log turns over at this size: at some 600 bytes an event, and a
/// few hundred events a day, about a month at sea.
const LOG_BYTES: u64 = 8 << 20;
/// Older logs that are kept beside it.
const OLDER_LOGS: u32 = 4;

/// Takes what is to be kept and never blocks.
pub struct Store {
    messages: Option<Sender<Message>>,
    fault: Arc<Mutex<Option<String>>>,
    thread: Option<JoinHandle<()>>,
}

/// How soon an event must be on the card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// With the next that is urgent.
    Later,
    /// At once: a call has changed.
    Now,
}

enum Message {
    Event(String, Urgency),
    State(String),
}

impl Store {
    /// Keeps things in this directory, which is made if it is not there.
    pub fn start(directory: PathBuf) -> Store {
        Store::bounded(directory, LOG_BYTES)
    }

    /// The same with an event log that turns over at another size.
    pub fn bounded(directory: PathBuf, log_bytes: u64) -> Store {
        let (messages, coming) = channel();
        let fault = Arc::default();
        let keeper = Keeper {
            directory,
            log: None,
            log_bytes,
            fault: Arc::clone(&fault),
        };
        let thread = std::thread::spawn(move || keeper.run(&coming));
        Store {
            messages: Some(messages),
            fault,
            thread: Some(thread),
        }
    }

    /// Adds an event line, without line end.
    pub fn event(&self, line: String, urgency: Urgency) {
        self.send(Message::Event(line, urgency));
    }

    /// Replaces the state file.
    pub fn state(&self, line: String) {
        self.send(Message::State(line));
    }

    /// What is wrong, while it is.
    pub fn fault(&self) -> Option<String> {
        let fault = self.fault.lock();
        fault.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Waits until all is written, and says what could not be.
    pub fn end(mut self) -> Option<String> {
        self.settle();
        self.fault()
    }

    fn settle(&mut self) {
        self.messages = None;
        if let Some(thread) = self.thread.take() {
            // A panic there has been told already.
            let _ = thread.join();
        }
    }

    fn send(&self, message: Message) {
        if let Some(messages) = &self.messages {
            // The thread ends only after this end has gone.
            let _ = messages.send(message);
        }
    }
}

impl Drop for Store {
    /// Waits until all is written.
    fn drop(&mut self) {
        self.settle();
    }
}

struct Keeper {
    directory: PathBuf,
    log: Option<Log>,
    log_bytes: u64,
    fault: Arc<Mutex<Option<String>>>,
}

impl Keeper {
    fn run(mut self, coming: &Receiver<Message>) {
        let mut faults = [None, None];
        for message in coming {
            // One that goes well is no cure for the other.
            match message {
                Message::Event(line, urgency) => {
                    let done = self.event(&line, urgency);
                    faults[0] = self.fault_of(EVENT_LOG, done);
                }
                Message::State(line) => {
                    let done = self.state(&line);
                    faults[1] = self.fault_of(STATE_FILE, done);
                }
            }
            let fault = faults.iter().flatten().next().cloned();
            *self.fault.lock().unwrap_or_else(PoisonError::into_inner) = fault;
        }
    }

    fn fault_of(&self, name: &str, done: io::Result<()>) -> Option<String> {
        let path = self.directory.join(name);
        let error = done.err()?;
        Some(format!("{} cannot be written: {error}", path.display()))
    }

    fn event(&mut self, line: &str, urgency: Urgency) -> io::Result<()> {
        let mut log = match self.log.take() {
            Some(log) => log,
            None => open_log(&self.directory)?,
        };
        if log.bytes >= self.log_bytes {
            log.file.sync_data()?;
            drop(log);
            turn_over(&self.directory)?;
            log = open_log(&self.directory)?;
        }
        // One write for the whole line: a crash leaves it whole or cut, never
        // mixed with another.
        let whole = format!("{line}\n");
        log.file.write_all(whole.as_bytes())?;
        log.bytes += whole.len() as u64;
        if urgency == Urgency::Now {
            log.file.sync_data()?;
        }
        self.log = Some(log);
        Ok(())
    }

    fn state(&mut self, line: &str) -> io::Result<()> {
        std::fs::create_dir_all(&self.directory)?;
        let contents = format!("{line}\n");
        write_whole(&self.directory.join(STATE_FILE), contents.as_bytes())
    }
}

struct Log {
    file: File,
    bytes: u64,
}

/// A line that a crash or a full disk cut off is ended first, so that the next
/// one stands alone.
fn open_log(directory: &Path) -> io::Result<Log> {
    std::fs::create_dir_all(directory)?;
    let path = directory.join(EVENT_LOG);
    let mut file = OpenOptions::new()
        .read(true)
        .append(true)
        .create(true)
        .open(path)?;
    let mut bytes = file.metadata()?.len();
    if bytes > 0 {
        let mut last = [0];
        file.seek(SeekFrom::End(-1))?;
        file.read_exact(&mut last)?;
        if last != *b"\n" {
            file.write_all(b"\n")?;
            bytes += 1;
        }
    }
    Ok(Log { file, bytes })
}

/// Moves every log one on; the oldest is written over.
fn turn_over(directory: &Path) -> io::Result<()> {
    for age in (0..OLDER_LOGS).rev() {
        match std::fs::rename(log_path(directory, age), log_path(directory, age + 1)) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            moved => moved?,
        }
    }
    sync_directory(directory)
}

fn log_path(directory: &Path, age: u32) -> PathBuf {
    match age {
        0 => directory.join(EVENT_LOG),
        age => directory.join(format!("events.{age}.jsonl")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_are_added_behind_those_of_the_last_run_even_a_cut_one() {
        let directory = tempfile::tempdir().unwrap();
        let log = directory.path().join(EVENT_LOG);
        std::fs::write(&log, "{\"seq\":1}\n{\"se").unwrap();
        let store = Store::start(directory.path().to_owned());
        store.event("{\"seq\":1}".into(), Urgency::Now);
        store.event("{\"seq\":2}".into(), Urgency::Later);
        drop(store);
        let words = std::fs::read_to_string(log).unwrap();
        assert_eq!(words, "{\"seq\":1}\n{\"se\n{\"seq\":1}\n{\"seq\":2}\n");
    }

    #[test]
    fn a_state_that_cannot_be_written_is_told_until_it_can() {
        let directory = tempfile::tempdir().unwrap();
        let place = directory.path().join("state");
        std::fs::write(&place, "in the way").unwrap();
        let store = Store::start(place.clone());
        store.state("{}".into());
        while store.fault().is_none() {
            std::thread::yield_now();
        }
        std::fs::remove_file(&place).unwrap();
        store.state("{}".into());
        while store.fault().is_some() {
            std::thread::yield_now();
        }
        drop(store);
        assert_eq!(
            std::fs::read_to_string(place.join(STATE_FILE)).unwrap(),
            "{}\n"
        );
    }

    #[test]
    fn the_event_log_is_bounded_and_keeps_the_newest_in_order() {
        let directory = tempfile::tempdir().unwrap();
        let store = Store::bounded(directory.path().to_owned(), 100);
        for event in 0..200 {
            store.event(format!("{{\"seq\":{event}}}"), Urgency::Later);
        }
        drop(store);
        let mut kept = String::new();
        for age in (0..=OLDER_LOGS).rev() {
            let log = std::fs::read_to_string(log_path(directory.path(), age)).unwrap();
            // The line that fills it is the last.
            assert!(!log.is_empty() && log.len() < 100 + 12, "{}", log.len());
            kept += &log;
        }
        let count = kept.lines().count();
        // Nine lines of 11 or 12 bytes fill a log; the newest may hold one.
        let least = 9 * OLDER_LOGS as usize + 1;
        assert!((least..200).contains(&count), "{count}");
        for (line, event) in kept.lines().zip(200 - count..) {
            assert_eq!(line, format!("{{\"seq\":{event}}}"));
        }
        let files = std::fs::read_dir(directory.path()).unwrap().count();
        assert_eq!(files, 1 + OLDER_LOGS as usize);
    }

    #[test]
    fn a_state_that_is_written_does_not_hide_a_log_that_is_not() {
        let directory = tempfile::tempdir().unwrap();
        std::fs::create_dir(directory.path().join(EVENT_LOG)).unwrap();
        let store = Store::start(directory.path().to_owned());
        store.event("{}".into(), Urgency::Now);
        store.state("{}".into());
        let fault = store.end().expect("the log's fault is hidden");
        assert!(fault.contains(EVENT_LOG), "{fault}");
        assert!(directory.path().join(STATE_FILE).exists());
    }
}
