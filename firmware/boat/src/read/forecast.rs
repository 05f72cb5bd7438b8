//! `[[forecast]]`: the skipper's table.

use cringle_core::forecast::{Current, Refused, Row, Sure, Table};
use cringle_core::units::Knots;

use super::{MOST_KN, knots};
use crate::toml_file::Section;

/// The most a current may run.
const MOST_CURRENT_KN: f64 = 20.0;
/// The least spread: nobody is surer.
const LEAST_SPREAD_KN: f64 = 0.5;

/// The table, if there is one; a row that is wrong is left out, and told.
pub(super) fn forecast(root: &Section<'_>) -> Option<Table> {
    let sections = root.sections("forecast");
    let mut rows = Vec::new();
    let mut places = Vec::new();
    for section in &sections {
        if let Some(row) = row(section) {
            rows.push(row);
            places.push(section);
        }
    }
    Table::new(&rows)
        .map_err(|refused| complain(refused, &places))
        .ok()
}

fn complain(refused: Refused, places: &[&Section<'_>]) {
    let (section, what, mend) = match refused {
        // No rows: no forecast.
        Refused::Empty => return,
        Refused::TooMany(rows) => (
            places.last(),
            format!("makes {rows} rows"),
            "leave out rows: at most 24",
        ),
        Refused::NotLater(place) => (
            places.get(place),
            "is not later than the row before".into(),
            "put the rows in order of time, each moment once",
        ),
        Refused::Figure(place) => (
            places.get(place),
            "has a gust under its wind".into(),
            "let gust_kn be wind_kn or more",
        ),
    };
    if let Some(section) = section {
        section.wrong(what, mend);
    }
}

fn row(section: &Section<'_>) -> Option<Row> {
    let time = section.find("time");
    if time.is_none() {
        section.missing(
            "time",
            "a moment of UTC, such as time = 2026-11-08T12:00:00Z",
        );
    }
    let unix_s = time.and_then(|found| found.unix_s());
    let wind = knots(section, "wind_kn");
    section.must_have("wind_kn", "the mean wind at 10 m over ground");
    let gust = knots(section, "gust_kn");
    let from_deg = section.number("from_deg", 0.0..=360.0);
    let sure = sure(section);
    let current = current(section, from_deg);
    Some(Row {
        unix_s: unix_s?,
        wind: wind?,
        gust,
        from_deg,
        sure,
        current,
    })
}

fn sure(section: &Section<'_>) -> Sure {
    let share = section.number("sure", 0.0..=1.0).map(Sure::Share);
    let spread = section
        .number("spread_kn", LEAST_SPREAD_KN..=MOST_KN)
        .and_then(|spread| Knots::new(spread).ok())
        .map(Sure::Spread);
    if let (Some(_), Some(_)) = (share, spread) {
        section.wrong_at("spread_kn", "stands beside `sure`", "give one of the two");
    }
    share.or(spread).unwrap_or_default()
}

fn current(section: &Section<'_>, from_deg: Option<f64>) -> Option<Current> {
    let drift = section
        .number("current_kn", 0.0..=MOST_CURRENT_KN)
        .and_then(|drift| Knots::new(drift).ok());
    let to_deg = section.number("current_to_deg", 0.0..=360.0);
    if let (Some(_), None) = (drift, to_deg.and(from_deg)) {
        section.missing(
            "current_to_deg",
            "where it sets to, and from_deg for the wind",
        );
    }
    Some(Current {
        drift: drift?,
        to_deg: to_deg?,
    })
}
