//! `cringle calibrate`: what sailing logs say of the instruments.

mod patch;

use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cringle_calibrate::{Corrections, Finding, Gather, Heard, Refusal, Report, Sample};
use cringle_core::instruments::Instruments;
use cringle_core::reading::{self, Quantity, SourceId};
use cringle_core::time::Timestamp;
use cringle_engine::input::Input;
use cringle_engine::replay::Replay;
use cringle_wire::decode::Out;
use serde_json::json;

use crate::answer::{Failure, Verdict, aside, say};
use crate::boatfile::{self, Otherwise};

/// How often the sources in use are asked for anew, milliseconds of the log.
const LOOKS_MS: u64 = 5000;

/// The arguments of `calibrate`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Recordings, or logs of bare lines, of sailing on both tacks; gzipped or not.
    #[arg(required = true, value_name = "FILE")]
    recording: Vec<PathBuf>,
    /// The boat file to be corrected.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// Write the boat file with what was found to this new file; comments and order stay.
    #[arg(long, value_name = "FILE", requires = "boat")]
    to: Option<PathBuf>,
    /// Draw the true wind's direction through the tacks, before and after (SVG).
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// One JSON object a finding on standard output.
    #[arg(long)]
    json: bool,
    /// The rate of the line, for a log that says nothing of time.
    #[arg(long, default_value_t = 4800)]
    baud: u32,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let given = match &arguments.boat {
        Some(path) => Some(boatfile::load(path)?),
        None => None,
    };
    let otherwise = || boatfile::find(None, Otherwise::Example);
    let replay = Replay::open(&arguments.recording, given, otherwise, arguments.baud)?;
    let instruments = replay.boat_file.boat.instruments.clone();
    let (samples, heard) = gather(replay)?;
    let report = cringle_calibrate::calibrate(&samples);
    let lines = Line::all(&report, &instruments);
    match arguments.json {
        true => lines.iter().for_each(|line| say(&line.json())),
        false => tell(&report, &lines, heard),
    }
    if let Some(path) = &arguments.picture {
        let picture =
            cringle_calibrate::picture(&samples, corrections(&instruments), report.corrections());
        write_new(path, &picture)?;
    }
    if let (Some(from), Some(to)) = (&arguments.boat, &arguments.to) {
        let text = std::fs::read_to_string(from)
            .with_context(|| format!("{}", from.display()))
            .map_err(Failure::Environment)?;
        let corrections: Vec<_> = lines.iter().filter_map(Line::to_write).collect();
        write_new(
            to,
            &patch::patched(&text, &corrections).map_err(Failure::Usage)?,
        )?;
        aside(&format!(
            "{}: look at what changed before it goes aboard",
            to.display()
        ));
    }
    Ok(match lines.iter().all(|line| line.found.is_ok()) {
        true => Verdict::Well,
        false => Verdict::Wanting,
    })
}

/// A file that is there already is somebody's work.
fn write_new(path: &PathBuf, text: &str) -> Result<(), Failure> {
    use std::io::Write;
    let mut file = std::fs::File::create_new(path)
        .with_context(|| format!("{}: cannot be made; name a new file", path.display()))
        .map_err(Failure::Environment)?;
    file.write_all(text.as_bytes())
        .with_context(|| format!("{}", path.display()))
        .map_err(Failure::Environment)
}

/// Plays the recording and gathers what the sources in use say, uncorrected.
fn gather(mut replay: Replay) -> Result<(Vec<Sample>, Heard), Failure> {
    let variation = replay.boat_file.boat.instruments.variation;
    let mut gather = Gather::new(variation.map(|east| east.get()));
    let mut engine = replay.engine();
    let mut chosen: [Option<SourceId>; Quantity::COUNT] = [None; Quantity::COUNT];
    let mut look_at = Timestamp::ZERO;
    while let Some((at, input)) = replay.next_input()? {
        let Input::Line(port, line) = &input else {
            engine.take(at, &input);
            engine.events();
            continue;
        };
        engine.line_told(*port, line, at, |out| {
            if let Out::Reading(reading) = out
                && let reading::Heard::Value(measure) = reading.heard
                && chosen
                    .get(measure.quantity().index())
                    .is_some_and(|chosen| *chosen == Some(reading.source))
            {
                gather.hear(measure, at);
            }
        });
        engine.events();
        if at >= look_at {
            look_at = Timestamp::from_millis(at.as_millis() + LOOKS_MS);
            for source in engine.view().sources {
                if let Some(place) = chosen.get_mut(source.quantity.index()) {
                    *place = Some(source.source);
                }
            }
        }
    }
    let heard = gather.heard();
    Ok((gather.into_samples(), heard))
}

fn corrections(instruments: &Instruments) -> Corrections {
    Corrections {
        vane_deg: instruments.vane_offset.get(),
        cups: instruments.anemometer_factor.0,
        log: instruments.log_factor.0,
        heel_deg: instruments.heel_offset.get(),
    }
}

/// One correction of the boat file: as it is, and as found.
struct Line<'a> {
    name: &'static str,
    /// Its key in `[instruments]`.
    key: &'static str,
    /// Digits after the point that mean something.
    digits: usize,
    is: f64,
    found: &'a Result<Finding, Refusal>,
}

impl<'a> Line<'a> {
    fn all(report: &'a Report, is: &Instruments) -> [Line<'a>; 4] {
        let is = corrections(is);
        let line = |name, key, digits, is, found| Line {
            name,
            key,
            digits,
            is,
            found,
        };
        [
            line(
                "vane offset, deg",
                "vane_offset_deg",
                1,
                is.vane_deg,
                &report.vane_offset_deg,
            ),
            line(
                "anemometer factor",
                "anemometer_factor",
                3,
                is.cups,
                &report.anemometer_factor,
            ),
            line("log factor", "log_factor", 3, is.log, &report.log_factor),
            line(
                "heel zero, deg",
                "heel_offset_deg",
                1,
                is.heel_deg,
                &report.heel_offset_deg,
            ),
        ]
    }

    /// What is to be written: a finding that the setting in force does not already hold.
    fn to_write(&self) -> Option<(&'static str, f64)> {
        let found = self.found.as_ref().ok()?;
        let scale = 10.0_f64.powi(self.digits as i32);
        let rounded = (found.value * scale).round() / scale;
        ((found.value - self.is).abs() > found.within).then_some((self.key, rounded))
    }

    fn words(&self) -> String {
        let (name, digits) = (self.name, self.digits);
        let verdict = match self.to_write() {
            Some(_) => "to be set; now",
            None => "holds what is set:",
        };
        match self.found {
            Ok(found) => format!(
                "{name:18} {:>8.digits$}  within {:.digits$} nine times in ten; {verdict} {:.digits$}",
                found.value, found.within, self.is
            ),
            Err(why) => format!("{name:18} not told: {why}"),
        }
    }

    fn json(&self) -> String {
        match self.found {
            Ok(found) => json!({
                "v": 1, "key": self.key, "found": found.value, "within": found.within,
                "hours": found.hours, "now": self.is, "write": self.to_write().map(|(_, corrected)| corrected),
            }),
            Err(why) => json!({
                "v": 1, "key": self.key, "found": null, "now": self.is,
                "why": why.why, "remedy": why.remedy,
            }),
        }
        .to_string()
    }
}

fn tell(report: &Report, lines: &[Line<'_>], heard: Heard) {
    for (is_heard, what) in [
        (heard.wind, "apparent wind"),
        (heard.log, "speed through the water"),
        (heard.ground, "SOG with COG"),
        (
            heard.heading,
            "heading by true north, nor variation for a magnetic one",
        ),
    ] {
        if !is_heard {
            say(&format!(
                "this log holds no {what}: `cringle census` says what it holds"
            ));
        }
    }
    say(&format!(
        "{:.1} h on {} steady legs, {} tacks and gybes",
        report.hours, report.legs, report.tacks
    ));
    lines.iter().for_each(|line| say(&line.words()));
    for (name, found) in [
        ("leeway factor", &report.leeway_k),
        ("compass, deg", &report.compass_deg),
        ("upwash, deg", &report.upwash_deg),
    ] {
        if let Ok(found) = found {
            say(&format!(
                "{name:18} {:>8.1}  within {:.1}; to be known, not written",
                found.value, found.within
            ));
        }
    }
    say("The skipper decides what goes into the boat file. Check it on the next sail.");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_from_what_is_set_is_written() {
        let found = |value| {
            Ok(Finding {
                value,
                within: 0.6,
                hours: 2.0,
            })
        };
        let (far, near) = (found(-3.96), found(0.4));
        let refused = Err(Refusal {
            why: "one tack".to_owned(),
            remedy: "tack",
        });
        let written = |found| {
            let line = Line {
                name: "",
                key: "vane_offset_deg",
                digits: 1,
                is: 0.0,
                found,
            };
            line.to_write()
        };
        assert_eq!(written(&far), Some(("vane_offset_deg", -4.0)));
        assert_eq!(written(&near), None);
        assert_eq!(written(&refused), None);
    }
}
