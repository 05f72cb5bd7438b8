//! A recording on the bench: what the screens showed at each second.
//!
//! Everything is drawn by the real daemon: once through the whole for the time
//! line, and then the screens of a stretch at a time, kept in a folder as the
//! page asks for them.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

use anyhow::{Context, Result, bail};
use serde_json::{Value, json};

use super::daemon::lock;

/// The time line has at most so many moments.
const MOST_MOMENTS: f64 = 2000.0;
/// Moments that are drawn at one go, at most.
const AT_ONE_GO: u64 = 30;
/// No step is longer than this, s.
const LONGEST_STEP: u64 = 3600;
/// Panels, as their files are called.
const PANELS: [&str; 4] = ["128x64", "296x128", "320x240", "240x320"];
const PAGES: [&str; 7] = [
    "ladder", "wind", "trend", "setup", "hands", "health", "bench",
];

/// What will be asked for next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ahead {
    /// Seconds between moments.
    pub step_s: u64,
    /// So many moments, this one counted in.
    pub moments: u64,
}

/// A recording, looked through once.
pub struct Film {
    program: PathBuf,
    recording: Vec<PathBuf>,
    folder: PathBuf,
    moments: Vec<Value>,
    calls: Vec<Value>,
    end_s: f64,
    /// What is drawn: page and second. One stretch is drawn at a time.
    drawn: Mutex<BTreeSet<(String, u64)>>,
}

impl Film {
    /// Looks through a recording of one or more files with this daemon.
    pub fn open(program: PathBuf, recording: &[PathBuf], folder: &Path) -> Result<Self> {
        let mut film = Self {
            program,
            recording: recording.to_vec(),
            folder: folder.to_owned(),
            moments: Vec::new(),
            calls: Vec::new(),
            end_s: 0.0,
            drawn: Mutex::default(),
        };
        let coarse = film.look_through(600.0)?;
        film.end_s = end_of(&coarse)?;
        let every_s = (film.end_s / MOST_MOMENTS).ceil().max(1.0);
        film.moments = film.look_through(every_s)?;
        let events = film.run(&["replay", "--json"], &[])?;
        let start_s = number(film.moments.first(), "up_s") - number(film.moments.first(), "at_s");
        film.calls = calls(&events, start_s);
        Ok(film)
    }

    /// What the page needs for its time line.
    pub fn state(&self) -> Value {
        let names: Vec<_> = self
            .recording
            .iter()
            .map(|it| it.display().to_string())
            .collect();
        json!({
            "mode": "film",
            "recording": names,
            "end_s": self.end_s,
            "calls": self.calls,
            "moments": self.moments,
        })
    }

    /// A screen at a whole second, as PNG. Those that will be asked for next
    /// are drawn with it.
    pub fn frame(&self, panel: &str, page: &str, at_s: u64, ahead: Ahead) -> Result<Vec<u8>> {
        let page = if page.is_empty() { "ladder" } else { page };
        if !PANELS.contains(&panel) || !PAGES.contains(&page) {
            bail!("no panel \"{panel}\" with a page \"{page}\"");
        }
        let at_s = at_s.min(self.end_s as u64);
        let mut drawn = lock(&self.drawn);
        if !drawn.contains(&(page.to_owned(), at_s)) {
            let step = ahead.step_s.clamp(1, LONGEST_STEP);
            let until_s = at_s + step * (ahead.moments.clamp(1, AT_ONE_GO) - 1);
            self.draw(page, at_s, until_s, step)?;
            let seconds = (at_s..=until_s).step_by(usize::try_from(step)?);
            drawn.extend(seconds.map(|second| (page.to_owned(), second)));
        }
        drop(drawn);
        let path = self.folder.join(page).join(format!("{panel}-{at_s}.png"));
        std::fs::read(&path).with_context(|| format!("no picture of second {at_s}"))
    }

    fn draw(&self, page: &str, from_s: u64, until_s: u64, step: u64) -> Result<()> {
        let folder = self.folder.join(page);
        std::fs::create_dir_all(&folder)?;
        let (from, until) = (from_s.to_string(), until_s.to_string());
        let (step, folder) = (step.to_string(), folder.display().to_string());
        let options = [
            "--at", &from, "--until", &until, "--every", &step, "--page", page, "--folder", &folder,
        ];
        self.run_screen(&options).map(|_| ())
    }

    fn look_through(&self, every_s: f64) -> Result<Vec<Value>> {
        self.run_screen(&["--at", "0", "--every", &every_s.to_string()])
    }

    fn run_screen(&self, options: &[&str]) -> Result<Vec<Value>> {
        self.run(&["screen"], options)
    }

    /// Runs the daemon on the recording and reads its lines.
    fn run(&self, command: &[&str], options: &[&str]) -> Result<Vec<Value>> {
        let mut program = Command::new(&self.program);
        program.args(command);
        for file in &self.recording {
            if command == ["screen"] {
                program.arg("--recording");
            }
            program.arg(file);
        }
        let program = program.args(options);
        let name = self.program.display();
        let done = program
            .output()
            .with_context(|| format!("{name}: cannot be started; give --cringle PATH"))?;
        if !done.status.success() {
            let words = String::from_utf8_lossy(&done.stderr).trim().to_owned();
            bail!("{name} {}: {words}", command.join(" "));
        }
        let lines = done.stdout.split(|byte| *byte == b'\n');
        lines
            .filter(|line| !line.is_empty())
            .map(|line| serde_json::from_slice(line).context("a line that is no JSON"))
            .collect()
    }
}

fn end_of(moments: &[Value]) -> Result<f64> {
    match moments.last() {
        Some(last) => Ok(number(Some(last), "at_s").max(1.0)),
        None => bail!("the recording is empty"),
    }
}

fn number(line: Option<&Value>, key: &str) -> f64 {
    line.and_then(|line| line.get(key)?.as_f64()).unwrap_or(0.0)
}

/// Calls with their place on the time line.
fn calls(events: &[Value], start_s: f64) -> Vec<Value> {
    events
        .iter()
        .filter(|event| event.get("event").and_then(Value::as_str) == Some("call"))
        .map(|event| {
            let mut call = event.clone();
            call["at_s"] = (number(Some(event), "up_s") - start_s).into();
            call
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calls_are_placed_on_the_time_line_and_other_events_are_not() {
        let events = [
            json!({"event": "call", "call": "prepare", "up_s": 130.0}),
            json!({"event": "summary", "call": "prepare", "up_s": 140.0}),
        ];
        let calls = calls(&events, 100.0);
        assert_eq!(calls.len(), 1);
        assert_eq!(calls[0]["at_s"], 30.0);
    }

    #[test]
    fn a_daemon_that_is_not_there_is_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let nowhere = folder.path().join("nobody");
        let film = Film::open(nowhere, &["r.log".into()], folder.path());
        let words = format!("{:#}", film.err().expect("an error"));
        assert!(words.contains("--cringle PATH"), "{words}");
    }
}
