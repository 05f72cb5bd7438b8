//! Home: the ladder, the word, the number, the plans.

use embedded_graphics::Drawable;
use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::{Circle, Primitive, PrimitiveStyle, Rectangle};

use super::headline::{Headline, Trust, headline, no_next_plan};
use super::layout;
use super::notes::{Room, age, notes};
use super::pen::Pen;
use super::{Scene, rungs, word};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};
use crate::ui::lists::rung;
use cringle_core::text::{Text, format, text};

/// Draws home.
pub(crate) fn draw<D: Surface>(pen: &mut Pen<'_, D>, scene: &Scene<'_>) -> Result<(), D::Error> {
    let layout = layout::home(scene.panel);
    let head = headline(scene.view, scene.aboard, scene.words);
    if let Some(area) = layout.ladder {
        rungs::draw(pen, area, scene)?;
    }
    word::draw(pen, layout.word, &head, scene)?;
    number(pen, layout.number, &head)?;
    if scene.panel.is_small() {
        small_side(pen, layout.side, &head, scene)?;
        if !scene.ui.names_keys() {
            small_line(pen, layout.lines, scene)?;
        }
        return Ok(());
    }
    side(pen, layout.side, &head, scene)?;
    lines(pen, layout.lines, scene)
}

/// The number, crossed out where it is not to be read.
pub(crate) fn number<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
) -> Result<(), D::Error> {
    pen.big(area, &head.number, Side::Left, Role::Ink)?;
    match head.trust {
        Trust::Good => Ok(()),
        Trust::Crossed => pen.cross(area),
    }
}

/// What the number counts; below it the notes, where lines don't hold them.
fn side<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = side_print(area, scene);
    let (first, below) = area.cut_top(print.line_height());
    if scene.panel.is_tall() {
        let (spot, rest) = first.cut_right(print.line_height());
        tick(pen, spot, scene)?;
        let fitted = Print::fit(print::count(&head.unit), rest).at_most(print);
        return pen.line(rest, &head.unit, fitted, Side::Left, Role::Ink);
    }
    let (unit, more) = print::wrap(&head.unit, print.fitting(first.size.width));
    pen.line(first, unit, print, Side::Left, Role::Ink)?;
    let below = pen.paragraph(below, more, print, Role::Ink)?;
    list_notes(pen, below, print, scene)
}

/// The largest print in which "unconfirmed" stands on one line.
fn side_print(area: Rectangle, scene: &Scene<'_>) -> Print {
    let width = Rectangle::new(area.top_left, Size::new(area.size.width, 40));
    Print::fit(11, width).at_most(layout::print(scene.panel))
}

/// Notes one below the other; what does not fit is counted.
fn list_notes<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    print: Print,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let space = if scene.panel.is_small() {
        Room::Scant
    } else {
        Room::Ample
    };
    let all = notes(scene.view, scene.aboard, scene.words, space);
    let room = print.fitting(area.size.width);
    let mut left = area;
    let mut shown = 0;
    for note in &all {
        let rows = rows_of(note, room);
        let needed = rows * print.line_height();
        let after = all.len() - shown - 1;
        let reserve = if after > 0 { print.line_height() } else { 0 };
        if left.size.height + 2 < needed + reserve
            && !(shown == 0 && left.size.height >= print.line_height())
        {
            break;
        }
        left = pen.paragraph(left, note, print, Role::Ink)?;
        shown += 1;
    }
    let hidden = all.len() - shown;
    if hidden > 0 && left.size.height + 2 >= print.line_height() {
        let more: Text<8> = format(format_args!("+{hidden}"));
        pen.line(
            left.cut_top(print.line_height()).0,
            &more,
            print,
            Side::Left,
            Role::Ink,
        )?;
    }
    Ok(())
}

fn rows_of(note: &str, room: usize) -> u32 {
    let mut rows = 0;
    let mut rest = note;
    while !rest.is_empty() && rows < 12 {
        rest = print::wrap(rest, room).1;
        rows += 1;
    }
    rows
}

/// On the smallest panels: unit, tick and notes in one narrow column.
fn small_side<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::SMALLEST;
    let (first, below) = area.cut_top(print.line_height());
    let (spot, rest) = first.cut_right(print.line_height());
    tick(pen, spot, scene)?;
    let fits = print::count(&head.unit) <= print.fitting(rest.size.width);
    let unit = match head.trust {
        Trust::Good if fits => head.unit.as_str(),
        Trust::Good if head.number.starts_with(|c: char| !c.is_alphabetic()) => {
            scene.words.home.minutes
        }
        Trust::Good | Trust::Crossed => "",
    };
    pen.line(rest, unit, print, Side::Left, Role::Ink)?;
    list_notes(pen, below, print, scene)
}

/// Plans, and the wind where there is room.
fn small_line<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::SMALLEST;
    let plans = plans_in_one_line(scene);
    let heard = scene.view.wind.mean_1min_kn;
    let wind: Text<8> = match heard.filter(|_| !scene.aboard.alive.is_stopped(scene.view)) {
        Some(mean) => format(format_args!("{mean:.0}{}", scene.words.page.knots)),
        None => text(scene.words.home.unknown),
    };
    let room = print.fitting(area.size.width);
    if print::count(&plans) + print::count(&wind) < room {
        pen.line(area, &wind, print, Side::Right, Role::Ink)?;
    }
    pen.line(area, &plans, print, Side::Left, Role::Ink)
}

/// Set and next plan, then on tall panels notes.
fn lines<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = layout::print(scene.panel);
    if scene.panel.kind == Kind::Paper {
        return paper_line(pen, area, scene);
    }
    let home = &scene.words.home;
    let (tick_box, values) = if scene.panel.is_tall() {
        (None, area)
    } else {
        let (tick_box, rest) = area.cut_right(2 * print.line_height());
        (Some(tick_box.shrink(3)), rest)
    };
    if let Some(spot) = tick_box {
        tick(pen, spot, scene)?;
    }
    let label = 5 * print.width();
    let (set_row, rest) = values.cut_top(print.line_height());
    let (next_row, rest) = rest.cut_top(print.line_height());
    let rows = [
        (set_row, home.set, set_plan(scene)),
        (next_row, home.next, next_plan(scene)),
    ];
    for (row, name, value) in rows {
        let (left, right) = row.cut_left(label);
        pen.line(left, name, print, Side::Left, Role::Faint)?;
        let fitted = Print::fit(print::count(&value), right).at_most(print);
        pen.line(right, &value, fitted, Side::Left, Role::Ink)?;
    }
    list_notes(pen, rest, print, scene)
}

/// Plans, and in place of the tick when this was drawn: paper shows an old
/// picture as well as a new one.
fn paper_line<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::of_height(area.size.height);
    let drawn = drawn_at(scene);
    let (right, left) = area.cut_right((print::count(&drawn) as u32 + 1) * print.width());
    pen.line(
        left,
        &plans_in_one_line(scene),
        print,
        Side::Left,
        Role::Ink,
    )?;
    pen.line(right, &drawn, print, Side::Right, Role::Ink)
}

/// "drawn 05:33z", or since the start where UTC is not known.
pub(crate) fn drawn_at(scene: &Scene<'_>) -> Text<24> {
    let drawn = scene.words.home.drawn_at;
    match scene.view.unix_ms {
        Some(unix_ms) => {
            let minutes = unix_ms.div_euclid(60_000).rem_euclid(1440);
            format(format_args!(
                "{drawn} {:02}:{:02}z",
                minutes / 60,
                minutes % 60
            ))
        }
        None => {
            let up = scene.view.now.as_millis() / 60_000;
            format(format_args!("{drawn} +{}:{:02}", up / 60, up % 60))
        }
    }
}

/// "reef 1 3h > reef 2".
fn plans_in_one_line(scene: &Scene<'_>) -> Text<48> {
    format(format_args!("{} > {}", set_plan(scene), next_short(scene)))
}

/// The plan believed set, with the age of that belief.
fn set_plan(scene: &Scene<'_>) -> Text<48> {
    let view = scene.view;
    let name = rung(view, view.plan.id).map_or(scene.words.home.not_said, |rung| &rung.short);
    match view.plan.confirmed {
        Some(at) => format(format_args!("{name} {}", age(view.now.secs_since(at)))),
        None => format(format_args!("{name} {}", scene.words.home.not_said)),
    }
}

fn next_short(scene: &Scene<'_>) -> Text<48> {
    match scene.view.next.and_then(|id| rung(scene.view, id)) {
        Some(rung) => text(&rung.short),
        None => text(no_next_plan(scene.view, scene.words)),
    }
}

fn next_plan(scene: &Scene<'_>) -> Text<48> {
    let set = rung(scene.view, scene.view.plan.id);
    let limit = set.and_then(|rung| rung.limit_kn);
    match (scene.view.next.and_then(|id| rung(scene.view, id)), limit) {
        (Some(next), Some(limit)) => format(format_args!(
            "{} @ {limit:.0} {}",
            next.short, scene.words.page.knots
        )),
        (Some(next), None) => text(&next.short),
        (None, _) => text(no_next_plan(scene.view, scene.words)),
    }
}

/// The sign of life: a hand that goes round while everything upstream runs,
/// crossed out when it stands.
pub(crate) fn tick<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    const HANDS: [(i32, i32); 8] = [
        (0, -2),
        (1, -1),
        (2, 0),
        (1, 1),
        (0, 2),
        (-1, 1),
        (-2, 0),
        (-1, -1),
    ];
    let side = area
        .size
        .width
        .min(area.size.height)
        .saturating_sub(1)
        .max(5)
        | 1;
    let corner = area.top_left + Point::new((area.size.width as i32 - side as i32).max(0), 0);
    let ring = Rectangle::new(corner, Size::new(side, side));
    if scene.aboard.alive.is_stopped(scene.view) {
        return pen.cross(ring);
    }
    let style = PrimitiveStyle::with_stroke(pen.colour(Role::Faint), 1);
    Circle::new(corner, side)
        .into_styled(style)
        .draw(pen.target)?;
    let middle = corner + Point::new(side as i32 / 2, side as i32 / 2);
    let (x, y) = HANDS
        .get(scene.aboard.alive.beats as usize % 8)
        .copied()
        .unwrap_or((0, 0));
    let reach = side as i32 / 2;
    let thick = if side > 12 { 3 } else { 1 };
    let tip = middle + Point::new(x * reach / 2, y * reach / 2);
    pen.stroke(middle, tip, thick, Role::Ink)
}
