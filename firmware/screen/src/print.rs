//! Words in fixed fonts, fitted to their box.

use embedded_graphics::Drawable;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::Point;
use embedded_graphics::mono_font::{MonoFont, MonoTextStyle};
use embedded_graphics::primitives::Rectangle;
use embedded_graphics::text::{Baseline, Text};

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
            let width = font.character_size.width * count as u32;
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

    /// Width of one character, pixels.
    pub fn width(self) -> u32 {
        self.font().character_size.width
    }

    /// Characters that fit a width.
    pub fn fitting(self, width: u32) -> usize {
        (width / self.width().max(1)) as usize
    }

    fn font(self) -> &'static MonoFont<'static> {
        FONTS.get(self.0 as usize).unwrap_or(&FONTS[6])
    }
}

/// From the top of a capital to the foot of a descender.
fn ink_height(font: &MonoFont<'_>) -> u32 {
    font.character_size.height.saturating_sub(2)
}

/// Draws one line in the middle of the box's height, cut where it is too
/// long. A cut line ends in a full stop.
pub fn line<D: DrawTarget>(
    target: &mut D,
    area: Rectangle,
    words: &str,
    print: Print,
    side: Side,
    colour: D::Color,
) -> Result<(), D::Error> {
    let room = print.fitting(area.size.width);
    let count = words.chars().count();
    if room == 0 || count == 0 {
        return Ok(());
    }
    let is_cut = count > room;
    let kept = if is_cut { room - 1 } else { count };
    let end = words
        .char_indices()
        .nth(kept)
        .map_or(words.len(), |(at, _)| at);
    let shown = count.min(room) as i32 * print.width() as i32;
    let spare = area.size.width as i32 - shown;
    let x = area.top_left.x
        + match side {
            Side::Left => 0,
            Side::Middle => spare / 2,
            Side::Right => spare,
        };
    // Middle of the capitals, not of the cell: cells have air below.
    let font = print.font();
    let capital = font.baseline as i32 - capital_top(print);
    let y = area.top_left.y + (area.size.height as i32 - capital) / 2 - capital_top(print);
    let style = MonoTextStyle::new(font, colour);
    let kept_words = words.get(..end).unwrap_or("");
    let next =
        Text::with_baseline(kept_words, Point::new(x, y), style, Baseline::Top).draw(target)?;
    if is_cut {
        Text::with_baseline(".", next, style, Baseline::Top).draw(target)?;
    }
    Ok(())
}

/// Rows above a capital in its cell.
fn capital_top(print: Print) -> i32 {
    match print.0 {
        0 => 6,
        1 => 4,
        2 => 3,
        3 => 3,
        4 => 2,
        5 => 1,
        _ => 1,
    }
}

/// The next line of a wrapped text: words that fit `room` characters, and the
/// rest. A word longer than a line is cut across two.
pub fn wrap(words: &str, room: usize) -> (&str, &str) {
    let words = words.trim_start();
    let Some((limit, _)) = words.char_indices().nth(room.max(1)) else {
        return (words, "");
    };
    let head = words.get(..limit).unwrap_or(words);
    let rest = words.get(limit..).unwrap_or("");
    if rest.starts_with(' ') {
        return (head, rest.trim_start());
    }
    match head.rfind(' ') {
        Some(space) => (
            head.get(..space).unwrap_or(head).trim_end(),
            words.get(space..).unwrap_or("").trim_start(),
        ),
        None => (head, rest),
    }
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
    }

    #[test]
    fn the_largest_print_that_fits_is_taken() {
        let area = Rectangle::new(Point::zero(), Size::new(128, 64));
        assert_eq!(Print::fit(8, area), Print(0));
        assert_eq!(Print::fit(9, area).width(), 12);
        assert_eq!(Print::fit(90, area), Print::SMALLEST);
    }
}
