//! A recording through the same core: the same inputs at the same times, and
//! so the same events, as fast as the computer can or at a pace.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::time::Duration;

use anyhow::Context;
use cringle_boat::BoatFile;
use cringle_core::forecast::Table;
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_core::watch::{SavedForecast, Watch};
use cringle_wire::frame::parted;
use cringle_wire::recording::{How, LineTime};

use crate::engine::Engine;
use crate::input::Input;
use crate::names::Names;
use crate::recording::lines::Entry;
use crate::recording::read::{Damage, Kind, Recording};
use crate::state::State;
use crate::{PortId, decoders};

/// What a foreign log's one port is called.
const LOG: &str = "log";

/// A foreign log's own time may wander by so much before UTC is set anew.
const UTC_WANDERS_MS: u64 = 1000;

/// A time that is told only once is never confirmed after a damaged one.
const UTC_AGAIN: Duration = Duration::from_secs(60);

/// In so many lines of a foreign log one has a time of its own, or none has.
const LOOKED_AT: usize = 200;

/// Why a recording cannot be replayed.
#[derive(Debug)]
pub enum Unplayable {
    /// Something is wrong with what was given.
    Input(anyhow::Error),
    /// It cannot be read on.
    Reading(anyhow::Error),
}

impl std::fmt::Display for Unplayable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Unplayable::Input(error) | Unplayable::Reading(error) => write!(f, "{error:#}"),
        }
    }
}

impl std::error::Error for Unplayable {}

/// A recording with what it needs to be heard again.
pub struct Replay {
    recording: Recording,
    line_time: Option<LineTime>,
    /// Lines of a foreign log that were looked at before.
    looked_at: VecDeque<Vec<u8>>,
    /// The boat it is replayed with.
    pub boat_file: BoatFile,
    /// Names of the ports, in their order.
    pub ports: Vec<String>,
    /// When the core began.
    pub start: Timestamp,
    /// What is to be said aloud before it begins.
    pub remarks: Vec<String>,
    /// What the core was last told of a foreign log's own clock.
    log_clock: Option<UtcFix>,
    /// To be given next.
    pending: VecDeque<(Timestamp, Input)>,
    /// When the newest input went in.
    played_to: Timestamp,
    /// Whether the forecast is another than the recording's.
    other_forecast: bool,
}

impl Replay {
    /// Opens a recording. Its own boat file is used unless another is given;
    /// a foreign log has none and needs one.
    pub fn open<E: From<Unplayable>>(
        paths: &[PathBuf],
        given: Option<BoatFile>,
        otherwise: impl FnOnce() -> Result<BoatFile, E>,
        baud: u32,
    ) -> Result<Replay, E> {
        let recording = Recording::open(paths).map_err(Unplayable::Input)?;
        match recording.kind() {
            Kind::Own => Ok(Replay::own(recording, given).map_err(Unplayable::Input)?),
            Kind::Foreign => {
                let boat_file = match given {
                    Some(given) => given,
                    None => otherwise()?,
                };
                Ok(Replay::foreign(recording, boat_file, baud).map_err(Unplayable::Input)?)
            }
        }
    }

    fn own(mut recording: Recording, given: Option<BoatFile>) -> anyhow::Result<Replay> {
        let head = recording.head()?;
        let mut remarks = Vec::new();
        let mut boat_file = match (given, &head.boat_file) {
            (Some(given), _) => {
                remarks.push("another boat file than the recording's: events will differ".into());
                given
            }
            (None, Some(text)) => cringle_boat::parse("the recording's boat file", text)?,
            (None, None) => {
                anyhow::bail!("the recording holds no boat file: give --boat FILE");
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
            looked_at: VecDeque::new(),
            boat_file,
            ports: head.ports.into_iter().map(|(_, name)| name).collect(),
            start: head.start,
            remarks,
            log_clock: None,
            pending: VecDeque::new(),
            played_to: head.start,
            other_forecast: false,
        })
    }

    fn foreign(
        mut recording: Recording,
        mut boat_file: BoatFile,
        baud: u32,
    ) -> anyhow::Result<Replay> {
        let mut remarks = vec!["a log of bare lines: no keys, hands or state are in it".into()];
        let mut looked_at = VecDeque::new();
        let stamps = look_for_stamps(&mut recording, &mut looked_at, baud)?;
        let instruments = &mut boat_file.boat.instruments;
        if stamps == Stamps::Made && instruments.mast_motion.take().is_some() {
            remarks.push(
                "no line of the log has a time of its own: the mast's motion is not taken out of \
                 the wind, as heel at times that are made up would put false wind in"
                    .into(),
            );
        }
        Ok(Replay {
            recording,
            line_time: Some(LineTime::new(baud)),
            looked_at,
            boat_file,
            ports: vec![LOG.into()],
            start: Timestamp::ZERO,
            remarks,
            log_clock: None,
            pending: VecDeque::new(),
            played_to: Timestamp::ZERO,
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
        let decoders = decoders::decoders(&self.boat_file, &self.ports);
        Engine::new(&self.boat_file.boat, decoders, None, self.start)
    }

    /// Names of plans, items and ports.
    pub fn names(&self) -> Names {
        decoders::names(&self.boat_file, &self.ports)
    }

    /// The next thing that went in, and when.
    pub fn next_input(&mut self) -> Result<Option<(Timestamp, Input)>, Unplayable> {
        if let Some(pending) = self.pending.pop_front() {
            return Ok(Some(pending));
        }
        let next = match self.line_time.is_some() {
            true => self.next_line().map_err(Unplayable::Reading)?,
            false => self.next_entry()?,
        };
        if let Some((at, _)) = next {
            self.played_to = self.played_to.max(at);
        }
        Ok(next)
    }

    /// How far it has been read: when its newest input went in.
    pub fn played_to(&self) -> Timestamp {
        self.played_to
    }

    /// Gives the input that was taken last once more.
    pub fn put_back(&mut self, at: Timestamp, input: Input) {
        self.pending.push_front((at, input));
    }

    /// What is to be said aloud at the end.
    pub fn last_remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let Damage {
            lines,
            lost,
            parts,
            cut,
        } = self.recording.damage();
        if lines > 0 {
            remarks.push(format!("{lines} lines of the recording are damaged"));
        }
        if lost > 0 {
            remarks.push(format!("{lost} inputs had not been recorded"));
        }
        if parts > 0 {
            remarks.push(format!("{parts} parts of the recording are missing"));
        }
        if cut > 0 {
            remarks.push(format!(
                "{cut} files of the recording are cut off: the last seconds may be missing"
            ));
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

    fn next_entry(&mut self) -> Result<Option<(Timestamp, Input)>, Unplayable> {
        while let Some(entry) = self.recording.input().map_err(Unplayable::Reading)? {
            let input = match entry {
                Entry::Heard { port, at, line, .. } => (at, Input::Line(port, line)),
                Entry::Act(at, act) => (at, Input::Act(act)),
                Entry::Utc(fix) => (fix.at, Input::Utc(fix)),
                Entry::State(at, state) | Entry::Carried(at, state) => {
                    (at, self.state(&state).map_err(Unplayable::Input)?)
                }
                // One that was given instead stands to the end.
                Entry::Forecast(..) if self.other_forecast => continue,
                Entry::Forecast(at, table) => (at, Input::Forecast(table)),
                Entry::Tick(at) | Entry::End(at) => (at, Input::Tick),
                Entry::Format(_)
                | Entry::Part { .. }
                | Entry::Port(..)
                | Entry::Boat(_)
                | Entry::Start(_)
                | Entry::Lost(_) => continue,
            };
            return Ok(Some(input));
        }
        Ok(None)
    }

    fn state(&self, line: &str) -> anyhow::Result<Input> {
        let boat = &self.boat_file.boat;
        let cold = Watch::new(boat, None, self.start).saved();
        let mut state = State::read(line, boat, &cold)
            .map_err(anyhow::Error::msg)
            .context("the recording's starting state")?;
        if self.other_forecast {
            state.saved.forecast = SavedForecast::OfTheBoat;
        }
        Ok(Input::State(Box::new(state.saved)))
    }

    fn next_line(&mut self) -> anyhow::Result<Option<(Timestamp, Input)>> {
        let Some(line_time) = &mut self.line_time else {
            return Ok(None);
        };
        loop {
            let raw = match self.looked_at.pop_front() {
                Some(raw) => raw,
                None => match self.recording.raw_line()? {
                    Some(raw) => raw,
                    None => return Ok(None),
                },
            };
            // Run together as a logger may write them, parted as live ones.
            let mut parts = parted(&raw);
            let Some(first) = parts.next() else { continue };
            let others: Vec<_> = parts.map(<[u8]>::to_vec).collect();
            for other in others.into_iter().rev() {
                self.looked_at.push_front(other);
            }
            let raw = first;
            let Some(timed) = line_time.read(raw) else {
                continue;
            };
            let (at, line) = (timed.at, timed.line.to_vec());
            let line = Input::Line(PortId(0), line);
            if let Some(unix_ms) = timed.unix_ms
                && is_due(self.log_clock, unix_ms, at)
            {
                let fix = UtcFix {
                    unix_ms,
                    at,
                    quality: UtcQuality::Recording,
                };
                self.log_clock = Some(fix);
                self.pending.push_back((at, line));
                return Ok(Some((at, Input::Utc(fix))));
            }
            return Ok(Some((at, line)));
        }
    }
}

/// Whether the lines of a foreign log were stamped as they came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stamps {
    /// By whoever wrote it.
    Own,
    /// Their times are made here, from RMC and ZDA or the rate of the line:
    /// good to a second or so, but not as rates of change between two lines.
    Made,
}

/// Looks at the first lines and keeps them for later.
fn look_for_stamps(
    recording: &mut Recording,
    looked_at: &mut VecDeque<Vec<u8>>,
    baud: u32,
) -> anyhow::Result<Stamps> {
    let mut line_time = LineTime::new(baud);
    while looked_at.len() < LOOKED_AT {
        let Some(raw) = recording.raw_line()? else {
            break;
        };
        let how = line_time.read(&raw).map(|timed| timed.how);
        looked_at.push_back(raw);
        match how {
            Some(How::Tag | How::Iso | How::UnixSeconds | How::UnixMillis | How::LineBefore) => {
                return Ok(Stamps::Own);
            }
            Some(How::Sentence | How::Rate) | None => {}
        }
    }
    Ok(Stamps::Made)
}

/// Whether the core is to be told the time anew: it goes otherwise than it was
/// told, or it was told a minute ago.
fn is_due(known: Option<UtcFix>, unix_ms: i64, at: Timestamp) -> bool {
    known.is_none_or(|fix| {
        fix.unix_ms_at(at).abs_diff(unix_ms) > UTC_WANDERS_MS || at.since(fix.at) >= UTC_AGAIN
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A steady wind with a heel that rolls, as a foreign log of one form.
    fn replayed(name: &str, lead: impl Fn(u32) -> String) -> (Vec<String>, Replay, usize) {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join(name);
        let mut log = String::new();
        for second in 0..60 {
            for body in [
                "WIMWV,041.0,R,15.6,N,A".to_owned(),
                format!("YXXDR,A,{}.0,D,HEEL", 10 + second % 5),
                format!("GPRMC,1200{second:02}.00,A,4807.038,N,00531.000,W,6.4,084.4,120626,,,A"),
            ] {
                let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
                log += &format!("{}${body}*{sum:02X}\n", lead(second));
            }
        }
        std::fs::write(&path, log).unwrap();
        let boat_file = cringle_boat::example().unwrap();
        assert!(boat_file.boat.instruments.mast_motion.is_some());
        let nobody = || Err(Unplayable::Input(anyhow::anyhow!("one is given")));
        let mut replay = Replay::open(&[path], Some(boat_file), nobody, 4800).unwrap();
        let mut lines = 0;
        while let Some((_, input)) = replay.next_input().unwrap() {
            lines += usize::from(matches!(input, Input::Line(..)));
        }
        (replay.remarks.clone(), replay, lines)
    }

    #[test]
    fn run_together_lines_of_a_log_are_all_heard_at_their_own_times() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("run-together.nmea");
        let wind = "$WIMWV,214.8,R,15.6,N,A*1E";
        std::fs::write(
            &path,
            format!("1764050000 {wind}{wind}\n1764050001 {wind}\n"),
        )
        .unwrap();
        let boat_file = cringle_boat::example().unwrap();
        let nobody = || Err(Unplayable::Input(anyhow::anyhow!("one is given")));
        let mut replay = Replay::open(&[path], Some(boat_file), nobody, 4800).unwrap();
        let mut heard = Vec::new();
        while let Some((at, input)) = replay.next_input().unwrap() {
            if let Input::Line(_, line) = input {
                assert_eq!(line, wind.as_bytes());
                heard.push(at.as_millis());
            }
        }
        assert_eq!(heard, [0, 0, 1000]);
    }

    fn said_of_motion(remarks: &[String]) -> usize {
        let is_it = |it: &&String| it.contains("mast's motion");
        remarks.iter().filter(is_it).count()
    }

    #[test]
    fn mast_motion_is_left_out_of_a_log_whose_times_are_made_up_and_that_is_said_once() {
        let (remarks, replay, lines) = replayed("bare.nmea", |_| String::new());
        assert_eq!(said_of_motion(&remarks), 1, "{remarks:?}");
        assert_eq!(replay.boat_file.boat.instruments.mast_motion, None);
        // The lines that were looked at are not lost.
        assert_eq!(lines, 180);
    }

    #[test]
    fn mast_motion_stays_where_lines_have_times_of_their_own() {
        let (remarks, replay, lines) = replayed("timed.nmea", |second| {
            format!("{} ", 1_781_265_600 + u64::from(second))
        });
        assert_eq!(said_of_motion(&remarks), 0, "{remarks:?}");
        assert!(replay.boat_file.boat.instruments.mast_motion.is_some());
        assert_eq!(lines, 180);
    }
}
