//! Frames for a terminal that may stop taking them. One behind a link that has
//! stalled holds up whoever writes to it, so the watch leaves its frame here
//! and goes on; a thread writes it. Only the newest waits: an older picture is
//! of no use to anybody.

use std::io::Write;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long an end waits for a terminal to take its last frame.
const PATIENCE: Duration = Duration::from_secs(1);

/// Takes frames and never blocks.
pub(super) struct Frames {
    shared: Arc<Shared>,
}

#[derive(Default)]
struct Shared {
    state: Mutex<FramesState>,
    changed: Condvar,
}

#[derive(Default)]
struct FramesState {
    waiting: Option<String>,
    is_writing: bool,
    has_ended: bool,
}

impl Frames {
    /// Writes its frames into `out`.
    pub(super) fn start(out: impl Write + Send + 'static) -> Frames {
        let shared = Arc::<Shared>::default();
        let writer = Arc::clone(&shared);
        std::thread::spawn(move || writer.write(out));
        Frames { shared }
    }

    /// Leaves a frame in the place of one that has not been begun.
    pub(super) fn show(&self, frame: String) {
        self.shared.lock().waiting = Some(frame);
        self.shared.changed.notify_all();
    }

    /// The last words, in the place of a frame that still waits; they are
    /// waited for, but not for ever.
    pub(super) fn end(&self, words: &str) {
        self.show(words.to_owned());
        let mut state = self.shared.lock();
        state.has_ended = true;
        let is_busy = |state: &mut FramesState| state.is_writing || state.waiting.is_some();
        let waited = self
            .shared
            .changed
            .wait_timeout_while(state, PATIENCE, is_busy);
        drop(waited);
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, FramesState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The thread's side.
    fn write(&self, mut out: impl Write) {
        while let Some(frame) = self.next() {
            // A terminal that has gone is no reason to stop the watch.
            let _ = out.write_all(frame.as_bytes()).and_then(|()| out.flush());
        }
    }

    fn next(&self) -> Option<String> {
        let mut state = self.lock();
        state.is_writing = false;
        self.changed.notify_all();
        loop {
            if let Some(frame) = state.waiting.take() {
                state.is_writing = true;
                return Some(frame);
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;
    use std::os::unix::net::UnixStream;

    #[test]
    fn a_terminal_that_stalls_holds_up_nobody_and_then_gets_the_newest_frame() {
        let (out, mut reader) = UnixStream::pair().unwrap();
        let frames = Frames::start(out);
        // More than any socket holds: the thread stands in the first.
        frames.show("a".repeat(8 << 20));
        let mut first = [0];
        reader.read_exact(&mut first).unwrap();
        // Were these written here, the test would never end.
        for number in 0..1000 {
            frames.show(format!("old {number};"));
        }
        frames.show("newest;".into());
        let taken = std::thread::spawn(move || {
            let mut all = String::new();
            reader.read_to_string(&mut all).unwrap();
            all
        });
        while frames.shared.lock().waiting.is_some() {
            std::thread::sleep(Duration::from_millis(1));
        }
        frames.end("last");
        drop(frames);
        let all = taken.join().unwrap();
        assert_eq!(all.trim_start_matches('a'), "newest;last");
    }

    #[test]
    fn an_end_does_not_wait_for_ever() {
        let (out, _reader) = UnixStream::pair().unwrap();
        let frames = Frames::start(out);
        frames.show("a".repeat(8 << 20));
        frames.end("last");
    }
}
