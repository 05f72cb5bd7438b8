//! What the loop hands to the page: the newest moment, and event lines.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::ui::Ui;
use cringle_screen::ui::keys::stand_in;
use tokio::sync::watch;

use super::guard::Guesses;
use crate::aboard::Aboard;
use crate::clock::Clock;
use crate::face::{Face, Input, Stroke};

/// Event lines that are kept for whoever comes later.
const MOST_LINES: usize = 500;

/// The picture of one moment with the daemon's part and the keys' state.
#[derive(Clone)]
pub(super) struct Moment {
    pub(super) view: View,
    pub(super) aboard: Aboard,
    pub(super) ui: Ui,
    /// Goes up by one each time that the loop shows a picture.
    pub(super) alive: u64,
    /// When it was shown, by the wall.
    pub(super) shown: Timestamp,
    /// When the newest whole line came, by the wall; none came yet.
    pub(super) heard: Option<Timestamp>,
}

impl Moment {
    /// The daemon's part as it is now: a moment that lies about grows old.
    pub(super) fn aboard_at(&self, wall: Timestamp) -> Aboard {
        Aboard {
            still_s: self.still_s(wall),
            hung_s: self.hung_s(wall),
            ..self.aboard.clone()
        }
    }

    /// Seconds since the core last took a reading.
    pub(super) fn still_s(&self, wall: Timestamp) -> f64 {
        self.aboard.still_s + self.hung_s(wall)
    }

    /// Seconds since the loop handed it over.
    pub(super) fn hung_s(&self, wall: Timestamp) -> f64 {
        wall.secs_since(self.shown)
    }

    /// Seconds since the newest whole line on any port.
    pub(super) fn heard_s(&self, wall: Timestamp) -> Option<f64> {
        self.heard.map(|heard| wall.secs_since(heard))
    }
}

/// The page's end in the loop: hands moments on, and goes through the same
/// menus as the screens do, since it hears the same keys.
pub(super) struct Hand {
    moments: watch::Sender<Option<Arc<Moment>>>,
    wall: Clock,
    ui: Ui,
    alive: u64,
    lines: u64,
    heard: Option<Timestamp>,
    guesses: Arc<Guesses>,
}

impl Hand {
    pub(super) fn new(
        moments: watch::Sender<Option<Arc<Moment>>>,
        wall: Clock,
        guesses: Arc<Guesses>,
    ) -> Hand {
        Hand {
            moments,
            wall,
            guesses,
            ui: Ui::new(),
            alive: 0,
            lines: 0,
            heard: None,
        }
    }
}

impl Face for Hand {
    fn show(&mut self, view: &View, aboard: &Aboard) {
        let wall = self.wall.now();
        self.ui.tick(view, wall);
        let lines = aboard.ports.iter().map(|port| port.lines).sum();
        if lines != self.lines {
            self.lines = lines;
            self.heard = Some(wall);
        }
        self.alive += 1;
        self.moments.send_replace(Some(Arc::new(Moment {
            view: view.clone(),
            aboard: aboard.clone(),
            ui: self.ui.clone(),
            alive: self.alive,
            shown: wall,
            heard: self.heard,
        })));
    }

    fn take(&mut self, input: Input, view: &View) -> Stroke {
        let Input::Character(character) = input else {
            return Stroke::Nothing;
        };
        let pressed = stand_in(character)
            .and_then(|(key, press)| self.ui.press(key, press, view, self.wall.now()));
        pressed.map_or(Stroke::Nothing, Stroke::Act)
    }

    fn faults(&self) -> Vec<String> {
        self.guesses.faults(self.wall.now())
    }
}

/// The newest event lines, oldest first.
#[derive(Default)]
pub(super) struct Lines(Mutex<VecDeque<(u64, String)>>);

impl Lines {
    /// Adds one; the oldest goes.
    pub(super) fn add(&self, seq: u64, line: String) {
        let mut lines = self.lock();
        if lines.len() >= MOST_LINES {
            lines.pop_front();
        }
        lines.push_back((seq, line));
    }

    /// Those after this one.
    pub(super) fn since(&self, seq: u64) -> Vec<(u64, String)> {
        let lines = self.lock();
        let newer = lines.iter().filter(|(number, _)| *number > seq);
        newer.cloned().collect()
    }

    fn lock(&self) -> MutexGuard<'_, VecDeque<(u64, String)>> {
        // A line is added whole or not at all, whatever panicked.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_of_too_many_lines_goes_and_the_rest_stay_in_order() {
        let lines = Lines::default();
        for seq in 1..=501 {
            lines.add(seq, format!("line {seq}"));
        }
        let kept = lines.since(0);
        assert_eq!(kept.len(), MOST_LINES);
        assert_eq!(kept.first().unwrap().0, 2);
        assert_eq!(
            lines.since(499),
            [500, 501].map(|seq| (seq, format!("line {seq}")))
        );
    }

    #[test]
    fn a_moment_that_lies_about_grows_old() {
        let (sender, newest) = watch::channel(None);
        let mut hand = Hand::new(sender, Clock::by_hand().1, Arc::default());
        hand.show(&cringle_screen::samples::calm(), &Aboard::default());
        let moment = newest.borrow().clone().unwrap();
        let later = Timestamp::from_secs(7);
        assert_eq!(moment.still_s(later), 7.0);
        assert_eq!(moment.aboard_at(later).still_s, 7.0);
        assert_eq!(moment.heard_s(later), None);
    }

    #[test]
    fn the_keys_lead_through_the_same_menus_as_on_a_screen() {
        let (sender, _newest) = watch::channel(None);
        let mut hand = Hand::new(sender, Clock::real(), Arc::default());
        let view = cringle_screen::samples::changing();
        let mut strokes = "w3"
            .chars()
            .map(|key| hand.take(Input::Character(key), &view));
        assert_eq!(strokes.next(), Some(Stroke::Nothing));
        assert!(matches!(strokes.next(), Some(Stroke::Act(_))));
    }
}
