//! Between the watch loop and the devices' threads: the newest moment.

use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::ui::Ui;

use crate::aboard::Aboard;
pub(super) use cringle_screen::paper::Touch;

/// All that can be shown or sounded.
#[derive(Clone, Debug)]
pub(super) struct Moment {
    pub(super) view: View,
    pub(super) aboard: Aboard,
    pub(super) ui: Ui,
    /// Whether a key was pressed since the moment before.
    pub(super) touch: Touch,
    /// When it was handed over, by the wall.
    pub(super) at: Timestamp,
}

impl Moment {
    /// The same as it looks now: time has gone on and nothing was heard.
    pub(super) fn aged(&self, wall: Timestamp) -> Moment {
        let gone = wall.since(self.at);
        let mut aged = self.clone();
        aged.view.now = self.view.now.after(gone);
        aged.aboard.still_s += gone.as_secs_f64();
        aged.aboard.hung_s += gone.as_secs_f64();
        aged
    }
}

/// The newest moment, handed from the watch loop to the devices' threads.
#[derive(Clone, Default)]
pub(super) struct Latest(Arc<(Mutex<LatestMoment>, Condvar)>);

/// The newest moment and what came with it.
#[derive(Clone, Default)]
pub(super) struct LatestMoment {
    /// The newest moment; none was handed over yet.
    pub(super) moment: Option<Arc<Moment>>,
    /// Counts moments.
    pub(super) number: u64,
    /// Counts moments with a pressed key.
    pub(super) touches: u64,
    /// Whether the watch ends.
    pub(super) ends: bool,
}

impl Latest {
    /// Hands over a moment; the one before gives way, but a key that was
    /// pressed then stays noted for whoever looks seldom.
    pub(super) fn hand(&self, moment: Moment) {
        self.change(|latest| {
            latest.touches += u64::from(moment.touch == Touch::Key);
            latest.moment = Some(Arc::new(moment));
            latest.number += 1;
        });
    }

    /// The watch ends.
    pub(super) fn clear(&self) {
        self.change(|latest| latest.ends = true);
    }

    /// As it is now.
    pub(super) fn look(&self) -> LatestMoment {
        self.lock().clone()
    }

    /// Waits for another moment than this, or the end, but not longer.
    pub(super) fn wait(&self, number: u64, at_most: Duration) -> LatestMoment {
        let is_same = |latest: &mut LatestMoment| latest.number == number && !latest.ends;
        let waited = self.0.1.wait_timeout_while(self.lock(), at_most, is_same);
        waited.unwrap_or_else(PoisonError::into_inner).0.clone()
    }

    fn change(&self, change: impl FnOnce(&mut LatestMoment)) {
        change(&mut self.lock());
        self.0.1.notify_all();
    }

    fn lock(&self) -> MutexGuard<'_, LatestMoment> {
        self.0.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
