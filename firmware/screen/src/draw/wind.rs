//! Wind, heel and odds: the second page, with the figures behind the word.

use core::fmt::Write as _;

use embedded_graphics::primitives::Rectangle;
use heapless::Vec;

use cringle_core::picture::{AppliedCorrection, Correction};
use cringle_core::text::{Text, format, text};
use cringle_core::view::ForecastStanding;

use super::Scene;
use super::notes::{age, doubt_note};
use super::pen::{Pen, Weight};
use super::table::{self, Row, Value, number, row};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::panel::Kind;
use crate::print::{self, Print};

/// Minutes ahead that odds are told for.
const AHEAD_MIN: [u8; 6] = [10, 20, 30, 45, 60, 90];

/// Draws the page below its title.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let is_crowded = !scene.view.corrections_applied.is_empty() || forecast(scene).is_some();
    let odds_height = if area.size.height < 60 {
        0
    } else if is_crowded {
        area.share_of_height(25).max(44)
    } else {
        area.share_of_height(34).max(44)
    };
    let (odds_area, figures) = area.cut_bottom(odds_height);
    let rows = rows(scene);
    if odds_height == 0 {
        // The smallest panel: the mean of the odds in one row, then figures.
        let mut first: Vec<Row, 16> = Vec::new();
        first.extend([row(scene.words.page.odds, odds_in_words(scene))]);
        first.extend(rows);
        let Some(words) = forecast(scene) else {
            return table::draw(pen, figures, first.get(..4).unwrap_or(&first));
        };
        let print = Print::SMALLEST;
        let (foot, figures) = figures.cut_bottom(2 * print.line_height());
        table::draw(pen, figures, first.get(..3).unwrap_or(&first))?;
        pen.paragraph(foot.cut_left(1).1, &words, print, Role::Ink)?;
        return Ok(());
    }
    let mut figures = figures.cut_left(2).1;
    if let Some(doubt) = scene.view.wind.doubt {
        let told: WindLine = format(format_args!("! {}", doubt_note(doubt, scene.words)));
        figures = pen.tell(figures, &told, fine(area), Weight::Wrong)?;
    }
    // Lines of words below the figures, in what room there is.
    let mut under: Vec<WindLine, 2> = Vec::new();
    under.extend(forecast(scene));
    if area.size.height > 120 {
        under.extend(undone(scene));
    }
    let print = fine(area);
    for words in under.iter().rev() {
        let rows = print::count(words).div_ceil(print.fitting(figures.size.width).max(1));
        let (foot, rest) = figures.cut_bottom(rows as u32 * print.line_height());
        pen.paragraph(foot, words, print, Role::Ink)?;
        figures = rest;
    }
    table::draw(pen, figures, &rows)?;
    odds(pen, odds_area, scene)
}

type WindLine = Text<192>;

fn fine(area: Rectangle) -> Print {
    Print::of_height(if area.size.height > 180 { 13 } else { 10 })
}

/// The corrections in force, each with its size: "undone: heel +1.2°, ...".
fn undone(scene: &Scene<'_>) -> Option<WindLine> {
    let all = &scene.view.corrections_applied;
    if all.is_empty() {
        return None;
    }
    let mut told: WindLine = format(format_args!("{}:", scene.words.page.corrected));
    for (index, one) in all.iter().enumerate() {
        let comma = if index == 0 { "" } else { "," };
        if write!(told, "{comma} {}", in_short(one)).is_err() {
            break;
        }
    }
    Some(told)
}

fn in_short(one: &AppliedCorrection) -> Text<32> {
    let mut told: Text<32> = text(one.what.name());
    if let Some(degrees) = one.angle_deg {
        let _ = write!(told, " {degrees:+.1}\u{b0}");
    }
    match (one.speed_kn, one.what) {
        // It swings to both sides.
        (Some(knots), Correction::MastMotion) => {
            let _ = write!(told, " {knots:.1}kn");
        }
        (Some(knots), _) => {
            let _ = write!(told, " {knots:+.1}kn");
        }
        (None, _) => {}
    }
    told
}

/// What the skipper's forecast has been worth; none where none was entered.
fn forecast(scene: &Scene<'_>) -> Option<WindLine> {
    let seen = &scene.view.forecast;
    let words = &scene.words.page;
    match (seen.standing, seen.told_kn) {
        (ForecastStanding::None, _) => None,
        (_, Some(told)) => Some(format(format_args!(
            "{} {told:.0} {}: {}",
            words.forecast, words.knots, seen.words
        ))),
        (_, None) => Some(format(format_args!("{}: {}", words.forecast, seen.words))),
    }
}

fn rows(scene: &Scene<'_>) -> Vec<Row, 12> {
    let mut rows = all_rows(scene);
    if scene.view.wind.doubt.is_some() {
        // What is left of a doubted wind is never read as a good one.
        for row in rows.iter_mut().take(OF_THE_WIND) {
            let _ = row.value.push('?');
        }
    }
    rows
}

/// So many rows come first that are made of the wind.
const OF_THE_WIND: usize = 6;

fn all_rows(scene: &Scene<'_>) -> Vec<Row, 12> {
    let (view, words) = (scene.view, &scene.words.page);
    let wind = &view.wind;
    let mut rows = Vec::new();
    rows.extend([
        row(words.true_wind, true_wind(scene)),
        row(words.gust, gust(scene)),
        row(words.likely, likely(scene)),
        row(words.from, direction(scene)),
        row(
            words.apparent,
            speed_and_angle(wind.aws_kn, wind.awa_deg, scene),
        ),
        row(words.ground, ground(scene)),
        row(words.round_up, round_up(scene)),
        row(words.heel, heel(scene)),
        row(words.pressure, pressure(scene)),
    ]);
    rows
}

/// "22 +-2 kn stbd 52": the mean, by how much it may be off, and from where.
fn true_wind(scene: &Scene<'_>) -> Value {
    let wind = &scene.view.wind;
    let (Some(mean), Some(off)) = (wind.mean_1min_kn, wind.uncertainty_kn) else {
        return speed_and_angle(wind.mean_1min_kn, wind.twa_deg, scene);
    };
    let knots = scene.words.page.knots;
    let speed: Value = format(format_args!("{mean:.0} +-{:.0} {knots}", off.max(1.0)));
    with_angle(speed, wind.twa_deg, scene)
}

/// "280", or "284 mag" where only the compass is known.
fn direction(scene: &Scene<'_>) -> Value {
    let wind = &scene.view.wind;
    match (wind.twd_deg, wind.twd_magnetic_deg) {
        (Some(twd), _) => format(format_args!("{twd:03.0}")),
        (None, Some(twd)) => format(format_args!("{twd:03.0} {}", scene.words.page.magnetic)),
        (None, None) => text(scene.words.home.unknown),
    }
}

/// "22 kn P 52": port or starboard by letter, never by sign alone.
fn speed_and_angle(speed: Option<f64>, angle: Option<f64>, scene: &Scene<'_>) -> Value {
    with_angle(
        number(speed, 0, scene.words.page.knots, scene),
        angle,
        scene,
    )
}

fn with_angle(knots: Value, angle: Option<f64>, scene: &Scene<'_>) -> Value {
    match angle {
        Some(angle) if angle.is_finite() => {
            let side = if angle < 0.0 {
                scene.words.page.port_side
            } else {
                scene.words.page.starboard_side
            };
            format(format_args!("{knots} {side} {:.0}", angle.abs()))
        }
        Some(_) | None => knots,
    }
}

fn gust(scene: &Scene<'_>) -> Value {
    let wind = &scene.view.wind;
    let gust = number(wind.gust_kn, 0, scene.words.page.knots, scene);
    match wind.trend_kn_h {
        Some(trend) => format(format_args!(
            "{gust} {trend:+.0} {}",
            scene.words.page.trend_per_hour
        )),
        None => gust,
    }
}

fn likely(scene: &Scene<'_>) -> Value {
    match scene.view.wind.likely_kn {
        Some([low, middle, high]) => format(format_args!(
            "{middle:.0} ({low:.0}-{high:.0}) {}",
            scene.words.page.knots
        )),
        None => text(scene.words.home.unknown),
    }
}

fn heel(scene: &Scene<'_>) -> Value {
    let heel = &scene.view.heel;
    let now = number(heel.mean_deg.map(f64::abs), 0, "", scene);
    match heel.limit_deg {
        Some(limit) => format(format_args!("{now} / {limit:.0} deg")),
        None => format(format_args!("{now} deg")),
    }
}

fn round_up(scene: &Scene<'_>) -> Value {
    let wind = number(
        scene.view.wind.round_up_kn,
        0,
        scene.words.page.knots,
        scene,
    );
    match scene.view.heel.round_up_deg {
        Some(heel) => format(format_args!("{wind} {:.0} deg", heel.abs())),
        None => wind,
    }
}

fn ground(scene: &Scene<'_>) -> Value {
    let speed = number(scene.view.wind.ground_kn, 0, scene.words.page.knots, scene);
    match scene.view.wind.ground_deg {
        Some(from) => format(format_args!("{speed} {from:03.0}")),
        None => speed,
    }
}

fn pressure(scene: &Scene<'_>) -> Value {
    let now = number(scene.view.pressure.hpa, 0, "", scene);
    match scene.view.pressure.tendency_hpa_3h {
        Some(tendency) => format(format_args!("{now} {tendency:+.1}/3h")),
        None => now,
    }
}

fn odds_in_words(scene: &Scene<'_>) -> Value {
    if let Some(age_s) = scene.view.call.outlook_age_s {
        return format(format_args!("{} {}", age(age_s), scene.words.page.old));
    }
    match scene.view.call.odds_ahead {
        Some([_, twenty, _, _, sixty, _]) => format(format_args!(
            "20m {} 60m {}",
            percent(twenty),
            percent(sixty)
        )),
        None => text(scene.words.home.unknown),
    }
}

/// Whole percent; never 0 or 100, which nobody can know.
fn percent(odds: f64) -> Text<8> {
    match odds {
        odds if odds.is_nan() => text("--"),
        odds if odds < 0.01 => text("<1%"),
        odds if odds > 0.99 => text(">99%"),
        odds => format(format_args!("{:.0}%", odds * 100.0)),
    }
}

/// Odds that the limit is passed, by minutes ahead: a bar for each.
fn odds<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::of_height(if area.size.height > 60 { 12 } else { 10 });
    let (title, body) = area.cut_top(print.line_height());
    let words = scene.words;
    let Some(ahead) = scene.view.call.odds_ahead else {
        let none: Text<40> = format(format_args!(
            "{}: {}",
            words.page.odds_title, words.home.unknown
        ));
        pen.line(title, &none, print, Side::Left, Role::Ink)?;
        return pen.cross(body.shrink(2));
    };
    // Kept though the wind is lost: with its age, and never to be taken for
    // the odds of now.
    let old = scene.view.call.outlook_age_s;
    let name: Text<48> = match old {
        Some(age_s) => format(format_args!(
            "{}, {} {}",
            words.page.odds,
            age(age_s),
            words.page.old
        )),
        None => text(words.page.odds_title),
    };
    pen.line(title.cut_left(2).1, &name, print, Side::Left, Role::Ink)?;
    for (index, (&odds, minutes)) in ahead.iter().zip(AHEAD_MIN).enumerate() {
        let cell = body.column(index as u32, ahead.len() as u32);
        let (foot, cell) = cell.cut_bottom(print.line_height());
        let (head, bar) = cell.cut_top(print.line_height());
        let label: Text<8> = format(format_args!("{minutes}"));
        pen.line(foot, &label, print, Side::Middle, Role::Faint)?;
        pen.line(head, &percent(odds), print, Side::Middle, Role::Ink)?;
        let bar = bar
            .shrink(1)
            .cut_left(bar.size.width / 4)
            .1
            .cut_right(bar.size.width / 4)
            .1;
        let height = (f64::from(bar.size.height) * odds.clamp(0.0, 1.0)) as u32;
        pen.fill(bar.cut_bottom(height.max(1)).0, Role::Wind)?;
        if scene.panel.kind == Kind::Lit || bar.size.height > 12 {
            pen.frame(bar, 1, Role::Faint)?;
        }
    }
    match old {
        Some(_) => pen.cross(body.shrink(2)),
        None => Ok(()),
    }
}
