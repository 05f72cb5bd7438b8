//! Layout by boxes: cut a rectangle into parts by pixels or shares.
//!
//! All page layouts are made of these cuts, so a new panel size needs no new
//! drawing code. A cut that asks for more than there is gets what there is.

use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::Rectangle;

/// Cuts of a rectangle.
pub trait Cut: Sized {
    /// The top `height` pixels, and the rest.
    fn cut_top(&self, height: u32) -> (Self, Self);
    /// The bottom `height` pixels, and the rest.
    fn cut_bottom(&self, height: u32) -> (Self, Self);
    /// The left `width` pixels, and the rest.
    fn cut_left(&self, width: u32) -> (Self, Self);
    /// The right `width` pixels, and the rest.
    fn cut_right(&self, width: u32) -> (Self, Self);
    /// Smaller by so many pixels on each side.
    fn shrink(&self, by: u32) -> Self;
    /// Row `index` of `count` of even height.
    fn row(&self, index: u32, count: u32) -> Self;
    /// Column `index` of `count` of even width.
    fn column(&self, index: u32, count: u32) -> Self;
    /// A share in percent of the height.
    fn share_of_height(&self, percent: u32) -> u32;
    /// A share in percent of the width.
    fn share_of_width(&self, percent: u32) -> u32;
}

impl Cut for Rectangle {
    fn cut_top(&self, height: u32) -> (Self, Self) {
        let taken = height.min(self.size.height);
        let top = Rectangle::new(self.top_left, Size::new(self.size.width, taken));
        let rest = Rectangle::new(
            self.top_left + Point::new(0, taken as i32),
            Size::new(self.size.width, self.size.height - taken),
        );
        (top, rest)
    }

    fn cut_bottom(&self, height: u32) -> (Self, Self) {
        let taken = height.min(self.size.height);
        let (rest, bottom) = self.cut_top(self.size.height - taken);
        (bottom, rest)
    }

    fn cut_left(&self, width: u32) -> (Self, Self) {
        let taken = width.min(self.size.width);
        let left = Rectangle::new(self.top_left, Size::new(taken, self.size.height));
        let rest = Rectangle::new(
            self.top_left + Point::new(taken as i32, 0),
            Size::new(self.size.width - taken, self.size.height),
        );
        (left, rest)
    }

    fn cut_right(&self, width: u32) -> (Self, Self) {
        let taken = width.min(self.size.width);
        let (rest, right) = self.cut_left(self.size.width - taken);
        (right, rest)
    }

    fn shrink(&self, by: u32) -> Self {
        Rectangle::new(
            self.top_left + Point::new(by as i32, by as i32),
            Size::new(
                self.size.width.saturating_sub(2 * by),
                self.size.height.saturating_sub(2 * by),
            ),
        )
    }

    fn row(&self, index: u32, count: u32) -> Self {
        let count = count.max(1);
        let from = self.size.height * index.min(count) / count;
        let to = self.size.height * (index + 1).min(count) / count;
        let (_, below) = self.cut_top(from);
        below.cut_top(to - from).0
    }

    fn column(&self, index: u32, count: u32) -> Self {
        let count = count.max(1);
        let from = self.size.width * index.min(count) / count;
        let to = self.size.width * (index + 1).min(count) / count;
        let (_, right) = self.cut_left(from);
        right.cut_left(to - from).0
    }

    fn share_of_height(&self, percent: u32) -> u32 {
        self.size.height * percent / 100
    }

    fn share_of_width(&self, percent: u32) -> u32 {
        self.size.width * percent / 100
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area() -> Rectangle {
        Rectangle::new(Point::new(3, 5), Size::new(100, 40))
    }

    #[test]
    fn a_cut_and_its_rest_make_the_whole() {
        let (top, rest) = area().cut_top(15);
        assert_eq!(top.size.height + rest.size.height, 40);
        assert_eq!(rest.top_left, Point::new(3, 20));
        let (right, rest) = area().cut_right(30);
        assert_eq!(right.top_left.x, rest.top_left.x + rest.size.width as i32);
    }

    #[test]
    fn too_much_asked_gives_what_there_is() {
        let (top, rest) = area().cut_top(400);
        assert_eq!((top.size.height, rest.size.height), (40, 0));
        assert_eq!(area().shrink(60).size, Size::zero());
    }

    #[test]
    fn rows_and_columns_leave_no_gap() {
        let heights: u32 = (0..7).map(|i| area().row(i, 7).size.height).sum();
        let widths: u32 = (0..3).map(|i| area().column(i, 3).size.width).sum();
        assert_eq!((heights, widths), (40, 100));
        assert_eq!(area().row(9, 7).size.height, 0);
    }
}
