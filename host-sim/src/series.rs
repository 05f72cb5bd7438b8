//! Long wind series for hindcasts: one row for each interval.

use std::io::Write;

use anyhow::Result;

use crate::maths::{Flow, compass_deg};
use crate::weather::{Plan, Weather};

/// Samples a second: enough for a 3 s gust, half the work of 4 Hz.
const SAMPLES_PER_S: usize = 2;
/// Samples in a gust: a running mean of 3 s.
const GUST_SAMPLES: usize = 3 * SAMPLES_PER_S;

/// Mean, gust, direction and pressure over one interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Unix seconds at the end of the interval.
    pub unix_s: f64,
    /// Mean of the wind speed over ground, m/s.
    pub speed_ms: f64,
    /// Highest 3 s running mean that ended in the interval, m/s.
    pub gust_ms: f64,
    /// Direction of the vector mean, true degrees from.
    pub direction_deg: f64,
    /// Pressure at the end, hPa.
    pub pressure_hpa: f64,
}

/// A wind series without end.
#[derive(Clone, Debug)]
pub struct Series {
    weather: Weather,
    unix_s: f64,
    interval_s: usize,
    recent: [f64; GUST_SAMPLES],
    at: usize,
}

impl Series {
    /// The weather of `plan` at `height_m`, a row every `interval_s`.
    pub fn new(plan: &Plan, height_m: f64, start_unix_s: f64, interval_s: u32, seed: u64) -> Self {
        let mut series = Self {
            weather: Weather::new(plan, height_m, 0.0, seed),
            unix_s: start_unix_s,
            interval_s: interval_s.max(1) as usize,
            recent: [0.0; GUST_SAMPLES],
            at: 0,
        };
        for _ in 0..GUST_SAMPLES {
            series.sample();
        }
        series
    }

    fn sample(&mut self) -> Flow {
        let wind = self.weather.step(1.0 / SAMPLES_PER_S as f64).wind;
        self.recent[self.at] = wind.speed_ms();
        self.at = (self.at + 1) % GUST_SAMPLES;
        wind
    }

    fn gust_ms(&self) -> f64 {
        self.recent.iter().sum::<f64>() / GUST_SAMPLES as f64
    }
}

impl Iterator for Series {
    type Item = Row;

    fn next(&mut self) -> Option<Row> {
        let samples = self.interval_s * SAMPLES_PER_S;
        let (mut vector, mut speed, mut gust) = (Flow::default(), 0.0, 0.0_f64);
        for _ in 0..samples {
            let wind = self.sample();
            vector = vector.and(wind);
            speed += wind.speed_ms();
            gust = gust.max(self.gust_ms());
        }
        self.unix_s += self.interval_s as f64;
        Some(Row {
            unix_s: self.unix_s,
            speed_ms: speed / samples as f64,
            gust_ms: gust,
            direction_deg: compass_deg(vector.from_rad()),
            pressure_hpa: self.weather.air().mean.pressure_hpa,
        })
    }
}

/// Writes rows as comma-separated values with a head line.
pub fn write_csv(rows: impl Iterator<Item = Row>, into: &mut dyn Write) -> Result<()> {
    writeln!(into, "unix_s,speed_ms,gust_ms,direction_deg,pressure_hpa")?;
    for row in rows {
        writeln!(
            into,
            "{:.0},{:.2},{:.2},{:.1},{:.2}",
            row.unix_s, row.speed_ms, row.gust_ms, row.direction_deg, row.pressure_hpa
        )?;
    }
    into.flush()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::Climate;

    fn climate() -> Plan {
        Plan {
            climate: Some(Climate::default()),
            ..Plan::default()
        }
    }

    #[test]
    fn a_gust_is_never_under_its_mean_and_seldom_far_over() {
        let rows: Vec<Row> = Series::new(&climate(), 10.0, 0.0, 600, 2)
            .take(300)
            .collect();
        let factors: Vec<f64> = rows.iter().map(|row| row.gust_ms / row.speed_ms).collect();
        assert!(factors.iter().all(|factor| *factor >= 1.0));
        let mean = factors.iter().sum::<f64>() / factors.len() as f64;
        // 1.23 in the mean at sea (WMO/TD-No. 1555), more where the mean moves.
        assert!((1.2..1.32).contains(&mean), "{mean}");
    }

    #[test]
    fn rows_are_written_with_a_head_and_whole_seconds() {
        let mut text = Vec::new();
        let rows = Series::new(&climate(), 10.0, 1_782_000_000.0, 60, 2).take(2);
        write_csv(rows, &mut text).expect("written");
        let text = String::from_utf8(text).expect("plain text");
        let lines: Vec<_> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[1].starts_with("1782000060,") && lines[2].starts_with("1782000120,"));
    }
}
