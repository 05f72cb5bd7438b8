//! A straight line through the last hour's minutes, with its uncertainty.

/// Fewer points than this tell no trend.
pub const LEAST_POINTS: usize = 20;

/// A slope and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Per hour.
    pub per_hour: f64,
    /// One standard deviation of it, per hour.
    pub spread: f64,
}

/// Least squares over (hours, value). Wind a minute ago is much like wind
/// now, so the points count as fewer than they are: by their residuals'
/// correlation r from one to the next, n (1 - r)/(1 + r).
pub fn trend(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Trend> {
    let n = points.clone().count();
    if n < LEAST_POINTS {
        return None;
    }
    let count = n as f64;
    let (sx, sy) = points
        .clone()
        .fold((0.0, 0.0), |(x, y), (px, py)| (x + px, y + py));
    let (mx, my) = (sx / count, sy / count);
    let (sxx, sxy) = points.clone().fold((0.0, 0.0), |(xx, xy), (x, y)| {
        (xx + (x - mx) * (x - mx), xy + (x - mx) * (y - my))
    });
    if sxx <= 0.0 {
        return None;
    }
    let slope = sxy / sxx;
    let (mut squares, mut products, mut before) = (0.0, 0.0, None);
    for (x, y) in points {
        let rest = y - my - slope * (x - mx);
        squares += rest * rest;
        if let Some(before) = before {
            products += before * rest;
        }
        before = Some(rest);
    }
    let correlation = if squares > 0.0 {
        (products / squares).clamp(0.0, 0.95)
    } else {
        0.0
    };
    let effective = (count * (1.0 - correlation) / (1.0 + correlation)).max(3.0);
    let variance = squares / count * effective / (effective - 2.0) / effective;
    Some(Trend {
        per_hour: slope,
        spread: libm::sqrt(variance * count / sxx),
    })
}

/// Unwraps directions in order, so that a veer through north goes on.
pub fn unwrapped(
    points: impl Iterator<Item = (f64, f64)> + Clone,
) -> impl Iterator<Item = (f64, f64)> + Clone {
    points.scan(None, |state: &mut Option<f64>, (x, direction)| {
        let going_on = match *state {
            None => direction,
            Some(before) => before + crate::angle::wrap_180(direction - before),
        };
        *state = Some(going_on);
        Some((x, going_on))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_rise_is_told_exactly_and_few_points_tell_nothing() {
        let line = (0..60).map(|m| (f64::from(m) / 60.0, 12.0 + f64::from(m) / 10.0));
        let found = trend(line).unwrap();
        assert!((found.per_hour - 6.0).abs() < 1e-9 && found.spread < 1e-6);
        assert_eq!(trend((0..19).map(|m| (f64::from(m), 1.0))), None);
    }

    #[test]
    fn a_veer_through_north_goes_on() {
        let directions = (0..60).map(|m| {
            let direction = crate::angle::wrap_360(340.0 + f64::from(m));
            (f64::from(m) / 60.0, direction)
        });
        let found = trend(unwrapped(directions)).unwrap();
        assert!((found.per_hour - 60.0).abs() < 1e-9);
    }
}
