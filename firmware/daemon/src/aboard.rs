//! What the daemon knows beside the core: ports, recorder, disk, pace.

use std::collections::VecDeque;

use cringle_core::time::Timestamp;
use cringle_screen::aboard::DataOrigin;
use cringle_wire::frame::Junk;

use crate::ports::{Line, News, Place, Port, What};
use crate::recorder::RecorderState;

/// Seconds without a line after which an open port is shown as silent, or
/// without a good one while bytes come, as garbage.
const SILENT_AFTER_S: f64 = 10.0;

/// Raw lines kept for the bench page.
const RAW_LINES: usize = 12;

/// The daemon's own part of the picture, beside the core's view.
#[derive(Clone, Debug, Default)]
pub struct Aboard {
    /// Ports by number.
    pub ports: Vec<PortView>,
    /// The recorder; none was asked for.
    pub recorder: Option<RecorderState>,
    /// What else is wrong with the disk.
    pub storage: Option<String>,
    /// What is wrong with panel, keys and sounders.
    pub devices: Vec<String>,
    /// The skipper's forecast as it was entered.
    pub forecast: Option<std::sync::Arc<cringle_core::forecast::Table>>,
    /// Where the data comes from, and how fast time runs.
    pub pace: DataOrigin,
    /// Steps of the sign of life: see [`crate::pulse`].
    pub beats: u32,
    /// Seconds by the wall since the core last took a reading.
    pub still_s: f64,
    /// Seconds by the wall since the loop handed this over.
    pub hung_s: f64,
    /// Lines that were our own coming back.
    pub own_lines: u64,
    /// The newest raw lines as they came, newest last.
    pub raw_lines: VecDeque<Line>,
}

/// How a port fares.
#[derive(Clone, Debug, PartialEq)]
pub struct PortView {
    /// Its name.
    pub name: String,
    /// Whether anything must come in.
    pub expects: Expects,
    /// How it stands.
    pub state: PortState,
    /// When the last whole line came.
    pub last_line: Option<Timestamp>,
    /// When the last line came that was not refused.
    pub last_good: Option<Timestamp>,
    /// When the last bytes came, whatever they were.
    pub last_bytes: Option<Timestamp>,
    /// Since when it has been open, or shut.
    pub since: Timestamp,
    /// Lines so far.
    pub lines: u64,
    /// Bytes so far.
    pub bytes: u64,
    /// What was no line.
    pub junk: Junk,
    /// Lines whose sentence was not refused.
    pub good: u64,
    /// Lines whose sentence was refused.
    pub refused: u64,
    /// How often it was opened again.
    pub reopened: u32,
}

/// Whether a port that says nothing is at fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expects {
    /// Lines must come.
    Lines,
    /// It is there for others to listen to: they may, but need not, speak.
    Nothing,
}

/// How a port stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortState {
    /// Not opened yet.
    Opening,
    /// Open.
    Open,
    /// Shut or lost, and why; it is tried again.
    Lost(String),
    /// Read to its end.
    Ended,
}

impl Aboard {
    /// Nothing has been heard yet.
    pub fn new(ports: &[Port], pace: DataOrigin) -> Aboard {
        Aboard {
            ports: ports.iter().map(PortView::new).collect(),
            pace,
            ..Aboard::default()
        }
    }

    /// Takes note of what a port says.
    pub fn hear(&mut self, news: &News) {
        if let What::Line(line) = &news.what {
            if self.raw_lines.len() >= RAW_LINES {
                self.raw_lines.pop_front();
            }
            self.raw_lines.push_back(line.clone());
        }
        if let Some(port) = self.ports.get_mut(usize::from(news.port.0)) {
            port.hear(news);
        }
    }

    /// The newest raw lines in printable letters, newest last.
    pub fn printable_lines(&self) -> Vec<String> {
        let printable = |line: &Line| line.escape_ascii().to_string();
        // A TAG block's own backslashes are no escapes.
        let lines = self.raw_lines.iter().map(printable);
        lines.map(|line| line.replace(r"\\", r"\")).collect()
    }

    /// Whether every port has come to its end.
    pub fn has_ended(&self) -> bool {
        !self.ports.is_empty() && self.ports.iter().all(|port| port.state == PortState::Ended)
    }

    /// What is wrong, in words, worst first; empty when all is well.
    pub fn faults(&self, now: Timestamp) -> Vec<String> {
        let mut faults: Vec<String> = self
            .ports
            .iter()
            .filter_map(|port| port.fault(now))
            .collect();
        faults.extend(self.devices.iter().cloned());
        faults.extend(self.storage.clone());
        let recorder = self.recorder.as_ref();
        if let Some(fault) = recorder.and_then(|recorder| recorder.fault.as_ref()) {
            faults.push(format!("not recording: {fault}"));
        }
        faults
    }
}

impl PortView {
    fn new(port: &Port) -> PortView {
        PortView {
            name: port.name.clone(),
            expects: match port.place {
                Place::ServeTcp { .. } => Expects::Nothing,
                _ => Expects::Lines,
            },
            state: PortState::Opening,
            last_line: None,
            last_good: None,
            last_bytes: None,
            since: Timestamp::ZERO,
            lines: 0,
            bytes: 0,
            junk: Junk::default(),
            good: 0,
            refused: 0,
            reopened: 0,
        }
    }

    /// Seconds since the last whole line; none yet.
    pub fn age_s(&self, now: Timestamp) -> Option<f64> {
        self.last_line.map(|at| now.secs_since(at))
    }

    /// Whether it is open and nothing comes.
    pub fn is_silent(&self, now: Timestamp) -> bool {
        if self.expects == Expects::Nothing && self.bytes == 0 {
            return false;
        }
        let since = self.last_line.unwrap_or(self.since).max(self.since);
        self.state == PortState::Open && now.secs_since(since) >= SILENT_AFTER_S
    }

    /// Whether it is open and bytes come, but no sentence among them.
    pub fn is_garbage(&self, now: Timestamp) -> bool {
        let lately = |at: Timestamp| now.secs_since(at) < SILENT_AFTER_S;
        let good = self.last_good.unwrap_or(self.since).max(self.since);
        self.state == PortState::Open && self.last_bytes.is_some_and(lately) && !lately(good)
    }

    /// Takes how many of its lines were refused so far, by the decoder.
    pub fn count_refused(&mut self, refused: u64) {
        let good = self.lines.saturating_sub(refused);
        if good > self.good {
            self.last_good = self.last_line;
        }
        self.good = good;
        self.refused = refused;
    }

    /// Lines thrown away so far: cut off, too long, or refused.
    pub fn bad(&self) -> u64 {
        u64::from(self.junk.over_long) + u64::from(self.junk.cut_off) + self.refused
    }

    fn hear(&mut self, news: &News) {
        match &news.what {
            What::Line(_) => {
                self.lines += 1;
                self.last_line = Some(news.at);
            }
            What::Bytes { bytes, junk } => {
                self.bytes += bytes.len() as u64;
                if !bytes.is_empty() {
                    self.last_bytes = Some(news.at);
                }
                self.junk = *junk;
            }
            What::Open => {
                if matches!(self.state, PortState::Lost(_)) {
                    self.reopened += 1;
                }
                self.state = PortState::Open;
                self.since = news.at;
            }
            What::Closed(why) => {
                if !matches!(self.state, PortState::Lost(_)) {
                    self.since = news.at;
                }
                self.state = PortState::Lost(why.clone());
            }
            What::Ended => self.state = PortState::Ended,
        }
    }

    fn fault(&self, now: Timestamp) -> Option<String> {
        match &self.state {
            PortState::Lost(why) => Some(format!("{}: {why}", self.name)),
            PortState::Open if self.is_garbage(now) => Some(format!(
                "{}: garbage: bytes come and no good sentence is among them",
                self.name
            )),
            PortState::Open if self.is_silent(now) => match self.age_s(now) {
                Some(age) => Some(format!("{}: no line for {age:.0} s", self.name)),
                None => Some(format!("{}: nothing heard", self.name)),
            },
            PortState::Opening | PortState::Open | PortState::Ended => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::{Clients, PortId};

    fn news(second: u64, what: What) -> News {
        News {
            port: PortId(0),
            at: Timestamp::from_secs(second),
            what,
        }
    }

    fn aboard() -> Aboard {
        aboard_with(Place::StandardInput)
    }

    fn aboard_with(place: Place) -> Aboard {
        let port = Port {
            id: PortId(0),
            name: "mast".into(),
            place,
        };
        Aboard::new(&[port], DataOrigin::Live)
    }

    #[test]
    fn a_server_to_which_nobody_has_spoken_is_not_at_fault() {
        let mut aboard = aboard_with(Place::ServeTcp {
            address: "127.0.0.1:0".into(),
            clients: Clients::MaySpeak,
        });
        aboard.hear(&news(1, What::Open));
        assert_eq!(faults(&aboard, 60), [""; 0]);
        aboard.hear(&news(2, What::Line(crate::ports::Line::new())));
        aboard.hear(&news(
            2,
            What::Bytes {
                bytes: [b'\n'; 2].into(),
                junk: Junk::default(),
            },
        ));
        assert_eq!(faults(&aboard, 60), ["mast: no line for 58 s"]);
    }

    const GARBAGE: &str = "mast: garbage: bytes come and no good sentence is among them";

    /// At a wrong rate lines are cut from the noise too, and refused.
    #[test]
    fn a_port_with_garbage_only_says_garbage_whether_or_not_lines_are_cut_from_it() {
        let mut aboard = aboard();
        aboard.hear(&news(1, What::Open));
        let noise = || What::Bytes {
            bytes: [b'$', 0xfe, b'\n'].into(),
            junk: Junk::default(),
        };
        for second in 2..40 {
            let line = crate::ports::Line::from_slice(b"$\xfe").unwrap();
            aboard.hear(&news(second, What::Line(line)));
            aboard.hear(&news(second, noise()));
            aboard.ports[0].count_refused(second - 1);
            let is_garbage = aboard.ports[0].is_garbage(Timestamp::from_secs(second));
            assert_eq!(is_garbage, second >= 11, "{second}");
        }
        assert_eq!(faults(&aboard, 39), [GARBAGE]);
        // A good line ends it; a noisy wire with good lines is none.
        for second in 40..80 {
            aboard.hear(&news(second, What::Line(crate::ports::Line::new())));
            aboard.hear(&news(second, noise()));
            aboard.ports[0].count_refused(38);
            assert_eq!(faults(&aboard, second), [""; 0]);
        }
        // Nothing any more is silence.
        assert_eq!(faults(&aboard, 95), ["mast: no line for 16 s"]);
    }

    fn faults(aboard: &Aboard, second: u64) -> Vec<String> {
        aboard.faults(Timestamp::from_secs(second))
    }

    #[test]
    fn a_port_is_at_fault_while_it_is_lost_silent_or_full_of_junk() {
        let mut aboard = aboard();
        aboard.hear(&news(1, What::Open));
        assert_eq!(faults(&aboard, 5), [""; 0]);
        assert_eq!(faults(&aboard, 11), ["mast: nothing heard"]);
        aboard.hear(&news(
            12,
            What::Bytes {
                bytes: [0xff; 40].into(),
                junk: Junk::default(),
            },
        ));
        assert_eq!(faults(&aboard, 12), [GARBAGE]);
        aboard.hear(&news(13, What::Line(crate::ports::Line::new())));
        aboard.ports[0].count_refused(0);
        assert_eq!(faults(&aboard, 13), [""; 0]);
        aboard.hear(&news(14, What::Closed("hung up".into())));
        assert_eq!(faults(&aboard, 14), ["mast: hung up"]);
        aboard.hear(&news(20, What::Open));
        // Silent since it was opened again, not since the last line.
        assert_eq!(faults(&aboard, 25), [""; 0]);
        assert_eq!(aboard.ports[0].reopened, 1);
    }
}
