//! A call that nobody has answered: it takes over any page.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::primitives::Rectangle;

use cringle_core::text::{Text, format, text};

use super::headline::{Headline, headline};
use super::home::{drawn_at, number, tick};
use super::layout;
use super::notes::fault_note;
use super::pen::Pen;
use super::{Scene, word};
use crate::boxes::Cut;
use crate::hue::{Hue, Role};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};
use crate::ui::lists::rung;

/// Draws the call.
pub(crate) fn draw<D>(pen: &mut Pen<'_, D>, scene: &Scene<'_>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let layout = layout::call(scene.panel);
    let head = headline(scene.view, scene.aboard, scene.words);
    word::draw(pen, layout.word, &head, scene)?;
    number(pen, layout.number, &head)?;
    side(pen, layout.side, &head, scene)?;
    if !scene.panel.is_small() {
        let print = layout::print(scene.panel);
        let why = why(scene);
        let print = Print::fit(print::count(&why), layout.lines).at_most(print);
        pen.line(layout.lines, &why, print, Side::Left, Role::Ink)?;
    }
    Ok(())
}

/// Unit, then what to go to, then on small panels why.
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
    let small = layout::print(scene.panel);
    let (first, rest) = area.cut_top(small.line_height());
    let (spot, unit) = first.cut_right(small.line_height());
    match scene.panel.kind {
        Kind::Lit => tick(pen, spot, scene)?,
        Kind::Paper => {
            let foot = area.cut_bottom(small.line_height()).0;
            pen.line(foot, &drawn_at(scene), small, Side::Right, Role::Ink)?;
        }
    }
    let (line, more) = print::wrap(&head.unit, small.fitting(unit.size.width));
    pen.line(unit, line, small, Side::Left, Role::Ink)?;
    let rest = pen.paragraph(rest, more, small, Role::Ink)?;
    let next = scene.view.next.and_then(|id| rung(scene.view, id));
    let short: Text<12> = match next {
        Some(rung) => format(format_args!(">{}", rung.short)),
        None => text(""),
    };
    let (row, below) = rest.cut_top(Print::fit(print::count(&short), rest).line_height());
    let large = Print::fit(print::count(&short), row);
    pen.line(row, &short, large, Side::Left, Role::Ink)?;
    let print = if scene.panel.is_small() {
        Print::SMALLEST
    } else {
        small
    };
    let below = match next {
        Some(rung) if !scene.panel.is_small() && rung.name != rung.short.as_str() => {
            pen.paragraph(below, &rung.name, print, Role::Ink)?
        }
        _ => below,
    };
    if scene.panel.is_small() {
        pen.paragraph(below, &why(scene), print, Role::Ink)?;
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
