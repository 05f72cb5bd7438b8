//! What work costs these people, in one plain unit: minutes of work by day.

/// Weights of the comparison. Common practice, no source: each crew may set
/// its own in the boat file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Costs {
    /// Minutes of work that waking somebody is worth. A sleep broken is hardly
    /// found again in a watch of three hours.
    pub wake_min: f64,
    /// What each minute of work in the dark costs beside itself.
    pub dark: f64,
    /// What each minute past the limit costs beside the work.
    pub past: f64,
    /// Minutes of work that a change which can no longer be made is worth: as
    /// long past the limit as a squall or a change of watch lasts.
    pub impossible_min: f64,
    /// Whether the hint sounds.
    pub hint: HintSound,
}

/// How the hint comes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum HintSound {
    /// Shown alone.
    #[default]
    Silent,
    /// Sounded once.
    Sounded,
}

impl Default for Costs {
    fn default() -> Self {
        Costs {
            wake_min: 30.0,
            dark: 1.0,
            past: 4.0,
            impossible_min: 240.0,
            hint: HintSound::Silent,
        }
    }
}

/// Share of the booked work that falls past the limit where a change is made
/// when it is called for: a call comes at the odds of the setting and is
/// sometimes late. Common practice, no source.
const LATE_SHARE: f64 = 0.25;

/// One change, made in one stretch of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Work {
    /// It can be made.
    Possible {
        /// Booked, with its margin.
        minutes: f64,
        /// People who have to be woken for it.
        wakes: u8,
        /// Whether it is made in the dark.
        dark: Darkness,
    },
    /// Too few hands, or a door that is closed.
    Impossible,
}

/// Whether work is done in the dark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Darkness {
    /// By day.
    Light,
    /// At night, or where that is not known.
    Dark,
}

impl Work {
    /// Booked minutes; none where it cannot be made.
    pub fn minutes(&self) -> Option<f64> {
        match *self {
            Work::Possible { minutes, .. } => Some(minutes),
            Work::Impossible => None,
        }
    }

    /// What it costs if it is made of the crew's own will.
    pub fn cost(&self, costs: &Costs) -> f64 {
        match *self {
            Work::Possible {
                minutes,
                wakes,
                dark,
            } => {
                let each = match dark {
                    Darkness::Light => 1.0,
                    Darkness::Dark => 1.0 + costs.dark,
                };
                minutes * each + f64::from(wakes) * costs.wake_min
            }
            Work::Impossible => costs.impossible_min,
        }
    }

    /// What it costs if it is made when called for.
    pub fn cost_called(&self, costs: &Costs) -> f64 {
        self.cost(costs) + self.minutes().unwrap_or(0.0) * LATE_SHARE * costs.past
    }
}
