//! Lists, questions and key labels.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::primitives::Rectangle;

use cringle_core::act::{Act, Doing, Readiness, Rigging};
use cringle_core::text::{Text, format};

use super::pen::Pen;
use super::{Scene, layout};
use crate::boxes::Cut;
use crate::hue::{Hue, Role};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::Print;
use crate::ui::lists::{Choice, List, act_label, choices, label, title};

/// Draws a list with its cursor.
pub(crate) fn draw<D>(
    pen: &mut Pen<'_, D>,
    scene: &Scene<'_>,
    list: List,
    cursor: u8,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let (_, area) = layout::strip(scene.panel, scene.panel.area());
    let print = list_print(scene);
    let area = super::page_title(pen, area, title(list, scene.words), scene)?;
    let all = choices(list, scene.view);
    let rows = (area.size.height / print.line_height()).max(1);
    // The cursor stays in the middle third, so that neighbours are seen.
    let cursor = (cursor as usize).min(all.len().saturating_sub(1));
    let first = cursor
        .saturating_sub(rows as usize / 2)
        .min(all.len().saturating_sub(rows as usize));
    for (row, (index, &choice)) in all
        .iter()
        .enumerate()
        .skip(first)
        .take(rows as usize)
        .enumerate()
    {
        let (_, below) = area.cut_top(row as u32 * print.line_height());
        let line = below.cut_top(print.line_height()).0;
        let words = entry(choice, scene);
        let role = if index == cursor {
            pen.fill(line, Role::Ink)?;
            Role::Ground
        } else {
            Role::Ink
        };
        pen.line(line.cut_left(2).1, &words, print, Side::Left, role)?;
    }
    Ok(())
}

fn list_print(scene: &Scene<'_>) -> Print {
    let height = scene.panel.size.height;
    Print::of_height(if height < 100 {
        11
    } else {
        (height / 11).min(scene.panel.size.width / 13)
    })
}

/// A choice with its box where it can be ticked.
fn entry(choice: Choice, scene: &Scene<'_>) -> Text<48> {
    let words = label(choice, scene.view, scene.words);
    let ticked = |is| if is { "[x] " } else { "[ ] " };
    match choice {
        // The act says what a press makes of it; the box shows what it is.
        Choice::Tick(Act::Setup { readiness, .. }) => format(format_args!(
            "{}{words}",
            ticked(readiness == Readiness::Open)
        )),
        Choice::Tick(Act::Rigged { rigging, .. }) => format(format_args!(
            "{}{words}",
            ticked(rigging == Rigging::Cleared)
        )),
        Choice::Open(List::Below(_) | List::WindSide(_) | List::NotNowMinutes(_))
        | Choice::Close => format(format_args!("{words}")),
        Choice::Open(_) => format(format_args!("{words} >")),
        Choice::Do(_) | Choice::Tick(_) | Choice::Ask(_) | Choice::Look(_) => {
            format(format_args!("{words}"))
        }
    }
}

/// Draws a question.
pub(crate) fn question<D>(pen: &mut Pen<'_, D>, scene: &Scene<'_>, act: Act) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let (_, area) = layout::strip(scene.panel, scene.panel.area());
    let menu = &scene.words.menu;
    let area = super::page_title(pen, area, menu.sure, scene)?;
    let print = Print::of_height(scene.panel.size.height / 8).at_most(Print::of_height(29));
    let area = area.shrink(2);
    let words = match act {
        Act::Plan(_) => format(format_args!(
            "{}: {}",
            menu.plan_set,
            act_label(act, scene.view, scene.words)
        )),
        Act::Doing(_) => format(format_args!(
            "{} {}",
            menu.doing,
            act_label(act, scene.view, scene.words)
        )),
        _ => act_label(act, scene.view, scene.words)
            .as_str()
            .try_into()
            .unwrap_or_default(),
    };
    let words: Text<64> = words;
    let rest = pen.paragraph(area, &words, print, Role::Ink)?;
    if let Act::Doing(doing) = act {
        pen.paragraph(rest, stop_or_start(doing, scene), print, Role::Ink)?;
    }
    Ok(())
}

fn stop_or_start(doing: Doing, scene: &Scene<'_>) -> &'static str {
    if doing.is_under_sail() {
        scene.words.menu.calls_start
    } else {
        scene.words.menu.calls_stop
    }
}

/// Draws what the keys do, above each key.
pub(crate) fn strip<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    pen.fill(area, Role::Ground)?;
    let labels = scene.ui.labels(scene.view, scene.words);
    let two_rows = area.size.height >= 22;
    let hold = scene.words.key.hold;
    // One row on a small lit panel: short names, and every third 2 s the long
    // ones.
    let holds_turn = scene.view.now.as_millis() / 2000 % 3 == 2;
    for (index, key) in labels.iter().enumerate() {
        let cell = area.column(index as u32, 3);
        let side = [Side::Left, Side::Middle, Side::Right]
            .get(index)
            .copied()
            .unwrap_or(Side::Middle);
        if two_rows {
            let (_, cell) = cell.cut_top(1);
            let print = Print::of_height(12);
            let long: Text<24> = match key.long {
                "" => Text::new(),
                long => format(format_args!("{hold}: {long}")),
            };
            pen.line(cell.row(0, 2), key.short, print, side, Role::Ink)?;
            let row = cell.row(1, 2);
            let fitted = Print::fit(long.chars().count(), row).at_most(print);
            pen.line(row, &long, fitted, side, Role::Faint)?;
        } else if scene.panel.kind == Kind::Paper || cell.size.width >= 90 {
            let words: Text<32> = match (key.short, key.long) {
                (short, "") => format(format_args!("{short}")),
                ("", long) => format(format_args!("{hold} {long}")),
                (short, long) => format(format_args!("{short}/{hold} {long}")),
            };
            pen.line(cell, &words, Print::SMALLEST, side, Role::Ink)?;
        } else if holds_turn {
            let words: Text<16> = match key.long {
                "" => Text::new(),
                long => format(format_args!("_{long}_")),
            };
            pen.line(cell, &words, Print::SMALLEST, side, Role::Ink)?;
        } else {
            pen.line(cell, key.short, Print::SMALLEST, side, Role::Ink)?;
        }
    }
    Ok(())
}
