//! Sails a passage onto its targets, at a pace.

use std::io::Write;
use std::time::{Duration, Instant};

use anyhow::Result;

use crate::passage::{Passage, Truth};
use crate::sink::Sinks;

/// How fast simulated time runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TimeScale {
    /// So many simulated seconds in one real second.
    Times(f64),
    /// As fast as it goes.
    Unhurried,
}

impl std::str::FromStr for TimeScale {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.parse::<f64>() {
            _ if text == "max" => Ok(TimeScale::Unhurried),
            Ok(times) if times > 0.0 && times.is_finite() => Ok(TimeScale::Times(times)),
            _ => Err(format!("pace {text:?} is neither a number over 0 nor max")),
        }
    }
}

/// Sails until the story is told; truth goes to `truth` once a second.
pub fn sail(
    passage: &mut Passage,
    sinks: &mut Sinks,
    pace: TimeScale,
    truth: &mut Option<Box<dyn Write>>,
) -> Result<()> {
    if let Some(into) = truth {
        writeln!(into, "{TRUTH_HEAD}")?;
    }
    let began = Instant::now();
    let mut ticks = 0u64;
    while !passage.is_over() {
        let links: Vec<_> = passage
            .links()
            .map(|(name, link)| (name.to_owned(), link))
            .collect();
        sinks.set_links(links.iter().map(|(name, link)| (name.as_str(), *link)))?;
        let now_s = passage.now_s() + 0.1;
        wait_until(began, now_s, pace);
        for sentence in passage.step(0.1) {
            sinks.write(sentence)?;
        }
        ticks += 1;
        if ticks.is_multiple_of(10)
            && let Some(into) = truth
        {
            write_truth(into, &passage.truth())?;
        }
    }
    if let Some(into) = truth {
        into.flush()?;
    }
    sinks.flush()
}

fn wait_until(began: Instant, simulated_s: f64, pace: TimeScale) {
    let TimeScale::Times(times) = pace else {
        return;
    };
    let due = Duration::from_secs_f64(simulated_s / times);
    if let Some(rest) = due.checked_sub(began.elapsed()) {
        std::thread::sleep(rest);
    }
}

const TRUTH_HEAD: &str = "now_s,unix_s,tws_kn,twa_deg,twd_deg,mean_tws_kn,ground_wind_kn,\
ground_from_deg,aws_kn,awa_deg,heel_deg,heading_deg,stw_kn,leeway_deg,sog_kn,cog_deg,\
pressure_hpa,wave_height_m,is_dark,rung,round_ups";

fn write_truth(into: &mut dyn Write, truth: &Truth) -> Result<()> {
    writeln!(
        into,
        "{:.1},{:.1},{:.3},{:.2},{:.2},{:.3},{:.3},{:.2},{:.3},{:.2},{:.2},{:.2},{:.3},{:.2},{:.3},{:.2},{:.2},{:.2},{},{},{}",
        truth.now_s,
        truth.unix_s,
        truth.tws_kn,
        truth.twa_deg,
        truth.twd_deg,
        truth.mean_tws_kn,
        truth.ground_wind_kn,
        truth.ground_from_deg,
        truth.aws_kn,
        truth.awa_deg,
        truth.heel_deg,
        truth.heading_deg,
        truth.stw_kn,
        truth.leeway_deg,
        truth.sog_kn,
        truth.cog_deg,
        truth.pressure_hpa,
        truth.wave_height_m,
        u8::from(truth.is_dark),
        truth.rung,
        truth.round_ups,
    )?;
    Ok(())
}
