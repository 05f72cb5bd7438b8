//! What a plan stands: its limit on this point of sail, and how coming up to
//! change it, or a change that soon cannot be made any more, lowers that.

use super::{Limit, Plan};
use crate::act::PointOfSail;
use crate::angle::cos_deg;
use crate::units::Knots;

/// Speed through the water reckoned on a close reach while sail is changed,
/// where none is known. Common practice, no source.
pub const CLOSE_REACH_KN: f64 = 6.0;

/// Degrees off the true wind of that close reach. Common practice, no source.
const CLOSE_REACH_DEG: f64 = 50.0;

/// The limit of a plan on a point of sail. Where the point of sail is not
/// known, the lowest of all three holds.
pub fn effective_limit(plan: &Plan, point: Option<PointOfSail>) -> Limit {
    match point {
        Some(point) => *plan.limits.at(point),
        None => {
            let all = &plan.limits;
            let lowest = lower(all.close_hauled, all.reaching);
            lower(lowest, all.running)
        }
    }
}

/// A limit brought forward: a change that must be done below some wind makes
/// that wind the limit, if it is lower than the plan's own.
pub fn brought_forward(limit: Limit, must_be_done_below: Option<Knots>) -> Limit {
    Limit {
        mean: lower_of(limit.mean, must_be_done_below),
        gust: limit.gust,
    }
}

/// Apparent wind that she meets on coming up to a close reach.
pub fn apparent_on_close_reach(true_wind_kn: f64, water_speed_kn: f64) -> f64 {
    let along = true_wind_kn * cos_deg(CLOSE_REACH_DEG) + water_speed_kn;
    let across = true_wind_kn * libm::sin(crate::angle::radians(CLOSE_REACH_DEG));
    libm::sqrt(along * along + across * across)
}

/// The true wind in which coming up to a close reach meets just this
/// apparent wind; 0 where her own way alone makes as much.
pub fn true_wind_for_round_up(apparent: Knots, water_speed_kn: f64) -> Knots {
    let limit = apparent.get();
    let along = water_speed_kn * cos_deg(CLOSE_REACH_DEG);
    let under_root = limit * limit - water_speed_kn * water_speed_kn + along * along;
    let true_wind = libm::sqrt(under_root.max(0.0)) - along;
    Knots::new(true_wind.max(0.0)).unwrap_or_default()
}

fn lower(a: Limit, b: Limit) -> Limit {
    Limit {
        mean: lower_of(a.mean, b.mean),
        gust: lower_of(a.gust, b.gust),
    }
}

/// The lower of two speeds of which either may be missing.
pub(super) fn lower_of(a: Option<Knots>, b: Option<Knots>) -> Option<Knots> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if a <= b { a } else { b }),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::Limits;

    fn kn(speed: f64) -> Knots {
        Knots::new(speed).unwrap()
    }

    fn mean(speed: f64) -> Limit {
        Limit {
            mean: Some(kn(speed)),
            gust: None,
        }
    }

    #[test]
    fn an_unknown_point_of_sail_takes_the_lowest_of_each() {
        let plan = Plan {
            limits: Limits {
                close_hauled: Limit {
                    mean: Some(kn(24.0)),
                    gust: None,
                },
                reaching: Limit {
                    mean: Some(kn(22.0)),
                    gust: Some(kn(30.0)),
                },
                running: Limit::default(),
            },
            ..Plan::default()
        };
        let limit = effective_limit(&plan, None);
        assert_eq!(limit.mean, Some(kn(22.0)));
        assert_eq!(limit.gust, Some(kn(30.0)));
        assert_eq!(
            effective_limit(&plan, Some(PointOfSail::Running)),
            Limit::default()
        );
    }

    #[test]
    fn a_lower_wind_for_the_change_becomes_the_limit_a_higher_does_not() {
        assert_eq!(
            brought_forward(mean(28.0), Some(kn(25.0))).mean,
            Some(kn(25.0))
        );
        assert_eq!(
            brought_forward(mean(28.0), Some(kn(35.0))).mean,
            Some(kn(28.0))
        );
        assert_eq!(
            brought_forward(Limit::default(), Some(kn(35.0))).mean,
            Some(kn(35.0))
        );
    }

    /// TWS 22, TWA 50, 6.8 kn through the water: AWS 26.9 (law of cosines,
    /// worked by hand).
    #[test]
    fn coming_up_meets_the_wind_that_the_triangle_gives() {
        let apparent = apparent_on_close_reach(22.0, 6.8);
        assert!((apparent - 26.9).abs() < 0.05, "{apparent}");
        let back = true_wind_for_round_up(kn(apparent), 6.8).get();
        assert!((back - 22.0).abs() < 1e-9, "{back}");
        assert_eq!(true_wind_for_round_up(kn(3.0), 6.0).get(), 0.0);
    }
}
