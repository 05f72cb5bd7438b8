//! The cockpit screen in a terminal, with the keyboard for its three keys.

mod blocks;
mod raw;

use std::cell::RefCell;
use std::collections::VecDeque;
use std::io::Write;
use std::rc::Rc;

use cringle_core::view::View;
use cringle_screen::aboard::Pace;
use cringle_screen::ui::Ui;
use cringle_screen::ui::keys::stand_in;

use crate::aboard::Aboard;
use crate::clock::Clock;
use crate::face::{Face, Input, Stroke};
use crate::picture::{Picture, Size};
pub(crate) use raw::covers_the_log;
use raw::{Raw, Window, window};
pub use raw::{is_terminal, keys};

/// Event lines that are kept to be shown below the picture.
const MOST_LINES: usize = 8;

/// Key that ends the program, beside the interrupt key.
const QUIT: char = 'x';

/// What the keyboard does.
const KEYS: &str = "keys 1 2 3, held: q w e; x ends";

/// A terminal that shows the screen. Dropped, it is as it was before.
pub struct Terminal {
    _raw: Raw,
    ui: Ui,
    /// Menus wait for a person, whose time does not run faster in a demo.
    wall: Clock,
    lines: Lines,
    shown: String,
}

/// Event lines for the terminal, shared with whoever is told of events.
#[derive(Clone, Default)]
pub struct Lines(Rc<RefCell<VecDeque<String>>>);

impl Lines {
    /// Adds one; the oldest goes.
    pub fn add(&self, line: String) {
        let mut lines = self.0.borrow_mut();
        if lines.len() >= MOST_LINES {
            lines.pop_front();
        }
        lines.push_back(line);
    }

    fn newest(&self, count: usize) -> Vec<String> {
        let lines = self.0.borrow();
        let skip = lines.len().saturating_sub(count);
        lines.iter().skip(skip).cloned().collect()
    }
}

impl Terminal {
    /// Takes the terminal over.
    pub fn open(lines: Lines) -> anyhow::Result<Terminal> {
        Ok(Terminal {
            _raw: Raw::enter()?,
            ui: Ui::new(),
            wall: Clock::real(),
            lines,
            shown: String::new(),
        })
    }
}

impl Face for Terminal {
    fn show(&mut self, view: &View, aboard: &Aboard) {
        self.ui.tick(view, self.wall.now());
        let window = window();
        let (size, shape) = fit(window);
        let picture = Picture::draw(size, view, aboard, &self.ui);
        let mut rows = blocks::rows(&picture, shape);
        let room = usize::from(window.rows).saturating_sub(rows.len());
        let words = words(view, aboard, &self.lines, room);
        let columns = usize::from(window.columns);
        rows.extend(
            words
                .iter()
                .map(|line| line.chars().take(columns).collect()),
        );
        let frame = format!("\x1b[H{}\x1b[K\x1b[J", rows.join("\x1b[K\r\n"));
        if frame == self.shown {
            return;
        }
        let mut out = std::io::stdout().lock();
        // A terminal that has gone is no reason to stop the watch.
        let _ = out.write_all(frame.as_bytes()).and_then(|()| out.flush());
        self.shown = frame;
    }

    fn take(&mut self, input: Input, view: &View) -> Stroke {
        let Input::Character(character) = input else {
            return Stroke::Nothing;
        };
        if character.eq_ignore_ascii_case(&QUIT) {
            return Stroke::Quit;
        }
        let Some((key, press)) = stand_in(character) else {
            return Stroke::Nothing;
        };
        match self.ui.press(key, press, view, self.wall.now()) {
            Some(act) => Stroke::Act(act),
            None => Stroke::Nothing,
        }
    }
}

/// A picture as rows of characters that fit this terminal.
pub fn characters(picture: &Picture) -> Vec<String> {
    let columns = usize::from(window().columns);
    let shape = match picture.width {
        width if width <= columns => blocks::Shape::HalfBlocks,
        width if width / 2 <= columns && picture.height() > 100 => blocks::Shape::HalvedHalfBlocks,
        _ => blocks::Shape::Dots,
    };
    blocks::rows(picture, shape)
}

/// The largest picture that leaves room for a few lines of words.
fn fit(window: Window) -> (Size, blocks::Shape) {
    match (window.columns, window.rows) {
        (160.., 64..) => (Size::Colour, blocks::Shape::HalvedHalfBlocks),
        (128.., 36..) => (Size::Mono, blocks::Shape::HalfBlocks),
        _ => (Size::Mono, blocks::Shape::Dots),
    }
}

/// What stands below the picture: time and pace, faults, the newest events,
/// the keys.
fn words(view: &View, aboard: &Aboard, lines: &Lines, room: usize) -> Vec<String> {
    let mut words = vec![format!("{}{}", time(view), pace(aboard.pace))];
    let faults = aboard.faults(view.now);
    // The keys come last, the newest event before them.
    let left = room.saturating_sub(words.len() + 2);
    words.extend(faults.iter().take(left).map(|it| format!("! {it}")));
    let left = room.saturating_sub(words.len() + 1);
    words.extend(lines.newest(left));
    words.push(KEYS.into());
    words.truncate(room);
    words
}

fn pace(pace: Pace) -> String {
    match pace {
        Pace::Live => String::new(),
        Pace::Demo { times } => format!("  DEMO, an invented boat, time runs {times:.0} x"),
        Pace::Replay { times } => format!("  REPLAY, time runs {times:.0} x"),
    }
}

fn time(view: &View) -> String {
    let (seconds, mark) = match view.unix_ms {
        Some(unix_ms) => (unix_ms.div_euclid(1000).rem_euclid(86_400), "UTC"),
        None => (view.now.as_millis() as i64 / 1000, "since the start"),
    };
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    format!("{hours:02}:{minutes:02}:{:02} {mark}", seconds % 60)
}
