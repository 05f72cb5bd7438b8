//! A forecast outside a boat file: in a file of its own, or in one line.
//!
//! The line holds rows with `;` between them, each a moment, the wind, and
//! what else is known, in this order:
//!
//! ```text
//! 2026-11-08T12:00Z 18 gust 25 from 210 sure 0.8; 2026-11-08T18:00Z 30 spread 5 current 1.5 to 90
//! ```

use cringle_core::forecast::{Current, Row, Sure, Table};
use cringle_core::units::Knots;

use crate::moment;
use crate::read;
use crate::toml_file::{self, Problems};

/// Reads a file that holds `[[forecast]]` as a boat file does; other tables
/// of a boat file may be there and are passed over.
pub fn parse_forecast(file: &str, text: &str) -> Result<Option<Table>, Problems> {
    let (forecast, _) = toml_file::read(file, text, |root| {
        root.allow_other_keys();
        Some(read::forecast_of(root))
    })?;
    Ok(forecast)
}

/// Reads a forecast in one line; what is wrong is told in words.
pub fn read_forecast(line: &str) -> Result<Table, String> {
    let rows = line.split(';').filter(|words| !words.trim().is_empty());
    let rows: Vec<Row> = rows.map(row).collect::<Result<_, _>>()?;
    Table::new(&rows).map_err(|refused| refused.to_string())
}

/// A forecast in one line that reads back the same.
pub fn write_forecast(table: &Table) -> String {
    let rows: Vec<String> = table.rows().iter().map(written).collect();
    rows.join("; ")
}

fn row(words: &str) -> Result<Row, String> {
    let mut rest = words.split_ascii_whitespace();
    let wrong = |what: &str, wanted: &str| {
        format!(
            "forecast row \"{}\": {what}, expected {wanted}",
            words.trim()
        )
    };
    let time = rest.next().unwrap_or_default();
    let unix_s = moment::read(time).ok_or_else(|| {
        wrong(
            &format!("\"{time}\" is no moment of UTC"),
            "one such as 2026-11-08T12:00Z",
        )
    })?;
    let mut row = Row {
        unix_s,
        wind: knots(rest.next()).ok_or_else(|| wrong("no wind", "knots after the moment"))?,
        gust: None,
        from_deg: None,
        sure: Sure::default(),
        current: None,
    };
    while let Some(what) = rest.next() {
        let figure = rest.next();
        let number = figure.and_then(|figure| figure.parse::<f64>().ok());
        let taken = match (what, number) {
            ("gust", Some(_)) => knots(figure).map(|gust| row.gust = Some(gust)),
            ("from", Some(deg)) => {
                row.from_deg = Some(deg);
                Some(())
            }
            ("sure", Some(share)) => {
                row.sure = Sure::Share(share);
                Some(())
            }
            ("spread", Some(_)) => knots(figure).map(|spread| row.sure = Sure::Spread(spread)),
            ("current", Some(_)) => {
                current(knots(figure), &mut rest).map(|current| row.current = Some(current))
            }
            _ => None,
        };
        let known = "gust, from, sure, spread or current ... to, each with a number";
        taken.ok_or_else(|| wrong(&format!("cannot use \"{what}\""), known))?;
    }
    Ok(row)
}

fn knots(figure: Option<&str>) -> Option<Knots> {
    Knots::new(figure?.parse().ok()?).ok()
}

fn current<'a>(drift: Option<Knots>, rest: &mut impl Iterator<Item = &'a str>) -> Option<Current> {
    (rest.next()? == "to").then_some(())?;
    Some(Current {
        drift: drift?,
        to_deg: rest.next()?.parse().ok()?,
    })
}

/// Rust writes a float so that it reads back the same.
fn written(row: &Row) -> String {
    let mut words = format!("{} {}", moment::write(row.unix_s), row.wind.get());
    if let Some(gust) = row.gust {
        words += &format!(" gust {}", gust.get());
    }
    if let Some(from_deg) = row.from_deg {
        words += &format!(" from {from_deg}");
    }
    words += &match row.sure {
        Sure::Share(share) => format!(" sure {share}"),
        Sure::Spread(spread) => format!(" spread {}", spread.get()),
    };
    if let Some(current) = row.current {
        words += &format!(" current {} to {}", current.drift.get(), current.to_deg);
    }
    words
}
