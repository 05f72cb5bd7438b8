//! The cockpit screen in a terminal, with the keyboard for its three keys.

mod blocks;
mod frames;
mod raw;

use std::cell::RefCell;
use std::collections::VecDeque;
use std::fs::File;
use std::os::fd::AsFd;
use std::rc::Rc;

use cringle_core::act::Act;
use cringle_core::view::View;
use cringle_screen::aboard::DataOrigin;
use cringle_screen::draw::headline::{Trust, headline};
use cringle_screen::ui::Ui;
use cringle_screen::ui::keys::stand_in;
use cringle_screen::words::ENGLISH;

use crate::aboard::Aboard;
use crate::clock::Clock;
use crate::face::{Face, Input, Stroke};
use crate::picture::{Picture, Size};
use frames::Frames;
pub(crate) use raw::covers_the_log;
use raw::{LEAVE, Raw, Window, window};
pub use raw::{is_terminal, keys};

/// Event lines that are kept to be shown below the picture.
const MOST_LINES: usize = 8;

/// Key that ends the program, beside the interrupt key.
const QUIT: char = 'x';

/// Key that stands in for the one at the bunk.
const BUNK: char = 'b';

/// The keyboard's keys that stand in for the three of the screen, pressed and
/// held.
const KEYS: [(char, char); 3] = [('1', 'q'), ('2', 'w'), ('3', 'e')];

/// A terminal that shows the screen. Dropped, it is as it was before.
pub struct Terminal {
    frames: Frames,
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
        // Not the program's own standard output: whoever waits in its lock
        // would stall with the terminal.
        let out = std::io::stdout().as_fd().try_clone_to_owned()?;
        Ok(Terminal {
            _raw: Raw::enter()?,
            frames: Frames::start(File::from(out)),
            ui: Ui::new(),
            wall: Clock::real(),
            lines,
            shown: String::new(),
        })
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.frames.end(LEAVE);
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
        let words = words(view, aboard, &self.lines, &self.ui, room);
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
        self.frames.show(frame.clone());
        self.shown = frame;
    }

    fn take(&mut self, input: Input, view: &View) -> Stroke {
        let Input::Character(character) = input else {
            return Stroke::Nothing;
        };
        if character.eq_ignore_ascii_case(&QUIT) {
            return Stroke::Quit;
        }
        if character.eq_ignore_ascii_case(&BUNK) {
            return Stroke::Act(Act::UpAtBunk);
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
fn words(view: &View, aboard: &Aboard, lines: &Lines, ui: &Ui, room: usize) -> Vec<String> {
    let said = spoken(view, aboard);
    let mut words = vec![format!("{}  {said}{}", time(view), pace(aboard.pace))];
    let faults = aboard.faults(view.now);
    // The keys come last, the newest event before them.
    let left = room.saturating_sub(words.len() + 2);
    words.extend(faults.iter().take(left).map(|it| format!("! {it}")));
    let left = room.saturating_sub(words.len() + 1);
    words.extend(lines.newest(left));
    words.push(keys_in_words(ui, view));
    words.truncate(room);
    words
}

/// Word and number again as text: small print is hard to read in blocks, and
/// a screen reader reads none of them.
fn spoken(view: &View, aboard: &Aboard) -> String {
    let head =
        crate::picture::with_screen_part(aboard, view.now, |part| headline(view, part, &ENGLISH));
    match head.trust {
        Trust::Good => format!("{} {} {}", head.word, head.number, head.unit),
        Trust::Crossed => format!("{} {}", head.word, head.unit),
    }
}

/// "1 page (q lamp)  2 ack (w begun)  3 menu (e wake)  x ends".
fn keys_in_words(ui: &Ui, view: &View) -> String {
    let labels = ui.labels(view, &ENGLISH);
    let named = KEYS
        .iter()
        .zip(labels)
        .filter_map(|((short, long), label)| match (label.short, label.long) {
            ("", "") => None,
            (name, "") => Some(format!("{short} {name}")),
            ("", name) => Some(format!("({long} {name})")),
            (name, held) => Some(format!("{short} {name} ({long} {held})")),
        });
    let bunk = view
        .sounds
        .bunk
        .map(|_| format!("{BUNK} {}", ENGLISH.menu.up_at_bunk));
    let named: Vec<String> = named.chain(bunk).chain([format!("{QUIT} ends")]).collect();
    named.join("  ")
}

fn pace(pace: DataOrigin) -> String {
    match pace {
        DataOrigin::Live => String::new(),
        DataOrigin::Demo { times } => format!("  DEMO, an invented boat, time runs {times:.0} x"),
        DataOrigin::Replay { times } => format!("  REPLAY, time runs {times:.0} x"),
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

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_core::event::Priority;
    use cringle_screen::samples;

    #[test]
    fn the_keys_are_named_by_what_they_do_now() {
        let calm = keys_in_words(&Ui::new(), &samples::calm());
        assert_eq!(calm, "1 page (q lamp)  (w begun)  3 menu (e wake)  x ends");
        let call = keys_in_words(&Ui::new(), &samples::prepare());
        assert!(
            call.contains("1 not now (q lamp)  2 ack (w begun)"),
            "{call}"
        );
        let mut woken = samples::calm();
        woken.sounds.bunk = Some(Priority::Warning);
        let keys = keys_in_words(&Ui::new(), &woken);
        assert!(keys.contains("b bunk: I am up"), "{keys}");
    }

    #[test]
    fn word_and_number_stand_as_text_too_and_no_number_where_it_is_crossed_out() {
        let aboard = Aboard::default();
        assert_eq!(
            spoken(&samples::prepare(), &aboard),
            "PREPARE 10 min in hand"
        );
        assert_eq!(spoken(&samples::blind(), &aboard), "BLIND unknown");
    }
}
