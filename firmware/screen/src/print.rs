//! Words in fixed fonts, fitted to their box.

use embedded_graphics::Drawable;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::Point;
use embedded_graphics::mono_font::{MonoFont, MonoTextStyle};
use embedded_graphics::primitives::Rectangle;
use embedded_graphics::text::{Baseline, Text};
use heapless::String;

use crate::letters::Side;

/// Fonts, largest first.
const FONTS: [&MonoFont<'static>; 7] = [
    &profont::PROFONT_24_POINT,
    &profont::PROFONT_18_POINT,
    &profont::PROFONT_14_POINT,
    &profont::PROFONT_12_POINT,
    &profont::PROFONT_10_POINT,
    &profont::PROFONT_9_POINT,
    &profont::PROFONT_7_POINT,
];

/// A size of print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Print(u8);

impl Print {
    /// The smallest there is: 5x7.
    pub const SMALLEST: Print = Print(6);

    /// The largest print of which `count` characters fit the box; the
    /// smallest where none does.
    pub fn fit(count: usize, area: Rectangle) -> Print {
        let index = FONTS.iter().position(|font| {
            let width = (font.character_size.width + font.character_spacing) * count as u32;
            width <= area.size.width && ink_height(font) <= area.size.height
        });
        index.map_or(Print::SMALLEST, |index| Print(index as u8))
    }

    /// The largest print no line of which is higher than `height`.
    pub fn of_height(height: u32) -> Print {
        let index = FONTS
            .iter()
            .position(|font| font.character_size.height <= height);
        index.map_or(Print::SMALLEST, |index| Print(index as u8))
    }

    /// The smaller of two.
    pub fn at_most(self, other: Print) -> Print {
        Print(self.0.max(other.0))
    }

    /// From one line to the next, pixels.
    pub fn line_height(self) -> u32 {
        match self {
            // 5x10 with capitals 6 high: set tighter on the panels that need
            // it.
            Print::SMALLEST => 8,
            _ => self.font().character_size.height,
        }
    }

    /// From one character to the next, pixels.
    pub fn width(self) -> u32 {
        let font = self.font();
        font.character_size.width + font.character_spacing
    }

    /// A line with the least air that keeps it apart from the next.
    pub fn ink_height(self) -> u32 {
        ink_height(self.font())
    }

    /// Height of a capital, pixels.
    pub fn capital(self) -> u32 {
        self.font().baseline + 1 - self.capital_top() as u32
    }

    /// Rows above a capital in its cell, as measured.
    fn capital_top(self) -> i32 {
        [5, 4, 3, 3, 2, 2]
            .get(self.0 as usize)
            .copied()
            .unwrap_or(2)
    }

    /// Characters that fit a width.
    pub fn fitting(self, width: u32) -> usize {
        (width / self.width().max(1)) as usize
    }

    fn font(self) -> &'static MonoFont<'static> {
        FONTS.get(self.0 as usize).unwrap_or(&FONTS[6])
    }
}

/// A line with its least air.
fn ink_height(font: &MonoFont<'_>) -> u32 {
    font.character_size.height.saturating_sub(2)
}

/// A place where a word may be broken; shown as a hyphen if it is.
pub const SOFT_HYPHEN: char = '\u{AD}';

/// Whether print is set in capitals: small print has no room for what hangs
/// below the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Case {
    /// As written.
    #[default]
    AsWritten,
    /// In capitals.
    Capitals,
}

/// Draws one line in the middle of the box's height, cut where it is too
/// long. A cut line ends in a full stop. A box too low for it stays empty.
pub fn line<D: DrawTarget>(
    target: &mut D,
    area: Rectangle,
    words: &str,
    setting: (Print, Case, Side),
    colour: D::Color,
) -> Result<(), D::Error> {
    let (print, case, side) = setting;
    let room = print.fitting(area.size.width);
    let mut shown = visible(words, case);
    if room == 0 || shown.is_empty() || area.size.height < print.capital() {
        return Ok(());
    }
    if let Some((end, _)) = shown.char_indices().nth(room) {
        let last = shown.char_indices().nth(room - 1).map_or(end, |(at, _)| at);
        shown.truncate(last);
        let _ = shown.push('.');
    }
    let width = shown.chars().count() as i32 * print.width() as i32;
    let spare = area.size.width as i32 - width;
    let x = match side {
        Side::Left => 0,
        Side::Middle => spare / 2,
        Side::Right => spare,
    };
    // Capitals in the middle, but what hangs below them inside the box.
    let below = area.size.height as i32 - print.capital() as i32;
    let y = (below / 2).min(below - HANGS).max(0) - print.capital_top();
    let style = MonoTextStyle::new(print.font(), colour);
    let at = area.top_left + Point::new(x, y);
    Text::with_baseline(&shown, at, style, Baseline::Top).draw(target)?;
    Ok(())
}

/// Rows below the line.
const HANGS: i32 = 2;

/// What is drawn of a line: soft hyphens show at its end only.
fn visible(words: &str, case: Case) -> String<96> {
    let mut shown = String::new();
    let mut rest = words.chars().peekable();
    let mut before = ' ';
    let mut unit = false;
    while let Some(letter) = rest.next() {
        unit = letter.is_alphabetic() && (unit || before.is_ascii_digit());
        let drawn = match (letter, case) {
            (SOFT_HYPHEN, _) if rest.peek().is_some() => continue,
            (SOFT_HYPHEN, _) => '-',
            (letter, Case::AsWritten) => letter,
            // A unit on its number stays small: "40S" reads as 403.
            (letter, Case::Capitals) if unit => letter,
            (letter, Case::Capitals) => letter.to_uppercase().next().unwrap_or(letter),
        };
        before = letter;
        if shown.push(drawn).is_err() {
            break;
        }
    }
    shown
}

/// The next line of a wrapped text: words that fit `room` characters, and the
/// rest. Lines break at spaces and soft hyphens; a word longer than a line is
/// cut across two.
pub fn wrap(words: &str, room: usize) -> (&str, &str) {
    let words = words.trim_start();
    let room = room.max(1);
    let mut count = 0;
    let mut best: Option<usize> = None;
    for (at, letter) in words.char_indices() {
        match letter {
            ' ' if count <= room => best = Some(at),
            SOFT_HYPHEN if count < room => best = Some(at + letter.len_utf8()),
            _ => {}
        }
        if letter != SOFT_HYPHEN {
            count += 1;
        }
        if count > room && letter != ' ' {
            let end = best.filter(|&end| end > 0).unwrap_or(at);
            let head = words.get(..end).unwrap_or(words);
            let rest = words.get(end..).unwrap_or("");
            return (head, rest.trim_start());
        }
    }
    (words, "")
}

/// Characters that are seen of a text on one line.
pub fn count(words: &str) -> usize {
    words
        .chars()
        .filter(|&letter| letter != SOFT_HYPHEN)
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_graphics::geometry::Size;

    #[test]
    fn text_wraps_at_spaces_and_cuts_long_words() {
        assert_eq!(wrap("limits unconfirmed", 10), ("limits", "unconfirmed"));
        assert_eq!(wrap("unconfirmed", 6), ("unconf", "irmed"));
        assert_eq!(wrap("two reefs", 9), ("two reefs", ""));
        assert_eq!(wrap("two reefs up", 9), ("two reefs", "up"));
        assert_eq!(wrap("uncon\u{AD}firmed", 6), ("uncon\u{AD}", "firmed"));
        assert_eq!(wrap("uncon\u{AD}firmed", 11), ("uncon\u{AD}firmed", ""));
        assert_eq!(visible("uncon\u{AD}", Case::Capitals).as_str(), "UNCON-");
        assert_eq!(
            visible("dead 40s at 18kn", Case::Capitals).as_str(),
            "DEAD 40s AT 18kn"
        );
        assert_eq!(
            visible("uncon\u{AD}firmed", Case::AsWritten).as_str(),
            "unconfirmed"
        );
    }

    #[test]
    fn the_largest_print_that_fits_is_taken() {
        let area = Rectangle::new(Point::zero(), Size::new(128, 64));
        assert_eq!(Print::fit(8, area), Print(0));
        assert_eq!(Print::fit(9, area).width(), 12);
        assert_eq!(Print::fit(90, area), Print::SMALLEST);
    }
}
