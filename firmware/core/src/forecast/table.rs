//! The table as the skipper wrote it, checked once.

use core::fmt;

use heapless::Vec;

use crate::units::Knots;

/// Most rows of a table: three days by three hours.
pub const MAX_ROWS: usize = 24;

/// What a forecast says of one moment; between two moments it changes evenly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Unix seconds.
    pub unix_s: i64,
    /// Mean wind at 10 m over ground.
    pub wind: Knots,
    /// Gusts at 10 m over ground; as gusty as is measured where not given.
    pub gust: Option<Knots>,
    /// Where it comes from, degrees by true north; only the current needs it.
    pub from_deg: Option<f64>,
    /// How sure it is.
    pub sure: Sure,
    /// The current to reckon with; the measured one where not given.
    pub current: Option<Current>,
}

/// How sure a row is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sure {
    /// From 0, hardly better than a guess, to 1, as good as they come.
    Share(f64),
    /// One standard deviation of the speed.
    Spread(Knots),
}

impl Default for Sure {
    fn default() -> Self {
        Sure::Share(0.5)
    }
}

/// The surest forecast is off by so much, one standard deviation. Common
/// practice, no source.
const SUREST_KN: f64 = 2.0;
/// The least sure by so much more.
const LEAST_SURE_KN: f64 = 6.0;
/// The same for the time of a front, hours.
const SUREST_H: f64 = 0.5;
const LEAST_SURE_H: f64 = 2.0;

impl Sure {
    /// One standard deviation of the speed, kn.
    pub fn spread_kn(self) -> f64 {
        match self {
            Sure::Share(share) => SUREST_KN + LEAST_SURE_KN * (1.0 - share),
            Sure::Spread(spread) => spread.get(),
        }
    }

    /// One standard deviation of when it comes, hours.
    pub fn timing_h(self) -> f64 {
        let share = match self {
            Sure::Share(share) => share,
            Sure::Spread(_) => 0.5,
        };
        SUREST_H + LEAST_SURE_H * (1.0 - share)
    }
}

/// A current over ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Current {
    /// How fast.
    pub drift: Knots,
    /// Where it sets to, degrees by true north.
    pub to_deg: f64,
}

/// Rows in order of time; at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Table(Vec<Row, MAX_ROWS>);

impl Table {
    /// Checks rows and keeps them.
    pub fn new(rows: &[Row]) -> Result<Table, Refused> {
        if rows.is_empty() {
            return Err(Refused::Empty);
        }
        let mut kept: Vec<Row, MAX_ROWS> = Vec::new();
        for (place, row) in rows.iter().enumerate() {
            if kept
                .last()
                .is_some_and(|before| before.unix_s >= row.unix_s)
            {
                return Err(Refused::NotLater(place));
            }
            if !row.is_sound() {
                return Err(Refused::Figure(place));
            }
            kept.push(*row).map_err(|_| Refused::TooMany(rows.len()))?;
        }
        Ok(Table(kept))
    }

    /// The rows, earliest first.
    pub fn rows(&self) -> &[Row] {
        &self.0
    }
}

impl Row {
    fn is_sound(&self) -> bool {
        let is_direction = |deg: f64| (0.0..=360.0).contains(&deg);
        let sure = match self.sure {
            Sure::Share(share) => (0.0..=1.0).contains(&share),
            Sure::Spread(spread) => spread.get() > 0.0,
        };
        sure && self.gust.is_none_or(|gust| gust >= self.wind)
            && self.from_deg.is_none_or(is_direction)
            && self
                .current
                .is_none_or(|current| is_direction(current.to_deg))
    }
}

/// Why rows are no table. Places count from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// There are none.
    Empty,
    /// There are so many.
    TooMany(usize),
    /// This row is not later than the one before.
    NotLater(usize),
    /// This row has a direction outside 0 to 360, a gust under its mean, a
    /// sureness outside 0 to 1 or no spread.
    Figure(usize),
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Empty => f.write_str("a forecast without rows, expected 1 to 24"),
            Refused::TooMany(rows) => {
                write!(f, "a forecast of {rows} rows, expected at most {MAX_ROWS}")
            }
            Refused::NotLater(place) => {
                write!(f, "row {} is not later than the one before", place + 1)
            }
            Refused::Figure(place) => write!(
                f,
                "row {}: expected directions from 0 to 360, gusts no less than the wind, \
                 sureness from 0 to 1, a spread over 0",
                place + 1
            ),
        }
    }
}

impl core::error::Error for Refused {}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(unix_s: i64, kn: f64) -> Row {
        Row {
            unix_s,
            wind: Knots::new(kn).unwrap_or_default(),
            gust: None,
            from_deg: None,
            sure: Sure::default(),
            current: None,
        }
    }

    #[test]
    fn rows_out_of_order_or_none_or_too_many_are_refused() {
        assert_eq!(Table::new(&[]), Err(Refused::Empty));
        let twice = [row(0, 10.0), row(0, 12.0)];
        assert_eq!(Table::new(&twice), Err(Refused::NotLater(1)));
        let many: std::vec::Vec<Row> = (0..25).map(|hour| row(hour * 3600, 10.0)).collect();
        assert_eq!(Table::new(&many), Err(Refused::TooMany(25)));
        assert!(many.get(..24).is_some_and(|rows| Table::new(rows).is_ok()));
    }

    #[test]
    fn figures_that_cannot_be_are_refused() {
        for wrong in [
            Row {
                gust: Knots::new(9.0).ok(),
                ..row(0, 10.0)
            },
            Row {
                from_deg: Some(361.0),
                ..row(0, 10.0)
            },
            Row {
                from_deg: Some(f64::NAN),
                ..row(0, 10.0)
            },
            Row {
                sure: Sure::Share(1.1),
                ..row(0, 10.0)
            },
            Row {
                sure: Sure::Spread(Knots::default()),
                ..row(0, 10.0)
            },
        ] {
            assert_eq!(Table::new(&[wrong]), Err(Refused::Figure(0)), "{wrong:?}");
        }
    }
}
