//! The last hours: mean and gusts, the limit that was in force, and the calls
//! that stood.

use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::Rectangle;

use cringle_core::event::Call;
use cringle_core::text::{Text, format};
use cringle_core::view::{TREND_MINUTES, TrendMinute};

use super::Scene;
use super::pen::Pen;
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::print::Print;

/// Draws the page below its title.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::of_height(if area.size.height > 90 { 12 } else { 10 });
    let (hours, area) = area.cut_bottom(print.line_height());
    let (scale, area) = area.cut_left(2 * print.width() + 2);
    let (calls, plot) = area.cut_bottom((area.size.height / 8).clamp(5, 14));
    let graph = Graph {
        plot: plot.cut_top(2).1,
        calls,
        top_kn: top(&scene.view.trend),
    };
    graph.scale(pen, scale, print)?;
    hour_marks(pen, hours, &graph, print, scene)?;
    if scene.view.trend.is_empty() {
        pen.line(
            plot,
            scene.words.page.not_measured,
            print,
            Side::Middle,
            Role::Ink,
        )?;
        return Ok(());
    }
    graph.minutes(pen, &scene.view.trend)
}

struct Graph {
    plot: Rectangle,
    calls: Rectangle,
    top_kn: f32,
}

fn top(trend: &[TrendMinute]) -> f32 {
    let highest = trend
        .iter()
        .flat_map(|minute| [minute.gust_kn, minute.mean_kn, minute.limit_kn])
        .flatten()
        .filter(|kn| kn.is_finite())
        .fold(20.0_f32, f32::max);
    10.0 * libm::ceilf(highest / 10.0)
}

impl Graph {
    fn row(&self, knots: f32) -> i32 {
        let height = self.plot.size.height.max(1) - 1;
        let share = (knots / self.top_kn).clamp(0.0, 1.0);
        self.plot.top_left.y + (height as f32 * (1.0 - share) + 0.5) as i32
    }

    /// Left edge of a minute, counted back from now.
    fn column(&self, minutes_ago: usize) -> i32 {
        let width = self.plot.size.width as usize;
        let from_right = minutes_ago.min(TREND_MINUTES) * width / TREND_MINUTES;
        self.plot.top_left.x + (width - from_right) as i32
    }

    fn scale<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        area: Rectangle,
        print: Print,
    ) -> Result<(), D::Error> {
        let step = if self.plot.size.height > 60 { 10 } else { 20 };
        for knots in (step..=self.top_kn as u32).step_by(step as usize) {
            let y = self.row(knots as f32);
            let height = print.line_height();
            let corner = Point::new(
                area.top_left.x,
                (y - height as i32 / 2).max(area.top_left.y),
            );
            let cell = Rectangle::new(corner, Size::new(area.size.width, height));
            let figure: Text<4> = format(format_args!("{knots}"));
            pen.line(cell, &figure, print, Side::Left, Role::Faint)?;
            for x in (0..self.plot.size.width as i32).step_by(6) {
                pen.across(self.plot.top_left.x + x, 1, y, 1, Role::Faint)?;
            }
        }
        Ok(())
    }

    fn minutes<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        trend: &[TrendMinute],
    ) -> Result<(), D::Error> {
        let thick = if self.plot.size.height > 60 { 2 } else { 1 };
        for (index, minute) in trend.iter().enumerate() {
            let ago = trend.len() - index;
            let (x, next) = (self.column(ago), self.column(ago - 1));
            let width = (next - x).max(1) as u32;
            self.wind(pen, minute, x, width, thick)?;
            if let Some(limit) = minute.limit_kn {
                // On mono a line of ink would be lost in the solid wind just
                // when the limit is passed.
                let is_drowned = minute.mean_kn.is_some_and(|mean| mean >= limit);
                let role = if is_drowned { Role::Ground } else { Role::Ink };
                pen.across(x, width, self.row(limit), thick, role)?;
            }
            self.call(pen, minute.call, x, width)?;
        }
        Ok(())
    }

    /// Solid up to the mean, dotted to the gust; nothing where nothing was
    /// measured, which the call's row then shows as blind.
    fn wind<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        minute: &TrendMinute,
        x: i32,
        width: u32,
        thick: u32,
    ) -> Result<(), D::Error> {
        let Some(mean) = minute.mean_kn else {
            return Ok(());
        };
        let bottom = self.plot.top_left.y + self.plot.size.height as i32;
        let level = self.row(mean);
        let solid = Size::new(width, (bottom - level).max(0) as u32);
        pen.fill(Rectangle::new(Point::new(x, level), solid), Role::Wind)?;
        if let Some(gust) = minute.gust_kn {
            pen.across(x, width, self.row(gust), thick, Role::Wind)?;
        }
        Ok(())
    }

    /// A call by the height of its mark: a low one for prepare, a full one
    /// for reduce, full with a gap for past, a dotted one for blind.
    fn call<D: Surface>(
        &self,
        pen: &mut Pen<'_, D>,
        call: Call,
        x: i32,
        width: u32,
    ) -> Result<(), D::Error> {
        let row = self.calls.cut_top(1).1;
        let column = Rectangle::new(
            Point::new(x, row.top_left.y),
            Size::new(width, row.size.height),
        );
        let half = column.cut_bottom(column.size.height / 2).0;
        match call {
            Call::None => pen.fill(column.cut_bottom(1).0, Role::Faint),
            Call::Prepare => pen.fill(half, Role::Ink),
            Call::Reduce => pen.fill(column, Role::Ink),
            Call::Past => {
                pen.fill(column, Role::AlarmGround)?;
                pen.fill(half.cut_top(1).0, Role::Ground)
            }
            Call::Blind if x % 4 < 2 => pen.fill(column, Role::Ink),
            Call::Blind => Ok(()),
        }
    }
}

fn hour_marks<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    graph: &Graph,
    print: Print,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    for hours in [3, 2, 1, 0] {
        let label: Text<12> = match hours {
            0 => format(format_args!("{}", scene.words.page.now)),
            hours => format(format_args!("-{hours}h")),
        };
        let width = label.chars().count() as u32 * print.width();
        let x = graph.column(hours * 60);
        let right = area.top_left.x + area.size.width as i32 - width as i32;
        let x = (x - width as i32 / 2).clamp(area.top_left.x, right.max(area.top_left.x));
        let cell = Rectangle::new(
            Point::new(x, area.top_left.y),
            Size::new(width, area.size.height),
        );
        pen.line(cell, &label, print, Side::Left, Role::Faint)?;
    }
    Ok(())
}
