//! From readings to a second's worth of each instrument.

use cringle_core::angle::wrap_180;
use cringle_core::reading::Measure;
use cringle_core::time::Timestamp;

use crate::solve::Plane;

/// A reading that is older than this is none any more, milliseconds.
const OLDEST_MS: u64 = 3000;

/// One second, nothing corrected. Speeds in knots, angles in degrees, heading
/// and course by true north.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sample {
    /// Seconds from any moment.
    pub at_s: f64,
    /// AWA and AWS as a vector off the bow, starboard positive.
    pub felt: Plane,
    /// STW.
    pub stw_kn: f64,
    /// SOG and COG as a vector, north and east.
    pub over_ground: Plane,
    /// Heading.
    pub heading_deg: f64,
    /// Heel, starboard down positive; none where nothing measures it.
    pub heel_deg: Option<f64>,
}

/// Gathers the readings of the sources in use. A second becomes a sample only
/// where wind, log, GNSS and heading are all fresh.
#[derive(Clone, Debug, Default)]
pub struct Gather {
    felt: Mean<Plane>,
    stw: Mean<f64>,
    over_ground: Mean<Plane>,
    heading: Mean<Plane>,
    heel: Mean<f64>,
    variation_deg: Option<f64>,
    has_true_heading: bool,
    second: u64,
    samples: Vec<Sample>,
    heard: Heard,
}

/// Which instruments were heard at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// A wind unit.
    pub wind: bool,
    /// A log.
    pub log: bool,
    /// SOG with COG.
    pub ground: bool,
    /// A heading that can be told by true north.
    pub heading: bool,
}

impl Gather {
    /// With the boat file's variation, for where none is heard.
    pub fn new(variation_deg: Option<f64>) -> Gather {
        Gather {
            variation_deg,
            ..Gather::default()
        }
    }

    /// Takes one reading of a source in use.
    pub fn hear(&mut self, measure: Measure, at: Timestamp) {
        self.to(at);
        let ms = at.as_millis();
        match measure {
            Measure::ApparentWind { angle, speed } => {
                self.heard.wind = true;
                let felt = Plane::polar(speed.get(), angle.degrees());
                self.felt.put(felt, ms);
            }
            Measure::WaterSpeed(speed) => {
                self.heard.log = true;
                self.stw.put(speed.get(), ms);
            }
            Measure::GroundMotion {
                speed,
                course: Some(course),
            } => {
                self.heard.ground = true;
                self.over_ground
                    .put(Plane::polar(speed.get(), course.degrees()), ms);
            }
            Measure::HeadingTrue(bearing) => {
                self.has_true_heading = true;
                self.head(bearing.degrees(), ms);
            }
            Measure::HeadingMagnetic(bearing) | Measure::HeadingCompass(bearing) => {
                if let (false, Some(east)) = (self.has_true_heading, self.variation_deg) {
                    self.head(bearing.degrees() + east, ms);
                }
            }
            Measure::Variation(east) => self.variation_deg = Some(east.get()),
            Measure::Heel(heel) => self.heel.put(heel.get(), ms),
            _ => {}
        }
    }

    fn head(&mut self, degrees: f64, ms: u64) {
        self.heard.heading = true;
        self.heading.put(Plane::polar(1.0, degrees), ms);
    }

    /// What was heard at all.
    pub const fn heard(&self) -> Heard {
        self.heard
    }

    /// All samples.
    pub fn into_samples(mut self) -> Vec<Sample> {
        self.close();
        self.samples
    }

    fn to(&mut self, at: Timestamp) {
        let second = at.as_millis() / 1000;
        if second != self.second {
            self.close();
            self.second = second;
        }
    }

    fn close(&mut self) {
        let now = (self.second + 1) * 1000;
        let (felt, stw) = (self.felt.take(now), self.stw.take(now));
        let (ground, heading) = (self.over_ground.take(now), self.heading.take(now));
        let heel_deg = self.heel.take(now);
        if let (Some(felt), Some(stw_kn), Some(over_ground), Some(heading)) =
            (felt, stw, ground, heading)
        {
            self.samples.push(Sample {
                at_s: self.second as f64,
                felt,
                stw_kn,
                over_ground,
                heading_deg: wrap_180(heading.direction_deg()),
                heel_deg,
            });
        }
    }
}

/// The mean over a second, and for a while the newest where nothing came in it.
#[derive(Clone, Copy, Debug, Default)]
struct Mean<T> {
    sum: T,
    count: u32,
    newest: Option<(T, u64)>,
}

impl<T> Mean<T>
where
    T: Copy + Default + std::ops::Add<Output = T> + std::ops::Mul<f64, Output = T>,
{
    fn put(&mut self, value: T, ms: u64) {
        self.sum = self.sum + value;
        self.count += 1;
        self.newest = Some((value, ms));
    }

    fn take(&mut self, now_ms: u64) -> Option<T> {
        let (sum, count) = (self.sum, self.count);
        (self.sum, self.count) = (T::default(), 0);
        let (newest, at) = self.newest?;
        if count > 0 {
            return Some(sum * (1.0 / f64::from(count)));
        }
        (now_ms.saturating_sub(at) <= OLDEST_MS).then_some(newest)
    }
}
