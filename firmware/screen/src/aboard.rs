//! The daemon's own part of the picture: what the core does not know.

use cringle_core::view::View;

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
    pub pace: DataOrigin,
    /// The newest raw lines for the bench page, newest last.
    pub raw_lines: &'a [&'a str],
}

impl Aboard<'_> {
    /// Nothing known: what a screen shows before anything has run.
    pub const NOTHING: Aboard<'static> = Aboard {
        alive: Alive {
            beats: 0,
            still_s: 0.0,
            hung_s: 0.0,
        },
        recorder: Recorder::Off,
        storage: Storage::Unknown,
        devices: &[],
        ports: &[],
        pace: DataOrigin::Live,
        raw_lines: &[],
    };
}

/// Counts up only while everything upstream runs: a port hands over lines and
/// the core takes them.
///
/// Two silences are told apart, since instruments may speak slowly and the
/// daemon may not: what is *heard* may pause as long as the instruments usually
/// do, what is *handed over* never for long.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Alive {
    /// Steps so far; one a second is enough.
    pub beats: u32,
    /// Seconds since the core last took a reading.
    pub still_s: f32,
    /// Seconds since the daemon's loop last handed over a picture.
    pub hung_s: f32,
}

impl Alive {
    /// Stillness from which the picture is not to be trusted.
    pub const STOPPED_AFTER_S: f32 = 5.0;
    /// The longest silence that any instruments may make a habit of.
    pub const STOPPED_AT_LAST_S: f32 = 20.0;
    /// What is allowed to sources that have not yet been heard often enough to
    /// know their period; the core allows them as much.
    const UNMEASURED_S: f32 = 10.0;
    /// Instruments may miss one turn; what they say comes in bursts.
    const PERIODS: f64 = 2.5;

    /// Whether it has stood still too long for the instruments of this view.
    pub fn is_stopped(&self, view: &View) -> bool {
        self.is_hung() || is_long(self.still_s, Self::patience_s(view))
    }

    /// Whether the daemon itself stands still, whatever the instruments do.
    pub fn is_hung(&self) -> bool {
        is_long(self.hung_s, Self::STOPPED_AFTER_S)
    }

    /// Seconds that nothing may be heard: by the most talkative source's own
    /// period, within bounds.
    pub fn patience_s(view: &View) -> f32 {
        let periods = view.sources.iter().filter_map(|source| source.period_s);
        let shortest = periods.fold(f64::INFINITY, f64::min);
        if shortest.is_finite() {
            let patience = (shortest * Self::PERIODS) as f32;
            patience.clamp(Self::STOPPED_AFTER_S, Self::STOPPED_AT_LAST_S)
        } else if view.sources.is_empty() {
            Self::STOPPED_AFTER_S
        } else {
            Self::UNMEASURED_S
        }
    }
}

fn is_long(still: f32, limit: f32) -> bool {
    still.is_nan() || still >= limit
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
    /// Open, and bytes come, but no sentence among them.
    Garbage,
    /// Open, and nothing comes.
    Silent,
    /// Shut or lost; will be tried again.
    Lost,
}

/// Where the data comes from, and how fast time runs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum DataOrigin {
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

    fn alive(still_s: f32, hung_s: f32) -> Alive {
        Alive {
            beats: 3,
            still_s,
            hung_s,
        }
    }

    #[test]
    fn stillness_of_unknown_length_counts_as_stopped() {
        let view = crate::samples::calm();
        let stopped = |still_s, hung_s| alive(still_s, hung_s).is_stopped(&view);
        assert!(!stopped(1.0, 0.2));
        assert!(stopped(5.0, 0.2));
        assert!(stopped(1.0, 5.0));
        assert!(stopped(f32::NAN, 0.2) && stopped(1.0, f32::NAN));
    }

    #[test]
    fn slow_instruments_may_pause_but_a_hung_daemon_may_not() {
        let mut view = crate::samples::calm();
        for source in &mut view.sources {
            source.period_s = Some(6.0);
        }
        assert!(!alive(7.0, 0.2).is_stopped(&view));
        assert!(alive(15.0, 0.2).is_stopped(&view));
        assert!(alive(7.0, 5.0).is_stopped(&view));
        // However slow they are, and where nothing is known of them.
        for source in &mut view.sources {
            source.period_s = Some(600.0);
        }
        assert!(alive(20.0, 0.2).is_stopped(&view));
        view.sources.clear();
        assert!(alive(5.0, 0.2).is_stopped(&view));
    }
}
