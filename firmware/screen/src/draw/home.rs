//! Home: the ladder, the word, the number, the plans.

use embedded_graphics::Drawable;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::{Circle, Primitive, PrimitiveStyle, Rectangle};

use cringle_core::text::{Text, format, text};
use cringle_core::view::View;

use super::headline::{Headline, Tone, Trust, headline};
use super::layout::{self, Layout};
use super::notes::{age, notes};
use super::pen::Pen;
use super::{Scene, rungs};
use crate::boxes::Cut;
use crate::hue::{Hue, Role};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};
use crate::ui::is_unanswered;
use crate::ui::lists::rung;

/// Draws home.
pub(crate) fn draw<D>(pen: &mut Pen<'_, D>, scene: &Scene<'_>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let layout = layout::home(scene.panel);
    let head = headline(scene.view, scene.aboard, scene.words);
    if let Some(area) = layout.ladder {
        rungs::draw(pen, area, scene.view, scene.words)?;
        if head.word == scene.words.action.stopped {
            pen.cross(area)?;
        }
    }
    word(pen, layout.word, &head, scene)?;
    number(pen, layout.number, &head)?;
    if scene.panel.is_small() {
        small_side(pen, &layout, &head, scene)?;
        if !scene.ui.names_keys(scene.view.now) {
            let line = plans_in_one_line(scene);
            pen.line(layout.lines, &line, Print::SMALLEST, Side::Left, Role::Ink)?;
        }
        return Ok(());
    }
    side(pen, layout.side, &head, scene)?;
    lines(pen, layout.lines, scene)
}

/// The word on its ground.
pub(crate) fn word<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let thick = (area.size.height / 14).clamp(1, 4);
    // Air between letters and the edge of their ground.
    let air = thick + if area.size.height > 24 { thick + 2 } else { 1 };
    let tone = if is_flashed(scene) {
        flashed(head.tone)
    } else {
        head.tone
    };
    let letters = match tone {
        Tone::Calm => area,
        Tone::Working => {
            let (under, above) = area.cut_bottom(thick);
            pen.fill(under, Role::Ink)?;
            above.cut_bottom(1).1
        }
        Tone::Absent => {
            pen.dashes(area, thick.min(2), Role::Ink)?;
            area.shrink(air)
        }
        Tone::Warning => {
            let ground = if pen.has_day_colours() {
                Some(Role::WarningGround)
            } else {
                None
            };
            if let Some(role) = ground {
                pen.fill(area, role)?;
            }
            pen.frame(area, thick, Role::Ink)?;
            area.shrink(air)
        }
        Tone::Alarm => {
            pen.fill(area, Role::AlarmGround)?;
            area.shrink(air)
        }
        Tone::Past => {
            pen.fill(area, Role::AlarmGround)?;
            let ends = (area.size.width / 14).max(4);
            let gap = (ends / 2).max(4);
            for end in [area.cut_left(ends).0, area.cut_right(ends).0] {
                pen.hatch(end, gap, (gap / 2).max(1), Role::AlarmInk)?;
            }
            let (_, middle) = area.cut_left(ends + 1);
            let (_, middle) = middle.cut_right(ends + 1);
            let (_, middle) = middle.cut_top(air);
            middle.cut_bottom(air).1
        }
    };
    let role = match tone {
        Tone::Calm | Tone::Working | Tone::Absent => Role::Ink,
        Tone::Warning if pen.has_day_colours() => Role::WarningInk,
        Tone::Warning => Role::Ink,
        Tone::Alarm | Tone::Past => Role::AlarmInk,
    };
    pen.big(letters, head.word, Side::Middle, role)
}

/// Flashing swaps frame and solid ground; word and number never go out.
fn flashed(tone: Tone) -> Tone {
    match tone {
        Tone::Warning => Tone::Alarm,
        Tone::Alarm | Tone::Past => Tone::Warning,
        Tone::Calm | Tone::Absent | Tone::Working => tone,
    }
}

/// An unanswered call flashes once a second, six tenths of it as it is when
/// steady (MSC.191(79): at least half). Paper can't flash.
fn is_flashed(scene: &Scene<'_>) -> bool {
    scene.panel.kind == Kind::Lit
        && is_unanswered(scene.view)
        && scene.view.now.as_millis() % 1000 >= 600
}

/// The number, crossed out where it is not to be read.
pub(crate) fn number<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    pen.big(area, &head.number, Side::Left, Role::Ink)?;
    match head.trust {
        Trust::Good => Ok(()),
        Trust::Crossed => pen.cross(area),
    }
}

/// What the number counts, notes, and the sign of life.
fn side<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let print = layout::print(scene.panel);
    let unit_print = if area.size.height > 40 {
        Print::fit(7, area).at_most(print)
    } else {
        print
    };
    let rest = tick_at_right(pen, area, unit_print, scene)?;
    let (first, below) = area.cut_top(unit_print.line_height());
    if below.size.height < unit_print.line_height() {
        return pen.line(rest, &head.unit, unit_print, Side::Left, Role::Ink);
    }
    let first = first.cut_right(unit_print.line_height() + 2).1;
    let (head_words, more) = print::wrap(&head.unit, unit_print.fitting(first.size.width));
    pen.line(first, head_words, unit_print, Side::Left, Role::Ink)?;
    let below = pen.paragraph(below, more, unit_print, Role::Ink)?;
    if home_has_note_lines(scene) {
        return Ok(());
    }
    list_notes(pen, below, print, scene)
}

fn home_has_note_lines(scene: &Scene<'_>) -> bool {
    scene.panel.size.height >= 200
}

/// The tick at the right end of the first line; gives what is left of it.
fn tick_at_right<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    print: Print,
    scene: &Scene<'_>,
) -> Result<Rectangle, D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let (first, _) = area.cut_top(print.line_height());
    let (spot, rest) = first.cut_right(print.line_height());
    if scene.panel.kind == Kind::Lit {
        tick(pen, spot, scene)?;
    }
    Ok(rest)
}

/// Notes one below the other; what does not fit is counted.
fn list_notes<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    print: Print,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let all = notes(scene.view, scene.aboard, scene.words);
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
fn small_side<D>(
    pen: &mut Pen<'_, D>,
    layout: &Layout,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let print = Print::SMALLEST;
    let rest = tick_at_right(pen, layout.side, print, scene)?;
    let (unit, _) = print::wrap(&head.unit, print.fitting(rest.size.width));
    pen.line(rest, unit, print, Side::Left, Role::Ink)?;
    let (_, below) = layout.side.cut_top(print.line_height());
    list_notes(pen, below, print, scene)
}

/// Set and next plan, then notes, each on its line.
fn lines<D>(pen: &mut Pen<'_, D>, area: Rectangle, scene: &Scene<'_>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let print = layout::print(scene.panel);
    if !home_has_note_lines(scene) {
        let line = plans_in_one_line(scene);
        return pen.line(area, &line, print, Side::Left, Role::Ink);
    }
    let (set_row, rest) = area.cut_top(print.line_height());
    let (next_row, rest) = rest.cut_top(print.line_height());
    let label = 5 * print.width();
    let home = &scene.words.home;
    for (row, name, value) in [
        (set_row, home.set, set_plan(scene.view, scene)),
        (next_row, home.next, next_plan(scene)),
    ] {
        let (left, right) = row.cut_left(label);
        pen.line(left, name, print, Side::Left, Role::Faint)?;
        pen.line(right, &value, print, Side::Left, Role::Ink)?;
    }
    list_notes(pen, rest, print, scene)
}

/// "reef 1 3h > reef 2".
fn plans_in_one_line(scene: &Scene<'_>) -> Text<48> {
    format(format_args!(
        "{} > {}",
        set_plan(scene.view, scene),
        next_short(scene)
    ))
}

/// The plan believed set, with the age of that belief.
fn set_plan(view: &View, scene: &Scene<'_>) -> Text<48> {
    let name = rung(view, view.plan.id).map_or(scene.words.home.not_said, |rung| &rung.short);
    match view.plan.confirmed {
        Some(at) => format(format_args!("{name} {}", age(view.now.secs_since(at)))),
        None => format(format_args!("{name} {}", scene.words.home.not_said)),
    }
}

fn next_short(scene: &Scene<'_>) -> Text<48> {
    match scene.view.next.and_then(|id| rung(scene.view, id)) {
        Some(rung) => text(&rung.short),
        None => text(scene.words.home.last_plan),
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
        (None, _) => text(scene.words.home.last_plan),
    }
}

/// The sign of life: a hand that goes round while everything upstream runs,
/// crossed out when it stands.
pub(crate) fn tick<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
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
    if scene.aboard.alive.is_stopped() {
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
