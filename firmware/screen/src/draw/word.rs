//! The word on its ground: shape says how hard it calls, before it is read.
//!
//! | tone | steady | the other half of a flash |
//! |---|---|---|
//! | calm | letters alone | |
//! | working | a line under them | |
//! | absent | dashed frame | |
//! | warning | frame (by day: amber ground too) | no frame (by day: frame alone) |
//! | alarm | solid ground | frame |
//! | past | solid ground, striped edge | frame |

use embedded_graphics::primitives::Rectangle;

use super::Scene;
use super::headline::{Headline, Tone};
use super::pen::Pen;
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::{Setting, Side};
use crate::panel::Kind;
use cringle_core::view::AlertState;

/// Draws the word. Flashing changes its ground; the word never goes out.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    head: &Headline,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let dress = dress(head.tone, phase(scene), pen.has_day_colours());
    let thick = thickness(area);
    let role = match dress {
        Dress::Plain | Dress::Bare => Role::Ink,
        Dress::Underlined => {
            pen.fill(area.cut_bottom(thick).0, Role::Ink)?;
            Role::Ink
        }
        Dress::Dashed => {
            pen.dashes(area, thick.min(2), Role::Ink)?;
            Role::Ink
        }
        Dress::Framed(role) => {
            pen.frame(area, thick, role)?;
            Role::Ink
        }
        Dress::Solid { ground, ink, edge } => {
            pen.fill(area, ground)?;
            pen.frame(area, thick, edge)?;
            ink
        }
        Dress::Striped { ground, ink } => {
            pen.fill(area, ground)?;
            edge(pen, area, ink)?;
            ink
        }
    };
    pen.big(letters(area, dress), head.word, Side::Middle, role)
}

/// Up to this height only the ends have room for stripes.
const LOW: u32 = 20;
const STRIPED_END: u32 = 6;

/// The edge of what is past the limit: slanted stripes all round, a second
/// frame where they would crowd the letters, striped ends on the lowest.
fn edge<D: Surface>(pen: &mut Pen<'_, D>, area: Rectangle, ink: Role) -> Result<(), D::Error> {
    let wide = air(area);
    if area.size.height <= LOW {
        for end in [area.cut_left(STRIPED_END).0, area.cut_right(STRIPED_END).0] {
            pen.hatch(end, 4, 2, ink)?;
        }
        return Ok(());
    }
    if area.size.height <= 40 {
        return pen.frame(area.shrink(1), 1, ink);
    }
    let sides = [
        area.cut_left(wide).0,
        area.cut_right(wide).0,
        area.cut_top(wide).0,
        area.cut_bottom(wide).0,
    ];
    for side in sides {
        pen.hatch(side, 2 * wide, wide, ink)?;
    }
    Ok(())
}

/// Height in pixels of the letters of a word that stands steady in an area.
pub fn letter_height(area: Rectangle, word: &str, tone: Tone) -> u32 {
    let inside = letters(area, dress(tone, Phase::Steady, false));
    Setting::fit(word.chars().count(), inside.size).height
}

/// What the ground leaves for letters.
fn letters(area: Rectangle, dress: Dress) -> Rectangle {
    match dress {
        Dress::Plain => area.shrink(air(area) / 2),
        Dress::Underlined => area.cut_bottom(thickness(area) + 1).1,
        Dress::Dashed | Dress::Bare | Dress::Framed(_) | Dress::Solid { .. } => {
            area.shrink(air(area))
        }
        Dress::Striped { .. } if area.size.height <= LOW => {
            let (_, middle) = area.cut_left(STRIPED_END);
            let (_, middle) = middle.cut_right(STRIPED_END);
            middle.shrink(air(area))
        }
        Dress::Striped { .. } => area.shrink(air(area) + 1),
    }
}

/// Between letters and the edge of their ground.
fn air(area: Rectangle) -> u32 {
    thickness(area) + if area.size.height > 40 { 3 } else { 1 }
}

fn thickness(area: Rectangle) -> u32 {
    (area.size.height / 20).clamp(1, 4)
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    Steady,
    Flashed,
}

/// An unacknowledged call flashes once a second, six tenths of it steady
/// (0.5 to 1.5 Hz, lit at least half: MSC.191(79) and guidance to it). Paper
/// can't flash.
pub(super) fn phase(scene: &Scene<'_>) -> Phase {
    let flashes = scene.panel.kind == Kind::Lit
        && matches!(
            scene.view.call.alert,
            AlertState::Unacknowledged | AlertState::RectifiedUnacknowledged
        );
    if flashes && scene.view.now.as_millis() % 1000 >= 600 {
        Phase::Flashed
    } else {
        Phase::Steady
    }
}

#[derive(Clone, Copy)]
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
