//! What is wired to the board: a panel, three keys, sounders and a beacon.
//!
//! ```text
//!   watch loop --- moment ---> painter -> panel_thread -> panel
//!       ^             |------> sounders -------------> horns, beacon
//!       +-- presses -- listener <---------------------- keys
//! ```
//!
//! Devices block, so each has a thread of its own and the loop never waits
//! for one. The threads go by the wall: when the loop hands over nothing any
//! more, the picture says so after five seconds and the buzzer after ten. A
//! device that is missing or fails never ends the watch: it is told on the
//! other screens and tried again.

mod faults;
mod listen;
mod moment;
mod open;
mod paint;
mod sounders;
#[cfg(test)]
mod tests;

use std::sync::Arc;
use std::thread::JoinHandle;

use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::ui::Ui;
use tokio::sync::mpsc;

use crate::aboard::Aboard;
use crate::clock::Clock;
use crate::face::{Face, Input, Stroke};
use faults::Faults;
use listen::Listener;
use moment::{Latest, Moment, Touch};
pub use open::{Devices, load, named};
use paint::Painter;
use sounders::Sounders;

/// What time it is, for threads: by the wall, since the start.
pub type Wall = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The board's devices at work. Dropped, the panel says that nobody watches
/// and the sounders are silent.
pub struct BoardIo {
    ui: Ui,
    touch: Touch,
    wall: Wall,
    latest: Latest,
    faults: Faults,
    threads: Vec<JoinHandle<()>>,
}

impl BoardIo {
    /// Puts the devices to work; presses go to `inputs`.
    pub fn start(devices: Devices, inputs: mpsc::Sender<Input>) -> BoardIo {
        let clock = Clock::real();
        BoardIo::start_by(devices, inputs, Arc::new(move || clock.now()))
    }

    fn start_by(devices: Devices, inputs: mpsc::Sender<Input>, wall: Wall) -> BoardIo {
        let mut board_io = BoardIo {
            ui: Ui::new(),
            touch: Touch::None,
            wall: Arc::clone(&wall),
            latest: Latest::default(),
            faults: Faults::default(),
            threads: Vec::new(),
        };
        let (latest, faults) = (board_io.latest.clone(), board_io.faults.clone());
        if let Some((panel, glass_of)) = devices.panel {
            let (latest, faults, wall) = (latest.clone(), faults.clone(), Arc::clone(&wall));
            let painter = move || Painter::new(panel, glass_of, faults, &wall)?.run(&latest, &wall);
            board_io.spawn("painter", painter);
        }
        if let Some(keys) = devices.keys {
            let (latest, faults, wall) = (latest.clone(), faults.clone(), Arc::clone(&wall));
            let mut listener = Listener::new(keys, faults);
            board_io.spawn("keys", move || listener.run(&latest, &inputs, &wall));
        }
        if !devices.horns.is_empty() {
            let mut sounders = Sounders::new(devices.horns, faults, wall());
            board_io.spawn("sounders", move || sounders.run(&latest, &wall));
        }
        board_io
    }

    /// A thread that cannot be started is a fault like any other.
    fn spawn(
        &mut self,
        name: &'static str,
        work: impl FnOnce() -> std::io::Result<()> + Send + 'static,
    ) {
        let faults = self.faults.clone();
        let work = move || {
            if let Err(error) = work() {
                faults.set(name, Some(format!("{name} cannot be started: {error}")));
            }
        };
        match std::thread::Builder::new().name(name.into()).spawn(work) {
            Ok(thread) => self.threads.push(thread),
            Err(error) => {
                let words = format!("{name} cannot be started: {error}");
                self.faults.set(name, Some(words));
            }
        }
    }
}

impl Face for BoardIo {
    fn show(&mut self, view: &View, aboard: &Aboard) {
        let wall = (self.wall)();
        self.ui.tick(view, wall);
        self.latest.hand(Moment {
            view: view.clone(),
            aboard: aboard.clone(),
            ui: self.ui.clone(),
            touch: std::mem::replace(&mut self.touch, Touch::None),
            at: wall,
        });
    }

    fn take(&mut self, input: Input, view: &View) -> Stroke {
        let Input::Key(key, press) = input else {
            return Stroke::Nothing;
        };
        self.touch = Touch::Key;
        match self.ui.press(key, press, view, (self.wall)()) {
            Some(act) => Stroke::Act(act),
            None => Stroke::Nothing,
        }
    }

    fn faults(&self) -> Vec<String> {
        let hung = self.threads.iter().filter(|it| it.is_finished());
        let ended = hung.filter_map(|it| it.thread().name().map(|name| format!("{name}: ended")));
        let mut faults = self.faults.all();
        // One that could not start has said why already.
        if faults.is_empty() {
            faults.extend(ended);
        }
        faults
    }
}

impl Drop for BoardIo {
    fn drop(&mut self) {
        self.latest.clear();
        for thread in self.threads.drain(..) {
            // A thread that panicked has nothing left to put in order.
            let _ = thread.join();
        }
    }
}
