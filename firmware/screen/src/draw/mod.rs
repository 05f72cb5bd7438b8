//! Draws a scene on any target: one function, all pages, all panels.

mod call;
pub mod headline;
mod health;
mod home;
pub mod layout;
mod list;
pub mod notes;
mod pen;
mod rungs;
mod setup;
mod table;
mod trend;
mod wind;
pub mod word;

use embedded_graphics::primitives::Rectangle;

use cringle_core::view::View;

use crate::aboard::Aboard;
use crate::boxes::Cut;
use crate::hue::{Hue, Look, Palette, Role, Surface};
use crate::letters::Side;
use crate::panel::{Kind, Panel};
use crate::print::{Case, Print};
use crate::ui::{Page, Shown, Ui};
use crate::words::Words;
use pen::Pen;

/// All that a picture is made of.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// What the core knows.
    pub view: &'a View,
    /// What the daemon knows.
    pub aboard: &'a Aboard<'a>,
    /// Where the crew is in pages and menus.
    pub ui: &'a Ui,
    /// What it is drawn on.
    pub panel: &'a Panel,
    /// In which language.
    pub words: &'a Words,
}

/// Draws the whole picture, ground included.
pub fn draw<D: Surface>(target: &mut D, scene: &Scene<'_>, look: Look) -> Result<(), D::Error> {
    // Paper is always black on light.
    let look = match scene.panel.kind {
        Kind::Paper => Look::of(Palette::MonoInverse),
        Kind::Lit if calls_by_ground::<D>(scene) => Look {
            palette: Palette::MonoInverse,
            ..look
        },
        Kind::Lit => look,
    };
    let small_case = if scene.panel.is_small() {
        Case::Capitals
    } else {
        Case::AsWritten
    };
    let mut pen = Pen {
        target,
        look,
        small_case,
    };
    pen.fill(scene.panel.area(), Role::Ground)?;
    let shown = scene.ui.shown(scene.view);
    match shown {
        Shown::Call => call::draw(&mut pen, scene)?,
        Shown::List(list, cursor) => list::draw(&mut pen, scene, list, cursor)?,
        // It names its own keys.
        Shown::Confirm(act) => return list::question(&mut pen, scene, act),
        Shown::Page(page) => draw_page(&mut pen, scene, page)?,
    }
    let keys_share_the_line = scene.panel.is_small() && shown == Shown::Page(Page::Ladder);
    if !keys_share_the_line || scene.ui.names_keys() {
        let (strip, _) = layout::strip(scene.panel, scene.panel.area());
        list::strip(&mut pen, strip, scene)?;
    }
    Ok(())
}

/// Whether the whole panel is turned dark on light: an alarm on a small mono
/// panel, whose word can't be read from as far as its number.
fn calls_by_ground<D: Surface>(scene: &Scene<'_>) -> bool {
    let tone = headline::headline(scene.view, scene.aboard, scene.words).tone;
    let is_alarm = matches!(tone, headline::Tone::Alarm | headline::Tone::Past);
    let is_steady = word::phase(scene) == word::Phase::Steady;
    !D::Color::HAS_COLOURS && scene.panel.is_small() && is_alarm && is_steady
}

fn draw_page<D: Surface>(
    pen: &mut Pen<'_, D>,
    scene: &Scene<'_>,
    page: Page,
) -> Result<(), D::Error> {
    let words = &scene.words.page;
    let title = match page {
        Page::Ladder => return home::draw(pen, scene),
        Page::Wind => words.wind,
        Page::Trend => words.trend,
        Page::Setup => words.setup,
        Page::Hands => words.hands,
        Page::Health => words.health,
        Page::Bench => words.bench,
    };
    let (_, area) = layout::strip(scene.panel, scene.panel.area());
    let area = page_title(pen, area, title, scene)?;
    match page {
        Page::Ladder => Ok(()),
        Page::Wind => {
            wind::draw(pen, area, scene)?;
            cross_if_stopped(pen, area, scene)
        }
        Page::Trend => {
            trend::draw(pen, area, scene)?;
            cross_if_stopped(pen, area, scene)
        }
        Page::Setup => setup::draw(pen, area, scene),
        Page::Hands => setup::people(pen, area, scene),
        Page::Health => health::draw(pen, area, scene),
        Page::Bench => health::bench(pen, area, scene),
    }
}

/// Old measurements never stand uncrossed.
fn cross_if_stopped<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    if scene.aboard.alive.is_stopped(scene.view) {
        pen.cross(area)
    } else {
        Ok(())
    }
}

/// A page's title with the call's word and number beside it, so that no page
/// hides them; gives what is left of the area.
fn page_title<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    title: &str,
    scene: &Scene<'_>,
) -> Result<Rectangle, D::Error> {
    let print = title_print(scene);
    let (bar, rest) =
        area.cut_top(print.line_height() + if scene.panel.is_small() { 3 } else { 1 });
    let (rule, bar) = bar.cut_bottom(1);
    pen.fill(rule, Role::Faint)?;
    let head = headline::headline(scene.view, scene.aboard, scene.words);
    let state: cringle_core::text::Text<16> = match head.trust {
        headline::Trust::Good => {
            cringle_core::text::format(format_args!("{} {}", head.word, head.number))
        }
        headline::Trust::Crossed => cringle_core::text::text(head.word),
    };
    let (state_box, title_box) = bar.cut_right((state.chars().count() as u32 * print.width()) + 4);
    pen.line(title_box.cut_left(2).1, title, print, Side::Left, Role::Ink)?;
    let role = match head.tone {
        headline::Tone::Alarm | headline::Tone::Past => {
            pen.fill(state_box, Role::AlarmGround)?;
            Role::AlarmInk
        }
        headline::Tone::Warning | headline::Tone::Absent => {
            pen.frame(state_box, 1, Role::Ink)?;
            Role::Ink
        }
        headline::Tone::Calm | headline::Tone::Working => Role::Ink,
    };
    pen.line(state_box, &state, print, Side::Middle, role)?;
    Ok(rest)
}

fn title_print(scene: &Scene<'_>) -> Print {
    let height = scene.panel.size.height;
    Print::of_height(if height < 100 {
        8
    } else {
        (height / 14).min(scene.panel.size.width / 15).max(12)
    })
}
