//! A forecast table as the boat would meet it: from 10 m over ground to the
//! masthead over water.

use heapless::Vec;

use super::table::{MAX_ROWS, Row, Table};
use crate::instruments::Gradient;
use crate::wind::{Vector, gradient};

/// From the table's heights and frame to the boat's.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// How wind grows with height.
    pub law: Gradient,
    /// Height of the wind unit; 10 m where it is not known.
    pub masthead_m: Option<f64>,
}

/// One row at the masthead over water.
#[derive(Clone, Copy, Debug)]
struct Point {
    unix_s: f64,
    mean_kn: f64,
    /// Gust over mean, where the forecast tells it.
    gust_ratio: Option<f64>,
    spread_kn: f64,
}

/// The forecast at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Told {
    pub(super) mean_kn: f64,
    pub(super) gust_ratio: Option<f64>,
    pub(super) spread_kn: f64,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Aloft(Vec<Point, MAX_ROWS>);

impl Aloft {
    /// With the measured current (a vector that points where it sets to, by
    /// true north) where a row sets none.
    pub(super) fn of(table: &Table, frame: Frame, measured: Option<Vector>) -> Aloft {
        let to_ten = frame
            .masthead_m
            .and_then(|height_m| gradient::to_ten_metres(frame.law, height_m))
            .unwrap_or(1.0);
        let rows = table.rows().iter();
        Aloft(rows.map(|row| point(row, to_ten, measured)).collect())
    }

    /// First and last moment, Unix seconds.
    pub(super) fn span_s(&self) -> Option<(f64, f64)> {
        Some((self.0.first()?.unix_s, self.0.last()?.unix_s))
    }

    /// At a moment; before the first and after the last row as they are.
    pub(super) fn at(&self, unix_s: f64) -> Option<Told> {
        let after = self.0.partition_point(|point| point.unix_s <= unix_s);
        let from = self.0.get(after.saturating_sub(1))?;
        let to = self.0.get(after).unwrap_or(from);
        let span = to.unix_s - from.unix_s;
        let part = if span > 0.0 {
            ((unix_s - from.unix_s) / span).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let between = |a: f64, b: f64| a + part * (b - a);
        Some(Told {
            mean_kn: between(from.mean_kn, to.mean_kn),
            gust_ratio: match (from.gust_ratio, to.gust_ratio) {
                (Some(a), Some(b)) => Some(between(a, b)),
                (a, b) => a.or(b),
            },
            spread_kn: between(from.spread_kn, to.spread_kn),
        })
    }

    /// The spread of the surest row.
    pub(super) fn least_spread_kn(&self) -> f64 {
        let spreads = self.0.iter().map(|point| point.spread_kn);
        spreads.fold(f64::INFINITY, f64::min)
    }

    /// By how much the wind changes over the table.
    pub(super) fn range_kn(&self) -> f64 {
        let means = || self.0.iter().map(|point| point.mean_kn);
        means().fold(0.0, f64::max) - means().fold(f64::INFINITY, f64::min)
    }
}

fn point(row: &Row, to_ten: f64, measured: Option<Vector>) -> Point {
    let over_ground = row.wind.get() / to_ten;
    let set = row
        .current
        .map(|current| Vector::polar(current.drift.get(), current.to_deg));
    let over_water = match (row.from_deg, set.or(measured)) {
        // The wind blows to where it does not come from; over water it is
        // weaker by as much of the current as runs with it.
        (Some(from_deg), Some(current)) => {
            (Vector::polar(over_ground, from_deg + 180.0) - current).speed()
        }
        _ => over_ground,
    };
    let wind = row.wind.get();
    let gust = row.gust.filter(|_| wind > 1.0);
    Point {
        unix_s: row.unix_s as f64,
        mean_kn: over_water,
        gust_ratio: gust.map(|gust| gust.get() / wind),
        spread_kn: row.sure.spread_kn(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::table::{Current, Sure};
    use super::*;
    use crate::units::Knots;

    fn kn(speed: f64) -> Knots {
        Knots::new(speed).unwrap_or_default()
    }

    fn row(unix_s: i64, speed: f64) -> Row {
        Row {
            unix_s,
            wind: kn(speed),
            gust: Some(kn(speed * 1.3)),
            from_deg: Some(270.0),
            sure: Sure::default(),
            current: None,
        }
    }

    fn aloft(rows: &[Row], masthead_m: Option<f64>, measured: Option<Vector>) -> Aloft {
        let frame = Frame {
            law: Gradient::LogOpenSea,
            masthead_m,
        };
        Table::new(rows).map_or(Aloft::default(), |table| Aloft::of(&table, frame, measured))
    }

    fn mean_at(aloft: &Aloft, unix_s: f64) -> f64 {
        aloft.at(unix_s).map_or(f64::NAN, |told| told.mean_kn)
    }

    #[test]
    fn wind_is_stronger_at_the_masthead_than_at_ten_metres() {
        // ln(20 / 0.0002) / ln(10 / 0.0002) = 1.0641, worked by hand.
        let at = mean_at(&aloft(&[row(0, 20.0)], Some(20.0), None), 0.0);
        assert!((at - 20.0 * 1.0641).abs() < 0.002, "{at}");
    }

    #[test]
    fn wind_with_the_current_is_weaker_over_water_and_against_it_stronger() {
        // Westerly wind of 20 kn, current of 2 kn.
        let with = Some(Vector::polar(2.0, 90.0));
        let against = Some(Vector::polar(2.0, 270.0));
        assert!((mean_at(&aloft(&[row(0, 20.0)], None, with), 0.0) - 18.0).abs() < 1e-9);
        assert!((mean_at(&aloft(&[row(0, 20.0)], None, against), 0.0) - 22.0).abs() < 1e-9);
        let set = Row {
            current: Some(Current {
                drift: kn(1.0),
                to_deg: 270.0,
            }),
            ..row(0, 20.0)
        };
        // What the row sets goes before what is measured.
        assert!((mean_at(&aloft(&[set], None, with), 0.0) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn between_rows_the_wind_changes_evenly() {
        let aloft = aloft(&[row(0, 10.0), row(3600, 20.0)], None, None);
        assert!((mean_at(&aloft, 900.0) - 12.5).abs() < 1e-9);
        assert!((mean_at(&aloft, -60.0) - 10.0).abs() < 1e-9);
        assert!((mean_at(&aloft, 9000.0) - 20.0).abs() < 1e-9);
    }
}
