//! How far the loop has come, for whoever must not run ahead of it.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

/// Counts what the loop has taken and acted on.
#[derive(Clone, Debug, Default)]
pub struct Progress(Arc<(Mutex<Taken>, Condvar)>);

/// What the loop has taken since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Taken {
    /// Lines, with all events that came of them told.
    pub lines: u64,
    /// Acts and keys, likewise.
    pub inputs: u64,
    /// Times a port was opened.
    pub opened: u64,
}

impl Progress {
    /// The loop has taken so much more.
    pub fn add(&self, more: Taken) {
        if more == Taken::default() {
            return;
        }
        let (taken, changed) = &*self.0;
        let mut taken = taken.lock().unwrap_or_else(PoisonError::into_inner);
        taken.lines += more.lines;
        taken.inputs += more.inputs;
        taken.opened += more.opened;
        changed.notify_all();
    }

    /// Waits until the loop has come so far, but not for ever: says whether
    /// it has.
    pub fn wait_for(&self, patience: Duration, enough: impl Fn(&Taken) -> bool) -> bool {
        let (taken, changed) = &*self.0;
        let taken = taken.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = changed.wait_timeout_while(taken, patience, |taken| !enough(taken));
        let (taken, _) = waited.unwrap_or_else(PoisonError::into_inner);
        enough(&taken)
    }
}
