//! The daemon's own part of the picture: what the core does not know.

/// Beside the view: recorder, ports, storage, and the sign of life.
#[derive(Clone, Copy, Debug)]
pub struct Aboard<'a> {
    /// The sign of life.
    pub alive: Alive,
    /// The recorder.
    pub recorder: Recorder,
    /// The disk that the recorder and the state file are on.
    pub storage: Storage,
    /// What is wrong with panel, keys and sounders, in words.
    pub devices: &'a [&'a str],
    /// The ports, in the order of the command line.
    pub ports: &'a [Port<'a>],
    /// Where the data comes from, and how fast time runs.
    pub pace: Pace,
    /// The newest raw lines for the bench page, newest last.
    pub raw_lines: &'a [&'a str],
}

impl Aboard<'_> {
    /// Nothing known: what a screen shows before anything has run.
    pub const NOTHING: Aboard<'static> = Aboard {
        alive: Alive {
            beats: 0,
            still_s: 0.0,
        },
        recorder: Recorder::Off,
        storage: Storage::Unknown,
        devices: &[],
        ports: &[],
        pace: Pace::Live,
        raw_lines: &[],
    };
}

/// Counts up only while everything upstream runs: a port hands over lines and
/// the core takes them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Alive {
    /// Steps so far; one a second is enough.
    pub beats: u32,
    /// Seconds since the last step.
    pub still_s: f32,
}

impl Alive {
    /// Stillness from which the picture is not to be trusted.
    pub const STOPPED_AFTER_S: f32 = 5.0;

    /// Whether it has stood still too long.
    pub fn is_stopped(&self) -> bool {
        self.still_s.is_nan() || self.still_s >= Self::STOPPED_AFTER_S
    }
}

/// What the recorder does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Recorder {
    /// Not asked to record.
    #[default]
    Off,
    /// Writes.
    Recording,
    /// Asked to and can't.
    Failed,
}

/// The disk.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Storage {
    /// Not looked at.
    #[default]
    Unknown,
    /// So much is left.
    Free {
        /// Megabytes.
        megabytes: u32,
    },
    /// Little is left.
    Low {
        /// Megabytes.
        megabytes: u32,
    },
    /// Can't be written.
    Failed,
}

/// A port.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Port<'a> {
    /// Its name.
    pub name: &'a str,
    /// Whether it is open.
    pub state: PortState,
    /// Seconds since the last whole line; none yet.
    pub age_s: Option<f32>,
    /// Good lines.
    pub lines: u64,
    /// Lines thrown away: checksum, length, not understood.
    pub bad: u64,
}

/// Whether a port is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PortState {
    /// Open, and lines come.
    Open,
    /// Open, and nothing comes.
    Silent,
    /// Shut or lost; will be tried again.
    Lost,
}

/// Where the data comes from, and how fast time runs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Pace {
    /// The boat itself.
    #[default]
    Live,
    /// The built-in passage, so many times faster than life.
    Demo {
        /// Times faster.
        times: f32,
    },
    /// A recording, so many times faster than life.
    Replay {
        /// Times faster.
        times: f32,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stillness_of_unknown_length_counts_as_stopped() {
        let still = |still_s| Alive { beats: 3, still_s };
        assert!(!still(1.0).is_stopped());
        assert!(still(5.0).is_stopped());
        assert!(still(f32::NAN).is_stopped());
    }
}
