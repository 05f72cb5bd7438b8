//! The last ten minutes of bins, and windows over them.

use super::bin::{Bin, WindSample};
use super::circular::Resultant;
use super::held::Piece;
use super::sums::{Spread, Sums};

/// Bins kept: ten minutes closed, and room for those still open.
pub const BINS: usize = 620;

/// Longest window.
pub const LONGEST: usize = 600;

/// Seconds in the mean that is called a gust (WMO-No. 8: 3 s).
pub const GUST_SECONDS: usize = 3;

/// Windows whose sums are kept running: an onset's, and the means'.
const RUNNING: [usize; 4] = [10, 60, 120, LONGEST];

/// A 3 s mean counts when this much of it was measured.
const LEAST_GUST_MS: u32 = 2_000;

/// A ring of bins by second.
#[derive(Clone, Debug)]
pub struct Seconds {
    bins: [Bin; BINS],
    /// One past the newest second that may hold anything.
    end: u64,
    /// One past the newest closed second.
    closed: u64,
    /// Wind before this second is not believed.
    believed: u64,
    /// Heel before this second is not believed.
    heel_believed: u64,
    running: [Sums; RUNNING.len()],
    greatest: Option<Greatest>,
}

/// The greatest 3-second mean of the longest window, and when it ended.
#[derive(Clone, Copy, Debug)]
struct Greatest {
    second: u64,
    kn: f32,
}

impl Seconds {
    /// Empty, with `second` the first to be filled.
    pub fn new(second: u64) -> Self {
        Seconds {
            bins: [Bin::default(); BINS],
            end: second,
            closed: second,
            believed: second,
            heel_believed: second,
            running: [Sums::default(); RUNNING.len()],
            greatest: None,
        }
    }

    /// Adds wind that stood for a piece of a second.
    pub fn add_wind(&mut self, piece: Piece, sample: &WindSample) {
        let believed = piece.second >= self.believed;
        if let Some(bin) = self.open(piece.second) {
            if believed {
                bin.add_wind(sample, piece.millis);
            } else {
                bin.add_apparent(sample, piece.millis);
            }
        }
    }

    /// Adds heel that stood for a piece of a second.
    pub fn add_heel(&mut self, piece: Piece, heel: f64) {
        let believed = piece.second >= self.heel_believed;
        if let Some(bin) = self.open(piece.second).filter(|_| believed) {
            bin.add_heel(heel, piece.millis);
        }
    }

    /// Closes the next second. Nothing is added to it any more.
    pub fn close_one(&mut self) -> u64 {
        let second = self.closed;
        self.open(second);
        self.closed = second + 1;
        self.find_gust(second);
        self.run_on(second);
        second
    }

    /// Wind from this second on is not believed, nor what comes before
    /// `until`: whether it was gathered already or is gathered later, its TWS
    /// and TWD are no part of any mean or gust.
    pub fn disbelieve_wind(&mut self, from: u64, until: u64) {
        self.change(from, until, |bin| {
            let had = bin.wind_ms > 0;
            bin.forget_wind();
            had
        });
        self.believed = self.believed.max(until);
    }

    /// The same for heel.
    pub fn disbelieve_heel(&mut self, from: u64, until: u64) {
        self.change(from, until, |bin| {
            let had = bin.heel_ms > 0;
            (bin.heel_ms, bin.heel, bin.heel_about) = (0, 0.0, 0.0);
            had
        });
        self.heel_believed = self.heel_believed.max(until);
    }

    /// Samples of these seconds were struck out.
    pub fn patch(&mut self, from: u64, to: u64) {
        for second in from.max(self.closed)..=to {
            if let Some(bin) = self.open(second) {
                bin.is_patched = true;
            }
        }
    }

    /// No TWD gathered so far is believed.
    pub fn forget_direction(&mut self) {
        self.change(0, u64::MAX, |bin| {
            let had = bin.twd_ms > 0;
            (bin.twd_ms, bin.twd) = (0, (0.0, 0.0));
            had
        });
    }

    /// Changes seconds; `change` says whether it changed anything.
    fn change(&mut self, from: u64, until: u64, change: impl Fn(&mut Bin) -> bool) {
        let from = from.max(self.end.saturating_sub(BINS as u64));
        let mut changed = false;
        for second in from..self.end.min(until) {
            if let Some(bin) = self.bins.get_mut((second % BINS as u64) as usize) {
                changed |= change(bin) && second < self.closed;
            }
        }
        if changed {
            self.sum_anew();
        }
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
            sums: self.running_for(count).filter(|_| skip == 0),
        }
    }

    fn running_for(&self, count: usize) -> Option<&Sums> {
        let place = RUNNING.iter().position(|span| *span == count)?;
        self.running.get(place)
    }

    /// Adds the second that has closed to the running sums, and takes out
    /// the one that has left each.
    fn run_on(&mut self, second: u64) {
        let kept_from = self.end.saturating_sub(BINS as u64);
        let new = self.bin(second);
        for (span, place) in RUNNING.iter().zip(0..) {
            let left = second.checked_sub(*span as u64);
            // Blank already: only after seconds that lie far ahead.
            if left.is_some_and(|left| left < kept_from) {
                self.sum_anew();
                return;
            }
            let old = left.map(|left| self.bin(left));
            if let Some(sums) = self.running.get_mut(place) {
                sums.add(&new);
                if let Some(old) = old {
                    sums.take(&old);
                }
            }
        }
        self.run_gust_on(second);
    }

    fn run_gust_on(&mut self, second: u64) {
        let kn = self.bin(second).gust;
        let first = (second + GUST_SECONDS as u64).saturating_sub(LONGEST as u64);
        match self.greatest {
            Some(greatest) if greatest.second < first => self.greatest = self.find_greatest(),
            Some(greatest) if greatest.kn > kn => {}
            None if kn <= 0.0 => {}
            _ => self.greatest = Some(Greatest { second, kn }),
        }
    }

    fn sum_anew(&mut self) {
        for (span, place) in RUNNING.iter().zip(0..) {
            let mut fresh = Sums::default();
            for bin in self.window(*span, 0).bins() {
                fresh.add(bin);
            }
            if let Some(sums) = self.running.get_mut(place) {
                *sums = fresh;
            }
        }
        self.greatest = self.find_greatest();
    }

    fn find_greatest(&self) -> Option<Greatest> {
        let window = self.window(LONGEST, 0);
        let mut greatest: Option<Greatest> = None;
        for (second, bin) in (window.from..).zip(window.bins()).skip(GUST_SECONDS - 1) {
            if bin.gust > 0.0 && greatest.is_none_or(|greatest| bin.gust >= greatest.kn) {
                let kn = bin.gust;
                greatest = Some(Greatest { second, kn });
            }
        }
        greatest
    }

    fn find_gust(&mut self, second: u64) {
        let gust = self.window(GUST_SECONDS, 0).walked_gust_kn();
        if let Some(bin) = self.open_or_closed(second) {
            bin.gust = gust.map_or(0.0, |kn| (kn as f32).max(f32::MIN_POSITIVE));
        }
    }

    fn bin(&self, second: u64) -> Bin {
        let place = (second % BINS as u64) as usize;
        self.bins.get(place).copied().unwrap_or_default()
    }

    fn open_or_closed(&mut self, second: u64) -> Option<&mut Bin> {
        self.bins.get_mut((second % BINS as u64) as usize)
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
    /// Where they are kept running; else its bins are walked.
    sums: Option<&'a Sums>,
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

    /// The same bins without the running sums: to hold those against.
    pub fn walked(self) -> Self {
        Window { sums: None, ..self }
    }

    /// Share of the window's full length with wind, 0 to 1.
    pub fn share(self) -> f64 {
        let walk = || self.bins().map(|bin| i64::from(bin.wind_ms)).sum();
        self.share_of(self.sums.map_or_else(walk, Sums::wind_ms))
    }

    /// Share of the window's full length with heel, 0 to 1.
    pub fn heel_share(self) -> f64 {
        let walk = || self.bins().map(|bin| i64::from(bin.heel_ms)).sum();
        self.share_of(self.sums.map_or_else(walk, Sums::heel_ms))
    }

    /// Share of the window's full length with AWS, 0 to 1.
    pub fn aws_share(self) -> f64 {
        let walk = || self.bins().map(|bin| i64::from(bin.aws_ms)).sum();
        self.share_of(self.sums.map_or_else(walk, Sums::aws_ms))
    }

    fn share_of(self, covered_ms: i64) -> f64 {
        covered_ms as f64 / (self.length.max(1) as f64 * 1000.0)
    }

    /// TWS.
    pub fn tws(self) -> Option<Spread> {
        let part = |bin: &Bin| (bin.wind_ms, bin.tws, bin.tws_about);
        let walk = || spread(self.bins().map(part));
        self.sums.map_or_else(walk, Sums::tws)
    }

    /// Heel.
    pub fn heel(self) -> Option<Spread> {
        let part = |bin: &Bin| (bin.heel_ms, bin.heel, bin.heel_about);
        let walk = || spread(self.bins().map(part));
        self.sums.map_or_else(walk, Sums::heel)
    }

    /// Mean AWS.
    pub fn aws_kn(self) -> Option<f64> {
        let part = |bin: &Bin| (bin.aws_ms, bin.aws, 0.0);
        let walk = || spread(self.bins().map(part)).map(|spread| spread.mean);
        self.sums.map_or_else(walk, Sums::aws_kn)
    }

    /// TWD.
    pub fn twd(self) -> Option<Resultant> {
        let walk = || resultant(self.bins().map(|bin| (bin.twd, bin.twd_ms)));
        self.sums.map_or_else(walk, Sums::twd)
    }

    /// TWA.
    pub fn twa(self) -> Option<Resultant> {
        let walk = || resultant(self.bins().map(|bin| (bin.twa, bin.twa_ms)));
        self.sums.map_or_else(walk, Sums::twa)
    }

    /// Greatest mean over three whole seconds that lie in the window.
    pub fn gust_kn(self) -> Option<f64> {
        if self.sums.is_some() && self.length == LONGEST {
            let greatest = self.seconds.greatest;
            return greatest.map(|greatest| f64::from(greatest.kn));
        }
        self.walked_gust_kn()
    }

    fn walked_gust_kn(self) -> Option<f64> {
        let mut last = [(0u32, 0.0f64); GUST_SECONDS];
        let mut greatest: Option<f64> = None;
        for (place, bin) in self.bins().enumerate() {
            if let Some(slot) = last.get_mut(place % GUST_SECONDS) {
                let wind_ms = if bin.is_patched { 0 } else { bin.wind_ms };
                *slot = (u32::from(wind_ms), f64::from(bin.tws) * f64::from(wind_ms));
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

/// Joins (milliseconds, mean, sum of squares about the mean) of parts.
fn spread(parts: impl Iterator<Item = (u16, f32, f32)> + Clone) -> Option<Spread> {
    let parts = parts.map(|(ms, mean, about)| (f64::from(ms), f64::from(mean), f64::from(about)));
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

fn resultant(parts: impl Iterator<Item = ((f32, f32), u16)>) -> Option<Resultant> {
    let wide =
        |((sin, cos), ms): ((f32, f32), u16)| (f64::from(sin), f64::from(cos), f64::from(ms));
    Resultant::of(parts.map(wide))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two days of wind that goes over the ring many times, with silences,
    /// shocks and disbelief, each minute held against a walk.
    #[test]
    fn running_sums_never_drift_from_a_walk() {
        let mut seconds = Seconds::new(1_000_000);
        let mut state = 7u64;
        let mut dice = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 40) as f64 / f64::from(1u32 << 24)
        };
        for n in 0..172_800u64 {
            let second = 1_000_000 + n;
            let silent = n % 7_000 > 6_200;
            let tws_kn = 18.0 + 10.0 * libm::sin(n as f64 / 900.0) + 6.0 * dice();
            let (sin, cos) = libm::sincos(0.001 * n as f64);
            let sample = WindSample {
                tws_kn,
                twa: Some((cos, sin)),
                twd: (n % 3 > 0).then_some((sin, cos)),
                aws_kn: Some(tws_kn + 5.0),
            };
            for millis in [300, 600] {
                let piece = Piece { second, millis };
                if !silent {
                    seconds.add_wind(piece, &sample);
                }
                seconds.add_heel(piece, 40.0 * dice() - 20.0);
            }
            if n % 40_000 > 39_900 {
                seconds.disbelieve_wind(second.saturating_sub(90), second + 5);
            }
            seconds.close_one();
            if n % 97 == 0 {
                for span in RUNNING {
                    agree(seconds.window(span, 0));
                }
            }
        }
    }

    #[track_caller]
    fn agree(window: Window<'_>) {
        let walked = window.walked();
        assert!(window.sums.is_some() && walked.sums.is_none());
        let near = |a: Option<f64>, b: Option<f64>| {
            let close = match (a, b) {
                (Some(a), Some(b)) => (a - b).abs() <= 1e-6 * b.abs().max(1.0),
                (a, b) => a.is_none() && b.is_none(),
            };
            assert!(close, "{a:?} for {b:?} over {} s", window.length);
        };
        near(Some(window.share()), Some(walked.share()));
        near(Some(window.heel_share()), Some(walked.heel_share()));
        for (a, b) in [(window.tws(), walked.tws()), (window.heel(), walked.heel())] {
            near(a.map(|s| s.mean), b.map(|s| s.mean));
            near(a.map(|s| s.deviation), b.map(|s| s.deviation));
        }
        near(window.aws_kn(), walked.aws_kn());
        near(window.gust_kn(), walked.gust_kn());
        for (a, b) in [(window.twd(), walked.twd()), (window.twa(), walked.twa())] {
            near(a.map(|r| r.mean_deg), b.map(|r| r.mean_deg));
            near(a.map(|r| r.length), b.map(|r| r.length));
        }
    }

    #[test]
    fn wind_that_is_not_believed_leaves_heel_aws_and_twa() {
        let mut seconds = Seconds::new(0);
        let sample = WindSample {
            tws_kn: 20.0,
            twa: Some((0.0, 1.0)),
            twd: Some((0.0, 1.0)),
            aws_kn: Some(25.0),
        };
        for second in 0..60 {
            let piece = Piece {
                second,
                millis: 1000,
            };
            seconds.add_wind(piece, &sample);
            seconds.add_heel(piece, 15.0);
            seconds.close_one();
        }
        seconds.disbelieve_wind(30, 90);
        let minute = seconds.window(60, 0);
        assert_eq!(minute.share(), 0.5);
        assert_eq!(minute.tws().map(|s| s.mean), Some(20.0));
        assert_eq!(minute.heel_share(), 1.0);
        assert_eq!(minute.aws_kn(), Some(25.0));
        seconds.disbelieve_wind(0, 90);
        let ten = seconds.window(LONGEST, 0);
        assert_eq!((ten.tws(), ten.gust_kn()), (None, None));
    }
}
