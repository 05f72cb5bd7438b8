//! The event log and the state file, written on a thread of their own: a card
//! may take a second to answer, and the watch does not wait for it.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use crate::recorder::files::write_whole;

/// The event log in the state directory.
pub const EVENT_LOG: &str = "events.jsonl";
/// The state file in the state directory.
pub const STATE_FILE: &str = "state.json";

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
        let (messages, coming) = channel();
        let fault = Arc::default();
        let keeper = Keeper {
            directory,
            log: None,
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
        self.messages = None;
        if let Some(thread) = self.thread.take() {
            // A panic there has been told already.
            let _ = thread.join();
        }
    }
}

struct Keeper {
    directory: PathBuf,
    log: Option<File>,
    fault: Arc<Mutex<Option<String>>>,
}

impl Keeper {
    fn run(mut self, coming: &Receiver<Message>) {
        for message in coming {
            let done = match message {
                Message::Event(line, urgency) => self.event(&line, urgency),
                Message::State(line) => self.state(&line),
            };
            if done.is_err() {
                // Opened anew the next time.
                self.log = None;
            }
            let fault = done
                .err()
                .map(|error| format!("{} cannot be written: {error}", self.directory.display()));
            *self.fault.lock().unwrap_or_else(PoisonError::into_inner) = fault;
        }
    }

    fn event(&mut self, line: &str, urgency: Urgency) -> io::Result<()> {
        let mut log = match self.log.take() {
            Some(log) => log,
            None => open_log(&self.directory)?,
        };
        // One write for the whole line: a crash leaves it whole or cut, never
        // mixed with another.
        log.write_all(format!("{line}\n").as_bytes())?;
        if urgency == Urgency::Now {
            log.sync_data()?;
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

/// A line that a crash cut off is ended first, so that the next one stands
/// alone.
fn open_log(directory: &Path) -> io::Result<File> {
    std::fs::create_dir_all(directory)?;
    let path = directory.join(EVENT_LOG);
    let is_cut = match std::fs::read(&path) {
        Ok(bytes) => !bytes.is_empty() && !bytes.ends_with(b"\n"),
        Err(_) => false,
    };
    let mut log = OpenOptions::new().append(true).create(true).open(path)?;
    if is_cut {
        log.write_all(b"\n")?;
    }
    Ok(log)
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
}
