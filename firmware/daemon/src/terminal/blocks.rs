//! A picture as characters: half blocks where there is room, else dots.

use crate::picture::Picture;

/// How pixels become characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// Two pixels a character, one above the other.
    HalfBlocks,
    /// The same after the picture was halved.
    HalvedHalfBlocks,
    /// Two by four pixels a character, as in Braille.
    Dots,
}

/// Rows of characters, with the sequences that colour them.
pub(super) fn rows(picture: &Picture, shape: Shape) -> Vec<String> {
    match shape {
        Shape::HalfBlocks => half_blocks(picture),
        Shape::HalvedHalfBlocks => half_blocks(&picture.halved()),
        Shape::Dots => dots(picture),
    }
}

fn half_blocks(picture: &Picture) -> Vec<String> {
    let rows = 0..picture.height().div_ceil(2);
    rows.map(|row| half_block_row(picture, 2 * row)).collect()
}

fn half_block_row(picture: &Picture, y: usize) -> String {
    let mut words = String::new();
    let mut colours = None;
    for x in 0..picture.width {
        let pair = (picture.at(x, y), picture.at(x, y + 1));
        if colours != Some(pair) {
            let ([r, g, b], [lower_r, lower_g, lower_b]) = pair;
            words += &format!("\x1b[38;2;{r};{g};{b};48;2;{lower_r};{lower_g};{lower_b}m");
            colours = Some(pair);
        }
        words.push('\u{2580}');
    }
    words + "\x1b[0m"
}

/// Bits of the dots of a Braille character, by column and row
/// (Unicode, block Braille Patterns).
const DOTS: [[u32; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];

fn dots(picture: &Picture) -> Vec<String> {
    let rows = 0..picture.height().div_ceil(4);
    rows.map(|row| {
        let columns = 0..picture.width.div_ceil(2);
        let characters: String = columns
            .map(|column| dot_character(picture, 2 * column, 4 * row))
            .collect();
        format!("\x1b[97;40m{characters}\x1b[0m")
    })
    .collect()
}

fn dot_character(picture: &Picture, x: usize, y: usize) -> char {
    let mut bits = 0;
    for (dx, column) in DOTS.iter().enumerate() {
        for (dy, bit) in column.iter().enumerate() {
            if is_lit(picture.at(x + dx, y + dy)) {
                bits |= bit;
            }
        }
    }
    char::from_u32(0x2800 + bits).unwrap_or(' ')
}

fn is_lit([red, green, blue]: [u8; 3]) -> bool {
    u16::from(red) + u16::from(green) + u16::from(blue) > 384
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `#` is lit.
    fn picture(rows: &[&str]) -> Picture {
        let lit = |character| match character {
            '#' => [255; 3],
            _ => [0; 3],
        };
        Picture {
            width: rows[0].len(),
            pixels: rows.concat().chars().map(lit).collect(),
        }
    }

    #[test]
    fn dots_stand_where_the_pixels_are() {
        let corner = picture(&["#...", "....", "....", "...#"]);
        assert_eq!(dots(&corner), ["\x1b[97;40m\u{2801}\u{2880}\x1b[0m"]);
    }

    #[test]
    fn a_half_block_has_both_colours_and_names_them_once() {
        let bars = picture(&["##", ".."]);
        assert_eq!(
            half_blocks(&bars),
            ["\x1b[38;2;255;255;255;48;2;0;0;0m\u{2580}\u{2580}\x1b[0m"]
        );
    }
}
