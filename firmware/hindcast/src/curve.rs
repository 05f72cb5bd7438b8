//! Share warned against idle minutes, by sweeping the one setting.
//!
//! A call stands where the score is at or over the setting, without holding,
//! so one sweep is one sort.

use super::cells::{Caller, Judged};

/// Idle minutes per 24 h at which shares are told.
pub const LEVELS: [f64; 6] = [15.0, 30.0, 45.0, 60.0, 90.0, 120.0];

/// One place on the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// The setting, as a score.
    pub setting: f64,
    /// Idle minutes per 24 h and cell.
    pub idle_min: f64,
    /// Share of crossings warned in time.
    pub share: f64,
}

/// The curve of one caller on some cells together.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Fewest idle minutes first.
    pub points: Vec<Point>,
    /// Crossings of all cells.
    pub crossings: usize,
}

impl Curve {
    /// Sweeps the setting.
    pub fn sweep(caller: Caller, cells: &[&Judged]) -> Curve {
        let mut warned = Vec::new();
        let mut idle = Vec::new();
        for it in cells {
            warned.extend(it.crossings.iter().map(|slot| score_at(it, caller, *slot)));
            let minutes = minutes(it, cells.len());
            let slots = (0..it.idle.len()).filter(|slot| it.idle[*slot]);
            let scores = slots.map(|slot| it.score(caller, slot));
            idle.extend(scores.filter(|it| !it.is_nan()).map(|it| (it, minutes)));
        }
        warned.sort_unstable_by(f64::total_cmp);
        idle.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
        let crossings = warned.len();
        let mut sum = 0.0;
        let points = idle.chunk_by(|a, b| a.0 == b.0).map(|equal| {
            sum += equal.iter().map(|it| it.1).sum::<f64>();
            let setting = equal[0].0;
            let missed = warned.partition_point(|score| *score < setting);
            Point {
                setting,
                idle_min: sum,
                share: (crossings - missed) as f64 / crossings.max(1) as f64,
            }
        });
        Curve {
            points: points.collect(),
            crossings,
        }
    }

    /// Share warned at so many idle minutes, straight between settings; none
    /// where nothing was crossed.
    pub fn share_at(&self, idle_min: f64) -> Option<f64> {
        if self.crossings == 0 {
            return None;
        }
        let pairs = self.points.iter().map(|it| (it.idle_min, it.share));
        Some(straight(pairs, idle_min))
    }

    /// The setting that costs at most so many idle minutes.
    pub fn setting_at(&self, idle_min: f64) -> Option<f64> {
        let within = self.points.partition_point(|it| it.idle_min <= idle_min);
        let point = self.points.get(within.checked_sub(1)?)?;
        Some(point.setting)
    }

    /// Idle minutes and share at a setting.
    pub fn at(&self, setting: f64) -> (f64, f64) {
        let stands = self.points.partition_point(|it| it.setting >= setting);
        match stands.checked_sub(1).and_then(|last| self.points.get(last)) {
            Some(point) => (point.idle_min, point.share),
            None => (0.0, 0.0),
        }
    }

    /// At most so many points, evenly spread over the idle minutes up to
    /// `most_min`.
    pub fn thinned(&self, most_min: f64, count: usize) -> Vec<Point> {
        let wanted = (1..=count).map(|k| most_min * k as f64 / count as f64);
        let mut thinned: Vec<Point> = wanted
            .filter_map(|idle| {
                let place = self.points.partition_point(|it| it.idle_min <= idle);
                self.points.get(place.checked_sub(1)?).copied()
            })
            .collect();
        thinned.dedup();
        thinned
    }
}

/// The score that decides whether a crossing was warned of in time; less than
/// any setting where there is none.
pub fn score_at(it: &Judged, caller: Caller, crossing: usize) -> f64 {
    let score = it.due(crossing).map(|slot| it.score(caller, slot));
    score.filter(|it| !it.is_nan()).unwrap_or(f64::NEG_INFINITY)
}

/// What one idle slot counts, in minutes per 24 h and cell.
pub fn minutes(it: &Judged, cells: usize) -> f64 {
    f64::from(it.limit.step_s) / 60.0 / it.days / cells as f64
}

/// Straight between points that begin at nothing; level after the last.
pub fn straight(points: impl Iterator<Item = (f64, f64)>, x: f64) -> f64 {
    let mut before = (0.0, 0.0);
    for point in points {
        if x < point.0 {
            let share = (x - before.0) / (point.0 - before.0);
            return before.1 + share * (point.1 - before.1);
        }
        before = point;
    }
    before.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve() -> Curve {
        let point = |setting, idle_min, share| Point {
            setting,
            idle_min,
            share,
        };
        Curve {
            points: vec![point(0.9, 10.0, 0.2), point(0.5, 30.0, 0.6)],
            crossings: 5,
        }
    }

    #[test]
    fn shares_run_straight_between_settings() {
        let curve = curve();
        let shares = [0.0, 5.0, 10.0, 20.0, 30.0, 99.0].map(|it| curve.share_at(it).unwrap());
        for (found, expected) in shares.into_iter().zip([0.0, 0.1, 0.2, 0.4, 0.6, 0.6]) {
            assert!((found - expected).abs() < 1e-12, "{found} for {expected}");
        }
    }

    #[test]
    fn a_setting_never_costs_more_than_asked() {
        let curve = curve();
        assert_eq!(curve.setting_at(29.9), Some(0.9));
        assert_eq!(curve.setting_at(30.0), Some(0.5));
        assert_eq!(curve.setting_at(9.0), None);
        assert_eq!(curve.at(0.5), (30.0, 0.6));
        assert_eq!(curve.at(0.7), (10.0, 0.2));
        assert_eq!(curve.at(0.95), (0.0, 0.0));
    }

    #[test]
    fn nothing_crossed_has_no_share() {
        let curve = Curve {
            crossings: 0,
            ..curve()
        };
        assert_eq!(curve.share_at(30.0), None);
    }
}
