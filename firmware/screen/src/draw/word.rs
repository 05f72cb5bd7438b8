//! The word on its ground: shape says how hard it calls, before it is read.
//!
//! | tone | steady | the other half of a flash |
//! |---|---|---|
//! | calm | letters alone | |
//! | working | a line under them | |
//! | absent | dashed frame | |
//! | warning | frame (by day: amber ground too) | no frame (by day: frame alone) |
//! | alarm | solid ground | frame |
//! | past | solid ground, striped ends | frame |

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::primitives::Rectangle;

use super::Scene;
use super::headline::{Headline, Tone};
use super::pen::Pen;
use crate::boxes::Cut;
use crate::hue::{Hue, Role};
use crate::letters::Side;
use crate::panel::Kind;
use crate::ui::is_unanswered;

/// Draws the word. Flashing changes its ground; the word never goes out.
pub(crate) fn draw<D>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: Hue,
{
    let dress = dress(head.tone, phase(scene), pen.has_day_colours());
    let thick = (area.size.height / 14).clamp(1, 4);
    // Air between letters and the edge of their ground.
    let air = thick + if area.size.height > 24 { thick + 2 } else { 1 };
    let (letters, role) = match dress {
        Dress::Plain => (area, Role::Ink),
        Dress::Underlined => {
            let (under, above) = area.cut_bottom(thick);
            pen.fill(under, Role::Ink)?;
            (above.cut_bottom(1).1, Role::Ink)
        }
        Dress::Dashed => {
            pen.dashes(area, thick.min(2), Role::Ink)?;
            (area.shrink(air), Role::Ink)
        }
        Dress::Bare => (area.shrink(air), Role::Ink),
        Dress::Framed(role) => {
            pen.frame(area, thick, role)?;
            (area.shrink(air), Role::Ink)
        }
        Dress::Solid { ground, ink, edge } => {
            pen.fill(area, ground)?;
            pen.frame(area, thick, edge)?;
            (area.shrink(air), ink)
        }
        Dress::Striped { ground, ink } => {
            pen.fill(area, ground)?;
            let ends = (area.size.width / 16).max(4);
            let gap = (ends * 2 / 3).max(4);
            for end in [area.cut_left(ends).0, area.cut_right(ends).0] {
                pen.hatch(end, gap, gap / 2, ink)?;
            }
            let (_, middle) = area.cut_left(ends + 2);
            let (_, middle) = middle.cut_right(ends + 2);
            let (_, middle) = middle.cut_top(air);
            (middle.cut_bottom(air).1, ink)
        }
    };
    pen.big(letters, head.word, Side::Middle, role)
}

#[derive(Clone, Copy)]
enum Phase {
    Steady,
    Flashed,
}

/// An unanswered call flashes once a second, six tenths of it steady
/// (0.5 to 1.5 Hz, lit at least half: MSC.191(79) and guidance to it). Paper
/// can't flash.
fn phase(scene: &Scene<'_>) -> Phase {
    let flashes = scene.panel.kind == Kind::Lit && is_unanswered(scene.view);
    if flashes && scene.view.now.as_millis() % 1000 >= 600 {
        Phase::Flashed
    } else {
        Phase::Steady
    }
}

enum Dress {
    Plain,
    Underlined,
    Dashed,
    /// As framed, without the frame.
    Bare,
    Framed(Role),
    Solid {
        ground: Role,
        ink: Role,
        edge: Role,
    },
    Striped {
        ground: Role,
        ink: Role,
    },
}

fn dress(tone: Tone, phase: Phase, has_day_colours: bool) -> Dress {
    match (tone, phase) {
        (Tone::Calm, _) => Dress::Plain,
        (Tone::Working, _) => Dress::Underlined,
        (Tone::Absent, _) => Dress::Dashed,
        (Tone::Warning, Phase::Steady) if has_day_colours => Dress::Solid {
            ground: Role::WarningGround,
            ink: Role::WarningInk,
            edge: Role::Ink,
        },
        (Tone::Warning, Phase::Flashed) if has_day_colours => Dress::Framed(Role::Ink),
        (Tone::Warning, Phase::Steady) => Dress::Framed(Role::Ink),
        (Tone::Warning, Phase::Flashed) => Dress::Bare,
        (Tone::Alarm, Phase::Steady) => Dress::Solid {
            ground: Role::AlarmGround,
            ink: Role::AlarmInk,
            edge: Role::AlarmGround,
        },
        (Tone::Past, Phase::Steady) => Dress::Striped {
            ground: Role::AlarmGround,
            ink: Role::AlarmInk,
        },
        (Tone::Alarm | Tone::Past, Phase::Flashed) => Dress::Framed(Role::AlarmGround),
    }
}
