//! Where the parts of home and of a call stand on a panel.
//!
//! The number comes first: it gets the height that is read at 3 m if that is
//! at most two thirds of the panel. Then lines of print and key labels, then
//! the word takes what is left.

use embedded_graphics::primitives::Rectangle;

use crate::boxes::Cut;
use crate::panel::Panel;
use crate::print::Print;

/// The main parts of a page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// The ladder's picture; none on a call.
    pub ladder: Option<Rectangle>,
    /// The word.
    pub word: Rectangle,
    /// The number.
    pub number: Rectangle,
    /// What the number counts, and on small panels the notes.
    pub side: Rectangle,
    /// Plan that is set, plan that is next, notes.
    pub lines: Rectangle,
    /// Key labels; on small panels shared with the last line.
    pub strip: Rectangle,
}

/// The number's share of the panel's height, at most, in percent.
const NUMBER_AT_MOST: u32 = 66;

/// Home.
pub fn home(panel: &Panel) -> Layout {
    let area = panel.area();
    let (strip, area) = strip(panel, area);
    let number_height = number_height(panel);
    if panel.is_small() {
        return small(panel, strip, area, number_height);
    }
    let lines_height = home_lines(panel) * print(panel).line_height();
    if panel.is_tall() {
        let word_height = (area
            .size
            .height
            .saturating_sub(number_height + lines_height))
            * 42
            / 100;
        let (word, body) = area.cut_top(word_height);
        let (ladder, right) = body.cut_left(body.share_of_width(40));
        let (number, rest) = right.shrink(3).cut_top(number_height);
        let (side, lines) = rest.cut_top(side_lines(panel) * print(panel).line_height());
        return Layout {
            ladder: Some(ladder.shrink(2)),
            word: word.shrink(3),
            number,
            side,
            lines,
            strip,
        };
    }
    let (ladder, right) = area.cut_left(area.share_of_width(32));
    let (lines, right) = right.cut_bottom(lines_height);
    let (number_row, word) = right.cut_bottom(number_height + 2);
    let (number, side) = number_row.cut_left(number_row.share_of_width(64));
    Layout {
        ladder: Some(ladder.shrink(2)),
        word: word.shrink(2),
        number: number.cut_top(number_height).0.cut_left(2).1,
        side: side.cut_left(6).1,
        lines: lines.cut_left(2).1,
        strip,
    }
}

/// A call that nobody has acknowledged: no ladder, all for word and number. They
/// stand one above the other where both can be read at 3 m so, else side by
/// side, which gives low panels the higher letters.
pub fn call(panel: &Panel) -> Layout {
    let area = panel.area();
    let (strip, area) = strip(panel, area);
    if panel.size.height < 200 {
        let (why, body) = area.cut_bottom(print(panel).line_height() + 1);
        let (number, right) = body.cut_left(body.share_of_width(46));
        let (word, side) = right.cut_left(4).1.cut_top(body.share_of_height(56));
        return Layout {
            ladder: None,
            word,
            number: number.cut_bottom(1).1,
            side,
            lines: why,
            strip,
        };
    }
    let (number_row, word) = area.cut_bottom(number_height(panel));
    let (number, side) = number_row.cut_left(number_row.share_of_width(56));
    let (_, nothing) = side.cut_top(side.size.height);
    Layout {
        ladder: None,
        word: word.cut_bottom(3).1,
        number: number.cut_left(2).1,
        side: side.cut_left(8).1,
        lines: nothing,
        strip,
    }
}

fn small(panel: &Panel, strip: Rectangle, area: Rectangle, number_height: u32) -> Layout {
    let (ladder, right) = area.cut_left(area.share_of_width(23));
    let (number_row, word) = right.cut_left(1).1.cut_bottom(number_height + 1);
    let number_row = number_row.cut_top(number_height).0;
    let (number, side) = number_row.cut_left(number_row.share_of_width(55));
    Layout {
        ladder: Some(ladder.cut_right(1).1),
        word: word.cut_bottom(1).1,
        number,
        side: side.cut_left(3).1,
        lines: strip,
        strip: panel.area().cut_bottom(8).0,
    }
}

/// Key labels at the bottom, and the rest.
pub fn strip(panel: &Panel, area: Rectangle) -> (Rectangle, Rectangle) {
    area.cut_bottom(strip_height(panel))
}

fn strip_height(panel: &Panel) -> u32 {
    if panel.is_small() {
        8
    } else if panel.size.height < 200 {
        11
    } else {
        2 * Print::of_height(12).line_height() + 2
    }
}

/// Print of lines and notes.
pub fn print(panel: &Panel) -> Print {
    let shorter = panel.size.height.min(panel.size.width);
    Print::of_height((shorter / 15).max(8))
}

fn home_lines(panel: &Panel) -> u32 {
    if panel.size.height < 200 {
        1
    } else if panel.is_tall() {
        3
    } else {
        2
    }
}

fn side_lines(panel: &Panel) -> u32 {
    if panel.is_tall() { 1 } else { 0 }
}

fn number_height(panel: &Panel) -> u32 {
    let at_most = panel
        .area()
        .share_of_height(NUMBER_AT_MOST)
        .saturating_sub(1);
    let wide_enough = panel.area().share_of_width(42);
    panel.readable_px().min(at_most).min(wide_enough).max(16)
}
