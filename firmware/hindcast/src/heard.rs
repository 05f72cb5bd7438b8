//! Recordings as series: the monitor's own 1-minute means of true wind.

use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::bail;
use cringle_boat::BoatFile;
use cringle_core::outlook::Summary;
use cringle_core::time::Timestamp;
use cringle_engine::player::{Player, Reached};
use cringle_engine::recording::read as recording_read;
use cringle_engine::replay::{Replay, Unplayable};
use cringle_engine::unpack;

use super::csv;
use super::series::{Sample, Series};

const MINUTE_MS: u64 = 60_000;

/// How files are read.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The boat of recordings, instead of their own.
    pub boat: Option<BoatFile>,
    /// The boat of those that hold none.
    pub otherwise: fn() -> Result<BoatFile, Unplayable>,
    /// The rate of the line, for a log that says nothing of time.
    pub baud: u32,
    /// Shortest mean that is judged, seconds.
    pub mean_s: u32,
}

/// Reads a series or a recording, whichever it is; the remarks are to be said.
///
/// Several paths are the parts of one recording, see [`joined`].
pub fn read(paths: &[PathBuf], how: &Reading) -> Result<(Series, Vec<String>), Unplayable> {
    let [path, more @ ..] = paths else {
        return Err(Unplayable::Input(anyhow::anyhow!("nothing to read")));
    };
    let (samples, remarks) = if is_series(path)? {
        (csv::read(path).map_err(Unplayable::Input)?, Vec::new())
    } else {
        recording(paths, how)?
    };
    let name = match more.len() {
        0 => path.display().to_string(),
        parts => format!("{} and {parts} more parts", path.display()),
    };
    let series = Series::lay(&name, &samples, how.mean_s)
        .map_err(|why| Unplayable::Input(anyhow::anyhow!("{name}: {why}")))?;
    Ok((series, remarks))
}

/// Parts that follow each other in one run of the recorder together, all else
/// by itself, in the order given.
pub fn joined(paths: &[PathBuf]) -> Result<Vec<Vec<PathBuf>>, Unplayable> {
    let mut groups: Vec<Vec<PathBuf>> = Vec::new();
    let mut before = None;
    for path in paths {
        let part = match is_series(path)? {
            true => None,
            false => recording_read::part_of(path),
        };
        let follows = matches!(
            (before, part),
            (Some((run, last)), Some((same, next))) if run == same && next == last + 1
        );
        before = part;
        match groups.last_mut().filter(|_| follows) {
            Some(group) => group.push(path.clone()),
            None => groups.push(vec![path.clone()]),
        }
    }
    Ok(groups)
}

/// A name with `.csv` in it, or a first line that names `unix_s`.
fn is_series(path: &Path) -> Result<bool, Unplayable> {
    use std::io::Read;
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    if name.ends_with(".csv") || name.ends_with(".csv.gz") {
        return Ok(true);
    }
    let mut head = Vec::new();
    let reader = unpack::open(path).map_err(Unplayable::Input)?;
    // What is wrong with it will be said when it is read.
    let _ = reader.take(4096).read_to_end(&mut head);
    let first = head.split(|byte| *byte == b'\n').next().unwrap_or_default();
    Ok(first.windows(6).any(|word| word == b"unix_s"))
}

fn recording(paths: &[PathBuf], how: &Reading) -> Result<(Vec<Sample>, Vec<String>), Unplayable> {
    let path: &Path = paths.first().map_or(Path::new(""), PathBuf::as_path);
    let mut replay = Replay::open(paths, how.boat.clone(), how.otherwise, how.baud)?;
    let mut minutes = Minutes::new(replay.start);
    let mut remarks = std::mem::take(&mut replay.remarks);
    let mut player = Player::new(replay);
    while minutes.hear_next(&mut player)? {}
    remarks.extend(player.replay.last_remarks());
    if minutes.unix_less_up_ms.is_none() {
        remarks.push("no UTC in it: times count from its start".into());
    }
    let samples = minutes.finish(path).map_err(Unplayable::Input)?;
    let remarks = remarks
        .into_iter()
        .map(|remark| format!("{}: {remark}", path.display()));
    Ok((samples, remarks.collect()))
}

/// Looks at the wind at the end of each minute.
struct Minutes {
    next: Timestamp,
    heard: Vec<(u64, Option<Summary>)>,
    /// The first UTC that was known, so that a clock step moves nothing.
    unix_less_up_ms: Option<i64>,
}

impl Minutes {
    fn new(start: Timestamp) -> Minutes {
        Minutes {
            next: Timestamp::from_millis(start.as_millis() + MINUTE_MS),
            heard: Vec::new(),
            unix_less_up_ms: None,
        }
    }

    /// Plays the next minute and looks at its wind; false at the end.
    fn hear_next(&mut self, player: &mut Player) -> Result<bool, Unplayable> {
        let reached = player.play_to(self.next, |_, _| {})?;
        if self.unix_less_up_ms.is_none() {
            let unix_ms = player.engine.unix_ms(self.next);
            self.unix_less_up_ms = unix_ms.map(|unix_ms| unix_ms - self.next.as_millis() as i64);
        }
        if reached == Reached::Moment {
            let wind = player.engine.view().wind;
            let summary = wind.mean_1min_kn.map(|mean_kn| Summary {
                direction_deg: wind.twd_deg,
                ..Summary::of_wind(mean_kn, 60)
            });
            self.heard
                .push((self.next.as_millis() - MINUTE_MS, summary));
        }
        self.next = self.next.after(Duration::from_millis(MINUTE_MS));
        Ok(reached != Reached::End)
    }

    fn finish(self, path: &Path) -> anyhow::Result<Vec<Sample>> {
        if self.heard.iter().all(|(_, summary)| summary.is_none()) {
            bail!(
                "{}: no minute with true wind: it needs apparent wind and water speed, or true \
                 wind, for a minute at least; `cringle census` says what is in it",
                path.display()
            );
        }
        let less = self.unix_less_up_ms.unwrap_or(0);
        let sample = |(up_ms, summary): (u64, Option<Summary>)| Sample {
            unix_s: (up_ms as i64 + less).div_euclid(1000),
            summary,
        };
        Ok(self.heard.into_iter().map(sample).collect())
    }
}
