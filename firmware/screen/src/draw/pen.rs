//! The few strokes that all pages are made of, painted by role.

use embedded_graphics::Drawable;
use embedded_graphics::draw_target::DrawTargetExt;
use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::{Line, Primitive, PrimitiveStyle, Rectangle};

use crate::boxes::Cut;
use crate::hue::{Hue, Look, Palette, Role, Surface};
use crate::letters::{self, Side};
use crate::print::{self, Case, Print};

/// Paints on a target with one look.
pub(crate) struct Pen<'a, D> {
    pub(crate) target: &'a mut D,
    pub(crate) look: Look,
    /// How the smallest print is set.
    pub(crate) small_case: Case,
}

/// What a line of words says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    /// Something is wrong.
    Wrong,
    /// All is well.
    Well,
}

impl<D: Surface> Pen<'_, D> {
    pub(crate) fn colour(&self, role: Role) -> D::Color {
        D::Color::of(role, self.look)
    }

    /// Whether a ground can be told by its colour: not on mono, not by night.
    pub(crate) fn has_day_colours(&self) -> bool {
        D::Color::HAS_COLOURS && self.look.palette == Palette::Day
    }

    pub(crate) fn fill(&mut self, area: Rectangle, role: Role) -> Result<(), D::Error> {
        let colour = self.colour(role);
        self.target.fill_solid(&area, colour)
    }

    pub(crate) fn frame(
        &mut self,
        area: Rectangle,
        thick: u32,
        role: Role,
    ) -> Result<(), D::Error> {
        let (top, _) = area.cut_top(thick);
        let (bottom, _) = area.cut_bottom(thick);
        let (left, _) = area.cut_left(thick);
        let (right, _) = area.cut_right(thick);
        for side in [top, bottom, left, right] {
            self.fill(side, role)?;
        }
        Ok(())
    }

    /// A line of words, if there is room for it; gives what is left. What is
    /// wrong stands on a solid ground.
    pub(crate) fn tell(
        &mut self,
        area: Rectangle,
        words: &str,
        print: Print,
        weight: Weight,
    ) -> Result<Rectangle, D::Error> {
        let (line, rest) = area.cut_top(print.line_height());
        if line.size.height < print.line_height() {
            return Ok(rest);
        }
        let role = match weight {
            Weight::Wrong => {
                self.fill(line, Role::Ink)?;
                Role::Ground
            }
            Weight::Well => Role::Ink,
        };
        self.line(line.cut_left(2).1, words, print, Side::Left, role)?;
        Ok(rest)
    }

    /// A frame of dashes: something that is not there.
    pub(crate) fn dashes(
        &mut self,
        area: Rectangle,
        thick: u32,
        role: Role,
    ) -> Result<(), D::Error> {
        let (w, h) = (area.size.width as i32, area.size.height as i32);
        let step = 4 * thick as i32;
        let dash = 2 * thick;
        let at = |x: i32, y: i32, size| Rectangle::new(area.top_left + Point::new(x, y), size);
        let far = thick as i32;
        for x in (0..w).step_by(step.max(1) as usize) {
            let size = Size::new(dash.min((w - x) as u32), thick);
            self.fill(at(x, 0, size), role)?;
            self.fill(at(x, h - far, size), role)?;
        }
        for y in (0..h).step_by(step.max(1) as usize) {
            let size = Size::new(thick, dash.min((h - y) as u32));
            self.fill(at(0, y, size), role)?;
            self.fill(at(w - far, y, size), role)?;
        }
        Ok(())
    }

    pub(crate) fn across(
        &mut self,
        x: i32,
        width: u32,
        y: i32,
        thick: u32,
        role: Role,
    ) -> Result<(), D::Error> {
        self.fill(
            Rectangle::new(Point::new(x, y), Size::new(width, thick)),
            role,
        )
    }

    pub(crate) fn stroke(
        &mut self,
        from: Point,
        to: Point,
        thick: u32,
        role: Role,
    ) -> Result<(), D::Error> {
        let style = PrimitiveStyle::with_stroke(self.colour(role), thick);
        Line::new(from, to).into_styled(style).draw(self.target)
    }

    /// Slanted lines, kept inside the area.
    pub(crate) fn hatch(
        &mut self,
        area: Rectangle,
        gap: u32,
        thick: u32,
        role: Role,
    ) -> Result<(), D::Error> {
        let style = PrimitiveStyle::with_stroke(self.colour(role), thick);
        let (w, h) = (area.size.width as i32, area.size.height as i32);
        let mut inside = self.target.clipped(&area);
        for start in (-h..w).step_by(gap.max(1) as usize) {
            let from = area.top_left + Point::new(start, h);
            let to = area.top_left + Point::new(start + h, 0);
            Line::new(from, to).into_styled(style).draw(&mut inside)?;
        }
        Ok(())
    }

    /// Two thick diagonals with an edge of ground: what is under them is not
    /// to be read.
    pub(crate) fn cross(&mut self, area: Rectangle) -> Result<(), D::Error> {
        let thick = (area.size.height / 10).clamp(2, 8);
        let (w, h) = (area.size.width as i32 - 1, area.size.height as i32 - 1);
        let corners = [
            (Point::zero(), Point::new(w, h)),
            (Point::new(0, h), Point::new(w, 0)),
        ];
        for (role, thick) in [(Role::Ground, thick + 4), (Role::Cross, thick)] {
            let style = PrimitiveStyle::with_stroke(self.colour(role), thick);
            let mut inside = self.target.clipped(&area);
            for (from, to) in corners {
                Line::new(area.top_left + from, area.top_left + to)
                    .into_styled(style)
                    .draw(&mut inside)?;
            }
        }
        Ok(())
    }

    /// Our own large letters, as large as fits.
    pub(crate) fn big(
        &mut self,
        area: Rectangle,
        word: &str,
        side: Side,
        role: Role,
    ) -> Result<(), D::Error> {
        let colour = self.colour(role);
        letters::draw(self.target, area, word, side, colour)
    }

    /// One line of print.
    pub(crate) fn line(
        &mut self,
        area: Rectangle,
        words: &str,
        print: Print,
        side: Side,
        role: Role,
    ) -> Result<(), D::Error> {
        let colour = self.colour(role);
        let case = if print == Print::SMALLEST {
            self.small_case
        } else {
            Case::AsWritten
        };
        print::line(self.target, area, words, (print, case, side), colour)
    }

    /// Wrapped print from the top; gives what is left of the area.
    pub(crate) fn paragraph(
        &mut self,
        area: Rectangle,
        words: &str,
        print: Print,
        role: Role,
    ) -> Result<Rectangle, D::Error> {
        let room = print.fitting(area.size.width);
        let mut left = area;
        let mut words = words;
        while !words.is_empty() && room > 0 && left.size.height >= print.line_height() - 1 {
            let (row, below) = left.cut_top(print.line_height());
            let last = below.size.height < print.line_height() - 1;
            let (head, rest) = if last {
                (words, "")
            } else {
                print::wrap(words, room)
            };
            self.line(row, head, print, Side::Left, role)?;
            left = below;
            words = rest;
        }
        Ok(left)
    }
}
