//! Lines for a reader that may stop reading. A pipe that nobody empties holds
//! up whoever writes to it, so the watch leaves its lines here and goes on;
//! they are written on a thread of their own. When too many wait, new ones are
//! not said: that is counted, and told as a fault while it lasts. Event lines
//! are numbered, so that their reader sees the gap as well.

use std::collections::VecDeque;
use std::io::Write;
use std::rc::Rc;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use cringle_core::view::View;

use crate::aboard::Aboard;
use crate::face::{Face, Input, Stroke};
use crate::terminal;

/// Lines that may wait for the reader: an hour of a restless boat.
const MOST_WAITING: usize = 1024;

/// How long an end waits for a reader to take what still waits for it.
const PATIENCE: Duration = Duration::from_secs(1);

/// Takes lines and never blocks.
pub struct Voice {
    shared: Arc<Shared>,
    name: &'static str,
}

#[derive(Default)]
struct Shared {
    state: Mutex<VoiceState>,
    changed: Condvar,
}

#[derive(Default)]
struct VoiceState {
    waiting: VecDeque<String>,
    is_writing: bool,
    unsaid: u64,
    /// Since a line was not taken, until all that waited have been written.
    is_behind: bool,
    has_ended: bool,
}

impl Voice {
    /// Says its lines into `out`, which people know by this name.
    pub fn start(name: &'static str, out: impl Write + Send + 'static) -> Voice {
        let shared = Arc::<Shared>::default();
        let writer = Arc::clone(&shared);
        std::thread::spawn(move || writer.write(out));
        Voice { shared, name }
    }

    /// Says a line, given without its end; where too many wait it is lost.
    pub fn say(&self, line: String) {
        let mut state = self.shared.lock();
        if state.waiting.len() >= MOST_WAITING {
            state.unsaid += 1;
            state.is_behind = true;
            return;
        }
        state.waiting.push_back(line);
        self.shared.changed.notify_all();
    }

    /// Lines that were not said since the start.
    pub fn unsaid(&self) -> u64 {
        self.shared.lock().unsaid
    }

    /// What is wrong, while it is.
    pub fn fault(&self) -> Option<String> {
        let words = || format!("nobody reads {}: lines for it are lost", self.name);
        self.shared.lock().is_behind.then(words)
    }

    /// Waits a moment for what is still to be written.
    pub fn settle(&self) {
        let state = self.shared.lock();
        let is_busy = |state: &mut VoiceState| state.is_writing || !state.waiting.is_empty();
        let waited = self
            .shared
            .changed
            .wait_timeout_while(state, PATIENCE, is_busy);
        drop(waited);
    }
}

impl Drop for Voice {
    /// The thread is left alone where its reader does not take what waits.
    fn drop(&mut self) {
        self.settle();
        self.shared.lock().has_ended = true;
        self.shared.changed.notify_all();
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, VoiceState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The thread's side.
    fn write(&self, mut out: impl Write) {
        while let Some(mut line) = self.next() {
            line.push('\n');
            // A reader that has gone, such as `head`, is no fault.
            let _ = out.write_all(line.as_bytes()).and_then(|()| out.flush());
        }
    }

    fn next(&self) -> Option<String> {
        let mut state = self.lock();
        state.is_writing = false;
        if state.waiting.is_empty() {
            state.is_behind = false;
        }
        self.changed.notify_all();
        loop {
            if let Some(line) = state.waiting.pop_front() {
                state.is_writing = true;
                return Some(line);
            }
            if state.has_ended {
                return None;
            }
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }
}

/// Shows nothing itself; the others show its fault.
impl Face for Rc<Voice> {
    fn show(&mut self, _: &View, _: &Aboard) {}

    fn take(&mut self, _: Input, _: &View) -> Stroke {
        Stroke::Nothing
    }

    fn faults(&self) -> Vec<String> {
        self.fault().into_iter().collect()
    }
}

/// The log's own voice.
static LOG: OnceLock<Voice> = OnceLock::new();

/// Where a line of the log goes: to standard error, but not across a screen
/// that is on the same terminal and shows the faults itself.
pub fn log_writer() -> Box<dyn Write> {
    match terminal::covers_the_log() {
        true => Box::new(std::io::sink()),
        false => Box::new(LogLine),
    }
}

/// Waits a moment until the log is written.
pub fn settle_log() {
    if let Some(log) = LOG.get() {
        log.settle();
    }
}

/// Comes in one piece, line end included.
struct LogLine;

impl Write for LogLine {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let log = LOG.get_or_init(|| Voice::start("standard error", std::io::stderr()));
        let line = String::from_utf8_lossy(bytes);
        log.say(line.trim_end_matches('\n').to_owned());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::net::UnixStream;

    /// Waits, but not for ever.
    #[track_caller]
    fn until(mut is_so: impl FnMut() -> bool) {
        for _ in 0..3000 {
            if is_so() {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("it never came to that");
    }

    #[test]
    fn lines_come_in_their_order_and_the_end_waits_for_them() {
        let (into, out) = UnixStream::pair().unwrap();
        let voice = Voice::start("the test", into);
        for number in 0..100 {
            voice.say(number.to_string());
        }
        voice.settle();
        assert_eq!((voice.unsaid(), voice.fault()), (0, None));
        drop(voice);
        let said = std::io::read_to_string(out).unwrap();
        let wanted: Vec<_> = (0..100).map(|number| number.to_string()).collect();
        assert_eq!(said.lines().collect::<Vec<_>>(), wanted);
    }

    #[test]
    fn a_reader_that_stops_costs_lines_that_are_counted_and_told_until_it_reads_again() {
        let (into, out) = UnixStream::pair().unwrap();
        let voice = Voice::start("the test", into);
        // More than the system and the queue hold together.
        let line = "x".repeat(1000);
        let mut asked: u64 = 0;
        until(|| {
            (0..100).for_each(|_| voice.say(line.clone()));
            asked += 100;
            voice.fault().is_some()
        });
        assert!(voice.fault().unwrap().contains("the test"));
        let unsaid = voice.unsaid();
        assert!(unsaid > 0 && unsaid < asked);

        let reader = std::thread::spawn(|| std::io::read_to_string(out).unwrap());
        until(|| voice.fault().is_none());
        voice.say("last".into());
        drop(voice);
        let said = reader.join().unwrap();
        assert_eq!(said.lines().count() as u64, asked - unsaid + 1);
        assert!(said.ends_with("x\nlast\n"));
    }

    #[test]
    fn the_end_does_not_wait_for_ever_for_a_reader_that_has_stopped() {
        let (into, out) = UnixStream::pair().unwrap();
        let voice = Voice::start("the test", into);
        until(|| {
            (0..1000).for_each(|_| voice.say("x".repeat(1000)));
            voice.unsaid() > 0
        });
        drop(voice);
        drop(out);
    }
}
