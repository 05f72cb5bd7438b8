//! A strip of moments of a recording: in figures, and drawn for every panel.

use std::path::{Path, PathBuf};

use anyhow::Context;
use cringle_core::time::Timestamp;
use cringle_core::view::{MinutesInHand, View};
use cringle_engine::player::Reached;
use cringle_engine::replay::Replay;
use cringle_screen::ui::Ui;
use serde_json::{Value, json};

use super::replay::Stage;
use crate::answer::{Failure, Verdict, say};
use crate::boatfile::{self, Otherwise};
use crate::picture::{Picture, Size};

/// Moments closer than this would be the same picture.
const CLOSEST_S: f64 = 0.1;

/// Every panel, by the name that its pictures have.
const PANELS: [(&str, Size); 4] = [
    ("128x64", Size::Mono),
    ("296x128", Size::Paper),
    ("320x240", Size::Colour),
    ("240x320", Size::ColourTall),
];

/// Which moments, and where their pictures go.
pub(super) struct Strip {
    pub(super) from_s: f64,
    pub(super) every_s: f64,
    pub(super) until_s: Option<f64>,
    pub(super) folder: Option<PathBuf>,
    pub(super) ui: Ui,
}

impl Strip {
    /// Goes through the recording once; without an end it tells the last
    /// moment of all as well.
    pub(super) fn run(&self, recording: &[PathBuf]) -> Result<Verdict, Failure> {
        if self.every_s.is_nan() || self.every_s < CLOSEST_S {
            let words = format!("--every takes a number from {CLOSEST_S} up");
            return Err(Failure::Usage(anyhow::anyhow!(words)));
        }
        let otherwise = || boatfile::find(None, Otherwise::Example);
        let replay = Replay::open(recording, None, otherwise, 4800)?;
        let start = replay.start;
        let mut stage = Stage::new(replay, 1.0);
        let mut shown = None;
        for moment_s in self.moments() {
            let moment = after(start, moment_s);
            match stage.play_to(moment)? {
                Reached::Moment => {
                    self.show(&stage, moment_s)?;
                    shown = Some(moment);
                }
                Reached::BetweenRuns => {}
                Reached::End => {
                    let end = stage.played_to();
                    if shown != Some(end) {
                        self.show(&stage, end.secs_since(start))?;
                    }
                    break;
                }
            }
        }
        Ok(Verdict::Well)
    }

    fn moments(&self) -> impl Iterator<Item = f64> + use<> {
        let (from_s, every_s) = (self.from_s.max(0.0), self.every_s);
        let until_s = self.until_s.unwrap_or(f64::INFINITY);
        // Counted, not added up, so that the hundredth is where it should be.
        (0u32..)
            .map(move |count| from_s + f64::from(count) * every_s)
            .take_while(move |moment_s| *moment_s <= until_s)
    }

    fn show(&self, stage: &Stage, moment_s: f64) -> Result<(), Failure> {
        let view = stage.view();
        say(&line(stage, &view, moment_s).to_string());
        let Some(folder) = &self.folder else {
            return Ok(());
        };
        self.draw(stage, &view, folder, moment_s)
            .map_err(Failure::Environment)
    }

    fn draw(&self, stage: &Stage, view: &View, folder: &Path, at_s: f64) -> anyhow::Result<()> {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("{}: cannot make the folder", folder.display()))?;
        for (name, size) in PANELS {
            let picture = Picture::draw(size, view, &stage.aboard, &self.ui);
            let path = folder.join(format!("{name}-{:.0}.png", at_s.floor()));
            picture.save_png(&path, 1)?;
        }
        Ok(())
    }
}

fn after(start: Timestamp, seconds: f64) -> Timestamp {
    let millis = (seconds.max(0.0) * 1000.0).round() as u64;
    Timestamp::from_millis(start.as_millis().saturating_add(millis))
}

/// What is not known is null.
fn line(stage: &Stage, view: &View, at_s: f64) -> Value {
    let set = view.ladder.iter().find(|rung| rung.id == view.plan.id);
    json!({
        "at_s": at_s,
        "up_s": view.now.as_secs_f64(),
        "t": view.unix_ms.map(|ms| ms as f64 / 1000.0),
        "call": view.call.call.word(),
        "minutes_in_hand": match view.call.minutes_in_hand {
            MinutesInHand::Minutes(minutes) => Some(minutes),
            MinutesInHand::Beyond | MinutesInHand::Unknown => None,
        },
        "soonest_min": view.call.soonest_s.map(|s| s / 60.0),
        "promise": view.call.promise,
        "plan": stage.names.plan(view.plan.id),
        "limit_kn": set.and_then(|rung| rung.limit_kn),
        "tws_kn": view.wind.tws_kn,
        "mean_tws_kn": view.wind.mean_1min_kn,
        "gust_3s_kn": view.wind.gust_kn,
        "twd_deg": view.wind.twd_deg,
        "heel_deg": view.heel.now_deg,
    })
}
