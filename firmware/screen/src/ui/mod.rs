//! From key presses to pages, menus and acts: a pure state machine.
//!
//! ```text
//!          menu                 choose           choose, asked first
//!   Page --------> List(Menu) --------> List(..) ----------> Confirm
//!    ^ ^              |  ^      back     |                    |   |
//!    | +----close-----+  +--------------+              no    |   | yes: the act
//!    +---- 30 s without a key ---------------------- 15 s ---+---+
//!    +---- a call that nobody has acknowledged, from anywhere
//! ```
//!
//! Nothing that begins or ends a reduction, or stops the watch, happens by
//! one press: it is asked first, and the answer is on another key than the
//! one that asked. No double press means anything. What a call has just taken
//! the screen from can't be chosen for a moment, so that a press meant for a
//! menu never acknowledges a call unseen.

pub mod keys;
pub mod lists;

use core::time::Duration;

use cringle_core::act::{Act, Question, Reply};
use cringle_core::event::{Call, Hint};
use cringle_core::time::Timestamp;
use cringle_core::view::{AlertState, Light, View};

use crate::hue::{Brightness, Look, Palette};
use crate::words::Words;
pub use keys::{Key, Press};
use lists::{Choice, List, LookStep, choices, may_put_off, start};

/// A menu left alone goes back to its page after this.
const MENU_REST: Duration = Duration::from_secs(30);
/// A question left alone is answered "no" after this.
const QUESTION_REST: Duration = Duration::from_secs(15);
/// Presses this soon after a call has taken the screen are not taken.
const TAKEOVER_GUARD: Duration = Duration::from_millis(700);
/// Key labels stay this long on panels too small to show them always.
const LABELS_STAY: Duration = Duration::from_secs(10);

/// A page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Page {
    /// Home: the ladder.
    #[default]
    Ladder,
    /// Wind and odds.
    Wind,
    /// The last hours.
    Trend,
    /// Set-up list.
    Setup,
    /// People.
    Hands,
    /// Sources, faults, recorder, storage.
    Health,
    /// Raw lines.
    Bench,
}

impl Page {
    /// In the order of the page key.
    pub const ALL: [Page; 7] = [
        Page::Ladder,
        Page::Wind,
        Page::Trend,
        Page::Setup,
        Page::Hands,
        Page::Health,
        Page::Bench,
    ];

    /// The next one; home follows the last.
    pub const fn next(self) -> Page {
        match self {
            Page::Ladder => Page::Wind,
            Page::Wind => Page::Trend,
            Page::Trend => Page::Setup,
            Page::Setup => Page::Hands,
            Page::Hands => Page::Health,
            Page::Health => Page::Bench,
            Page::Bench => Page::Ladder,
        }
    }
}

/// What the screen shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shown {
    /// A call that nobody has acknowledged.
    Call,
    /// A page.
    Page(Page),
    /// A list with its cursor.
    List(List, u8),
    /// A question.
    Confirm(Act),
}

/// What each key says: on a short press, on a long one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct KeyLabel {
    /// Short; empty where it does nothing.
    pub short: &'static str,
    /// Long; empty where it does nothing.
    pub long: &'static str,
}

/// The state behind the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Ui {
    page: Page,
    mode: Mode,
    last_key: Option<Timestamp>,
    /// The newest moment it was told of, by its caller's clock.
    now: Timestamp,
    seen: (u32, Call, AlertState),
    taken_over: Option<Timestamp>,
    /// What the crew is asked, and since when it is shown.
    asked: Option<(Question, Timestamp)>,
    palette: Option<Palette>,
    brightness: Brightness,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Mode {
    Page,
    List(List, u8),
    Confirm(Act),
}

impl Default for Ui {
    fn default() -> Self {
        Ui::new()
    }
}

impl Ui {
    /// At home, with the palette by daylight.
    pub const fn new() -> Ui {
        Ui {
            page: Page::Ladder,
            mode: Mode::Page,
            last_key: None,
            now: Timestamp::ZERO,
            seen: (0, Call::None, AlertState::Normal),
            taken_over: None,
            asked: None,
            palette: None,
            brightness: Brightness::FULL,
        }
    }

    /// At home, showing this page: for pictures.
    pub const fn at(page: Page) -> Ui {
        let mut ui = Ui::new();
        ui.page = page;
        ui
    }

    /// Shows a list: for pictures.
    pub fn open(&mut self, list: List, view: &View) {
        self.mode = Mode::List(list, start(list, view));
    }

    /// Takes a key press; gives the act that it completes, if any.
    pub fn press(&mut self, key: Key, press: Press, view: &View, now: Timestamp) -> Option<Act> {
        self.tick(view, now);
        let asked = self.asked.map(|(_, since)| since);
        let mut taken = [self.taken_over, asked].into_iter().flatten();
        let guarded = taken.any(|at| now.since(at) < TAKEOVER_GUARD);
        self.last_key = Some(now);
        if guarded {
            return None;
        }
        match self.mode {
            Mode::Page => self.press_on_page(key, press, view),
            Mode::List(list, cursor) => self.press_on_list(key, press, list, cursor, view),
            Mode::Confirm(act) => self.press_on_question(key, press, act),
        }
    }

    /// Lets time pass: menus close, calls take the screen. Call it before
    /// drawing. `now` need not be the core's time: where that runs faster, as
    /// in a demo, a person's does not.
    pub fn tick(&mut self, view: &View, now: Timestamp) {
        self.now = now;
        // Not the revision: that a call has gone on to the bunk must not close
        // the menu of whoever is dealing with it.
        let state = (view.call.id, view.call.call, view.call.alert);
        if is_unacknowledged(view) {
            if state != self.seen {
                let showed_a_call = self.mode == Mode::Page && self.taken_over.is_some();
                let is_another = (state.0, state.1) != (self.seen.0, self.seen.1);
                if !showed_a_call || is_another {
                    self.taken_over = Some(now);
                }
                self.mode = Mode::Page;
            }
        } else {
            self.taken_over = None;
        }
        // A question is put on the home page, but closes no list.
        if view.question != self.asked.map(|(question, _)| question) {
            self.asked = view.question.map(|question| (question, now));
            if view.question.is_some() {
                self.page = Page::Ladder;
            }
        }
        // A call that is over unacknowledged brings home back once.
        if view.call.alert == AlertState::RectifiedUnacknowledged && state != self.seen {
            self.mode = Mode::Page;
            self.page = Page::Ladder;
        }
        self.seen = state;
        let rest = match self.mode {
            Mode::Page => return,
            Mode::List(..) => MENU_REST,
            Mode::Confirm(_) => QUESTION_REST,
        };
        if self.last_key.is_none_or(|at| now.since(at) >= rest) {
            self.mode = Mode::Page;
        }
    }

    /// What the screen shows.
    pub fn shown(&self, view: &View) -> Shown {
        match self.mode {
            Mode::List(list, cursor) => Shown::List(list, cursor),
            Mode::Confirm(act) => Shown::Confirm(act),
            Mode::Page => match view.call.alert {
                AlertState::Unacknowledged | AlertState::Silenced => Shown::Call,
                AlertState::Normal
                | AlertState::Acknowledged
                | AlertState::RectifiedUnacknowledged => Shown::Page(self.page),
            },
        }
    }

    /// Palette and brightness. Unless chosen by hand, the palette goes by
    /// civil twilight; where that is not known it is the day's, which can
    /// dazzle but can always be read.
    pub fn look(&self, view: &View) -> Look {
        let by_daylight = match view.people.light {
            Light::Night => Palette::Night,
            Light::Day | Light::Unknown => Palette::Day,
        };
        Look {
            palette: self.palette.unwrap_or(by_daylight),
            brightness: self.brightness,
        }
    }

    /// Whether a key was pressed lately, by the time of the last
    /// [`tick`](Ui::tick): small panels then name the keys.
    pub fn names_keys(&self) -> bool {
        let now = self.now;
        self.last_key.is_some_and(|at| now.since(at) < LABELS_STAY)
    }

    /// What the keys do now, left to right.
    pub fn labels(&self, view: &View, words: &Words) -> [KeyLabel; 3] {
        let key = &words.key;
        let label = |short, long| KeyLabel { short, long };
        match self.mode {
            Mode::Confirm(_) => [label(key.no, ""), label("", ""), label(key.yes, "")],
            Mode::List(list, _) => {
                let choose = match list {
                    List::Setup | List::Rigged => key.tick,
                    _ => key.choose,
                };
                [
                    label(key.up, key.back),
                    label(choose, ""),
                    label(key.down, key.close),
                ]
            }
            Mode::Page => {
                let asked = self.question(view);
                let answer = |reply| asked.map(|it| (words.name.answer)(it, reply));
                let left = match self.shown(view) {
                    Shown::Call if may_put_off(view) => key.not_now,
                    Shown::Call => "",
                    _ => answer(Reply::No).unwrap_or(key.page),
                };
                let right = answer(Reply::Yes).unwrap_or(key.menu);
                let middle = match self.middle(view) {
                    Middle::Acknowledge => key.acknowledge,
                    Middle::Tick => key.tick,
                    Middle::People => key.choose,
                    Middle::Plan => key.plan,
                    Middle::Doing => key.doing,
                    Middle::Home => key.home,
                    Middle::Nothing => "",
                };
                let hold = match begun(view) {
                    Some(Act::Plan(_)) => key.set,
                    Some(_) => key.begun,
                    None => "",
                };
                [
                    label(left, key.lamp),
                    label(middle, hold),
                    label(right, key.wake),
                ]
            }
        }
    }

    /// What the outer keys answer now: a call comes first.
    fn question(&self, view: &View) -> Option<Question> {
        match self.shown(view) {
            Shown::Page(_) => view.question,
            Shown::Call | Shown::List(..) | Shown::Confirm(_) => None,
        }
    }

    fn answer(&mut self, to: Question, reply: Reply, view: &View) -> Option<Act> {
        if (to, reply) == (Question::OldHands, Reply::No) {
            // Then who is?
            self.open(List::OnDeck, view);
        }
        Some(Act::Answer { to, reply })
    }

    fn press_on_page(&mut self, key: Key, press: Press, view: &View) -> Option<Act> {
        match (self.question(view), key, press) {
            (Some(to), Key::Left, Press::Short) => return self.answer(to, Reply::No, view),
            (Some(to), Key::Right, Press::Short) => return self.answer(to, Reply::Yes, view),
            _ => {}
        }
        match (key, press) {
            (Key::Left, Press::Short) => {
                match self.shown(view) {
                    Shown::Call if may_put_off(view) => self.open(List::NotNowWhy, view),
                    Shown::Call => {}
                    _ => self.page = self.page.next(),
                }
                None
            }
            (Key::Left, Press::Long) => {
                self.dim();
                None
            }
            (Key::Middle, Press::Short) => match self.middle(view) {
                Middle::Acknowledge => Some(Act::Acknowledge),
                Middle::Tick => {
                    self.open(List::Setup, view);
                    None
                }
                Middle::People => {
                    self.open(List::OnDeck, view);
                    None
                }
                Middle::Plan => {
                    self.open(List::Plans, view);
                    None
                }
                Middle::Doing => {
                    self.open(List::Doing, view);
                    None
                }
                Middle::Home => {
                    self.page = Page::Ladder;
                    None
                }
                Middle::Nothing => None,
            },
            (Key::Middle, Press::Long) => {
                if let Some(act) = begun(view) {
                    self.mode = Mode::Confirm(act);
                }
                None
            }
            (Key::Right, Press::Short) => {
                self.open(List::Menu, view);
                None
            }
            (Key::Right, Press::Long) => Some(Act::Wake),
        }
    }

    fn press_on_list(
        &mut self,
        key: Key,
        press: Press,
        list: List,
        cursor: u8,
        view: &View,
    ) -> Option<Act> {
        let all = choices(list, view);
        let count = all.len().max(1) as u8;
        let cursor = cursor.min(count - 1);
        match (key, press) {
            (Key::Left, Press::Short) => {
                let above = if cursor == 0 { count - 1 } else { cursor - 1 };
                self.mode = Mode::List(list, above);
                None
            }
            (Key::Right, Press::Short) => {
                let below = if cursor + 1 >= count { 0 } else { cursor + 1 };
                self.mode = Mode::List(list, below);
                None
            }
            (Key::Middle, Press::Short) => match all.get(cursor as usize) {
                Some(&choice) => self.choose(choice, list, cursor, view),
                None => {
                    self.mode = Mode::Page;
                    None
                }
            },
            (Key::Left, Press::Long) if list != List::Menu => {
                self.open(List::Menu, view);
                None
            }
            (Key::Left, Press::Long) | (Key::Right, Press::Long) => {
                self.mode = Mode::Page;
                None
            }
            (Key::Middle, Press::Long) => None,
        }
    }

    fn choose(&mut self, choice: Choice, list: List, cursor: u8, view: &View) -> Option<Act> {
        match choice {
            Choice::Open(next) => {
                self.open(next, view);
                None
            }
            Choice::Do(act) => {
                self.mode = Mode::Page;
                Some(act)
            }
            Choice::Tick(act) => {
                self.mode = Mode::List(list, cursor);
                Some(act)
            }
            Choice::Ask(act) => {
                self.mode = Mode::Confirm(act);
                None
            }
            Choice::Look(step) => {
                self.take_look_step(step);
                None
            }
            Choice::Close => {
                self.mode = Mode::Page;
                None
            }
        }
    }

    fn press_on_question(&mut self, key: Key, press: Press, act: Act) -> Option<Act> {
        match (key, press) {
            (Key::Right, Press::Short) => {
                self.mode = Mode::Page;
                self.page = Page::Ladder;
                Some(act)
            }
            (Key::Left, _) => {
                self.mode = Mode::Page;
                None
            }
            (Key::Middle, _) | (Key::Right, Press::Long) => None,
        }
    }

    fn middle(&self, view: &View) -> Middle {
        match view.call.alert {
            AlertState::Unacknowledged
            | AlertState::Silenced
            | AlertState::RectifiedUnacknowledged => Middle::Acknowledge,
            AlertState::Normal | AlertState::Acknowledged if asks_aloud(view) => {
                Middle::Acknowledge
            }
            AlertState::Normal | AlertState::Acknowledged => match self.page {
                Page::Ladder if view.hints.contains(&Hint::PlanDoubted) => Middle::Plan,
                Page::Ladder if view.hints.contains(&Hint::DoingDoubted) => Middle::Doing,
                Page::Ladder => Middle::Nothing,
                Page::Setup if !view.setup.is_empty() => Middle::Tick,
                Page::Hands => Middle::People,
                Page::Setup | Page::Wind | Page::Trend | Page::Health | Page::Bench => Middle::Home,
            },
        }
    }

    fn dim(&mut self) {
        let step = self.brightness.step();
        self.brightness = if step <= 1 {
            Brightness::FULL
        } else {
            Brightness::new(step - 1)
        };
    }

    fn take_look_step(&mut self, step: LookStep) {
        let now = self.brightness.step();
        match step {
            LookStep::Day => {
                self.palette = Some(Palette::Day);
                self.brightness = Brightness::FULL;
            }
            LookStep::Night => self.palette = Some(Palette::Night),
            LookStep::Brighter => self.brightness = Brightness::new(now + 1),
            LookStep::Dimmer => self.brightness = Brightness::new(now.saturating_sub(1)),
        }
    }
}

enum Middle {
    Acknowledge,
    Tick,
    People,
    /// Answers the doubt about the plan.
    Plan,
    /// Answers the doubt about what the boat is doing.
    Doing,
    Home,
    Nothing,
}

/// What a long press of the middle key asks about: the change has begun, or
/// the plan it leads to is set.
fn begun(view: &View) -> Option<Act> {
    match (view.manoeuvre, view.next) {
        (Some(manoeuvre), _) => Some(Act::Plan(manoeuvre.to)),
        (None, Some(_)) if view.doing.is_under_sail() => Some(Act::Started),
        (None, _) => None,
    }
}

/// Whether a question sounds: the key that answers calls stills it.
fn asks_aloud(view: &View) -> bool {
    view.question.is_some() && view.sounds.cockpit.is_some()
}

/// Whether a call stands that nobody has acknowledged.
pub fn is_unacknowledged(view: &View) -> bool {
    match view.call.alert {
        AlertState::Unacknowledged => true,
        AlertState::Normal
        | AlertState::Silenced
        | AlertState::Acknowledged
        | AlertState::RectifiedUnacknowledged => false,
    }
}

#[cfg(test)]
mod tests;
