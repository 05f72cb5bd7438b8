//! Lists, questions and key labels.

use embedded_graphics::primitives::Rectangle;

use cringle_core::act::{Act, Doing, Readiness, Rigging};
use cringle_core::text::{Text, format, text};
use heapless::Vec;

use super::pen::Pen;
use super::{Scene, layout};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};
use crate::ui::KeyLabel;
use crate::ui::lists::{Choice, List, act_label, choices, label, title};

/// Characters of air in a row of key labels: two between each two.
const APART: usize = 4;

/// Draws a list with its cursor.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    scene: &Scene<'_>,
    list: List,
    cursor: u8,
) -> Result<(), D::Error> {
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
pub(crate) fn question<D: Surface>(
    pen: &mut Pen<'_, D>,
    scene: &Scene<'_>,
    act: Act,
) -> Result<(), D::Error> {
    let menu = &scene.words.menu;
    let area = super::page_title(pen, scene.panel.area(), menu.sure, scene)?;
    let print = Print::of_height(scene.panel.size.height / 8).at_most(Print::of_height(29));
    let area = area.shrink(1);
    // In the dark the usual names above the keys are too small for what is
    // asked here.
    let large = Print::of_height((scene.panel.size.height / 8).max(18));
    let (answers, area) = area.cut_bottom(large.line_height());
    let key = &scene.words.key;
    pen.line(answers, key.no, large, Side::Left, Role::Ink)?;
    pen.line(answers, key.yes, large, Side::Right, Role::Ink)?;
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
pub(crate) fn strip<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    pen.fill(area, Role::Ground)?;
    let labels = scene.ui.labels(scene.view, scene.words);
    let rows = key_rows(&labels, area, scene);
    let role_of = |row| if row == 0 { Role::Ink } else { Role::Faint };
    for (index, (row, words)) in rows.iter().enumerate() {
        let (print, boxes) = apart(*row, words);
        for (label, cell) in words.iter().zip(boxes) {
            pen.line(cell, label, print, Side::Left, role_of(index))?;
        }
    }
    Ok(())
}

type Row = (Rectangle, [Text<32>; 3]);

/// The rows of key labels: short and long presses one above the other, or in
/// one row together, or in turn where there is room for neither.
fn key_rows(labels: &[KeyLabel; 3], area: Rectangle, scene: &Scene<'_>) -> Vec<Row, 2> {
    let hold = scene.words.key.hold;
    let mut rows = Vec::new();
    if area.size.height >= 22 {
        let (_, area) = area.cut_top(1);
        let long = labels.map(|key| match key.long {
            "" => Text::new(),
            long => format(format_args!("{hold}: {long}")),
        });
        rows.extend([
            (area.row(0, 2), labels.map(|key| text(key.short))),
            (area.row(1, 2), long),
        ]);
        return rows;
    }
    let is_wide = scene.panel.kind == Kind::Paper || area.size.width >= 270;
    // Every third 2 s.
    let holds_turn = scene.view.now.as_millis() / 2000 % 3 == 2;
    let row = labels.map(|key| match (key.short, key.long) {
        (short, "") if is_wide => text(short),
        ("", long) if is_wide => format(format_args!("{hold} {long}")),
        (short, long) if is_wide => format(format_args!("{short}/{hold} {long}")),
        (_, "") if holds_turn => Text::new(),
        (_, long) if holds_turn => format(format_args!("_{long}_")),
        (short, _) => text(short),
    });
    rows.extend([(area, row)]);
    rows
}

/// Where three labels stand, each above its key, in one print that keeps them
/// apart: two that touch are read as one.
fn apart(area: Rectangle, labels: &[Text<32>; 3]) -> (Print, [Rectangle; 3]) {
    let [left, middle, right] = labels.each_ref().map(|label| print::count(label));
    let print = Print::fit(left + middle + right + APART, area).at_most(Print::of_height(12));
    let width = |count: usize| count as u32 * print.width();
    let (left_box, rest) = area.cut_left(width(left));
    let (right_box, between) = rest.cut_right(width(right));
    // In the middle of the panel, unless a neighbour reaches too far.
    let spare = between.size.width.saturating_sub(width(middle));
    let gap = print.width().min(spare / 2);
    let wanted = (area.size.width.saturating_sub(width(middle)) / 2).saturating_sub(width(left));
    let from = wanted.clamp(gap, spare - gap);
    let middle_box = between.cut_left(from).1.cut_left(width(middle)).0;
    (print, [left_box, middle_box, right_box])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::Panel;
    use crate::samples;
    use crate::ui::{Key, Press, Ui};
    use crate::words::ENGLISH;
    use cringle_core::time::Timestamp;
    use cringle_core::view::View;

    /// Left, middle and right ends of all labels of a moment.
    fn check(panel: &Panel, view: &View, ui: &Ui) {
        let aboard = samples::aboard(&[], &[]);
        let scene = Scene {
            view,
            aboard: &aboard,
            ui,
            panel,
            words: &ENGLISH,
        };
        let (strip, _) = layout::strip(panel, panel.area());
        let labels = ui.labels(view, &ENGLISH);
        for (row, words) in key_rows(&labels, strip, &scene) {
            let (print, boxes) = apart(row, &words);
            let mut end = None;
            for (label, cell) in words
                .iter()
                .zip(boxes)
                .filter(|(label, _)| !label.is_empty())
            {
                let needed = print::count(label) as u32 * print.width();
                assert_eq!(cell.size.width, needed, "{label} is cut on {panel:?}");
                let left = cell.top_left.x;
                if let Some(end) = end {
                    assert!(left - end >= 5, "{label} touches on {panel:?}: {words:?}");
                }
                end = Some(left + needed as i32);
            }
        }
    }

    #[test]
    fn key_labels_never_touch_nor_are_cut() {
        for panel in [
            Panel::OLED_2_42,
            Panel::PAPER_2_9,
            Panel::TFT_2_8,
            Panel::TFT_2_8_TALL,
        ] {
            for (_, make) in samples::MOMENTS {
                // Short names and, four seconds on, those of long presses.
                for later in [0, 2_000, 4_000] {
                    let mut view = make();
                    view.now = Timestamp::from_millis(view.now.as_millis() + later);
                    let mut ui = Ui::new();
                    check(&panel, &view, &ui);
                    ui.press(Key::Right, Press::Short, &view, view.now);
                    check(&panel, &view, &ui);
                }
            }
        }
    }
}
