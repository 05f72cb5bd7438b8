//! Set-up items with ticks, and what each buys in minutes; and people.

use embedded_graphics::primitives::Rectangle;

use cringle_core::act::{Readiness, Rigging};
use cringle_core::text::{Text, format, text};
use cringle_core::view::{Light, Opens, SetupView, Wanted};

use super::Scene;
use super::headline::no_next_plan;
use super::notes::hands_to_call;
use super::pen::Pen;
use super::table::{self, Value, row};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::print::{self, Print};
use crate::ui::lists::rung;

/// Draws the set-up page below its title: open items that the next reduction
/// needs first, then what is in the way, then the rest.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let (view, words) = (scene.view, scene.words);
    let print = page_print(scene);
    let mut left = area;
    if view.setup.is_empty() && view.rigged.is_empty() {
        return pen.line(
            left.cut_top(print.line_height()).0,
            words.page.nothing_to_set_up,
            print,
            Side::Left,
            Role::Ink,
        );
    }
    for rank in 0..3 {
        for entry in view.setup.iter().filter(|item| rank_of(item) == rank) {
            left = item(pen, left, entry, print, scene)?;
        }
        if rank == 0 {
            for thing in view
                .rigged
                .iter()
                .filter(|thing| thing.rigging == Rigging::Rigged)
            {
                let (line, rest) = left.cut_top(print.line_height());
                let told: Text<48> =
                    format(format_args!("! {}: {}", words.page.in_the_way, thing.name));
                pen.line(line, &told, print, Side::Left, Role::Ink)?;
                left = rest;
            }
        }
    }
    Ok(())
}

fn rank_of(item: &SetupView) -> u8 {
    match (item.wanted, item.ready) {
        (Wanted::Now, Readiness::Open) => 0,
        (Wanted::Now, Readiness::Ready) => 1,
        (Wanted::Later, _) => 2,
    }
}

/// A box, the name, the minutes; open items that are wanted on a solid
/// ground.
fn item<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    item: &SetupView,
    print: Print,
    scene: &Scene<'_>,
) -> Result<Rectangle, D::Error> {
    let (line, rest) = area.cut_top(print.line_height());
    if line.size.height < print.line_height() {
        return Ok(rest);
    }
    let role = if rank_of(item) == 0 {
        pen.fill(line, Role::Ink)?;
        Role::Ground
    } else {
        Role::Ink
    };
    let mark = match item.ready {
        Readiness::Ready => "[x]",
        Readiness::Open => "[ ]",
    };
    let buys: Text<16> = match item.ready {
        // Time saved says nothing where the change cannot be made at all.
        Readiness::Open if item.opens == Opens::TheChange => text(scene.words.page.needed),
        Readiness::Open if item.buys_min < 0.5 && item.wanted == Wanted::Later => {
            text(scene.words.page.later)
        }
        Readiness::Open => format(format_args!(
            "+{:.0} {}",
            item.buys_min, scene.words.home.minutes
        )),
        Readiness::Ready => text(scene.words.page.ready),
    };
    let (mark_box, line) = line.cut_left(3 * print.width() + print.width() / 2);
    let (buys_box, name_box) = line.cut_right((print::count(&buys) as u32) * print.width() + 2);
    pen.line(mark_box.cut_left(1).1, mark, print, Side::Left, role)?;
    pen.line(name_box, &item.name, print, Side::Left, role)?;
    pen.line(buys_box, &buys, print, Side::Left, role)?;
    Ok(rest)
}

/// Draws the page of hands below its title.
pub(crate) fn people<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let (view, words) = (scene.view, scene.words);
    let people = &view.people;
    let hands: Value = format(format_args!(
        "{} + {} {}",
        people.hands.on_deck, people.hands.below, words.page.below
    ));
    let rows = [
        row(words.page.on_deck, hands),
        row(words.home.next, next(scene)),
        row(words.page.work, work(scene)),
        row(
            words.page.crew,
            text((words.name.condition)(people.condition)),
        ),
        row(words.page.helm, text((words.name.helm)(people.helm))),
        row(words.page.sea, text((words.name.sea)(people.sea))),
        row(
            words.page.daylight,
            text(match people.light {
                Light::Day => words.page.day,
                Light::Night => words.page.night,
                Light::Unknown => words.page.daylight_unknown,
            }),
        ),
        row(words.page.boat, text((words.name.doing)(view.doing))),
    ];
    let fitting = if area.size.height < 60 { 5 } else { rows.len() };
    table::draw(
        pen,
        area.cut_left(2).1,
        rows.get(..fitting).unwrap_or(&rows),
    )
}

/// "reef 2, wake 1 below".
fn next(scene: &Scene<'_>) -> Value {
    let Some(next) = scene.view.next.and_then(|id| rung(scene.view, id)) else {
        return text(no_next_plan(scene.view, scene.words));
    };
    match hands_to_call(scene.view, scene.words) {
        Some(hands) => format(format_args!("{}, {hands}", next.short)),
        None => text(&next.short),
    }
}

/// "17 min: 5+4+8": muster, set-up, change.
fn work(scene: &Scene<'_>) -> Value {
    let minutes = |seconds: f64| seconds / 60.0;
    match scene.view.call.call_time {
        Some(time) => format(format_args!(
            "{:.0} {} = {:.0}+{:.0}+{:.0}",
            minutes(time.total_s()),
            scene.words.home.minutes,
            minutes(time.muster_s),
            minutes(time.setup_s),
            minutes(time.change_s),
        )),
        None => text(scene.words.home.unknown),
    }
}

/// Print of list pages.
pub(crate) fn page_print(scene: &Scene<'_>) -> Print {
    let height = scene.panel.size.height;
    Print::of_height(if height < 100 {
        11
    } else {
        (height / 14).min(scene.panel.size.width / 16).max(12)
    })
}
