//! A picture in memory, drawn by the screen and sent by a panel.
//!
//! Panels are slow and their buses slower, so a frame is drawn here first and
//! compared with the one the glass already shows: only bands that differ are
//! sent. Rows are kept eight to a band, which is a page of the OLED chip.

use core::convert::Infallible;

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::pixelcolor::{BinaryColor, PixelColor, Rgb565};
use embedded_graphics::primitives::{PointsIter, Rectangle};

/// Rows in a band.
const BAND: u32 = 8;

/// What colours a panel can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// One bit a pixel.
    Mono,
    /// Red 5, green 6, blue 5 bits.
    Colour,
}

/// Size and depth of a panel as the crew sees it, turned the right way up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Geometry {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Colours.
    pub depth: Depth,
}

impl core::fmt::Display for Geometry {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let depth = match self.depth {
            Depth::Mono => "mono",
            Depth::Colour => "colour",
        };
        write!(f, "{}x{} {depth}", self.width, self.height)
    }
}

/// A whole picture of pixels of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture<C> {
    size: Size,
    pixels: Vec<C>,
}

impl<C: PixelColor> Picture<C> {
    /// A picture filled with one colour.
    pub fn filled(size: Size, colour: C) -> Self {
        Picture {
            size,
            pixels: vec![colour; size.width as usize * size.height as usize],
        }
    }

    /// The colour at a point, if it is inside.
    pub fn at(&self, point: Point) -> Option<C> {
        self.index(point).and_then(|i| self.pixels.get(i)).copied()
    }

    /// All pixels inside `area`, row by row.
    pub fn pixels_in(&self, area: &Rectangle) -> impl Iterator<Item = Pixel<C>> + '_ {
        area.points()
            .filter_map(|point| self.at(point).map(|colour| Pixel(point, colour)))
    }

    /// The parts that differ from `old`: at most one rectangle a band.
    pub fn changes_since(&self, old: &Picture<C>) -> Vec<Rectangle> {
        if old.size != self.size {
            return vec![Rectangle::new(Point::zero(), self.size)];
        }
        (0..self.size.height.div_ceil(BAND))
            .filter_map(|band| self.change_in_band(old, band * BAND))
            .collect()
    }

    /// The narrowest rectangle of this band's full height that holds what differs.
    fn change_in_band(&self, old: &Picture<C>, top: u32) -> Option<Rectangle> {
        let height = BAND.min(self.size.height - top);
        let mut columns = (top..top + height).flat_map(|y| {
            (0..self.size.width).filter(move |x| {
                let point = Point::new(*x as i32, y as i32);
                self.at(point) != old.at(point)
            })
        });
        let first = columns.next()?;
        let (left, right) = columns.fold((first, first), |(l, r), x| (l.min(x), r.max(x)));
        Some(Rectangle::new(
            Point::new(left as i32, top as i32),
            Size::new(right - left + 1, height),
        ))
    }

    fn index(&self, point: Point) -> Option<usize> {
        let x = u32::try_from(point.x).ok()?;
        let y = u32::try_from(point.y).ok()?;
        (x < self.size.width && y < self.size.height).then_some((y * self.size.width + x) as usize)
    }

    fn set(&mut self, point: Point, colour: C) {
        if let Some(pixel) = self.index(point).and_then(|i| self.pixels.get_mut(i)) {
            *pixel = colour;
        }
    }
}

impl<C> OriginDimensions for Picture<C> {
    fn size(&self) -> Size {
        self.size
    }
}

impl<C: PixelColor> DrawTarget for Picture<C> {
    type Color = C;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<C>>,
    {
        for Pixel(point, colour) in pixels {
            self.set(point, colour);
        }
        Ok(())
    }
}

/// A picture of the depth a panel wants.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Frame {
    /// On is lit on an OLED and ink on paper.
    Mono(Picture<BinaryColor>),
    /// For a colour panel.
    Colour(Picture<Rgb565>),
}

impl Frame {
    /// An empty frame for a panel: dark glass, or white paper.
    pub fn blank(geometry: Geometry) -> Frame {
        let size = Size::new(geometry.width, geometry.height);
        match geometry.depth {
            Depth::Mono => Frame::Mono(Picture::filled(size, BinaryColor::Off)),
            Depth::Colour => Frame::Colour(Picture::filled(size, Rgb565::new(0, 0, 0))),
        }
    }

    /// Its size and depth.
    pub fn geometry(&self) -> Geometry {
        let (size, depth) = match self {
            Frame::Mono(picture) => (picture.size, Depth::Mono),
            Frame::Colour(picture) => (picture.size, Depth::Colour),
        };
        Geometry {
            width: size.width,
            height: size.height,
            depth,
        }
    }

    /// The parts that differ from `old`; everything if they are not alike in kind.
    pub fn changes_since(&self, old: &Frame) -> Vec<Rectangle> {
        match (self, old) {
            (Frame::Mono(new), Frame::Mono(old)) => new.changes_since(old),
            (Frame::Colour(new), Frame::Colour(old)) => new.changes_since(old),
            (Frame::Mono(_), Frame::Colour(_)) | (Frame::Colour(_), Frame::Mono(_)) => {
                vec![self.whole()]
            }
        }
    }

    /// The rectangle that holds all of it.
    pub fn whole(&self) -> Rectangle {
        let geometry = self.geometry();
        Rectangle::new(Point::zero(), Size::new(geometry.width, geometry.height))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dots(at: &[(i32, i32)]) -> Picture<BinaryColor> {
        let mut picture = Picture::filled(Size::new(128, 64), BinaryColor::Off);
        for &(x, y) in at {
            picture.set(Point::new(x, y), BinaryColor::On);
        }
        picture
    }

    fn area(x: i32, y: i32, width: u32, height: u32) -> Rectangle {
        Rectangle::new(Point::new(x, y), Size::new(width, height))
    }

    #[test]
    fn equal_frames_have_no_changes() {
        assert!(dots(&[(3, 3)]).changes_since(&dots(&[(3, 3)])).is_empty());
    }

    #[test]
    fn a_change_is_one_band_high_and_no_wider_than_it_must_be() {
        let changes = dots(&[(10, 9), (12, 15)]).changes_since(&dots(&[]));
        assert_eq!(changes, [area(10, 8, 3, 8)]);
    }

    #[test]
    fn far_apart_changes_stay_apart() {
        let changes = dots(&[(0, 0), (127, 63)]).changes_since(&dots(&[]));
        assert_eq!(changes, [area(0, 0, 1, 8), area(127, 56, 1, 8)]);
    }

    #[test]
    fn drawing_outside_changes_nothing() {
        let picture = dots(&[(-1, 0), (0, -1), (128, 0), (0, 64)]);
        assert_eq!(picture, dots(&[]));
    }

    #[test]
    fn last_band_of_an_odd_height_is_cut_to_fit() {
        let old = Picture::filled(Size::new(4, 10), BinaryColor::Off);
        let mut new = old.clone();
        new.set(Point::new(1, 9), BinaryColor::On);
        assert_eq!(new.changes_since(&old), [area(1, 8, 1, 2)]);
    }
}
