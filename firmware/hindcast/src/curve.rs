//! Share warned against idle minutes, by sweeping the one setting.
//!
//! A call stands where the score is at or over the setting, without holding,
//! so one sweep is one sort. Every score is a setting: a coarse grid would move
//! the low end by a tenth. A cell that is never crossed tells nothing of the
//! curve and is left out.

use crate::judged::Judged;

/// Idle minutes per 24 h at which shares are told.
pub const LEVELS: [f64; 6] = [5.0, 10.0, 15.0, 30.0, 60.0, 120.0];

/// Who calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caller {
    /// The fixed pre-alarm at a fraction of the limit.
    Fraction,
    /// The fixed pre-alarm so many knots below the limit.
    Knots,
    /// The odds by themselves.
    Odds,
    /// The engine, as aboard.
    Aboard,
}

impl Caller {
    /// Those that can be swept.
    pub const SWEPT: [Caller; 3] = [Caller::Fraction, Caller::Knots, Caller::Odds];

    /// The score on which it calls: higher is sooner. Not a number where there
    /// are no odds: then nobody is asked.
    pub fn score(self, it: &Judged, slot: usize) -> f64 {
        let (wind, odds) = (it.limit.wind[slot], it.odds[slot]);
        match self {
            _ if odds.is_nan() => f64::NAN,
            Caller::Fraction => even(wind / it.limit.limit_kn),
            Caller::Knots => even(wind - it.limit.limit_kn),
            Caller::Odds | Caller::Aboard => odds,
        }
    }

    /// As a table names it.
    pub const fn words(self) -> &'static str {
        match self {
            Caller::Fraction => "fixed, fraction of limit",
            Caller::Knots => "fixed, knots below limit",
            Caller::Odds => "odds",
            Caller::Aboard => "as aboard",
        }
    }

    /// As a key.
    pub const fn key(self) -> &'static str {
        match self {
            Caller::Fraction => "fixed_fraction",
            Caller::Knots => "fixed_knots",
            Caller::Odds => "odds",
            Caller::Aboard => "aboard",
        }
    }

    /// A score as the crew would set it: knots *below* the limit.
    pub fn shown(self, setting: f64) -> f64 {
        match self {
            Caller::Fraction | Caller::Odds | Caller::Aboard => setting,
            Caller::Knots => -setting,
        }
    }
}

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
    /// Crossings of all cells that could be missed.
    pub crossings: usize,
}

impl Curve {
    /// Sweeps the setting.
    pub fn sweep(caller: Caller, cells: &[&Judged]) -> Curve {
        let days: f64 = crossed(cells).map(|it| it.days).sum();
        let mut scores: Vec<(f64, f64, usize)> = Vec::new();
        let mut crossings = 0;
        for it in crossed(cells) {
            crossings += it.missable.len();
            let warned = it.missable.iter().map(|slot| score_at(it, caller, *slot));
            scores.extend(warned.filter(|it| it.is_finite()).map(|it| (it, 0.0, 1)));
            let minutes = f64::from(it.limit.step_s) / 60.0 / days;
            let idle = (0..it.idle.len()).filter(|slot| it.idle[*slot]);
            let idle = idle.map(|slot| caller.score(it, slot));
            scores.extend(idle.filter(|it| it.is_finite()).map(|it| (it, minutes, 0)));
        }
        scores.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
        let (mut idle_min, mut warned) = (0.0, 0);
        let points = scores.chunk_by(|a, b| a.0 == b.0).map(|equal| {
            idle_min += equal.iter().map(|it| it.1).sum::<f64>();
            warned += equal.iter().map(|it| it.2).sum::<usize>();
            Point {
                setting: equal[0].0,
                idle_min,
                share: warned as f64 / crossings.max(1) as f64,
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

/// Scores that differ by the last digit of a division only are one setting.
fn even(score: f64) -> f64 {
    (score * 1e9).round() / 1e9
}

/// The cells that are crossed at all.
pub fn crossed<'a>(cells: &'a [&'a Judged]) -> impl Iterator<Item = &'a Judged> {
    cells.iter().copied().filter(|it| !it.crossings.is_empty())
}

/// The score that decides whether a crossing was warned of in time; less than
/// any setting where there is none.
pub fn score_at(it: &Judged, caller: Caller, crossing: usize) -> f64 {
    let score = it.due(crossing).map(|slot| caller.score(it, slot));
    score.filter(|it| !it.is_nan()).unwrap_or(f64::NEG_INFINITY)
}

/// Straight between points; level before the first and after the last. Of
/// several that cost the same the last counts.
pub fn straight(points: impl Iterator<Item = (f64, f64)>, x: f64) -> f64 {
    let mut before: Option<(f64, f64)> = None;
    for point in points {
        if x < point.0 {
            let Some(before) = before else {
                return point.1;
            };
            let share = (x - before.0) / (point.0 - before.0);
            return before.1 + share * (point.1 - before.1);
        }
        before = Some(point);
    }
    before.map_or(0.0, |it| it.1)
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
            points: vec![
                point(0.9, 0.0, 0.1),
                point(0.8, 10.0, 0.1),
                point(0.7, 10.0, 0.2),
                point(0.5, 30.0, 0.6),
            ],
            crossings: 5,
        }
    }

    #[test]
    fn shares_run_straight_between_settings() {
        let curve = curve();
        let shares = [0.0, 5.0, 10.0, 20.0, 30.0, 99.0].map(|it| curve.share_at(it).unwrap());
        for (found, expected) in shares.into_iter().zip([0.1, 0.1, 0.2, 0.4, 0.6, 0.6]) {
            assert!((found - expected).abs() < 1e-12, "{found} for {expected}");
        }
    }

    #[test]
    fn a_setting_never_costs_more_than_asked() {
        let curve = curve();
        assert_eq!(curve.setting_at(29.9), Some(0.7));
        assert_eq!(curve.setting_at(30.0), Some(0.5));
        assert_eq!(curve.setting_at(-1.0), None);
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
