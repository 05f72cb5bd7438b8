//! Series from text with named columns, packed or not.
//!
//! `unix_s` and `speed_ms` or `speed_kn`; where there: `gust_ms` or `gust_kn`,
//! `direction_deg`, `pressure_hpa`. Other columns are left alone. An empty
//! field is a missing value. Anything else that is wrong stops the reading
//! with file, line, what is wrong and how to mend it: a number of doubt must
//! not be judged.

use std::io::BufRead;
use std::path::Path;

use anyhow::{Context, bail};
use cringle_core::outlook::Summary;

use super::series::Sample;
use crate::KN_PER_MS;

/// More than this no wind has blown: see the outlook's own bound.
const HIGHEST_KN: f64 = 300.0;

/// Reads all samples of a file.
pub fn read(path: &Path) -> anyhow::Result<Vec<Sample>> {
    let lines = cringle_engine::unpack::open(path)?;
    samples(lines, &path.display().to_string())
}

/// Reads all samples of what is called `name`.
pub fn samples(lines: impl BufRead, name: &str) -> anyhow::Result<Vec<Sample>> {
    let mut columns: Option<Columns> = None;
    let mut samples: Vec<Sample> = Vec::new();
    for (line, number) in lines.lines().zip(1_u64..) {
        let place = || format!("{name}, line {number}");
        let line = line.with_context(place)?;
        let line = line.trim().trim_start_matches('\u{feff}');
        if line.is_empty() {
            continue;
        }
        let Some(columns) = &columns else {
            columns = Some(
                Columns::find(line)
                    .map_err(anyhow::Error::msg)
                    .with_context(place)?,
            );
            continue;
        };
        let sample = columns.sample(line).map_err(anyhow::Error::msg);
        let sample = sample.with_context(place)?;
        if let Some(before) = samples.last().filter(|it| it.unix_s >= sample.unix_s) {
            bail!(
                "{}: time goes from {} to {}: sort the file by unix_s and leave one line a time",
                place(),
                before.unix_s,
                sample.unix_s
            );
        }
        samples.push(sample);
    }
    if columns.is_none() {
        bail!("{name}, line 1: nothing in it: a series begins with the names of its columns");
    }
    if samples.iter().all(|sample| sample.summary.is_none()) {
        bail!("{name}: no line with a wind speed");
    }
    Ok(samples)
}

/// Where each quantity stands in a line.
#[derive(Clone, Copy, Debug)]
struct Columns {
    count: usize,
    time: usize,
    speed: (usize, f64),
    gust: Option<(usize, f64)>,
    direction: Option<usize>,
    pressure: Option<usize>,
}

impl Columns {
    fn find(line: &str) -> Result<Columns, String> {
        let names: Vec<&str> = line.split(',').map(bare).collect();
        let place = |wanted: &str| names.iter().position(|name| *name == wanted);
        let speed = |what: &str| {
            let in_ms = place(&format!("{what}_ms")).map(|at| (at, KN_PER_MS));
            place(&format!("{what}_kn")).map(|at| (at, 1.0)).or(in_ms)
        };
        let mend = format!(
            "found the columns {line:?}; the first line names them, such as unix_s,speed_ms"
        );
        Ok(Columns {
            count: names.len(),
            time: place("unix_s").ok_or_else(|| format!("no column unix_s: {mend}"))?,
            speed: speed("speed")
                .ok_or_else(|| format!("no column speed_ms or speed_kn: {mend}"))?,
            gust: speed("gust"),
            direction: place("direction_deg"),
            pressure: place("pressure_hpa"),
        })
    }

    fn sample(&self, line: &str) -> Result<Sample, String> {
        let fields: Vec<&str> = line.split(',').map(bare).collect();
        if fields.len() != self.count {
            return Err(format!(
                "{} fields where the first line names {}: leave a missing value empty",
                fields.len(),
                self.count
            ));
        }
        let time = number(&fields, self.time, "unix_s", -1e11..=1e11)?
            .ok_or("unix_s is empty: every line needs its time in Unix seconds")?;
        let wind = |(place, factor): (usize, f64), what| {
            let value = number(&fields, place, what, 0.0..=HIGHEST_KN / factor)?;
            Ok::<_, String>(value.map(|speed| speed * factor))
        };
        let gust_kn = self.gust.map(|it| wind(it, "the gust")).transpose()?;
        let direction = self.direction;
        let direction_deg = direction
            .map(|it| number(&fields, it, "direction_deg", -360.0..=720.0))
            .transpose()?;
        let pressure_hpa = self
            .pressure
            .map(|it| number(&fields, it, "pressure_hpa", 500.0..=1150.0))
            .transpose()?;
        let summary = wind(self.speed, "the speed")?.map(|mean_kn| Summary {
            mean_kn,
            gust_kn: gust_kn.flatten(),
            direction_deg: direction_deg.flatten(),
            pressure_hpa: pressure_hpa.flatten(),
            interval_s: 1,
        });
        Ok(Sample {
            unix_s: time.round() as i64,
            summary,
        })
    }
}

/// A field without blanks and quotation marks.
fn bare(field: &str) -> &str {
    field.trim().trim_matches('"').trim()
}

fn number(
    fields: &[&str],
    place: usize,
    what: &str,
    within: std::ops::RangeInclusive<f64>,
) -> Result<Option<f64>, String> {
    let field = fields.get(place).copied().unwrap_or_default();
    if field.is_empty() || field.eq_ignore_ascii_case("nan") {
        return Ok(None);
    }
    let value: f64 = field
        .parse()
        .map_err(|_| format!("{what} {field:?} is no number: leave a missing value empty"))?;
    if within.contains(&value) {
        return Ok(Some(value));
    }
    Err(format!(
        "{what} {field} is outside {:.0} to {:.0}: leave a missing value empty",
        within.start(),
        within.end()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(text: &str, line: &str, words: &str) {
        let error = samples(text.as_bytes(), "wind.csv").unwrap_err();
        let said = format!("{error:#}");
        assert!(said.starts_with(&format!("wind.csv{line}")), "{said}");
        assert!(said.contains(words), "{said}");
    }

    #[test]
    fn columns_are_found_by_name_in_any_order() {
        let text = "\u{feff}pressure_hpa, speed_kn ,note,unix_s,gust_kn\n1009.5,12.5,x,600,\n";
        let read = samples(text.as_bytes(), "x").unwrap();
        let summary = read[0].summary.unwrap();
        assert_eq!((read[0].unix_s, summary.mean_kn), (600, 12.5));
        assert_eq!(
            (summary.gust_kn, summary.pressure_hpa),
            (None, Some(1009.5))
        );
    }

    #[test]
    fn metres_a_second_become_knots() {
        let read = samples(&b"unix_s,speed_ms\n0,10\n600,\n"[..], "x").unwrap();
        let knots = read[0].summary.unwrap().mean_kn;
        assert!((knots - 19.438_444_924).abs() < 1e-8, "{knots}");
        assert_eq!(read[1].summary, None);
    }

    #[test]
    fn bad_input_is_refused_with_its_line_and_how_to_mend_it() {
        refused("", ", line 1", "names of its columns");
        refused("time,speed_ms\n", ", line 1", "no column unix_s");
        refused("unix_s,speed\n", ", line 1", "speed_ms or speed_kn");
        refused("unix_s,speed_ms\n0,5\n600,x\n", ", line 3", "is no number");
        refused("unix_s,speed_ms\n0,5\n600,-1\n", ", line 3", "outside 0 to");
        refused("unix_s,speed_ms\n0,999.9\n", ", line 2", "outside 0 to 154");
        refused("unix_s,speed_ms\n0\n", ", line 2", "1 fields");
        refused("unix_s,speed_ms\n,3\n", ", line 2", "unix_s is empty");
        refused("unix_s,speed_ms\n600,5\n0,5\n", ", line 3", "sort the file");
        refused("unix_s,speed_ms\n600,\n", "", "no line with a wind speed");
    }
}
