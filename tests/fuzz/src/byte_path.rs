//! What must hold for any bytes whatever on the way from a port to the core.
//!
//! Run by the fuzzer, and over the kept corpus by a plain test.

use cringle_core::reading::{Heard, Measure};
use cringle_core::time::Timestamp;
use cringle_wire::alert::AlertIn;
use cringle_wire::census::Census;
use cringle_wire::decode::{Decoder, Out, PortOptions};
use cringle_wire::encode::{SentenceBytes, TooLong};
use cringle_wire::fields::checksum;
use cringle_wire::frame::{LINE_CAPACITY, Liner};
use cringle_wire::recording::LineTime;
use cringle_wire::sentence::{Checksum, Talker};
use cringle_wire::source::Source;

/// Runs bytes down the whole path. The first byte chooses the port's options
/// and where the rest is split.
pub(crate) fn check(bytes: &[u8]) {
    let (choice, bytes) = bytes.split_first().unwrap_or((&0, &[]));
    let lines = cut(bytes, usize::MAX);
    assert_eq!(
        lines,
        cut(bytes, usize::from(choice >> 1) + 1),
        "the same bytes give the same lines however they are split"
    );
    let options = PortOptions {
        checksum: if choice & 1 == 0 {
            Checksum::Required
        } else {
            Checksum::Optional
        },
    };
    decode(&lines, bytes, options);
    let mended: Vec<Vec<u8>> = lines.iter().map(|line| mend(line)).collect();
    decode(&mended, bytes, options);
    recording(bytes);
}

fn cut(bytes: &[u8], size: usize) -> Vec<Vec<u8>> {
    let mut liner = Liner::new();
    let mut lines = Vec::new();
    let mut keep = |line: &[u8]| {
        assert!(line.len() <= LINE_CAPACITY);
        lines.push(line.to_vec());
    };
    for chunk in bytes.chunks(size) {
        liner.feed(chunk, &mut keep);
    }
    liner.finish(&mut keep);
    lines
}

/// The line with the checksums that its bytes give, as chance hardly ever
/// finds them: so changed fields reach the decoders.
fn mend(line: &[u8]) -> Vec<u8> {
    let mut mended = Vec::new();
    for piece in line.split_inclusive(|byte| *byte == b'\\') {
        let (inner, end) = match piece.split_last() {
            Some((b'\\', inner)) => (inner, &b"\\"[..]),
            _ => (piece, &[][..]),
        };
        let content = inner.split(|byte| *byte == b'*').next().unwrap_or_default();
        mended.extend_from_slice(content);
        if content.len() < inner.len() {
            let summed = match content {
                [b'$' | b'!', rest @ ..] => rest,
                all => all,
            };
            mended.extend_from_slice(format!("*{:02X}", checksum(summed)).as_bytes());
        }
        mended.extend_from_slice(end);
    }
    mended
}

fn decode(lines: &[Vec<u8>], bytes: &[u8], options: PortOptions) {
    let mut decoder = Decoder::new(3, options);
    let mut census = Census::new(Timestamp::ZERO);
    census.add_port(3, Some(4800));
    census.bytes(3, bytes);
    for (second, line) in lines.iter().enumerate() {
        let at = Timestamp::from_secs(second as u64);
        census.line(3, line, at);
        decoder.decode(line, at, &mut |out| {
            census.out(3, &out);
            judge(out, at);
        });
    }
    for hint in census.hints(Timestamp::from_secs(100)) {
        assert!(!hint.to_string().is_empty());
    }
}

fn judge(out: Out<'_>, at: Timestamp) {
    match out {
        Out::Reading(reading) => {
            assert_eq!(reading.at, at);
            let source = Source::unpack(reading.source).expect("a source has a name");
            assert_eq!(source.pack(), Some(reading.source));
            if let Heard::Value(measure) = reading.heard {
                assert!(is_sane(measure), "{measure:?}");
            }
        }
        Out::Alert(alert) => alert_again(alert),
        Out::Refused { refusal, .. } => assert!(!refusal.to_string().is_empty()),
        Out::Tag(_) | Out::Utc { .. } | Out::Unknown { .. } => {}
    }
}

/// What was read can be written and is then read the same, if it fits.
fn alert_again(alert: &AlertIn) {
    let talker = Talker::from_text("II").expect("two letters");
    let Ok(line) = write(alert, talker) else {
        return;
    };
    let mut decoder = Decoder::new(0, PortOptions::default());
    let mut again = false;
    decoder.decode(line.trim_ascii_end(), Timestamp::ZERO, &mut |out| {
        let Out::Alert(read) = out else {
            panic!("{out:?} from {}", line.escape_ascii())
        };
        again = cut_words(alert) == cut_words(read) || read == alert || was_cut(&line);
        assert!(again, "{alert:?} was written and read as {read:?}");
    });
    assert!(again);
}

fn write(alert: &AlertIn, talker: Talker) -> Result<SentenceBytes, TooLong> {
    match alert {
        AlertIn::Acknowledge(ack) => ack.write(talker),
        AlertIn::Command(acn) => acn.write(talker),
        AlertIn::Heartbeat(hbt) => hbt.write(talker),
        AlertIn::Alarm(alr) => alr.write(talker),
        AlertIn::Alert(alf) => alf.write(talker),
        AlertIn::List(alc) => alc.write(talker),
        AlertIn::Refused(arc) => arc.write(talker),
    }
}

/// Text that did not fit was cut: the line is then as long as a line can be,
/// but for one escaped character.
fn was_cut(line: &SentenceBytes) -> bool {
    line.len() >= 82 - 2
}

/// Blanks around a text are not kept.
fn cut_words(alert: &AlertIn) -> String {
    match alert {
        AlertIn::Alarm(alr) => alr.words.trim().to_owned(),
        AlertIn::Alert(alf) => alf.words.trim().to_owned(),
        other => format!("{other:?}"),
    }
}

fn is_sane(measure: Measure) -> bool {
    let within = |value: f64, most: f64| value.is_finite() && value.abs() <= most;
    match measure {
        Measure::ApparentWind { angle, speed } | Measure::TrueWind { angle, speed } => {
            within(angle.degrees(), 180.0) && within(speed.get(), 200.0)
        }
        Measure::GroundWind { direction, speed } => {
            within(direction.degrees(), 360.0) && within(speed.get(), 200.0)
        }
        Measure::HeadingTrue(bearing)
        | Measure::HeadingMagnetic(bearing)
        | Measure::HeadingCompass(bearing) => within(bearing.degrees(), 360.0),
        Measure::WaterSpeed(speed) | Measure::WaterDrift(speed) => within(speed.get(), 99.0),
        Measure::GroundMotion { speed, course } => {
            within(speed.get(), 99.0) && course.is_none_or(|course| within(course.degrees(), 360.0))
        }
        Measure::Variation(angle) | Measure::Heel(angle) => within(angle.get(), 180.0),
        Measure::Pitch(angle) | Measure::Rudder(angle) => within(angle.get(), 90.0),
        Measure::TurnRate(rate) => within(rate.get(), 7200.0),
        Measure::EngineTurns(turns) => within(turns.get(), 20_000.0),
        Measure::Pressure(pressure) => within(pressure.get(), 1100.0),
        Measure::AirTemperature(degrees) | Measure::WaterTemperature(degrees) => {
            within(degrees.get(), 90.0)
        }
        Measure::Humidity(percent) => within(percent.get(), 100.0),
        Measure::Depth(depth) => within(depth.get(), 12_000.0),
        Measure::Position(place) => {
            within(place.latitude(), 90.0) && within(place.longitude(), 180.0)
        }
        Measure::LogDistance(distance) => within(distance.get(), 1e7),
    }
}

fn recording(bytes: &[u8]) {
    let mut times = LineTime::default();
    let mut last = Timestamp::ZERO;
    for raw in bytes.split(|byte| *byte == b'\n') {
        if let Some(timed) = times.read(raw) {
            assert!(timed.at >= last, "time never goes back");
            last = timed.at;
        }
    }
}
