//! `cringle screen`: draws the cockpit screen to a file or a terminal.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, ValueEnum};
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_engine::player::Player;
use cringle_engine::replay::Replay;
use cringle_screen::samples;
use cringle_screen::ui::{Page, Ui};

use super::strip::Strip;
use crate::aboard::Aboard;
use crate::answer::{Failure, Verdict, say};
use crate::boatfile::{self, Otherwise};
use crate::picture::{Picture, Size};
use crate::terminal;

/// Later than any input.
const END_OF_TIME: Timestamp = Timestamp::from_millis(u64::MAX);

/// The arguments of `screen`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The PNG file to write; else it is drawn in the terminal.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Which panel.
    #[arg(long, value_enum, default_value_t = Panel::Colour)]
    panel: Panel,
    /// Which page.
    #[arg(long, value_enum, default_value_t = Leaf::Ladder)]
    page: Leaf,
    /// An invented moment of an invented boat, by name.
    #[arg(long, value_name = "NAME", default_value = "prepare")]
    moment: String,
    /// A recording to take the moment from instead.
    #[arg(long, value_name = "FILE", conflicts_with = "moment")]
    recording: Vec<PathBuf>,
    /// Seconds into the recording; else its end.
    #[arg(long, value_name = "S", requires = "recording")]
    at: Option<f64>,
    /// Goes on from there, one moment every so many seconds, and tells each on
    /// standard output as one JSON object a line.
    #[arg(long, value_name = "S", requires = "recording", conflicts_with = "out")]
    every: Option<f64>,
    /// Seconds into the recording where that ends; else its end.
    #[arg(long, value_name = "S", requires = "every")]
    until: Option<f64>,
    /// Draws every panel at each of these moments too, as PANEL-SECOND.png.
    #[arg(long, value_name = "DIR", requires = "every")]
    folder: Option<PathBuf>,
    /// Draws each pixel so many pixels wide and high.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=32))]
    scale: u16,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Panel {
    /// 128x64, on and off.
    Mono,
    /// 296x128, on and off, as on paper.
    Paper,
    /// 320x240 in colour.
    Colour,
    /// 240x320 in colour.
    Tall,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Leaf {
    /// Home: the ladder.
    Ladder,
    /// Wind and odds.
    Wind,
    /// The last hours.
    Trend,
    /// Set-up list.
    Setup,
    /// People.
    Hands,
    /// Sources, faults, recorder, storage.
    Health,
    /// Raw lines.
    Bench,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    if let Some(every_s) = arguments.every {
        let strip = Strip {
            from_s: arguments.at.unwrap_or(0.0),
            every_s,
            until_s: arguments.until,
            folder: arguments.folder.clone(),
            ui: Ui::at(page(arguments.page)),
        };
        return strip.run(&arguments.recording);
    }
    let view = match arguments.recording.is_empty() {
        true => sample(&arguments.moment)?,
        false => recorded(arguments)?,
    };
    let size = match arguments.panel {
        Panel::Mono => Size::Mono,
        Panel::Paper => Size::Paper,
        Panel::Colour => Size::Colour,
        Panel::Tall => Size::ColourTall,
    };
    let ui = Ui::at(page(arguments.page));
    let picture = Picture::draw(size, &view, &Aboard::default(), &ui);
    match &arguments.out {
        Some(path) => picture
            .save_png(path, usize::from(arguments.scale))
            .map_err(Failure::Environment)?,
        None => terminal::characters(&picture)
            .iter()
            .for_each(|row| say(row)),
    }
    Ok(Verdict::Well)
}

fn page(leaf: Leaf) -> Page {
    match leaf {
        Leaf::Ladder => Page::Ladder,
        Leaf::Wind => Page::Wind,
        Leaf::Trend => Page::Trend,
        Leaf::Setup => Page::Setup,
        Leaf::Hands => Page::Hands,
        Leaf::Health => Page::Health,
        Leaf::Bench => Page::Bench,
    }
}

fn sample(name: &str) -> Result<View, Failure> {
    samples::moment(name).ok_or_else(|| {
        let known: Vec<_> = samples::MOMENTS.iter().map(|(name, _)| *name).collect();
        Failure::Usage(anyhow::anyhow!(
            "no moment \"{name}\", expected one of {}",
            known.join(", ")
        ))
    })
}

/// The picture that the core had at a moment of a recording, or at its end.
fn recorded(arguments: &Arguments) -> Result<View, Failure> {
    let otherwise = || boatfile::find(None, Otherwise::Example);
    let replay = Replay::open(&arguments.recording, None, otherwise, 4800)?;
    let start = replay.start;
    let end = arguments.at.map_or(END_OF_TIME, |seconds| {
        start.after(Duration::from_millis((seconds.max(0.0) * 1000.0) as u64))
    });
    let mut player = Player::new(replay);
    let _ = player.play_to(end, |_, _| {})?;
    Ok(player.engine.view())
}
