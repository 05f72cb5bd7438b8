//! A recording through the same core: the same inputs at the same times, and
//! so the same events, as fast as the computer can or at a pace.

use std::path::PathBuf;

use anyhow::Context;
use cringle_boat::BoatFile;
use cringle_core::act::Act;
use cringle_core::forecast::Table;
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_wire::recording::LineTime;

use crate::commands::Failure;
use crate::engine::Engine;
use crate::names::Names;
use crate::ports::PortId;
use crate::recorder::lines::Entry;
use crate::recorder::read::{Damage, Kind, Recording};
use crate::state::State;
use crate::{boatfile, wiring};

/// What a foreign log's one port is called.
const LOG: &str = "log";

/// A foreign log's own time may wander by so much before UTC is set anew.
const UTC_WANDERS_MS: u64 = 1000;

/// A recording with what it needs to be heard again.
pub struct Replay {
    recording: Recording,
    line_time: Option<LineTime>,
    /// The boat it is replayed with.
    pub boat_file: BoatFile,
    /// Names of the ports, in their order.
    pub ports: Vec<String>,
    /// When the core began.
    pub start: Timestamp,
    /// What is to be said aloud before it begins.
    pub remarks: Vec<String>,
    utc: Option<UtcFix>,
    pending: Option<(Timestamp, Heard)>,
    /// Whether the forecast is another than the recording's.
    other_forecast: bool,
}

/// One thing that went in.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A line.
    Line(PortId, Vec<u8>),
    /// An act of the crew.
    Act(Act),
    /// A moment of UTC.
    Utc(UtcFix),
    /// What the core was told of the time before.
    State(String),
    /// Another forecast of the skipper, or none any more.
    Forecast(Option<Table>),
    /// Time went on.
    Tick,
}

impl Replay {
    /// Opens a recording. Its own boat file is used unless another is given;
    /// a foreign log has none and needs one.
    pub fn open(
        paths: &[PathBuf],
        given: Option<BoatFile>,
        otherwise: impl FnOnce() -> Result<BoatFile, Failure>,
        baud: u32,
    ) -> Result<Replay, Failure> {
        let recording = Recording::open(paths).map_err(Failure::Usage)?;
        match recording.kind() {
            Kind::Own => Replay::own(recording, given),
            Kind::Foreign => {
                let boat_file = match given {
                    Some(given) => given,
                    None => otherwise()?,
                };
                recording_of_lines(recording, boat_file, baud)
            }
        }
    }

    fn own(mut recording: Recording, given: Option<BoatFile>) -> Result<Replay, Failure> {
        let head = recording.head().map_err(Failure::Usage)?;
        let mut remarks = Vec::new();
        let mut boat_file = match (given, &head.boat_file) {
            (Some(given), _) => {
                remarks.push("another boat file than the recording's: events will differ".into());
                given
            }
            (None, Some(text)) => boatfile::parse("the recording's boat file", text)?,
            (None, None) => {
                let words = "the recording holds no boat file: give --boat FILE";
                return Err(Failure::Usage(anyhow::anyhow!(words)));
            }
        };
        if let Some(forecast) = head.forecast {
            boat_file.boat.forecast = forecast;
        }
        if head.part > 1 {
            remarks.push(format!(
                "begins at part {}: what was before it is missing, and events may differ at first",
                head.part
            ));
        }
        Ok(Replay {
            recording,
            line_time: None,
            boat_file,
            ports: head.ports.into_iter().map(|(_, name)| name).collect(),
            start: head.start,
            remarks,
            utc: None,
            pending: None,
            other_forecast: false,
        })
    }

    /// Uses this forecast, or none, instead of the recording's or the boat
    /// file's.
    pub fn use_forecast(&mut self, table: Option<Table>) {
        self.boat_file.boat.forecast = table;
        self.other_forecast = true;
        let words = "another forecast than the recording's: events may differ";
        self.remarks.push(words.into());
    }

    /// Decoders and core as they were aboard.
    pub fn engine(&self) -> Engine {
        let decoders = wiring::decoders(&self.boat_file, &self.ports);
        Engine::new(&self.boat_file.boat, decoders, None, self.start)
    }

    /// Names of plans, items and ports.
    pub fn names(&self) -> Names {
        wiring::names(&self.boat_file, &self.ports)
    }

    /// The next thing that went in, and when.
    pub fn next_heard(&mut self) -> Result<Option<(Timestamp, Heard)>, Failure> {
        if let Some(pending) = self.pending.take() {
            return Ok(Some(pending));
        }
        let next = match self.line_time.is_some() {
            true => self.next_line(),
            false => self.next_input(),
        };
        next.map_err(Failure::Environment)
    }

    /// Gives something that went in to an engine.
    pub fn feed(&self, engine: &mut Engine, at: Timestamp, heard: &Heard) -> anyhow::Result<()> {
        match heard {
            Heard::Line(port, line) => engine.line(*port, line, at),
            Heard::Act(act) => engine.act(*act, at),
            Heard::Utc(fix) => engine.utc(*fix),
            Heard::State(state) => {
                let boat = &self.boat_file.boat;
                let state = State::read(state, boat, &engine.saved())
                    .map_err(|why| anyhow::anyhow!(why))
                    .context("the recording's starting state")?;
                let decoders = wiring::decoders(&self.boat_file, &self.ports);
                *engine = Engine::new(boat, decoders, Some(&state.saved), at);
            }
            Heard::Forecast(table) => engine.forecast(table.clone(), at),
            Heard::Tick => engine.tick(at),
        }
        Ok(())
    }

    /// What is to be said aloud at the end.
    pub fn last_remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let Damage { lines, lost, parts } = self.recording.damage();
        if lines > 0 {
            remarks.push(format!("{lines} lines of the recording are damaged"));
        }
        if lost > 0 {
            remarks.push(format!("{lost} inputs had not been recorded"));
        }
        if parts > 0 {
            remarks.push(format!("{parts} parts of the recording are missing"));
        }
        if let Some(line_time) = &self.line_time {
            let used = line_time.used();
            if let Some(how) = used.mostly() {
                remarks.push(format!("times taken from: {}", how.words()));
            }
            if used.no_sentence > 0 {
                remarks.push(format!("{} lines held no sentence", used.no_sentence));
            }
            if used.went_back > 0 {
                remarks.push(format!("the log's time went back {} times", used.went_back));
            }
        }
        remarks
    }

    fn next_input(&mut self) -> anyhow::Result<Option<(Timestamp, Heard)>> {
        while let Some(entry) = self.recording.input()? {
            let heard = match entry {
                Entry::Heard { port, at, line, .. } => (at, Heard::Line(port, line)),
                Entry::Act(at, act) => (at, Heard::Act(act)),
                Entry::Utc(fix) => (fix.at, Heard::Utc(fix)),
                Entry::State(at, state) | Entry::Carried(at, state) => (at, Heard::State(state)),
                // One that was given instead stands to the end.
                Entry::Forecast(..) if self.other_forecast => continue,
                Entry::Forecast(at, table) => (at, Heard::Forecast(table)),
                Entry::Tick(at) | Entry::End(at) => (at, Heard::Tick),
                Entry::Format(_)
                | Entry::Part { .. }
                | Entry::Port(..)
                | Entry::Boat(_)
                | Entry::Start(_)
                | Entry::Lost(_) => continue,
            };
            return Ok(Some(heard));
        }
        Ok(None)
    }

    fn next_line(&mut self) -> anyhow::Result<Option<(Timestamp, Heard)>> {
        let Some(line_time) = &mut self.line_time else {
            return Ok(None);
        };
        while let Some(raw) = self.recording.raw_line()? {
            let Some(timed) = line_time.read(&raw) else {
                continue;
            };
            let (at, line) = (timed.at, timed.line.to_vec());
            if let Some(unix_ms) = timed.unix_ms
                && wanders(self.utc, unix_ms, at)
            {
                let fix = UtcFix {
                    unix_ms,
                    at,
                    quality: UtcQuality::Recording,
                };
                self.utc = Some(fix);
                self.pending = Some((at, Heard::Line(PortId(0), line)));
                return Ok(Some((at, Heard::Utc(fix))));
            }
            return Ok(Some((at, Heard::Line(PortId(0), line))));
        }
        Ok(None)
    }
}

fn recording_of_lines(
    recording: Recording,
    boat_file: BoatFile,
    baud: u32,
) -> Result<Replay, Failure> {
    Ok(Replay {
        recording,
        line_time: Some(LineTime::new(baud)),
        boat_file,
        ports: vec![LOG.into()],
        start: Timestamp::ZERO,
        remarks: vec!["a log of bare lines: no keys, hands or state are in it".into()],
        utc: None,
        pending: None,
        other_forecast: false,
    })
}

fn wanders(known: Option<UtcFix>, unix_ms: i64, at: Timestamp) -> bool {
    known.is_none_or(|fix| fix.unix_ms_at(at).abs_diff(unix_ms) > UTC_WANDERS_MS)
}
