//! A call that nobody has acknowledged: it takes over any page.

use embedded_graphics::primitives::Rectangle;

use cringle_core::text::{Text, format, text};
use heapless::Vec;

use super::headline::{Headline, headline};
use super::home::{drawn_at, number, tick};
use super::layout;
use super::notes::{Note, fault_note, hands_to_call, why_that_plan};
use super::pen::Pen;
use super::{Scene, word};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};
use crate::ui::lists::rung;

/// Draws the call.
pub(crate) fn draw<D: Surface>(pen: &mut Pen<'_, D>, scene: &Scene<'_>) -> Result<(), D::Error> {
    let layout = layout::call(scene.panel);
    let head = headline(scene.view, scene.aboard, scene.words);
    word::draw(pen, layout.word, &head, scene)?;
    number(pen, layout.number, &head)?;
    side(pen, layout.side, &head, scene)?;
    let line = line_of_now(scene);
    let print = layout::print(scene.panel);
    let print = Print::fit(print::count(&line), layout.lines).at_most(print);
    pen.line(layout.lines, &line, print, Side::Left, Role::Ink)
}

/// How long each of several lines stands where there is room for one.
const TURN_MS: u64 = 2_000;

/// Why; where no other line holds them, in turn with who has to come up and
/// why that plan.
fn line_of_now(scene: &Scene<'_>) -> Text<96> {
    let mut turns: Vec<Text<96>, 3> = Vec::new();
    turns.extend([why(scene)]);
    if scene.panel.is_small() {
        turns.extend(hands(scene).map(|hands| text(&hands)));
        turns.extend(why_that_plan(scene.view).map(text));
    }
    let turn = scene.view.now.as_millis() / TURN_MS % turns.len().max(1) as u64;
    turns.get(turn as usize).cloned().unwrap_or_default()
}

/// That the bunk is being called, or who has to be.
fn hands(scene: &Scene<'_>) -> Option<Note> {
    match scene.view.sounds.bunk {
        Some(_) => Some(text(scene.words.home.bunk_called)),
        None => hands_to_call(scene.view, scene.words),
    }
}

/// Unit, then what to go to, then why where no line holds it.
fn side<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let small = layout::print(scene.panel);
    let (first, rest) = area.cut_top(small.line_height());
    let unit = match scene.panel.kind {
        Kind::Lit => {
            let (spot, unit) = first.cut_right(small.line_height());
            tick(pen, spot, scene)?;
            unit
        }
        Kind::Paper => {
            let drawn = drawn_at(scene);
            let (spot, unit) = first.cut_right(print::count(&drawn) as u32 * small.width());
            pen.line(spot, &drawn, small, Side::Right, Role::Ink)?;
            unit
        }
    };
    let (line, more) = print::wrap(&head.unit, small.fitting(unit.size.width));
    pen.line(unit, line, small, Side::Left, Role::Ink)?;
    let rest = pen.paragraph(rest, more, small, Role::Ink)?;
    let next = scene.view.next.and_then(|id| rung(scene.view, id));
    let short: Text<12> = match next {
        Some(rung) => format(format_args!(">{}", rung.short)),
        None => text(""),
    };
    let (row, mut below) = rest.cut_top(Print::fit(print::count(&short), rest).line_height());
    let large = Print::fit(print::count(&short), row);
    pen.line(row, &short, large, Side::Left, Role::Ink)?;
    // Who has to come up, and why that plan: before why at all.
    let fine = Print::of_height(13).at_most(small);
    if let Some(hands) = hands(scene) {
        below = pen.paragraph(below, &hands, fine, Role::Ink)?;
    }
    if let Some(because) = why_that_plan(scene.view) {
        below = pen.paragraph(below, because, fine, Role::Ink)?;
    }
    let below = if layout::call(scene.panel).lines.size.height > 0 {
        below
    } else {
        pen.paragraph(below, &why(scene), fine, Role::Ink)?
    };
    if let Some(rung) = next.filter(|rung| rung.name != rung.short.as_str()) {
        pen.paragraph(below, &rung.name, small, Role::Ink)?;
    }
    Ok(())
}

/// The core's reason, or the first fault where it gives none.
fn why(scene: &Scene<'_>) -> Text<96> {
    if !scene.view.call.why.is_empty() {
        return scene.view.call.why.clone();
    }
    match (scene.view.faults.first(), scene.view.call.cause) {
        (Some(&fault), _) => text(&fault_note(fault, scene.words)),
        (None, Some(cause)) => text((scene.words.name.cause)(cause)),
        (None, None) => text(""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::Panel;
    use crate::samples;
    use crate::ui::Ui;
    use crate::words::ENGLISH;
    use core::time::Duration;

    #[test]
    fn the_smallest_panel_tells_in_turn_what_larger_ones_tell_at_once() {
        let aboard = samples::aboard(&[], &[]);
        let ui = Ui::new();
        let told = |later: u64| {
            let mut view = samples::alternative();
            view.now = view.now.after(Duration::from_secs(later));
            line_of_now(&Scene {
                view: &view,
                aboard: &aboard,
                ui: &ui,
                panel: &Panel::OLED_2_42,
                words: &ENGLISH,
            })
        };
        let lines = [0, 2, 4, 6].map(told);
        for words in ["limit 24", "wake 1 below", "reef 2 would not last"] {
            assert!(lines.iter().any(|line| line.contains(words)), "{words}");
        }
        assert_eq!(lines.first(), lines.last());
    }
}
