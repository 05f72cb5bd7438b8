//! Helpers of the tests: lines in, short words out.

// Each test file uses its own part of these.
#![allow(dead_code)]

use cringle_core::reading::{Heard, Measure};
use cringle_core::time::Timestamp;
use cringle_wire::alert::AlertIn;
use cringle_wire::decode::{Decoder, Out, PortOptions, Trust};
use cringle_wire::fields::checksum;
use cringle_wire::sentence::Checksum;

/// The line with its checksum behind it.
pub(crate) fn summed(content: &str) -> String {
    format!("{content}*{:02X}", checksum(&content.as_bytes()[1..]))
}

/// A decoder as shipped that requires checksums.
pub(crate) fn strict() -> Decoder {
    Decoder::new(0, PortOptions::default())
}

/// A decoder as shipped that lets checksums be missing.
pub(crate) fn lenient() -> Decoder {
    let options = PortOptions {
        checksum: Checksum::Optional,
    };
    Decoder::new(0, options)
}

/// What a decoder as shipped makes of a line, in short words.
pub(crate) fn hear(line: &str) -> Vec<String> {
    hear_with(&mut strict(), line.as_bytes())
}

/// What this decoder makes of a line, in short words.
pub(crate) fn hear_with(decoder: &mut Decoder, line: &[u8]) -> Vec<String> {
    let mut said = Vec::new();
    decoder.decode(line, Timestamp::ZERO, &mut |out| said.push(words(&out)));
    said
}

/// Checks what a decoder as shipped makes of a line.
#[track_caller]
pub(crate) fn says(line: &str, expected: &[&str]) {
    assert_eq!(hear(line), expected, "{line}");
}

/// What was handed out, in short words.
pub(crate) fn words(out: &Out<'_>) -> String {
    match out {
        Out::Reading(reading) => match reading.heard {
            Heard::Value(measure) => {
                format!("{} {}", measure.quantity().name(), numbers(&measure))
            }
            Heard::Invalid(quantity) => format!("{} invalid", quantity.name()),
        },
        Out::Utc { unix_ms, trust } => match trust {
            Trust::Valid => format!("utc {unix_ms}"),
            Trust::NoFix => format!("utc {unix_ms} without fix"),
        },
        Out::Alert(alert) => alert_words(alert),
        Out::Unknown { talker, formatter } => format!("unknown {talker}{formatter}"),
        Out::Refused { refusal, .. } => format!("refused: {refusal}"),
        Out::Tag(tag) => format!("tag {:?} {:?} {:?}", tag.unix_ms, tag.source, tag.group),
    }
}

/// The numbers of a measure, four decimals at most.
pub(crate) fn numbers(measure: &Measure) -> String {
    let all = match *measure {
        Measure::ApparentWind { angle, speed } | Measure::TrueWind { angle, speed } => {
            vec![angle.degrees(), speed.get()]
        }
        Measure::GroundWind { direction, speed } => vec![direction.degrees(), speed.get()],
        Measure::HeadingTrue(bearing)
        | Measure::HeadingMagnetic(bearing)
        | Measure::HeadingCompass(bearing) => vec![bearing.degrees()],
        Measure::Variation(angle)
        | Measure::Heel(angle)
        | Measure::Pitch(angle)
        | Measure::Rudder(angle) => vec![angle.get()],
        Measure::WaterSpeed(speed) | Measure::WaterDrift(speed) => vec![speed.get()],
        Measure::GroundMotion { speed, course } => {
            let mut all = vec![speed.get()];
            all.extend(course.map(|course| course.degrees()));
            all
        }
        Measure::TurnRate(rate) => vec![rate.get()],
        Measure::EngineTurns(turns) => vec![turns.get()],
        Measure::Pressure(pressure) => vec![pressure.get()],
        Measure::AirTemperature(degrees) | Measure::WaterTemperature(degrees) => {
            vec![degrees.get()]
        }
        Measure::Humidity(percent) => vec![percent.get()],
        Measure::Depth(depth) => vec![depth.get()],
        Measure::Position(place) => vec![place.latitude(), place.longitude()],
        Measure::LogDistance(distance) => vec![distance.get()],
    };
    let short = |value: &f64| {
        let value = (value * 1e4).round() / 1e4;
        format!("{}", if value == 0.0 { 0.0 } else { value })
    };
    all.iter().map(short).collect::<Vec<_>>().join(" ")
}

fn alert_words(alert: &AlertIn) -> String {
    match alert {
        AlertIn::Acknowledge(ack) => format!("acknowledge {}", ack.number),
        AlertIn::Command(acn) => format!(
            "command {:?} for {}/{:?}",
            acn.command, acn.name.id, acn.name.instance
        ),
        AlertIn::Heartbeat(hbt) => format!(
            "heartbeat {:?} {:?} {:?}",
            hbt.interval_s, hbt.health, hbt.sequence
        ),
        AlertIn::Alarm(alr) => format!(
            "alarm {} {:?} {:?} {:?}",
            alr.number,
            alr.condition,
            alr.acknowledgement,
            alr.words.as_str()
        ),
        AlertIn::Alert(alf) => format!(
            "alert {}/{:?} {:?} {:?}",
            alf.name.id,
            alf.name.instance,
            alf.standing.map(|standing| standing.state),
            alf.words.as_str()
        ),
        AlertIn::List(alc) => format!("list of {}", alc.entries.len()),
        AlertIn::Refused(arc) => format!("refused {:?} for {}", arc.command, arc.name.id),
    }
}
