//! A panel on a thread of its own: the newest frame wins.
//!
//! The loop that hears the wind puts a frame here and goes on. While the panel
//! is busy turning, newer frames replace the one that waits; a frame in haste
//! keeps its haste until it or a newer one is on the glass.

use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use cringle_core::time::Timestamp;

use super::{Brightness, Haste, Panel, PanelFault};
use crate::frame::{Frame, Geometry};

/// The longest sleep, so that a clock that was set forward is noticed.
const LONGEST_SLEEP: Duration = Duration::from_secs(10);

/// Where frames are put for a panel to take.
pub struct PanelThread {
    geometry: Geometry,
    slot: Arc<Slot>,
    thread: Option<JoinHandle<()>>,
}

struct Slot {
    state: Mutex<PanelState>,
    changed: Condvar,
}

struct PanelState {
    waiting: Option<(Frame, Haste)>,
    brightness: Brightness,
    fault: Option<PanelFault>,
    bytes: u64,
    ends: bool,
}

impl PanelThread {
    /// Starts the thread; `clock` is the clock of the monitor.
    pub fn start(
        panel: Box<dyn Panel>,
        clock: impl Fn() -> Timestamp + Send + 'static,
    ) -> std::io::Result<PanelThread> {
        let geometry = panel.geometry();
        let slot = Arc::new(Slot {
            state: Mutex::new(PanelState {
                waiting: None,
                brightness: Brightness::FULL,
                fault: None,
                bytes: 0,
                ends: false,
            }),
            changed: Condvar::new(),
        });
        let shared = Arc::clone(&slot);
        let thread = std::thread::Builder::new()
            .name("panel".into())
            .spawn(move || shared.paint(panel, clock))?;
        Ok(PanelThread {
            geometry,
            slot,
            thread: Some(thread),
        })
    }

    /// The size and depth of frame it takes.
    pub fn geometry(&self) -> Geometry {
        self.geometry
    }

    /// Puts a frame up. Never blocks on the bus.
    pub fn put(&self, frame: Frame, haste: Haste) {
        self.slot.change(|state| {
            let before = state.waiting.as_ref().map(|(_, haste)| *haste);
            let haste = before.map_or(haste, |before| before.max(haste));
            state.waiting = Some((frame, haste));
        });
    }

    /// How bright from the next frame on.
    pub fn set_brightness(&self, brightness: Brightness) {
        self.slot.change(|state| state.brightness = brightness);
    }

    /// Why the glass does not show the last frame, if it does not.
    pub fn fault(&self) -> Option<PanelFault> {
        self.slot.lock().fault.clone()
    }

    /// Bytes put on the bus so far.
    pub fn bytes_sent(&self) -> u64 {
        self.slot.lock().bytes
    }
}

impl Drop for PanelThread {
    /// Shows the last frame put up, which should say that nobody watches.
    fn drop(&mut self) {
        self.slot.change(|state| state.ends = true);
        if let Some(thread) = self.thread.take() {
            // A panel thread that panicked has nothing more to show.
            let _ = thread.join();
        }
    }
}

impl Slot {
    fn lock(&self) -> MutexGuard<'_, PanelState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn change(&self, change: impl FnOnce(&mut PanelState)) {
        change(&mut self.lock());
        self.changed.notify_all();
    }

    fn paint(&self, mut panel: Box<dyn Panel>, clock: impl Fn() -> Timestamp) {
        let mut on_show: Option<Frame> = None;
        loop {
            let (newer, brightness, ends) = self.wait(&*panel, on_show.is_some(), &clock);
            let haste = newer.as_ref().map_or(Haste::Routine, |(_, haste)| *haste);
            if let Some((frame, _)) = newer {
                on_show = Some(frame);
            }
            panel.set_brightness(brightness);
            if let Some(frame) = &on_show {
                // The last frame of all does not wait for paper to be rested.
                let haste = if ends { haste.max(Haste::Call) } else { haste };
                let shown = panel.show(frame, haste, clock());
                let mut state = self.lock();
                state.fault = shown.err();
                state.bytes = panel.bytes_sent();
            }
            if ends {
                return;
            }
        }
    }

    /// Sleeps until there is a newer frame, the panel wants one, or the end.
    fn wait(
        &self,
        panel: &dyn Panel,
        has_frame: bool,
        clock: &impl Fn() -> Timestamp,
    ) -> (Option<(Frame, Haste)>, Brightness, bool) {
        let mut state = self.lock();
        let due = panel.next_deadline().filter(|_| has_frame);
        let brightness = state.brightness;
        loop {
            let now = clock();
            let is_due = due.is_some_and(|due| now >= due);
            let dimmed = state.brightness != brightness;
            if state.waiting.is_some() || state.ends || is_due || dimmed {
                return (state.waiting.take(), state.brightness, state.ends);
            }
            let sleep = due.map_or(LONGEST_SLEEP, |due| due.since(now).min(LONGEST_SLEEP));
            let woken = self.changed.wait_timeout(state, sleep);
            state = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::Depth;
    use crate::panel::Shown;
    use std::sync::mpsc::{Receiver, Sender, channel};

    const GEOMETRY: Geometry = Geometry {
        width: 8,
        height: 8,
        depth: Depth::Mono,
    };

    /// A panel that tells what it is shown and waits to be let go on.
    struct Slow {
        shown: Sender<(Frame, Haste)>,
        go_on: Receiver<Result<Shown, PanelFault>>,
    }

    impl Panel for Slow {
        fn geometry(&self) -> Geometry {
            GEOMETRY
        }

        fn show(&mut self, frame: &Frame, haste: Haste, _: Timestamp) -> Result<Shown, PanelFault> {
            self.shown.send((frame.clone(), haste)).unwrap();
            self.go_on.recv().unwrap_or(Ok(Shown::Unchanged))
        }

        fn set_brightness(&mut self, _: Brightness) {}

        fn next_deadline(&self) -> Option<Timestamp> {
            None
        }

        fn bytes_sent(&self) -> u64 {
            0
        }
    }

    type Bench = (
        PanelThread,
        Receiver<(Frame, Haste)>,
        Sender<Result<Shown, PanelFault>>,
    );

    fn bench() -> Bench {
        let (shown, watch) = channel();
        let (release, go_on) = channel();
        let panel = Box::new(Slow { shown, go_on });
        let panel_thread = PanelThread::start(panel, || Timestamp::ZERO).unwrap();
        (panel_thread, watch, release)
    }

    /// A frame that is told apart by its one lit dot.
    fn frame(dot: i32) -> Frame {
        use embedded_graphics::pixelcolor::BinaryColor;
        use embedded_graphics::prelude::*;
        let mut frame = Frame::blank(GEOMETRY);
        if let Frame::Mono(picture) = &mut frame {
            let dot = Pixel(Point::new(dot, 0), BinaryColor::On);
            let Ok(()) = picture.draw_iter([dot]);
        }
        frame
    }

    #[test]
    fn while_the_panel_turns_the_newest_frame_waits_and_haste_is_kept() {
        let (panel_thread, watch, release) = bench();
        panel_thread.put(frame(0), Haste::Routine);
        assert_eq!(watch.recv().unwrap(), (frame(0), Haste::Routine));
        panel_thread.put(frame(1), Haste::Call);
        panel_thread.put(frame(2), Haste::Routine);
        release.send(Ok(Shown::Unchanged)).unwrap();
        assert_eq!(watch.recv().unwrap(), (frame(2), Haste::Call));
        drop(release);
    }

    #[test]
    fn the_last_frame_is_shown_before_the_end() {
        let (panel_thread, watch, release) = bench();
        drop(release);
        panel_thread.put(frame(3), Haste::Routine);
        drop(panel_thread);
        let last = watch.iter().last().unwrap();
        assert_eq!(last, (frame(3), Haste::Call));
    }

    #[test]
    fn a_fault_is_told_until_a_frame_is_shown() {
        let (panel_thread, watch, release) = bench();
        let fault = PanelFault::Bus {
            node: "/dev/i2c-1".into(),
            why: "gone".into(),
        };
        panel_thread.put(frame(0), Haste::Routine);
        watch.recv().unwrap();
        release.send(Err(fault.clone())).unwrap();
        panel_thread.put(frame(1), Haste::Routine);
        watch.recv().unwrap();
        assert_eq!(panel_thread.fault(), Some(fault));
        release.send(Ok(Shown::Unchanged)).unwrap();
        panel_thread.put(frame(2), Haste::Routine);
        watch.recv().unwrap();
        assert_eq!(panel_thread.fault(), None);
        drop(release);
    }
}
