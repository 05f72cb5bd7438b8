//! The terminal itself: keys one by one, no echo, a screen of its own, and
//! all as it was when the program ends.

use std::io::{IsTerminal, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::Context;
use rustix::termios::{
    LocalModes, OptionalActions, QueueSelector, SpecialCodeIndex, Termios, tcflush, tcgetattr,
    tcgetwinsize, tcsetattr,
};
use tokio::sync::mpsc;

use crate::face::Input;

/// Another screen, no cursor.
const ENTER: &str = "\x1b[?1049h\x1b[?25l\x1b[2J";
/// Back to the first screen, with its cursor and colours.
pub(super) const LEAVE: &str = "\x1b[0m\x1b[?25h\x1b[?1049l";

/// Whether the screen is up now.
static IS_UP: AtomicBool = AtomicBool::new(false);

/// Characters across and down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Window {
    /// Across.
    pub(super) columns: u16,
    /// Down.
    pub(super) rows: u16,
}

/// A terminal taken over.
pub(super) struct Raw {
    before: Termios,
}

/// Whether there is a person at both ends of this program.
pub fn is_terminal() -> bool {
    std::io::stdin().is_terminal() && std::io::stdout().is_terminal()
}

/// Whether the screen is up on the terminal to which the log would go.
pub(crate) fn covers_the_log() -> bool {
    IS_UP.load(Ordering::Relaxed) && std::io::stderr().is_terminal()
}

/// The keyboard's keys, read on a thread of its own.
pub fn keys() -> mpsc::Receiver<Input> {
    let (sender, keys) = mpsc::channel(16);
    std::thread::spawn(move || {
        let mut bytes = [0; 16];
        while let Ok(count @ 1..) = std::io::stdin().read(&mut bytes) {
            for byte in bytes.iter().take(count) {
                let input = Input::Character(char::from(*byte));
                if sender.blocking_send(input).is_err() {
                    return;
                }
            }
        }
    });
    keys
}

/// How large the terminal is; the common size where it does not tell.
pub(super) fn window() -> Window {
    match tcgetwinsize(std::io::stdout()) {
        Ok(size) if size.ws_col > 0 && size.ws_row > 0 => Window {
            columns: size.ws_col,
            rows: size.ws_row,
        },
        _ => Window {
            columns: 80,
            rows: 24,
        },
    }
}

impl Raw {
    pub(super) fn enter() -> anyhow::Result<Raw> {
        let stdin = std::io::stdin();
        let before = tcgetattr(&stdin).context("this is no terminal")?;
        let mut raw = before.clone();
        // The interrupt key still ends the program.
        raw.local_modes -= LocalModes::ICANON | LocalModes::ECHO;
        raw.special_codes[SpecialCodeIndex::VMIN] = 1;
        raw.special_codes[SpecialCodeIndex::VTIME] = 0;
        tcsetattr(&stdin, OptionalActions::Flush, &raw).context("the terminal cannot be set")?;
        say(ENTER);
        IS_UP.store(true, Ordering::Relaxed);
        Ok(Raw { before })
    }
}

impl Drop for Raw {
    fn drop(&mut self) {
        IS_UP.store(false, Ordering::Relaxed);
        // Nothing is left to be done where it fails. At once: to wait until
        // all is written is to wait for a terminal that may have stalled.
        let _ = tcsetattr(std::io::stdin(), OptionalActions::Now, &self.before);
        let _ = tcflush(std::io::stdin(), QueueSelector::IFlush);
    }
}

fn say(words: &str) {
    let mut out = std::io::stdout().lock();
    // A terminal that has gone needs no words.
    let _ = out.write_all(words.as_bytes()).and_then(|()| out.flush());
}
