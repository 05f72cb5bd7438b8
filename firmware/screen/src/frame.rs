//! A picture in memory, and what changed between two of them.
//!
//! Capacity in bytes is written in the type; width and height are set when it
//! is made, so one type serves a panel lying and standing.

use core::convert::Infallible;
use core::marker::PhantomData;

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{Dimensions, OriginDimensions, Point, Size};
use embedded_graphics::pixelcolor::{BinaryColor, IntoStorage, Rgb565, Rgb888, RgbColor};
use embedded_graphics::primitives::Rectangle;

use crate::hue::Hue;

/// Bytes for 128x64 mono.
pub const MONO_128X64: usize = 128 * 64 / 8;
/// Bytes for 296x128 mono.
pub const MONO_296X128: usize = 296 * 128 / 8;
/// Bytes for 320x240 or 240x320 in 16-bit colour.
pub const COLOUR_320X240: usize = 320 * 240 * 2;

/// Rows in which changes are looked for: the page height of small mono
/// controllers, so that each change can be sent as it is.
pub const BAND_ROWS: u32 = 8;

/// How a colour is kept.
pub trait Stored: Hue {
    /// Bits a pixel.
    const BITS: usize;

    /// Bytes a row.
    fn stride(width: u32) -> usize {
        (width as usize * Self::BITS).div_ceil(8)
    }

    /// Reads pixel `x` of a row.
    fn read(row: &[u8], x: usize) -> Option<Self>;

    /// Writes pixel `x` of a row; beyond its end nothing happens.
    fn write(row: &mut [u8], x: usize, colour: Self);

    /// As red, green and blue, for files and terminals.
    fn rgb(self) -> [u8; 3];
}

impl Stored for BinaryColor {
    const BITS: usize = 1;

    fn read(row: &[u8], x: usize) -> Option<Self> {
        row.get(x / 8)
            .map(|byte| BinaryColor::from(byte & mask(x) != 0))
    }

    fn write(row: &mut [u8], x: usize, colour: Self) {
        if let Some(byte) = row.get_mut(x / 8) {
            match colour {
                BinaryColor::On => *byte |= mask(x),
                BinaryColor::Off => *byte &= !mask(x),
            }
        }
    }

    fn rgb(self) -> [u8; 3] {
        match self {
            BinaryColor::On => [255; 3],
            BinaryColor::Off => [0; 3],
        }
    }
}

/// The leftmost pixel is the highest bit.
const fn mask(x: usize) -> u8 {
    0x80 >> (x % 8)
}

impl Stored for Rgb565 {
    const BITS: usize = 16;

    fn read(row: &[u8], x: usize) -> Option<Self> {
        let high = *row.get(2 * x)?;
        let low = *row.get(2 * x + 1)?;
        let raw = u16::from_be_bytes([high, low]);
        Some(Rgb565::new(
            (raw >> 11) as u8,
            (raw >> 5 & 0x3f) as u8,
            (raw & 0x1f) as u8,
        ))
    }

    fn write(row: &mut [u8], x: usize, colour: Self) {
        let bytes = colour.into_storage().to_be_bytes();
        if let Some(place) = row.get_mut(2 * x..2 * x + 2) {
            place.copy_from_slice(&bytes);
        }
    }

    fn rgb(self) -> [u8; 3] {
        let full = Rgb888::from(self);
        [full.r(), full.g(), full.b()]
    }
}

/// A picture of at most `BYTES` bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame<C, const BYTES: usize> {
    bytes: [u8; BYTES],
    size: Size,
    colour: PhantomData<C>,
}

impl<C: Stored, const BYTES: usize> Frame<C, BYTES> {
    /// All zero: black. None if it does not fit.
    pub fn new(size: Size) -> Option<Self> {
        let needed = C::stride(size.width).checked_mul(size.height as usize)?;
        (needed <= BYTES).then_some(Frame {
            bytes: [0; BYTES],
            size,
            colour: PhantomData,
        })
    }

    /// The colour at a place.
    pub fn at(&self, x: u32, y: u32) -> Option<C> {
        if x >= self.size.width {
            return None;
        }
        C::read(self.row(y)?, x as usize)
    }

    /// Bytes row by row: mono with the leftmost pixel as the highest bit,
    /// colour as big-endian 5-6-5.
    pub fn bytes(&self) -> &[u8] {
        let used = C::stride(self.size.width) * self.size.height as usize;
        self.bytes.get(..used).unwrap_or(&self.bytes)
    }

    /// All colours, row by row.
    pub fn pixels(&self) -> impl Iterator<Item = C> + '_ {
        let Size { width, height } = self.size;
        (0..height).flat_map(move |y| (0..width).filter_map(move |x| self.at(x, y)))
    }

    /// The colours of one area, row by row, as display drivers take them.
    pub fn pixels_of(&self, area: Rectangle) -> impl Iterator<Item = C> + '_ {
        let area = area.intersection(&self.bounding_box());
        let (left, top) = (area.top_left.x as u32, area.top_left.y as u32);
        (top..top + area.size.height)
            .flat_map(move |y| (left..left + area.size.width).filter_map(move |x| self.at(x, y)))
    }

    /// Red, green and blue of all pixels, row by row: what a PNG takes.
    pub fn rgb(&self) -> impl Iterator<Item = [u8; 3]> + '_ {
        self.pixels().map(Stored::rgb)
    }

    /// Pairs of pixels one above the other, row of pairs by row of pairs:
    /// what a terminal draws as upper half blocks. A new row begins where x
    /// is 0.
    pub fn half_blocks(&self) -> impl Iterator<Item = HalfBlock> + '_ {
        let Size { width, height } = self.size;
        (0..height).step_by(2).flat_map(move |y| {
            (0..width).filter_map(move |x| {
                let upper = self.at(x, y)?.rgb();
                let lower = self.at(x, y + 1).map_or([0; 3], Stored::rgb);
                Some(HalfBlock { x, upper, lower })
            })
        })
    }

    /// Areas in which this differs from what the panel shows, at most one for
    /// each band of [`BAND_ROWS`] rows. All of it where sizes differ.
    pub fn changes<'a>(&'a self, shown: &'a Self) -> impl Iterator<Item = Rectangle> + 'a {
        let bands = self.size.height.div_ceil(BAND_ROWS);
        (0..bands).filter_map(move |band| self.change_in(shown, band * BAND_ROWS))
    }

    /// Bytes that an area is on the wire, without the controller's own
    /// commands.
    pub fn bytes_of(area: Rectangle) -> usize {
        let rows = match C::BITS {
            // Mono controllers take whole bands.
            1 => area.size.height.div_ceil(BAND_ROWS) * BAND_ROWS,
            _ => area.size.height,
        };
        area.size.width as usize * rows as usize * C::BITS / 8
    }

    fn change_in(&self, shown: &Self, top: u32) -> Option<Rectangle> {
        let height = BAND_ROWS.min(self.size.height.saturating_sub(top));
        if self.size != shown.size {
            let size = Size::new(self.size.width, height);
            return Some(Rectangle::new(Point::new(0, top as i32), size));
        }
        let mut extent: Option<(u32, u32)> = None;
        for y in top..top + height {
            if self.row(y) == shown.row(y) {
                continue;
            }
            for x in 0..self.size.width {
                if self.at(x, y) != shown.at(x, y) {
                    let (left, right) = extent.unwrap_or((x, x));
                    extent = Some((left.min(x), right.max(x)));
                }
            }
        }
        let (left, right) = extent?;
        let size = Size::new(right - left + 1, height);
        Some(Rectangle::new(Point::new(left as i32, top as i32), size))
    }

    fn row(&self, y: u32) -> Option<&[u8]> {
        if y >= self.size.height {
            return None;
        }
        let stride = C::stride(self.size.width);
        self.bytes
            .get(y as usize * stride..(y as usize + 1) * stride)
    }

    fn row_mut(&mut self, y: u32) -> Option<&mut [u8]> {
        if y >= self.size.height {
            return None;
        }
        let stride = C::stride(self.size.width);
        self.bytes
            .get_mut(y as usize * stride..(y as usize + 1) * stride)
    }
}

/// Two pixels one above the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HalfBlock {
    /// Column.
    pub x: u32,
    /// Upper pixel, red, green and blue.
    pub upper: [u8; 3],
    /// Lower pixel.
    pub lower: [u8; 3],
}

impl<C: Stored, const BYTES: usize> OriginDimensions for Frame<C, BYTES> {
    fn size(&self) -> Size {
        self.size
    }
}

impl<C: Stored, const BYTES: usize> DrawTarget for Frame<C, BYTES> {
    type Color = C;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<C>>,
    {
        let width = self.size.width;
        for Pixel(at, colour) in pixels {
            let (Ok(x), Ok(y)) = (u32::try_from(at.x), u32::try_from(at.y)) else {
                continue;
            };
            if x < width
                && let Some(row) = self.row_mut(y)
            {
                C::write(row, x as usize, colour);
            }
        }
        Ok(())
    }

    fn fill_solid(&mut self, area: &Rectangle, colour: C) -> Result<(), Infallible> {
        let area = area.intersection(&self.bounding_box());
        let left = area.top_left.x.max(0) as usize;
        let top = area.top_left.y.max(0) as u32;
        for y in top..top + area.size.height {
            if let Some(row) = self.row_mut(y) {
                for x in left..left + area.size.width as usize {
                    C::write(row, x, colour);
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Mono = Frame<BinaryColor, MONO_128X64>;

    fn mono() -> Mono {
        Frame::new(Size::new(128, 64)).unwrap()
    }

    fn dot(x: i32, y: i32) -> Pixel<BinaryColor> {
        Pixel(Point::new(x, y), BinaryColor::On)
    }

    #[test]
    fn too_large_a_picture_is_refused() {
        assert!(Frame::<BinaryColor, MONO_128X64>::new(Size::new(128, 65)).is_none());
        assert!(Frame::<Rgb565, COLOUR_320X240>::new(Size::new(240, 320)).is_some());
    }

    #[test]
    fn what_is_drawn_outside_is_dropped() {
        let mut frame = mono();
        frame
            .draw_iter([dot(-1, 0), dot(128, 0), dot(0, 64), dot(i32::MAX, i32::MIN)])
            .unwrap();
        assert_eq!(frame, mono());
    }

    #[test]
    fn changes_are_one_box_a_band() {
        let mut next = mono();
        next.draw_iter([dot(3, 2), dot(90, 6), dot(7, 63)]).unwrap();
        let shown = mono();
        let changes: heapless::Vec<Rectangle, 8> = next.changes(&shown).collect();
        let first = Rectangle::new(Point::new(3, 0), Size::new(88, 8));
        let last = Rectangle::new(Point::new(7, 56), Size::new(1, 8));
        assert_eq!(changes.as_slice(), [first, last]);
        assert_eq!(Mono::bytes_of(first), 88);
        assert_eq!(shown.changes(&shown).count(), 0);
    }

    #[test]
    fn sending_the_changes_makes_the_pictures_equal() {
        let mut next: Frame<Rgb565, COLOUR_320X240> = Frame::new(Size::new(320, 240)).unwrap();
        let mut shown = next.clone();
        next.fill_solid(
            &Rectangle::new(Point::new(11, 13), Size::new(200, 31)),
            Rgb565::RED,
        )
        .unwrap();
        let changes: heapless::Vec<Rectangle, 30> = next.changes(&shown).collect();
        for area in changes {
            shown.fill_contiguous(&area, next.pixels_of(area)).unwrap();
        }
        assert!(next == shown);
    }

    #[test]
    fn colours_come_back_as_they_were_put() {
        let mut frame: Frame<Rgb565, 8> = Frame::new(Size::new(2, 2)).unwrap();
        let odd = Rgb565::new(21, 42, 13);
        frame.draw_iter([Pixel(Point::new(1, 1), odd)]).unwrap();
        assert_eq!(frame.at(1, 1), Some(odd));
        assert_eq!(frame.half_blocks().last().unwrap().lower, odd.rgb());
    }
}
