//! What the last minutes say by themselves: a fast build, extended a little.
//!
//! The outlook's odds were fitted on air that mostly takes hours to change,
//! and on a limit that has been far for half an hour. A front that builds
//! 10 kn in half an hour, or a watch switched on in the middle of one, is
//! rarer than it can know. So the last twenty 1-minute means are also
//! extended by their own trend, shrunk by how sure it is and fading with
//! time, with a spread that grows; where that alone makes passing the limit
//! likely enough, it is called. A wind that stands close under a limit without
//! a trend is none of this: the outlook knows that better.
//!
//! These odds are not calibrated. They stand beside the outlook's to bring a
//! call forward, never to put one off.

use heapless::Deque;

use crate::outlook::HORIZON_S;

/// Minutes looked back on.
const BACK: usize = 20;
/// Fewest of them.
const LEAST: usize = 8;
/// A gap longer than this ends what was known, seconds.
const LONGEST_GAP_S: u64 = 300;
/// The trend fades with this time, minutes. Common practice, no source.
const FADE_MIN: f64 = 25.0;
/// Minute means hang together: this many times fewer than they are.
const HANG_TOGETHER: f64 = 3.0;
/// A trend counts half when it is this many standard errors of itself.
const HALF_SURE: f64 = 1.5;
/// Spread of the wind after 10 minutes, as a share of the limit; it grows
/// with the root of time (2014 farm wind: about 5 %).
const WANDER_SHARE: f64 = 0.05;
/// A minute mean is never known better than this, kn.
const LEAST_SCATTER_KN: f64 = 0.3;

/// A build is a trend that would carry the wind up by this share of the limit
/// before it fades. Chosen with [`RAISE_ODDS`] on invented air (fronts of 9 to
/// 16 kn in 15 to 60 min, and two open-sea climates): on the fronts the
/// outlook with this rule warned of 0.10 of the crossings for 60 idle minutes
/// a day, without it of 0.06; in the climates it cost nothing, where without
/// asking for a trend it cost 0.02 of 0.25.
const BUILD_SHARE: f64 = 0.08;
/// The last minutes by themselves call at these odds: a call too many costs
/// less than one too late.
pub const RAISE_ODDS: f64 = 0.2;
/// They let go of a call when it is this unlikely.
pub const LET_GO_ODDS: f64 = 0.12;
/// Fewest minutes that make a level.
const LEAST_LEVEL: usize = 5;

/// A sudden onset: wind this much over the limit...
const ONSET_SHARE: f64 = 1.1;
/// ...while the 10-minute mean was still this much under it.
const ONSET_FROM_SHARE: f64 = 0.85;

/// Whether a wind has come over its limit all at once: `now_kn` is the newest
/// wind, `before_kn` the mean of the last ten minutes.
pub fn is_onset(now_kn: f64, before_kn: f64, limit_kn: f64) -> bool {
    now_kn >= limit_kn * ONSET_SHARE && before_kn <= limit_kn * ONSET_FROM_SHARE
}

/// The last minutes.
#[derive(Clone, Debug, Default)]
pub struct Near {
    minutes: Deque<(u64, f64), BACK>,
}

/// A straight line through them.
#[derive(Clone, Copy, Debug)]
struct Line {
    /// At the newest minute, kn.
    level: f64,
    /// Kn a minute, shrunk by how sure it is.
    slope: f64,
    /// Standard deviation of a minute about the line, kn.
    scatter: f64,
}

impl Near {
    /// Knows nothing yet.
    pub const fn new() -> Self {
        Near {
            minutes: Deque::new(),
        }
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        self.minutes.clear();
    }

    /// Takes the mean of the minute that began at `at_s`.
    pub fn step(&mut self, at_s: u64, mean_kn: f64) {
        // One such would spoil the line for as long as it looks back.
        if !mean_kn.is_finite() {
            return;
        }
        let last = self.minutes.back().map(|(at_s, _)| *at_s);
        if last.is_some_and(|last| at_s.saturating_sub(last) > LONGEST_GAP_S) {
            self.minutes.clear();
        }
        if self.minutes.is_full() {
            self.minutes.pop_front();
        }
        // Made room for above.
        let _ = self.minutes.push_back((at_s, mean_kn));
    }

    /// Mean of the last minutes while they are too few to tell a trend by.
    pub fn young_level_kn(&self) -> Option<f64> {
        let count = self.minutes.len();
        let is_young = (LEAST_LEVEL..BACK).contains(&count);
        let sum: f64 = self.minutes.iter().map(|(_, kn)| kn).sum();
        is_young.then(|| sum / count as f64)
    }

    /// Odds that a build brings the wind to or over a limit at some time
    /// within the horizon, by the last minutes alone.
    pub fn odds(&self, limit_kn: f64, horizon_s: u32) -> Option<f64> {
        let line = self.line()?;
        if !line.is_build(limit_kn) {
            return Some(0.0);
        }
        let minutes = horizon_s.min(HORIZON_S) / 60;
        let most = (0..=minutes)
            .map(|minute| line.odds_at(limit_kn, f64::from(minute)))
            .fold(0.0, f64::max);
        Some(most)
    }

    /// First horizon, seconds, at which the odds reach `odds`.
    pub fn time_to_s(&self, limit_kn: f64, odds: f64) -> Option<f64> {
        let line = self.line().filter(|line| line.is_build(limit_kn))?;
        (0..=HORIZON_S / 60)
            .find(|minute| line.odds_at(limit_kn, f64::from(*minute)) >= odds)
            .map(|minute| f64::from(minute) * 60.0)
    }

    fn line(&self) -> Option<Line> {
        if self.minutes.len() < LEAST {
            return None;
        }
        let (newest, _) = *self.minutes.back()?;
        let count = self.minutes.len() as f64;
        // Minutes before the newest, negative, so that the line's foot is now.
        let points = || {
            self.minutes
                .iter()
                .map(|(at_s, kn)| (-(newest.saturating_sub(*at_s) as f64) / 60.0, *kn))
        };
        let middle = points().map(|(t, _)| t).sum::<f64>() / count;
        let mean = points().map(|(_, kn)| kn).sum::<f64>() / count;
        let width = points()
            .map(|(t, _)| (t - middle) * (t - middle))
            .sum::<f64>();
        if width <= 0.0 {
            return None;
        }
        let slope = points()
            .map(|(t, kn)| (t - middle) * (kn - mean))
            .sum::<f64>()
            / width;
        let off = |(t, kn): (f64, f64)| {
            let off = kn - mean - slope * (t - middle);
            off * off
        };
        let scatter = libm::sqrt(points().map(off).sum::<f64>() / (count - 2.0));
        let scatter = scatter.max(LEAST_SCATTER_KN);
        let error = scatter * libm::sqrt(HANG_TOGETHER / width);
        let sure = (slope / error) * (slope / error);
        Some(Line {
            level: mean - slope * middle,
            slope: slope * sure / (sure + HALF_SURE * HALF_SURE),
            scatter,
        })
    }
}

impl Line {
    fn is_build(&self, limit_kn: f64) -> bool {
        self.slope * FADE_MIN >= BUILD_SHARE * limit_kn
    }

    fn odds_at(&self, limit_kn: f64, minutes: f64) -> f64 {
        let reach = FADE_MIN * (1.0 - libm::exp(-minutes / FADE_MIN));
        let middle = self.level + self.slope * reach;
        // By the limit, not the level: more wind must never mean lower odds.
        let wander = WANDER_SHARE * limit_kn * libm::sqrt(minutes / 10.0);
        let spread = libm::sqrt(self.scatter * self.scatter + wander * wander);
        0.5 * libm::erfc((limit_kn - middle) / (spread * core::f64::consts::SQRT_2))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rising(from_kn: f64, kn_a_minute: f64) -> Near {
        let mut near = Near::new();
        for minute in 0..20 {
            near.step(minute * 60, from_kn + kn_a_minute * minute as f64);
        }
        near
    }

    #[test]
    fn a_fast_build_is_seen_coming() {
        // 15 to 19.75 kn in 19 minutes, limit 22: nine minutes away in a
        // straight line, a little more as the trend fades.
        let time = rising(15.0, 0.25).time_to_s(22.0, 0.5);
        assert!(
            time.is_some_and(|s| (540.0..900.0).contains(&s)),
            "{time:?}"
        );
    }

    #[test]
    fn a_steady_wind_well_under_the_limit_is_left_alone() {
        assert_eq!(rising(15.0, 0.0).time_to_s(22.0, 0.5), None);
        assert_eq!(rising(15.0, -0.2).time_to_s(22.0, 0.5), None);
    }

    #[test]
    fn scatter_without_trend_is_no_build() {
        let mut near = Near::new();
        for minute in 0..20_u64 {
            let up_and_down = if minute % 2 == 0 { 1.5 } else { -1.5 };
            near.step(minute * 60, 17.0 + up_and_down);
        }
        assert_eq!(near.time_to_s(22.0, 0.5), None);
    }

    #[test]
    fn close_under_the_limit_without_trend_is_no_build() {
        for kn in [17.9, 21.5, 23.0] {
            assert_eq!(rising(kn, 0.0).odds(22.0, 1200), Some(0.0));
        }
    }

    #[test]
    fn a_few_minutes_are_a_level_and_twenty_are_not_young() {
        let mut near = Near::new();
        for minute in 0..20 {
            near.step(minute * 60, 10.0 + minute as f64);
            let level = (5..20)
                .contains(&(minute + 1))
                .then(|| 10.0 + minute as f64 / 2.0);
            assert_eq!(near.young_level_kn(), level);
        }
    }

    #[test]
    fn an_onset_is_a_leap_over_the_limit() {
        assert!(is_onset(24.3, 18.7, 22.0));
        assert!(!is_onset(24.0, 18.7, 22.0), "not far enough over");
        assert!(!is_onset(24.3, 18.8, 22.0), "it had come near before");
    }

    #[test]
    fn a_constant_added_never_lowers_the_odds() {
        for slope in [-0.3, 0.0, 0.1, 0.2, 0.4] {
            for horizon in [0, 600, 1800, 5400] {
                let mut before = 0.0;
                for tenth in 0..100 {
                    let near = rising(10.0 + f64::from(tenth) * 0.1, slope);
                    let odds = near.odds(18.0, horizon).unwrap_or(f64::NAN);
                    assert!(odds >= before, "{slope} {horizon} {tenth}: {odds} {before}");
                    before = odds;
                }
            }
        }
    }

    #[test]
    fn a_gap_ends_what_was_known() {
        let mut near = rising(15.0, 0.25);
        near.step(3600, 19.0);
        assert_eq!(near.odds(22.0, 600), None);
    }
}
