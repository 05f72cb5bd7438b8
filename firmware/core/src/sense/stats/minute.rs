//! Whole minutes: three hours in full, a day in short.

use heapless::Deque;

use crate::time::Timestamp;
use crate::wind::North;

use super::seconds::Window;

const MINUTE: core::time::Duration = core::time::Duration::from_secs(60);

/// Minutes kept in full.
pub const MINUTES: usize = 180;

/// Minutes kept in short: a day.
pub const DAY: usize = 1440;

/// A minute with less than this share measured is a gap.
pub const LEAST_SHARE: f64 = 0.5;

/// One closed minute. What was measured for less than half of it is not
/// there at all.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Minute {
    /// When it began.
    pub start: Timestamp,
    /// Mean TWS.
    pub mean_kn: Option<f32>,
    /// Greatest 3-second mean.
    pub gust_kn: Option<f32>,
    /// Standard deviation of TWS.
    pub deviation_kn: Option<f32>,
    /// Mean TWD, 0 to 360.
    pub twd_deg: Option<f32>,
    /// From which north TWD counts.
    pub north: North,
    /// Mean TWA, starboard positive.
    pub twa_deg: Option<f32>,
    /// Mean AWS.
    pub aws_kn: Option<f32>,
    /// Mean heel.
    pub heel_deg: Option<f32>,
    /// Half the width of the roll band.
    pub roll_deg: Option<f32>,
    /// Pressure at its end.
    pub pressure_hpa: Option<f32>,
    /// Share of it with wind.
    pub share: f32,
}

impl Minute {
    /// From its sixty seconds.
    pub fn of(start: Timestamp, window: Window<'_>, north: North, pressure: Option<f64>) -> Self {
        let share = window.share();
        let mut minute = Minute {
            start,
            north,
            share: share as f32,
            pressure_hpa: pressure.map(|hpa| hpa as f32),
            ..Minute::default()
        };
        if share >= LEAST_SHARE {
            minute.mean_kn = window.tws().map(|s| s.mean as f32);
            minute.deviation_kn = window.tws().map(|s| s.deviation as f32);
            minute.gust_kn = window.gust_kn().map(|gust| gust as f32);
            minute.aws_kn = window.aws_kn().map(|aws| aws as f32);
            minute.twd_deg = window
                .twd()
                .map(|d| crate::angle::wrap_360(d.mean_deg) as f32);
            minute.twa_deg = window.twa().map(|a| a.mean_deg as f32);
        }
        if window.heel_share() >= LEAST_SHARE
            && let Some(heel) = window.heel()
        {
            minute.heel_deg = Some(heel.mean as f32);
            minute.roll_deg = Some(roll_band(heel.deviation) as f32);
        }
        minute
    }

    /// Its wind is not believed: it becomes a gap.
    pub fn forget_wind(&mut self) {
        self.mean_kn = None;
        self.gust_kn = None;
        self.deviation_kn = None;
        self.twd_deg = None;
        self.twa_deg = None;
        self.aws_kn = None;
        self.share = 0.0;
    }

    /// Whether too little of its wind was measured.
    pub fn is_gap(&self) -> bool {
        self.mean_kn.is_none()
    }
}

/// Half the width of a roll from its standard deviation: the amplitude, if
/// the roll is a sine.
pub fn roll_band(deviation_deg: f64) -> f64 {
    deviation_deg * core::f64::consts::SQRT_2
}

/// The last three hours, in full.
#[derive(Clone, Debug, Default)]
pub struct Minutes {
    ring: Deque<Packed, MINUTES>,
    unread: usize,
}

impl Minutes {
    /// Adds the newest; the oldest goes first.
    pub fn push(&mut self, minute: Minute) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        // Made room for above.
        let _ = self.ring.push_back(Packed::from(&minute));
        self.unread = (self.unread + 1).min(MINUTES);
    }

    /// Makes gaps of the minutes that ended after a moment; how many.
    pub fn forget_wind_since(&mut self, from: Timestamp) -> usize {
        let mut forgotten = 0;
        for place in (0..self.ring.len()).rev() {
            let Some(packed) = self.ring.get_mut(place) else {
                break;
            };
            if packed.start().after(MINUTE) <= from {
                break;
            }
            let mut minute = packed.unpacked();
            minute.forget_wind();
            *packed = Packed::from(&minute);
            forgotten += 1;
        }
        forgotten
    }

    /// No TWD of any of them is believed.
    pub fn forget_direction(&mut self) {
        for packed in &mut self.ring {
            let mut minute = packed.unpacked();
            minute.twd_deg = None;
            *packed = Packed::from(&minute);
        }
    }

    /// The oldest minute not read yet.
    pub fn next_unread(&mut self) -> Option<Minute> {
        let place = self.ring.len().checked_sub(self.unread)?;
        let minute = self.ring.get(place)?.unpacked();
        self.unread -= 1;
        Some(minute)
    }

    /// Oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = Minute> + ExactSizeIterator + Clone {
        (0..self.ring.len()).map(|place| {
            self.ring
                .get(place)
                .map_or_else(Minute::default, Packed::unpacked)
        })
    }
}

/// A minute as it is kept: NaN stands for what was not measured, and never
/// leaves this file.
#[derive(Clone, Copy, Debug)]
struct Packed {
    /// Whole seconds: enough for 136 years aboard.
    start_s: u32,
    north: North,
    share: f32,
    figures: [f32; 9],
}

impl From<&Minute> for Packed {
    fn from(minute: &Minute) -> Self {
        let known = |figure: Option<f32>| figure.unwrap_or(f32::NAN);
        Packed {
            start_s: u32::try_from(minute.start.as_millis() / 1000).unwrap_or(u32::MAX),
            north: minute.north,
            share: minute.share,
            figures: [
                known(minute.mean_kn),
                known(minute.gust_kn),
                known(minute.deviation_kn),
                known(minute.twd_deg),
                known(minute.twa_deg),
                known(minute.aws_kn),
                known(minute.heel_deg),
                known(minute.roll_deg),
                known(minute.pressure_hpa),
            ],
        }
    }
}

impl Packed {
    fn start(&self) -> Timestamp {
        Timestamp::from_secs(u64::from(self.start_s))
    }

    fn unpacked(&self) -> Minute {
        let [mean, gust, deviation, twd, twa, aws, heel, roll, pressure] = self
            .figures
            .map(|figure| (!figure.is_nan()).then_some(figure));
        Minute {
            start: self.start(),
            north: self.north,
            share: self.share,
            mean_kn: mean,
            gust_kn: gust,
            deviation_kn: deviation,
            twd_deg: twd,
            twa_deg: twa,
            aws_kn: aws,
            heel_deg: heel,
            roll_deg: roll,
            pressure_hpa: pressure,
        }
    }
}

/// One minute of a day, in hundredths.
#[derive(Clone, Copy, Debug, Default)]
struct Short {
    mean: u16,
    gust: u16,
    pressure: u16,
}

/// What stands for "not measured".
const UNKNOWN: u16 = u16::MAX;

/// Subtracted from pressure so that hundredths fit.
const PRESSURE_BASE_HPA: f64 = 800.0;

/// A day of minutes, rounded to hundredths of a knot and of a hectopascal.
#[derive(Clone, Debug, Default)]
pub struct Day {
    ring: Deque<Short, DAY>,
}

/// One minute of the day as it is told.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DayMinute {
    /// Mean TWS.
    pub mean_kn: Option<f64>,
    /// Greatest 3-second mean.
    pub gust_kn: Option<f64>,
    /// Pressure.
    pub pressure_hpa: Option<f64>,
}

impl Day {
    /// Adds the newest; the oldest goes first.
    pub fn push(&mut self, minute: &Minute) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        let pressure = minute
            .pressure_hpa
            .map(|hpa| f64::from(hpa) - PRESSURE_BASE_HPA);
        // Made room for above.
        let _ = self.ring.push_back(Short {
            mean: hundredths(minute.mean_kn.map(f64::from)),
            gust: hundredths(minute.gust_kn.map(f64::from)),
            pressure: hundredths(pressure),
        });
    }

    /// Makes gaps of the newest minutes' wind.
    pub fn forget_wind(&mut self, newest: usize) {
        let skip = self.ring.len().saturating_sub(newest);
        for short in self.ring.iter_mut().skip(skip) {
            short.mean = UNKNOWN;
            short.gust = UNKNOWN;
        }
    }

    /// Newest first; the first is the minute closed last.
    pub fn newest_first(&self) -> impl Iterator<Item = DayMinute> {
        self.ring.iter().rev().map(|short| DayMinute {
            mean_kn: whole(short.mean),
            gust_kn: whole(short.gust),
            pressure_hpa: whole(short.pressure).map(|over| over + PRESSURE_BASE_HPA),
        })
    }
}

fn hundredths(value: Option<f64>) -> u16 {
    value.map_or(UNKNOWN, |value| {
        libm::round(value * 100.0).clamp(0.0, f64::from(UNKNOWN - 1)) as u16
    })
}

fn whole(hundredths: u16) -> Option<f64> {
    (hundredths != UNKNOWN).then(|| f64::from(hundredths) / 100.0)
}
