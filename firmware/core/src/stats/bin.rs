//! Bins of one whole second, the last ten minutes of them, and windows over
//! them.

use super::circular::Resultant;
use super::standing::Piece;

/// Bins kept: ten minutes closed, and room for those still open.
pub const BINS: usize = 620;

/// Longest window.
pub const LONGEST: usize = 600;

/// Seconds in the mean that is called a gust (WMO-No. 8: 3 s).
pub const GUST_SECONDS: usize = 3;

/// A 3 s mean counts when this much of it was measured.
const LEAST_GUST_MS: u32 = 2_000;

/// What is known of the wind at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WindSample {
    /// TWS.
    pub tws_kn: f64,
    /// Sine and cosine of TWA; none in a flat calm.
    pub twa: Option<(f64, f64)>,
    /// Sine and cosine of TWD.
    pub twd: Option<(f64, f64)>,
    /// AWS; none where only a true wind is heard.
    pub aws_kn: Option<f64>,
}

/// One second. A sum is over milliseconds; a mean is over what was measured.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bin {
    /// Milliseconds with wind.
    pub wind_ms: u16,
    /// Milliseconds with a wind direction.
    pub twd_ms: u16,
    /// Milliseconds with a wind angle.
    pub twa_ms: u16,
    /// Milliseconds with heel.
    pub heel_ms: u16,
    /// Milliseconds with AWS.
    pub aws_ms: u16,
    /// Mean TWS.
    pub tws: f32,
    tws_about: f32,
    twd: (f32, f32),
    twa: (f32, f32),
    /// Mean AWS.
    pub aws: f32,
    /// Mean heel.
    pub heel: f32,
    heel_about: f32,
}

/// A ring of bins by second.
#[derive(Clone, Debug)]
pub struct Seconds {
    bins: [Bin; BINS],
    /// One past the newest second that may hold anything.
    end: u64,
    /// One past the newest closed second.
    closed: u64,
}

impl Bin {
    fn add_wind(&mut self, sample: &WindSample, millis: u16) {
        let before = f64::from(self.wind_ms);
        let added = f64::from(millis);
        let total = before + added;
        let step = sample.tws_kn - f64::from(self.tws);
        self.tws += (step * added / total) as f32;
        self.tws_about += (step * step * before * added / total) as f32;
        self.wind_ms += millis;
        if let Some((sin, cos)) = sample.twa {
            self.twa.0 += (sin * added) as f32;
            self.twa.1 += (cos * added) as f32;
            self.twa_ms += millis;
        }
        if let Some((sin, cos)) = sample.twd {
            self.twd.0 += (sin * added) as f32;
            self.twd.1 += (cos * added) as f32;
            self.twd_ms += millis;
        }
        if let Some(aws) = sample.aws_kn {
            let total = f64::from(self.aws_ms) + added;
            self.aws += ((aws - f64::from(self.aws)) * added / total) as f32;
            self.aws_ms += millis;
        }
    }

    fn add_heel(&mut self, heel: f64, millis: u16) {
        let before = f64::from(self.heel_ms);
        let added = f64::from(millis);
        let total = before + added;
        let step = heel - f64::from(self.heel);
        self.heel += (step * added / total) as f32;
        self.heel_about += (step * step * before * added / total) as f32;
        self.heel_ms += millis;
    }
}

impl Seconds {
    /// Empty, with `second` the first to be filled.
    pub fn new(second: u64) -> Self {
        Seconds {
            bins: [Bin::default(); BINS],
            end: second,
            closed: second,
        }
    }

    /// Adds wind that stood for a piece of a second.
    pub fn add_wind(&mut self, piece: Piece, sample: &WindSample) {
        if let Some(bin) = self.open(piece.second) {
            bin.add_wind(sample, piece.millis);
        }
    }

    /// Adds heel that stood for a piece of a second.
    pub fn add_heel(&mut self, piece: Piece, heel: f64) {
        if let Some(bin) = self.open(piece.second) {
            bin.add_heel(heel, piece.millis);
        }
    }

    /// Closes the next second. Nothing is added to it any more.
    pub fn close_one(&mut self) -> u64 {
        let second = self.closed;
        self.open(second);
        self.closed = second + 1;
        second
    }

    /// One past the newest closed second.
    pub fn closed(&self) -> u64 {
        self.closed
    }

    /// The last `count` closed seconds but for the newest `skip` of them.
    pub fn window(&self, count: usize, skip: usize) -> Window<'_> {
        let to = self.closed.saturating_sub(skip as u64);
        let from = to.saturating_sub(count.min(LONGEST) as u64);
        let oldest = self.end.saturating_sub(BINS as u64);
        Window {
            seconds: self,
            from: from.max(oldest),
            to: to.max(oldest),
            length: count,
        }
    }

    fn open(&mut self, second: u64) -> Option<&mut Bin> {
        if second < self.closed {
            return None;
        }
        if second >= self.end {
            // Blank what comes round again, at most the whole ring.
            let first = self.end.max(second.saturating_sub(BINS as u64 - 1));
            for fresh in first..=second {
                if let Some(bin) = self.bins.get_mut((fresh % BINS as u64) as usize) {
                    *bin = Bin::default();
                }
            }
            self.end = second + 1;
        }
        self.bins.get_mut((second % BINS as u64) as usize)
    }
}

/// Some closed seconds in a row.
#[derive(Clone, Copy)]
pub struct Window<'a> {
    seconds: &'a Seconds,
    from: u64,
    to: u64,
    length: usize,
}

/// Mean and spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Time-weighted mean.
    pub mean: f64,
    /// Time-weighted standard deviation.
    pub deviation: f64,
}

impl<'a> Window<'a> {
    /// Its bins, oldest first.
    pub fn bins(self) -> impl Iterator<Item = &'a Bin> + Clone {
        let length = (self.to - self.from) as usize;
        let start = (self.from % BINS as u64) as usize;
        let end = (start + length).min(BINS);
        let bins = &self.seconds.bins;
        let older = bins.get(start..end).unwrap_or(&[]);
        let newer = bins.get(..length - older.len()).unwrap_or(&[]);
        older.iter().chain(newer)
    }

    /// Share of the window's full length with wind, 0 to 1.
    pub fn share(self) -> f64 {
        let covered: u64 = self.bins().map(|bin| u64::from(bin.wind_ms)).sum();
        covered as f64 / (self.length.max(1) as f64 * 1000.0)
    }

    /// Share of the window's full length with heel, 0 to 1.
    pub fn heel_share(self) -> f64 {
        let covered: u64 = self.bins().map(|bin| u64::from(bin.heel_ms)).sum();
        covered as f64 / (self.length.max(1) as f64 * 1000.0)
    }

    /// TWS.
    pub fn tws(self) -> Option<Spread> {
        spread(self.bins().map(|bin| {
            (
                f64::from(bin.wind_ms),
                f64::from(bin.tws),
                f64::from(bin.tws_about),
            )
        }))
    }

    /// Heel.
    pub fn heel(self) -> Option<Spread> {
        spread(self.bins().map(|bin| {
            (
                f64::from(bin.heel_ms),
                f64::from(bin.heel),
                f64::from(bin.heel_about),
            )
        }))
    }

    /// Mean AWS.
    pub fn aws_kn(self) -> Option<f64> {
        spread(
            self.bins()
                .map(|bin| (f64::from(bin.aws_ms), f64::from(bin.aws), 0.0)),
        )
        .map(|spread| spread.mean)
    }

    /// TWD.
    pub fn twd(self) -> Option<Resultant> {
        Resultant::of(self.bins().map(|bin| {
            (
                f64::from(bin.twd.0),
                f64::from(bin.twd.1),
                f64::from(bin.twd_ms),
            )
        }))
    }

    /// TWA.
    pub fn twa(self) -> Option<Resultant> {
        Resultant::of(self.bins().map(|bin| {
            (
                f64::from(bin.twa.0),
                f64::from(bin.twa.1),
                f64::from(bin.twa_ms),
            )
        }))
    }

    /// Greatest mean over three whole seconds that lie in the window.
    pub fn gust_kn(self) -> Option<f64> {
        let mut last = [(0u32, 0.0f64); GUST_SECONDS];
        let mut greatest: Option<f64> = None;
        for (place, bin) in self.bins().enumerate() {
            if let Some(slot) = last.get_mut(place % GUST_SECONDS) {
                *slot = (
                    u32::from(bin.wind_ms),
                    f64::from(bin.tws) * f64::from(bin.wind_ms),
                );
            }
            let (ms, sum) = last
                .iter()
                .fold((0, 0.0), |(ms, sum), (m, s)| (ms + m, sum + s));
            if place + 1 >= GUST_SECONDS && ms >= LEAST_GUST_MS {
                let mean = sum / f64::from(ms);
                greatest = Some(greatest.map_or(mean, |most| most.max(mean)));
            }
        }
        greatest
    }

    /// Share of the measured seconds whose heel is over a limit, either side.
    pub fn heel_share_past(self, limit_deg: f64) -> Option<f64> {
        let (mut past, mut all) = (0u32, 0u32);
        for bin in self.bins().filter(|bin| bin.heel_ms > 0) {
            all += 1;
            past += u32::from(f64::from(bin.heel).abs() > limit_deg);
        }
        (all > 0).then(|| f64::from(past) / f64::from(all))
    }
}

/// Joins (weight, mean, sum of squares about the mean) of parts into one.
fn spread(parts: impl Iterator<Item = (f64, f64, f64)> + Clone) -> Option<Spread> {
    let (weight, sum) = parts.clone().fold((0.0, 0.0), |(w, s), (weight, mean, _)| {
        (w + weight, s + weight * mean)
    });
    if weight <= 0.0 {
        return None;
    }
    let mean = sum / weight;
    let about = parts.fold(0.0, |all, (w, m, about)| {
        all + about + w * (m - mean) * (m - mean)
    });
    Some(Spread {
        mean,
        deviation: libm::sqrt(about / weight),
    })
}
