//! Our own decoders beside the `nmea` crate's, on the three sentences that
//! both read: where it is right, we agree.

mod common;

use common::summed;
use cringle_core::angle::{Bearing, BowAngle, wrap_180};
use cringle_core::reading::{Heard, Measure, Quantity};
use cringle_core::time::Timestamp;
use cringle_core::units::MS_PER_KNOT;
use cringle_wire::decode::Out;
use nmea::ParseResult;
use nmea::sentences::mwv::{MwvReference, MwvWindSpeedUnits};
use proptest::prelude::*;

fn ours(line: &str) -> Vec<Heard> {
    let mut heard = Vec::new();
    common::strict().decode(line.as_bytes(), Timestamp::ZERO, &mut |out| {
        if let Out::Reading(reading) = out {
            heard.push(reading.heard);
        }
    });
    heard
}

/// A number field: usually plain, sometimes empty.
fn number(most: u32) -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (0..=most * 10).prop_map(|tenths| format!("{:.1}", f64::from(tenths) / 10.0)),
        1 => Just(String::new()),
    ]
}

/// An f32 of the crate stands for the decimal within its own precision.
fn near(theirs: f64, ours: f64) -> bool {
    (theirs - ours).abs() <= 1e-6 * theirs.abs().max(1.0)
}

proptest! {
    #[test]
    fn mwv(
        angle in number(359),
        reference in prop::sample::select(vec!['R', 'T']),
        speed in number(100),
        unit in prop::sample::select(vec!['K', 'M', 'N', 'S']),
        status in prop::sample::select(vec!['A', 'V']),
    ) {
        let line = summed(&format!("$WIMWV,{angle},{reference},{speed},{unit},{status}"));
        let Ok(ParseResult::MWV(theirs)) = nmea::parse_str(&line) else {
            panic!("{line}");
        };
        let quantity = match theirs.reference {
            Some(MwvReference::Relative) => Quantity::ApparentWind,
            _ => Quantity::TrueWind,
        };
        // The crate keeps the values beside a V, and half a wind: we do not.
        let expected = match (theirs.data_valid, theirs.wind_direction, theirs.wind_speed) {
            (true, Some(angle), Some(speed)) => Some((f64::from(angle), f64::from(speed))),
            _ => None,
        };
        match (ours(&line).as_slice(), expected) {
            ([Heard::Invalid(said)], None) => prop_assert_eq!(*said, quantity),
            ([Heard::Value(measure)], Some((angle, speed))) => {
                prop_assert_eq!(measure.quantity(), quantity);
                let (our_angle, our_speed) = wind(measure);
                prop_assert!(wrap_180(angle - our_angle.degrees()).abs() < 1e-4);
                let knots = match theirs.wind_speed_units {
                    Some(MwvWindSpeedUnits::KilometersPerHour) => speed / 1.852,
                    Some(MwvWindSpeedUnits::MetersPerSecond) => speed / MS_PER_KNOT,
                    Some(MwvWindSpeedUnits::MilesPerHour) => speed * 1609.344 / 1852.0,
                    _ => speed,
                };
                prop_assert!(near(knots, our_speed), "{knots} {our_speed}");
            }
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn vhw(
        heading in number(359), magnetic in number(359),
        knots in number(60), kmh in number(110),
    ) {
        let line = summed(&format!("$VWVHW,{heading},T,{magnetic},M,{knots},N,{kmh},K"));
        let Ok(ParseResult::VHW(theirs)) = nmea::parse_str(&line) else {
            panic!("{line}");
        };
        let mut expected = Vec::new();
        expected.extend(theirs.heading_true.map(|heading| {
            Heard::Value(Measure::HeadingTrue(Bearing::new(heading).unwrap()))
        }));
        expected.extend(theirs.heading_magnetic.map(|heading| {
            Heard::Value(Measure::HeadingMagnetic(Bearing::new(heading).unwrap()))
        }));
        let heard = ours(&line);
        let (speed, headings) = heard.split_last().unwrap();
        prop_assert_eq!(headings, expected.as_slice());
        let kmh = theirs.relative_speed_kmph.map(|kmh| kmh / 1.852);
        match (speed, theirs.relative_speed_knots.or(kmh)) {
            (Heard::Value(Measure::WaterSpeed(ours)), Some(theirs)) => {
                prop_assert!(near(theirs, ours.get()));
            }
            (Heard::Invalid(Quantity::WaterSpeed), None) => {}
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn hdt(heading in number(359)) {
        let line = summed(&format!("$HEHDT,{heading},T"));
        let Ok(ParseResult::HDT(theirs)) = nmea::parse_str(&line) else {
            panic!("{line}");
        };
        match (ours(&line).as_slice(), theirs.heading) {
            ([Heard::Value(Measure::HeadingTrue(ours))], Some(theirs)) => {
                prop_assert!(near(f64::from(theirs), ours.degrees()));
            }
            ([Heard::Invalid(Quantity::HeadingTrue)], None) => {}
            other => panic!("{line}: {other:?}"),
        }
    }
}

fn wind(measure: &Measure) -> (BowAngle, f64) {
    match measure {
        Measure::ApparentWind { angle, speed } | Measure::TrueWind { angle, speed } => {
            (*angle, speed.get())
        }
        other => panic!("{other:?}"),
    }
}

/// Where the two differ, and why ours is as it is.
#[test]
fn known_differences() {
    // The all-empty form of a sensor without data: the crate fails, and its V
    // would be lost.
    let empty = summed("$WIMWV,,,,,V");
    assert!(nmea::parse_str(&empty).is_err());
    assert_eq!(ours(&empty).len(), 2);
    // The crate takes values out of range, and numbers that are none.
    for absurd in [
        "$WIMWV,361.5,R,10.0,N,A",
        "$WIMWV,nan,R,10.0,N,A",
        "$HEHDT,inf,T",
    ] {
        let line = summed(absurd);
        assert!(nmea::parse_str(&line).is_ok(), "{line}");
        assert!(ours(&line).is_empty(), "{line}");
    }
    // The short VHW of older logs has no km/h: the crate fails.
    let short = summed("$VWVHW,,T,,M,6.50,N");
    assert!(nmea::parse_str(&short).is_err());
    assert_eq!(ours(&short).len(), 1);
}
