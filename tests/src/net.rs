//! The recorded inputs of every story, and the event lines they give.
//!
//! A pure move of code leaves the event lines as they are; a change of
//! behaviour moves them, and its commit says why.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow};
use cringle::events::event_line;
use cringle::replay::Replay;
use cringle_sim::scenario::Scenario;
use serde_json::{Map, Value};

use crate::packed;

/// So many seeds tell each story.
pub const SEEDS: u64 = 5;

/// The demo's own passage, which is none of the simulator's stories.
pub const DEMO: &str = "demo";

/// Names of all stories.
pub fn stories() -> impl Iterator<Item = &'static str> {
    Scenario::names().chain([DEMO])
}

/// Where recorded inputs and event lines lie.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/net")
}

/// The packed inputs of one story and seed.
pub fn inputs(folder: &Path, story: &str, seed: u64) -> PathBuf {
    folder.join(format!("{story}-{seed}.packed"))
}

/// The event lines of one story and seed.
pub fn events(folder: &Path, story: &str, seed: u64) -> PathBuf {
    folder.join(format!("{story}-{seed}.events"))
}

/// Replays packed inputs and gives a line for each event.
pub fn replayed(inputs: &Path) -> Result<String> {
    let packed = std::fs::read(inputs).with_context(|| inputs.display().to_string())?;
    let directory = tempfile::tempdir()?;
    let path = directory.path().join("recording.log");
    std::fs::write(&path, packed::unpack(&packed)?)?;
    let example = cringle::boatfile::example;
    let failed = |failure| anyhow!("{failure:?}");
    let mut replay = Replay::open(&[path], None, example, 4800).map_err(failed)?;
    let names = replay.names();
    let mut engine = replay.engine();
    let mut text = String::new();
    while let Some((at, input)) = replay.next_input()? {
        engine.take(at, &input);
        for event in engine.events() {
            text += &short(&event_line(&event, &names))?;
            text.push('\n');
        }
    }
    for remark in replay.last_remarks() {
        text += &format!("remark: {remark}\n");
    }
    Ok(text)
}

/// Events whose lines show the figures of the moment; all have them.
const WITH_FIGURES: [&str; 5] = ["call", "acknowledge", "start", "plan", "summary"];

/// Fields that only repeat what `why` says, or the order of the lines.
const REPEATED: [&str; 5] = ["v", "seq", "quantity", "source", "turn"];

/// An event line, shorter: its fields in a fixed order without their names,
/// those that only some events have with theirs.
///
/// ```text
/// time #id event call priority cause: plan > next; in hand, slack, work, odds; wind, gust, heel; why; others
/// ```
fn short(line: &str) -> Result<String> {
    let mut fields: Map<String, Value> = serde_json::from_str(line)?;
    let mut take = |name: &str| match fields.remove(name) {
        None | Some(Value::Null) => "-".to_owned(),
        Some(Value::String(text)) => text,
        Some(other) => other.to_string(),
    };
    let mut text = time(take("up_s").parse()?);
    if take("t") == "-" {
        text += " (no UTC)";
    }
    let mut words = |names: &[&str]| -> String {
        let found: Vec<_> = names.iter().map(|name| take(name)).collect();
        found.join(" ")
    };
    let event = words(&["event"]);
    let head = words(&["call", "priority", "cause"]);
    text += &format!(" #{} {event} {head}: ", words(&["id"]));
    let figures = [
        format!("{} > {}", words(&["plan"]), words(&["next"])),
        words(&["minutes_in_hand", "slack_s", "call_time_s", "odds"]),
        words(&["tws_mean_1min_kn", "gust_3s_kn", "heel_mean_deg"]),
    ];
    if WITH_FIGURES.contains(&event.as_str()) {
        text += &format!("{}; ", figures.join("; "));
    }
    text += &words(&["why"]);
    fields.retain(|name, _| !REPEATED.contains(&name.as_str()));
    for (name, value) in &fields {
        text += &format!("; {name} {value}");
    }
    Ok(text)
}

/// Hours, minutes and seconds since the start.
fn time(up_s: f64) -> String {
    let up_ms = (up_s * 1000.0).round() as u64;
    let (minutes, ms) = (up_ms / 60_000, up_ms % 60_000);
    let whole = format!("{}:{:02}:{:02}", minutes / 60, minutes % 60, ms / 1000);
    match ms % 1000 {
        0 => whole,
        part => format!("{whole}.{part:03}"),
    }
}
