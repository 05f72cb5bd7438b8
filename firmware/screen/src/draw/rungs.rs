//! The ladder as the picture: rungs at their limits in knots, and the wind as
//! a column that climbs them.
//!
//! ```text
//!   40 |=====| storm jib     each rung stands at the limit of its plan
//!   30 |=====| reef 2
//!      | .:. |               slanted: the gusts of the last ten minutes
//!   24>|#####|<reef 1        thick, with arrows: the plan that is set
//!      |  #<>|               hollow: where the mean is likely to be at call time
//!   18 |==#==| full          solid: the one-minute mean
//!      |  #  |
//! ```

use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::Rectangle;

use cringle_core::text::{Text, format};
use cringle_core::view::{RungView, View};

use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::print::Print;
use crate::words::Words;

use super::Scene;
use super::pen::Pen;

/// Draws the ladder into an area; crossed out where there is no wind.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let (view, words) = (scene.view, scene.words);
    let picture = Picture::of(area, view);
    picture.rails(pen)?;
    picture.rungs(pen, view)?;
    // When everything has stopped, the wind last heard is not shown at all.
    match view
        .wind
        .mean_1min_kn
        .filter(|_| !scene.aboard.alive.is_stopped(scene.view))
    {
        Some(mean) => picture.wind(pen, view, mean, words),
        None => picture.no_wind(pen, words),
    }
}

/// Where things stand.
struct Picture {
    /// Numbers left of the rails.
    figures: Rectangle,
    /// Between and with the rails.
    rails: Rectangle,
    /// Names right of the rails; may have no width.
    names: Rectangle,
    /// The figure of the wind, under the rails; may have no height.
    foot: Rectangle,
    print: Print,
    /// The largest in which every name stands whole.
    names_print: Print,
    top_kn: f64,
}

impl Picture {
    fn of(area: Rectangle, view: &View) -> Picture {
        let print = Print::of_height(if area.size.width >= 80 { 12 } else { 10 });
        let foot_height = if area.size.width >= 80 {
            Print::of_height(17).line_height()
        } else {
            0
        };
        let (foot, body) = area.cut_bottom(foot_height);
        let (figures, rest) = body.cut_left(2 * print.width() + 1);
        let longest = view
            .ladder
            .iter()
            .map(|rung| rung.short.chars().count())
            .max()
            .unwrap_or(0);
        let names_width = if area.size.width >= 70 {
            (longest as u32 * print.width() + 7).min(rest.share_of_width(66))
        } else {
            0
        };
        let (names, rails) = rest.cut_right(names_width);
        let highest = view
            .ladder
            .iter()
            .filter_map(|rung| rung.limit_kn)
            .chain(view.wind.gust_kn)
            .chain(view.wind.mean_1min_kn)
            .chain(view.wind.likely_kn.map(|likely| likely[2]))
            .filter(|kn| kn.is_finite())
            .fold(20.0, f64::max);
        Picture {
            figures,
            rails,
            names,
            foot,
            print,
            names_print: Print::fit(longest, names.cut_left(6).1).at_most(print),
            top_kn: highest * 1.08,
        }
    }

    /// The row of a wind speed.
    fn row(&self, knots: f64) -> i32 {
        let height = f64::from(self.rails.size.height.max(1) - 1);
        let share = (knots / self.top_kn).clamp(0.0, 1.0);
        self.rails.top_left.y + (height * (1.0 - share) + 0.5) as i32
    }

    fn bottom(&self) -> i32 {
        self.rails.top_left.y + self.rails.size.height as i32
    }

    /// The column that the wind climbs: the middle of the rails.
    fn column(&self) -> (i32, u32) {
        let width = (self.rails.size.width * 2 / 5).max(5);
        let left = self.rails.top_left.x
            + ((self.rails.size.width - width.min(self.rails.size.width)) / 2) as i32;
        (left, width)
    }

    fn rails<D: Surface>(&self, pen: &mut Pen<'_, D>) -> Result<(), D::Error> {
        let thick = self.rail_thickness();
        pen.fill(self.rails.cut_left(thick).0, Role::Faint)?;
        pen.fill(self.rails.cut_right(thick).0, Role::Faint)
    }

    fn rail_thickness(&self) -> u32 {
        if self.rails.size.width >= 30 { 2 } else { 1 }
    }

    fn rungs<D: Surface>(&self, pen: &mut Pen<'_, D>, view: &View) -> Result<(), D::Error> {
        // The plan that is set is labelled first, then the next: where labels
        // would touch, the lesser is left off, never the one that matters.
        let mut labelled: heapless::Vec<i32, 16> = heapless::Vec::new();
        let set = view.ladder.iter().filter(|rung| rung.id == view.plan.id);
        let next = view
            .ladder
            .iter()
            .filter(|rung| Some(rung.id) == view.next && rung.id != view.plan.id);
        let others = view
            .ladder
            .iter()
            .filter(|rung| rung.id != view.plan.id && Some(rung.id) != view.next);
        for rung in set.chain(next).chain(others) {
            let Some(limit) = rung.limit_kn else { continue };
            let y = self.row(limit);
            let is_set = rung.id == view.plan.id;
            self.rung(pen, y, is_set.into())?;
            let near = self.print.line_height() as i32 - 1;
            if labelled.iter().all(|other| (other - y).abs() >= near) {
                self.label(pen, rung, limit, y, is_set.into())?;
                labelled.extend([y]);
            }
        }
        Ok(())
    }

    fn rung<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        y: i32,
        weight: Weight,
    ) -> Result<(), D::Error> {
        let (x, width) = (self.rails.top_left.x, self.rails.size.width);
        let thick = self.rail_thickness();
        match weight {
            Weight::Set => {
                let thick = 2 * thick + 1;
                pen.across(x - 2, width + 4, y - thick as i32 / 2, thick, Role::Ink)
            }
            Weight::Other => pen.across(x, width, y, thick, Role::Faint),
        }
    }

    fn label<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        rung: &RungView,
        limit: f64,
        y: i32,
        weight: Weight,
    ) -> Result<(), D::Error> {
        let height = self.print.line_height();
        let top = (y - height as i32 / 2).max(self.rails.top_left.y);
        let at = |area: Rectangle| {
            Rectangle::new(
                Point::new(area.top_left.x, top),
                Size::new(area.size.width, height),
            )
        };
        let role = match weight {
            Weight::Set => Role::Ink,
            Weight::Other => Role::Faint,
        };
        let figure: Text<4> = format(format_args!("{limit:.0}"));
        pen.line(at(self.figures), &figure, self.print, Side::Left, role)?;
        let name = at(self.names);
        let (_, name) = name.cut_left(5);
        if weight == Weight::Set && name.size.width > 0 {
            pen.fill(name, Role::Ink)?;
            return pen.line(
                name.cut_left(1).1,
                &rung.short,
                self.names_print,
                Side::Left,
                Role::Ground,
            );
        }
        pen.line(
            name.cut_left(1).1,
            &rung.short,
            self.names_print,
            Side::Left,
            role,
        )
    }

    fn wind<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        view: &View,
        mean: f64,
        words: &Words,
    ) -> Result<(), D::Error> {
        let (x, width) = self.column();
        let level = self.row(mean);
        let solid = Rectangle::new(
            Point::new(x, level),
            Size::new(width, (self.bottom() - level).max(1) as u32),
        );
        pen.fill(solid, Role::Wind)?;
        if let Some(gust) = view.wind.gust_kn {
            let top = self.row(gust).min(level);
            let band = Rectangle::new(Point::new(x, top), Size::new(width, (level - top) as u32));
            pen.hatch(band, 4, 1, Role::Wind)?;
            pen.across(x, width, top, self.rail_thickness(), Role::Wind)?;
        }
        if let Some([low, middle, high]) = view.wind.likely_kn {
            self.likely(pen, low, middle, high)?;
        }
        let told: Text<24> = match view.wind.gust_kn {
            Some(gust) => format(format_args!("{mean:.0} {} {gust:.0}", words.page.gust)),
            None => format(format_args!("{mean:.0} {}", words.page.knots)),
        };
        let print = Print::fit(told.chars().count(), self.foot);
        pen.line(self.foot, &told, print, Side::Left, Role::Ink)
    }

    /// A hollow diamond at the right rail, with a whisker for 1 in 10 below
    /// and above.
    fn likely<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        low: f64,
        middle: f64,
        high: f64,
    ) -> Result<(), D::Error> {
        let half = (self.rails.size.width as i32 / 6).clamp(3, 8);
        let x = self.rails.top_left.x + self.rails.size.width as i32 - half - 1;
        let (low, y, high) = (self.row(low), self.row(middle), self.row(high));
        let thick = self.rail_thickness();
        pen.fill(
            Rectangle::new(
                Point::new(x, high),
                Size::new(thick, (low - high).max(1) as u32),
            ),
            Role::Ink,
        )?;
        for dy in -half..=half {
            let reach = half - dy.abs();
            pen.across(x - reach, (2 * reach + 1) as u32, y + dy, 1, Role::Ink)?;
        }
        let hollow = half - thick as i32 - if thick > 1 { 1 } else { 0 };
        for dy in -hollow..=hollow {
            let reach = hollow - dy.abs();
            pen.across(x - reach, (2 * reach + 1) as u32, y + dy, 1, Role::Ground)?;
        }
        Ok(())
    }

    fn no_wind<D: Surface>(&self, pen: &mut Pen<'_, D>, words: &Words) -> Result<(), D::Error> {
        pen.cross(self.rails)?;
        pen.line(
            self.foot,
            words.home.wind_unknown,
            Print::of_height(17),
            Side::Left,
            Role::Ink,
        )
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Weight {
    Set,
    Other,
}

impl From<bool> for Weight {
    fn from(is_set: bool) -> Weight {
        if is_set { Weight::Set } else { Weight::Other }
    }
}
