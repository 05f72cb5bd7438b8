//! Our own letters and digits for what must be read at 3 m: strokes on a grid,
//! scaled to any box, so that word and number fill exactly what layout gives.
//!
//! Strokes are rounded lines of even thickness. Shapes are kept open (3, 5, 6,
//! 9) and far apart (1, 7), because blur closes small gaps first.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::Rectangle;

/// The grid is 0 to 6 across and 0 to 10 down.
const ACROSS: f32 = 6.0;
const DOWN: f32 = 10.0;

/// Narrowest letter, as a share of its height, before height is given up.
const NARROWEST: f32 = 0.31;
/// Widest letter, as a share of its height, when there is room.
const WIDEST: f32 = 0.66;

type Path = &'static [(u8, u8)];

/// How a word of so many letters sits in a box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Height of the letters, pixels, strokes included.
    pub height: u32,
    /// Width of one letter, pixels, strokes included.
    pub width: f32,
    /// Space between letters, pixels.
    pub gap: f32,
    /// Thickness of a stroke, pixels.
    pub stroke: f32,
}

impl Setting {
    /// The largest letters with which `count` of them fit `size`.
    pub fn fit(count: usize, size: Size) -> Setting {
        let count = count.max(1) as f32;
        let mut height = size.height as f32;
        // Gaps are a quarter of a letter: n letters and n-1 gaps.
        let units = count + (count - 1.0) * 0.25;
        let mut width = (size.width as f32 / units).min(height * WIDEST);
        if width < height * NARROWEST {
            height = width / NARROWEST;
        }
        height = libm::floorf(height).max(1.0);
        width = width.max(1.0);
        let stroke = (height * 0.16).min(width * 0.32).max(1.5);
        Setting {
            height: height as u32,
            width,
            gap: width * 0.25,
            stroke,
        }
    }

    /// Width of `count` letters, pixels.
    pub fn whole_width(&self, count: usize) -> f32 {
        let count = count as f32;
        count * self.width + (count - 1.0).max(0.0) * self.gap
    }
}

/// Where a word stands in its box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// At the left.
    Left,
    /// In the middle.
    Middle,
    /// At the right.
    Right,
}

/// Draws `word` as large as `area` allows, in the middle of its height.
pub fn draw<D: DrawTarget>(
    target: &mut D,
    area: Rectangle,
    word: &str,
    side: Side,
    colour: D::Color,
) -> Result<(), D::Error> {
    let count = word.chars().count();
    if count == 0 || area.size.width == 0 || area.size.height == 0 {
        return Ok(());
    }
    let setting = Setting::fit(count, area.size);
    let spare = area.size.width as f32 - setting.whole_width(count);
    let start = match side {
        Side::Left => 0.0,
        Side::Middle => spare / 2.0,
        Side::Right => spare,
    };
    let top = area.top_left.y + (area.size.height.saturating_sub(setting.height) / 2) as i32;
    let mut left = area.top_left.x as f32 + start;
    for letter in word.chars() {
        draw_letter(target, letter, left, top, &setting, colour)?;
        left += setting.width + setting.gap;
    }
    Ok(())
}

fn draw_letter<D: DrawTarget>(
    target: &mut D,
    letter: char,
    left: f32,
    top: i32,
    setting: &Setting,
    colour: D::Color,
) -> Result<(), D::Error> {
    let first = libm::floorf(left) as i32;
    let last = libm::ceilf(left + setting.width) as i32;
    let paths = paths(letter);
    let thinned = Setting {
        stroke: setting.stroke * thinness(letter),
        ..*setting
    };
    let setting = &thinned;
    let from_left = left - first as f32;
    for row in 0..setting.height as i32 {
        let mut run: Option<i32> = None;
        for column in first..=last {
            let x = (column - first) as f32 + 0.5 - from_left;
            let inside = column < last && covers(paths, setting, x, row as f32 + 0.5);
            match (inside, run) {
                (true, None) => run = Some(column),
                (false, Some(start)) => {
                    let size = Size::new((column - start) as u32, 1);
                    let span = Rectangle::new(Point::new(start, top + row), size);
                    target.fill_solid(&span, colour)?;
                    run = None;
                }
                (true, Some(_)) | (false, None) => {}
            }
        }
    }
    Ok(())
}

/// Letters of four strokes side by side would fill up.
fn thinness(letter: char) -> f32 {
    match letter.to_ascii_uppercase() {
        'M' | 'W' => 0.72,
        _ => 1.0,
    }
}

/// Whether a stroke of the letter covers the point, in pixels from the
/// letter's top left corner.
fn covers(paths: &[Path], setting: &Setting, x: f32, y: f32) -> bool {
    let half = setting.stroke / 2.0;
    let scale_x = (setting.width - setting.stroke).max(0.5) / ACROSS;
    let scale_y = (setting.height as f32 - setting.stroke).max(0.5) / DOWN;
    let at = |&(gx, gy): &(u8, u8)| (half + gx as f32 * scale_x, half + gy as f32 * scale_y);
    paths.iter().any(|path| {
        path.iter()
            .zip(path.iter().skip(1))
            .any(|(from, to)| is_near(x, y, at(from), at(to), half))
    })
}

/// Whether a point is within `reach` of a line between two others.
fn is_near(x: f32, y: f32, from: (f32, f32), to: (f32, f32), reach: f32) -> bool {
    let (low, high) = if from.1 < to.1 {
        (from.1, to.1)
    } else {
        (to.1, from.1)
    };
    if y < low - reach || y > high + reach {
        return false;
    }
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (px, py) = (x - from.0, y - from.1);
    let length = dx * dx + dy * dy;
    let along = if length > 0.0 {
        ((px * dx + py * dy) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let (ex, ey) = (px - along * dx, py - along * dy);
    ex * ex + ey * ey <= reach * reach
}

/// The strokes of a letter. Small letters are drawn as capitals; what has no
/// shape here is drawn as an empty box, never left out unseen.
fn paths(letter: char) -> &'static [Path] {
    match letter.to_ascii_uppercase() {
        'A' => &[
            &[(0, 10), (0, 9), (3, 0), (6, 9), (6, 10)],
            &[(1, 7), (5, 7)],
        ],
        'B' => &[&[
            (0, 5),
            (4, 5),
            (6, 4),
            (6, 2),
            (4, 0),
            (0, 0),
            (0, 10),
            (4, 10),
            (6, 8),
            (6, 7),
            (4, 5),
        ]],
        'C' => &[&[
            (6, 2),
            (4, 0),
            (2, 0),
            (0, 2),
            (0, 8),
            (2, 10),
            (4, 10),
            (6, 8),
        ]],
        'D' => &[&[(0, 0), (0, 10), (3, 10), (6, 8), (6, 2), (3, 0), (0, 0)]],
        'E' => &[&[(6, 0), (0, 0), (0, 10), (6, 10)], &[(0, 5), (5, 5)]],
        'F' => &[&[(6, 0), (0, 0), (0, 10)], &[(0, 5), (5, 5)]],
        'G' => &[&[
            (6, 2),
            (4, 0),
            (2, 0),
            (0, 2),
            (0, 8),
            (2, 10),
            (4, 10),
            (6, 8),
            (6, 6),
            (4, 6),
        ]],
        'H' => &[&[(0, 0), (0, 10)], &[(6, 0), (6, 10)], &[(0, 5), (6, 5)]],
        'I' => &[&[(3, 0), (3, 10)], &[(1, 0), (5, 0)], &[(1, 10), (5, 10)]],
        'J' => &[&[(6, 0), (6, 8), (4, 10), (2, 10), (0, 8)]],
        'K' => &[&[(0, 0), (0, 10)], &[(6, 0), (0, 6)], &[(2, 4), (6, 10)]],
        'L' => &[&[(0, 0), (0, 10), (6, 10)]],
        'M' => &[&[(0, 10), (0, 0), (3, 5), (6, 0), (6, 10)]],
        'N' => &[&[(0, 10), (0, 0), (6, 10), (6, 0)]],
        'O' | '0' => &[&[
            (2, 0),
            (4, 0),
            (6, 2),
            (6, 8),
            (4, 10),
            (2, 10),
            (0, 8),
            (0, 2),
            (2, 0),
        ]],
        'P' => &[&[(0, 10), (0, 0), (4, 0), (6, 2), (6, 4), (4, 6), (0, 6)]],
        'Q' => &[
            &[
                (2, 0),
                (4, 0),
                (6, 2),
                (6, 8),
                (4, 10),
                (2, 10),
                (0, 8),
                (0, 2),
                (2, 0),
            ],
            &[(3, 7), (6, 10)],
        ],
        'R' => &[
            &[(0, 10), (0, 0), (4, 0), (6, 2), (6, 3), (4, 5), (0, 5)],
            &[(3, 5), (6, 10)],
        ],
        'S' => &[&[
            (6, 2),
            (4, 0),
            (2, 0),
            (0, 2),
            (0, 3),
            (2, 5),
            (4, 5),
            (6, 7),
            (6, 8),
            (4, 10),
            (2, 10),
            (0, 8),
        ]],
        'T' => &[&[(0, 0), (6, 0)], &[(3, 0), (3, 10)]],
        'U' => &[&[(0, 0), (0, 8), (2, 10), (4, 10), (6, 8), (6, 0)]],
        'V' => &[&[(0, 0), (3, 10), (6, 0)]],
        'W' => &[&[(0, 0), (1, 10), (3, 4), (5, 10), (6, 0)]],
        'X' => &[&[(0, 0), (6, 10)], &[(6, 0), (0, 10)]],
        'Y' => &[&[(0, 0), (3, 5), (6, 0)], &[(3, 5), (3, 10)]],
        'Z' => &[&[(0, 0), (6, 0), (0, 10), (6, 10)]],
        '1' => &[&[(1, 2), (3, 0), (3, 10)], &[(1, 10), (5, 10)]],
        '2' => &[&[(0, 2), (2, 0), (4, 0), (6, 2), (6, 4), (0, 10), (6, 10)]],
        '3' => &[
            &[(0, 1), (1, 0), (4, 0), (6, 2), (6, 3), (4, 5), (2, 5)],
            &[(4, 5), (6, 7), (6, 8), (4, 10), (1, 10), (0, 9)],
        ],
        '4' => &[&[(4, 10), (4, 0), (0, 7), (6, 7)]],
        '5' => &[&[
            (6, 0),
            (0, 0),
            (0, 4),
            (4, 4),
            (6, 6),
            (6, 8),
            (4, 10),
            (1, 10),
            (0, 9),
        ]],
        '6' => &[&[
            (5, 0),
            (3, 0),
            (0, 4),
            (0, 8),
            (2, 10),
            (4, 10),
            (6, 8),
            (6, 6),
            (4, 4),
            (2, 4),
            (0, 6),
        ]],
        '7' => &[&[(0, 0), (6, 0), (2, 10)]],
        '8' => &[&[
            (2, 5),
            (0, 3),
            (0, 2),
            (2, 0),
            (4, 0),
            (6, 2),
            (6, 3),
            (4, 5),
            (2, 5),
            (0, 7),
            (0, 8),
            (2, 10),
            (4, 10),
            (6, 8),
            (6, 7),
            (4, 5),
        ]],
        '9' => &[&[
            (1, 10),
            (3, 10),
            (6, 6),
            (6, 2),
            (4, 0),
            (2, 0),
            (0, 2),
            (0, 4),
            (2, 6),
            (4, 6),
            (6, 4),
        ]],
        '-' => &[&[(0, 5), (6, 5)]],
        '+' => &[&[(0, 5), (6, 5)], &[(3, 2), (3, 8)]],
        '>' => &[&[(0, 2), (6, 5), (0, 8)]],
        '<' => &[&[(6, 2), (0, 5), (6, 8)]],
        '!' => &[&[(3, 0), (3, 6)], &[(3, 10), (3, 10)]],
        '?' => &[
            &[(0, 2), (2, 0), (4, 0), (6, 2), (6, 3), (3, 5), (3, 7)],
            &[(3, 10), (3, 10)],
        ],
        '.' => &[&[(3, 10), (3, 10)]],
        ':' => &[&[(3, 3), (3, 3)], &[(3, 7), (3, 7)]],
        '/' => &[&[(0, 10), (6, 0)]],
        ' ' => &[],
        _ => &[&[(0, 0), (6, 0), (6, 10), (0, 10), (0, 0)]],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_graphics::mock_display::MockDisplay;
    use embedded_graphics::pixelcolor::BinaryColor;

    #[test]
    fn letters_fill_their_box_to_the_pixel() {
        let mut display = MockDisplay::new();
        let area = Rectangle::new(Point::new(4, 6), Size::new(40, 41));
        draw(&mut display, area, "12", Side::Middle, BinaryColor::On).unwrap();
        let inked = display.affected_area();
        assert_eq!((inked.top_left.y, inked.size.height), (6, 41));
    }

    #[test]
    fn every_letter_stays_inside_its_box() {
        for letter in (' '..='~').chain(['é']) {
            let mut display = MockDisplay::new();
            let area = Rectangle::new(Point::new(5, 5), Size::new(21, 40));
            let mut word = [0; 4];
            let word = letter.encode_utf8(&mut word);
            draw(&mut display, area, word, Side::Left, BinaryColor::On).unwrap();
            let inked = display.affected_area();
            assert_eq!(inked.intersection(&area), inked, "{letter}");
        }
    }

    #[test]
    fn a_long_word_gives_up_height_only_when_too_narrow() {
        let roomy = Setting::fit(7, Size::new(210, 50));
        assert_eq!(roomy.height, 50);
        let tight = Setting::fit(12, Size::new(100, 50));
        assert!(tight.height < 50 && tight.whole_width(12) <= 100.5);
    }

    #[test]
    fn no_two_digits_are_drawn_alike() {
        let drawn = |digit: char| {
            let mut display = MockDisplay::new();
            let area = Rectangle::new(Point::zero(), Size::new(27, 41));
            let mut word = [0; 4];
            let word = digit.encode_utf8(&mut word);
            draw(&mut display, area, word, Side::Left, BinaryColor::On).unwrap();
            display
        };
        let differing = |one: char, other: char| {
            let (one, other) = (drawn(one), drawn(other));
            (0..41)
                .flat_map(|y| (0..27).map(move |x| Point::new(x, y)))
                .filter(|&at| one.get_pixel(at) != other.get_pixel(at))
                .count()
        };
        for one in '0'..='9' {
            for other in ('0'..='9').filter(|&d| d > one) {
                assert!(differing(one, other) > 40, "{one} and {other}");
            }
        }
    }
}
