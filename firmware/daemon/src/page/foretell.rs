//! The skipper's forecast as it is entered on the page, and as it is shown
//! there: rows of a small table, each figure with a name.

use cringle_core::forecast::{Row, Sure, Table};
use cringle_core::units::Knots;
use cringle_core::view::{ForecastStanding, ForecastView};
use serde::Deserialize;
use serde_json::{Value, json};

use super::seen::{rounded, some_tenths};

/// More than any forecast says; a slip of the finger is told.
const MOST_KN: f64 = 120.0;

/// A row as it was written. A field that is left out is not known.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written {
    /// Such as 2026-11-08T12:00Z.
    time: String,
    wind_kn: Option<f64>,
    gust_kn: Option<f64>,
    from_deg: Option<f64>,
    sure: Option<f64>,
}

/// Checks the rows; none at all takes the forecast away. What is wrong is told
/// with its row, counted from 1, and how to mend it.
pub(super) fn table(rows: &[Written]) -> Result<Option<Table>, String> {
    if rows.is_empty() {
        return Ok(None);
    }
    let rows: Vec<Row> = rows
        .iter()
        .enumerate()
        .map(|(place, row)| {
            row.read()
                .map_err(|why| format!("row {}: {why}", place + 1))
        })
        .collect::<Result<_, _>>()?;
    match Table::new(&rows) {
        Ok(table) => Ok(Some(table)),
        Err(refused) => Err(refused.to_string()),
    }
}

impl Written {
    fn read(&self) -> Result<Row, String> {
        let unix_s = self.moment()?;
        let wind = self
            .wind_kn
            .ok_or("the wind is missing: give knots at 10 m")?;
        let wind = knots("wind", wind)?;
        let gust = self.gust_kn.map(|kn| knots("gust", kn)).transpose()?;
        if gust.is_some_and(|gust| gust < wind) {
            return Err("the gust is under the wind: give at least as much".into());
        }
        if let Some(from) = self.from_deg.filter(|from| !(0.0..=360.0).contains(from)) {
            return Err(format!("from is {from}: give 0 to 360 degrees, true"));
        }
        if let Some(sure) = self.sure.filter(|sure| !(0.0..=1.0).contains(sure)) {
            return Err(format!(
                "sure is {sure}: give 0 (a guess) to 1 (as sure as they come)"
            ));
        }
        Ok(Row {
            unix_s,
            wind,
            gust,
            from_deg: self.from_deg,
            sure: self.sure.map_or(Sure::default(), Sure::Share),
            current: None,
        })
    }

    /// Through the reader that boat files and recordings go through too.
    fn moment(&self) -> Result<i64, String> {
        let alone = cringle_boat::read_forecast(&format!("{} 0", self.time.replace(' ', "T")));
        let row = alone.ok().and_then(|table| table.rows().first().copied());
        row.map(|row| row.unix_s).ok_or_else(|| {
            format!(
                "\"{}\" is no time: give UTC, such as 2026-11-08T12:00Z",
                self.time
            )
        })
    }
}

fn knots(what: &str, given: f64) -> Result<Knots, String> {
    let sound = Knots::new(given).ok().filter(|kn| kn.get() <= MOST_KN);
    sound.ok_or_else(|| format!("{what} is {given}: give knots from 0 to {MOST_KN}"))
}

/// What stands and what it has been worth so far.
pub(super) fn seen(view: &ForecastView, table: Option<&Table>) -> Value {
    let error = view.error;
    json!({
        "standing": match view.standing {
            ForecastStanding::None => "none",
            ForecastStanding::NoUtc => "no-utc",
            ForecastStanding::Used => "used",
            ForecastStanding::Over => "over",
        },
        "words": view.words.as_str(),
        "told_kn": some_tenths(view.told_kn),
        "late_h": some_tenths(error.map(|it| it.late_h)),
        "over_kn": some_tenths(error.map(|it| it.over_kn)),
        "weight": rounded(view.weight, 100.0),
        "rows": table.map_or(&[][..], Table::rows).iter().map(row).collect::<Vec<_>>(),
    })
}

fn row(row: &Row) -> Value {
    json!({
        "t": row.unix_s,
        "wind_kn": some_tenths(Some(row.wind.get())),
        "gust_kn": some_tenths(row.gust.map(Knots::get)),
        "from_deg": some_tenths(row.from_deg),
        "sure": match row.sure {
            Sure::Share(share) => rounded(Some(share), 100.0),
            Sure::Spread(_) => Value::Null,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(rows: &str) -> Result<Option<Table>, String> {
        let rows: Vec<Written> = serde_json::from_str(rows).unwrap();
        table(&rows)
    }

    #[track_caller]
    fn mends(rows: &str, words: &str) {
        let told = read(rows).unwrap_err();
        assert!(told.contains(words), "{told}");
    }

    #[test]
    fn rows_are_read_as_a_boat_file_has_them() {
        let by_page = read(
            r#"[{"time":"2026-11-08T12:00Z","wind_kn":18,"gust_kn":25,"from_deg":210,"sure":0.8},
                {"time":"2026-11-08T15:00Z","wind_kn":26.5}]"#,
        );
        let line = "2026-11-08T12:00Z 18 gust 25 from 210 sure 0.8; 2026-11-08T15:00Z 26.5";
        assert_eq!(by_page, cringle_boat::read_forecast(line).map(Some));
        assert_eq!(read("[]"), Ok(None));
    }

    #[test]
    fn what_is_wrong_is_told_with_its_row_and_how_to_mend_it() {
        let row = |rest: &str| format!(r#"[{{"time":"2026-11-08T12:00Z",{rest}}}]"#);
        mends(
            r#"[{"time":"noon","wind_kn":18}]"#,
            "row 1: \"noon\" is no time",
        );
        // Local time would be hours off.
        mends(r#"[{"time":"2026-11-08T12:00","wind_kn":18}]"#, "give UTC");
        mends(&row(r#""gust_kn":18"#), "row 1: the wind is missing");
        mends(&row(r#""wind_kn":-3"#), "from 0 to 120");
        mends(&row(r#""wind_kn":180"#), "from 0 to 120");
        mends(&row(r#""wind_kn":18,"gust_kn":12"#), "gust is under");
        mends(&row(r#""wind_kn":18,"from_deg":400"#), "0 to 360");
        mends(&row(r#""wind_kn":18,"sure":80"#), "0 (a guess) to 1");
        mends(
            r#"[{"time":"2026-11-08T12:00Z","wind_kn":18},{"time":"2026-11-08T09:00Z","wind_kn":18}]"#,
            "row 2 is not later",
        );
    }
}
