//! What we write, we read back the same; and it keeps the standard's limits.

mod common;

use common::{hear, hear_with, strict, summed};
use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::reading::{Heard, Measure};
use cringle_core::time::Timestamp;
use cringle_core::units::{Degrees, Knots};
use cringle_wire::alert::{
    Ack, Acknowledgement, Acn, Alc, Alert, AlertIn, AlertName, AlertState, Alf, Alr, Arc, Category,
    Command, Condition, Entry, Hbt, Health, MakerCode, Priority, Standing, TITLE_MOST, TimeOfDay,
    Words, list,
};
use cringle_wire::decode::Out;
use cringle_wire::encode::{Builder, SentenceBytes, wind};
use cringle_wire::sentence::Talker;
use proptest::prelude::*;

fn talker() -> Talker {
    Talker::from_text("II").unwrap()
}

fn text(line: &SentenceBytes) -> &str {
    core::str::from_utf8(line).unwrap()
}

/// Reads one written line and checks what every sentence must keep to.
#[track_caller]
fn read_alert(line: &SentenceBytes) -> AlertIn {
    keeps_the_limits(line);
    let mut read = None;
    strict().decode(
        line.trim_ascii_end(),
        Timestamp::ZERO,
        &mut |out| match out {
            Out::Alert(alert) => read = Some(alert.clone()),
            other => panic!("{other:?} from {}", text(line)),
        },
    );
    read.unwrap()
}

#[track_caller]
fn read_measure(line: &SentenceBytes) -> Measure {
    keeps_the_limits(line);
    let mut read = None;
    strict().decode(
        line.trim_ascii_end(),
        Timestamp::ZERO,
        &mut |out| match out {
            Out::Reading(reading) => match reading.heard {
                Heard::Value(measure) => read = Some(measure),
                Heard::Invalid(quantity) => panic!("{quantity:?} invalid from {}", text(line)),
            },
            other => panic!("{other:?} from {}", text(line)),
        },
    );
    read.unwrap()
}

#[track_caller]
fn keeps_the_limits(line: &SentenceBytes) {
    assert!(line.len() <= 82, "{}", line.len());
    assert!(line.ends_with(b"\r\n"));
    let shown = line.strip_suffix(b"\r\n").unwrap();
    assert!(
        shown.iter().all(|byte| (b' '..=b'}').contains(byte)),
        "{shown:?}"
    );
}

// Tenths, as they are written: other values come back rounded to them.
prop_compose! {
    fn tenths(most: i32)(tenths in 0..=most * 10) -> f64 { f64::from(tenths) / 10.0 }
}

prop_compose! {
    fn bow_angle()(tenths in -1799..=1800) -> BowAngle {
        BowAngle::new(f64::from(tenths) / 10.0).unwrap()
    }
}

prop_compose! {
    fn moment()(centis in 0i64..8_640_000) -> TimeOfDay { TimeOfDay::from_unix_ms(centis * 10) }
}

prop_compose! {
    fn name()(
        maker in "([A-Z]{3})?",
        id in 0u32..=9_999_999,
        instance in prop::option::of(1u32..=999_999),
    ) -> AlertName {
        AlertName { maker: MakerCode::try_from(maker.as_str()).unwrap(), id, instance }
    }
}

/// ISO 8859-1 without blanks at the ends, which fields do not keep.
fn words(most: usize) -> impl Strategy<Value = Words> {
    let pattern =
        format!("([!-~\u{A1}-\u{FF}]([ -~\u{A1}-\u{FF}]{{0,{most}}}[!-~\u{A1}-\u{FF}])?)?");
    prop::string::string_regex(&pattern)
        .unwrap()
        .prop_map(|words| Words::try_from(words.as_str()).unwrap())
}

fn standing() -> impl Strategy<Value = Standing> {
    (
        prop::option::of(moment()),
        prop::sample::select(vec![
            Category::AtSource,
            Category::Anywhere,
            Category::NotOnBridge,
        ]),
        prop::sample::select(vec![
            Priority::EmergencyAlarm,
            Priority::Alarm,
            Priority::Warning,
            Priority::Caution,
        ]),
        prop::sample::select(vec![
            AlertState::ActiveUnacknowledged,
            AlertState::ActiveSilenced,
            AlertState::ActiveAcknowledged,
            AlertState::ResponsibilityTransferred,
            AlertState::RectifiedUnacknowledged,
            AlertState::Normal,
        ]),
    )
        .prop_map(|(at, category, priority, state)| Standing {
            at,
            category,
            priority,
            state,
        })
}

fn command() -> impl Strategy<Value = Command> {
    prop::sample::select(vec![
        Command::Acknowledge,
        Command::Repeat,
        Command::TakeOver,
        Command::Silence,
    ])
}

fn degrees_apart(one: f64, other: f64) -> f64 {
    cringle_core::angle::wrap_180(one - other).abs()
}

proptest! {
    #[test]
    fn true_wind_comes_back(angle in bow_angle(), speed in tenths(200)) {
        let wind = (angle, Knots::new(speed).unwrap());
        for line in [
            wind::mwv_true(talker(), Some(wind)).unwrap(),
            wind::vwt(talker(), Some(wind)).unwrap(),
        ] {
            let Measure::TrueWind { angle: back, speed: knots } = read_measure(&line) else {
                panic!("{}", text(&line));
            };
            prop_assert!(degrees_apart(back.degrees(), angle.degrees()) < 1e-9);
            prop_assert!((knots.get() - speed).abs() < 1e-9);
        }
    }

    #[test]
    fn any_angle_is_written_as_one_that_is_read(angle in -180.0..180.0f64, speed in 0.0..200.0f64) {
        let wind = (BowAngle::new(angle).unwrap(), Knots::new(speed).unwrap());
        let line = wind::mwv_true(talker(), Some(wind)).unwrap();
        let Measure::TrueWind { angle: back, speed: knots } = read_measure(&line) else {
            panic!("{}", text(&line));
        };
        prop_assert!(degrees_apart(back.degrees(), angle) <= 0.05 + 1e-9);
        prop_assert!((knots.get() - speed).abs() <= 0.05 + 1e-9);
    }

    #[test]
    fn ground_wind_comes_back(
        direction in 0..3600i32,
        speed in tenths(200),
        variation in prop::option::of(-180.0..180.0f64),
    ) {
        let direction = f64::from(direction) / 10.0;
        let wind = (Bearing::new(direction).unwrap(), Knots::new(speed).unwrap());
        let variation = variation.map(|degrees| Degrees::new(degrees).unwrap());
        let line = wind::mwd(talker(), Some(wind), variation).unwrap();
        let Measure::GroundWind { direction: back, speed: knots } = read_measure(&line) else {
            panic!("{}", text(&line));
        };
        prop_assert!(degrees_apart(back.degrees(), direction) < 1e-9);
        prop_assert!((knots.get() - speed).abs() < 1e-9);
    }

    #[test]
    fn alr_comes_back(
        at in prop::option::of(moment()),
        number in 0u16..1000,
        exceeded in prop::sample::select(vec![Condition::Exceeded, Condition::NotExceeded]),
        acknowledgement in prop::sample::select(vec![Acknowledgement::Acknowledged, Acknowledgement::Unacknowledged]),
        words in words(10),
    ) {
        let alr = Alr { at, number, condition: exceeded, acknowledgement, words };
        prop_assert_eq!(read_alert(&alr.write(talker()).unwrap()), AlertIn::Alarm(alr));
    }

    #[test]
    fn alf_comes_back(
        total in 1u8..=2, number in 1u8..=2, sequence in 0u8..=9,
        standing in prop::option::of(standing()), name in name(),
        revision in 1u8..=99, escalation in 0u8..=9, words in words(4),
    ) {
        let alf = Alf { total, number, sequence, standing, name, revision, escalation, words };
        prop_assert_eq!(read_alert(&alf.write(talker()).unwrap()), AlertIn::Alert(alf));
    }

    #[test]
    fn alf_of_any_text_fits_and_is_cut_at_a_character(words in ".{0,120}", name in name()) {
        let cut: cringle_core::text::Text<128> = cringle_core::text::text(&words);
        let words: Words = cut.as_str().try_into().unwrap();
        let alf = Alf {
            total: 2, number: 2, sequence: 0, standing: None, name,
            revision: 99, escalation: 9, words: words.clone(),
        };
        let AlertIn::Alert(back) = read_alert(&alf.write(talker()).unwrap()) else {
            panic!();
        };
        let sendable: String = words
            .chars()
            .map(|letter| if u32::from(letter) < 256 { letter } else { '?' })
            .collect();
        let kept = back.words.as_str();
        prop_assert!(sendable.contains(kept.trim()), "{kept:?} of {sendable:?}");
    }

    #[test]
    fn commands_come_back(at in prop::option::of(moment()), name in name(), command in command()) {
        let acn = Acn { at, name: name.clone(), command };
        prop_assert_eq!(read_alert(&acn.write(talker()).unwrap()), AlertIn::Command(acn));
        let arc = Arc { at, name, command };
        prop_assert_eq!(read_alert(&arc.write(talker()).unwrap()), AlertIn::Refused(arc));
    }

    #[test]
    fn acknowledgements_and_heartbeats_come_back(
        number in 0u16..1000,
        interval_s in prop::option::of(1u16..=999),
        health in prop::sample::select(vec![Health::Working, Health::Faulty]),
        sequence in prop::option::of(0u8..=9),
    ) {
        let ack = Ack { number };
        prop_assert_eq!(read_alert(&ack.write(talker()).unwrap()), AlertIn::Acknowledge(ack));
        let hbt = Hbt { interval_s, health, sequence };
        prop_assert_eq!(read_alert(&hbt.write(talker()).unwrap()), AlertIn::Heartbeat(hbt));
    }

    #[test]
    fn lists_come_back_whole_and_in_order(
        entries in prop::collection::vec((name(), 1u8..=99), 0..40),
        sequence in 0u8..=99,
    ) {
        let entries: Vec<Entry> = entries
            .into_iter()
            .map(|(name, revision)| Entry { name, revision })
            .collect();
        let mut lists: Vec<Alc> = Vec::new();
        list(talker(), sequence, &entries, &mut |line| match read_alert(line) {
            AlertIn::List(alc) => lists.push(alc),
            other => panic!("{other:?}"),
        }).unwrap();
        let total = lists.len();
        for (place, alc) in lists.iter().enumerate() {
            prop_assert_eq!(usize::from(alc.total), total);
            prop_assert_eq!(usize::from(alc.number), place + 1);
            prop_assert_eq!(alc.sequence, sequence);
        }
        let back: Vec<Entry> = lists.into_iter().flat_map(|alc| alc.entries).collect();
        prop_assert_eq!(back, entries);
    }
}

#[test]
fn any_sentence_can_be_built() {
    let mut line = Builder::new(Talker::from_text("YX").unwrap(), b"XDR");
    for (value, name) in [(-3.2, "PTCH"), (18.4, "ROLL")] {
        line.letter(b'A');
        line.field(format_args!("{value:.1}"));
        line.letter(b'D');
        line.field(format_args!("{name}"));
    }
    let line = line.finish().unwrap();
    assert_eq!(text(&line), "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C\r\n");
    let mut line = Builder::proprietary(b"ASHR");
    line.null();
    line.field(format_args!("{:06.2}", 84.4));
    line.letter(b'T');
    line.field(format_args!("{:+06.2}", 14.2));
    line.field(format_args!("{:+06.2}", -1.35));
    let line = line.finish().unwrap();
    assert_eq!(
        hear(text(&line).trim_end()),
        ["true heading 84.4", "heel 14.2", "pitch -1.35"]
    );
}

#[test]
fn a_sentence_that_is_too_long_is_an_error_not_a_cut_line() {
    let mut line = Builder::new(talker(), b"XDR");
    for _ in 0..20 {
        line.field(format_args!("123"));
    }
    assert!(line.finish().is_err());
}

#[test]
fn wind_that_is_not_known_says_so() {
    let line = wind::mwv_true(talker(), None).unwrap();
    assert_eq!(text(&line), format!("{}\r\n", summed("$IIMWV,,T,,N,V")));
    assert_eq!(hear(text(&line).trim_end()), ["true wind invalid"]);
    let line = wind::vwt(talker(), None).unwrap();
    assert_eq!(hear(text(&line).trim_end()), ["true wind invalid"]);
    let line = wind::mwd(talker(), None, None).unwrap();
    assert_eq!(hear(text(&line).trim_end()), ["ground wind invalid"]);
}

#[test]
fn an_angle_just_to_port_of_the_bow_is_never_written_as_360() {
    let wind = (BowAngle::new(-0.04).unwrap(), Knots::new(9.96).unwrap());
    let line = wind::mwv_true(talker(), Some(wind)).unwrap();
    assert_eq!(
        text(&line),
        format!("{}\r\n", summed("$IIMWV,000.0,T,10.0,N,A"))
    );
}

#[test]
fn mwd_carries_both_norths_when_variation_is_known() {
    // From a sounder maker's MWD page: variation = T - M = 12.8 E.
    let wind = (Bearing::new(302.4).unwrap(), Knots::new(10.5).unwrap());
    let east = Some(Degrees::new(12.8).unwrap());
    let line = wind::mwd(Talker::from_text("WI").unwrap(), Some(wind), east).unwrap();
    assert_eq!(text(&line), "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M*6F\r\n");
}

fn alert() -> Alert {
    Alert {
        name: AlertName {
            maker: MakerCode::new(),
            id: 10101,
            instance: Some(1),
        },
        standing: Standing {
            at: TimeOfDay::read(b"123519.00"),
            category: Category::Anywhere,
            priority: Priority::Warning,
            state: AlertState::ActiveUnacknowledged,
        },
        revision: 1,
        escalation: 0,
        title: Words::try_from("Reef 2 now").unwrap(),
        description: Words::new(),
    }
}

#[test]
fn an_alert_is_one_sentence_or_two() {
    let mut alert = alert();
    let lines = alert.write(talker(), 3).unwrap();
    assert_eq!(lines.len(), 1);
    assert_eq!(
        text(&lines[0]),
        "$IIALF,1,1,3,123519.00,B,W,V,,10101,1,1,0,Reef 2 now*45\r\n"
    );
    alert.description = Words::try_from("Gusts 31 kn in 8 min").unwrap();
    let lines = alert.write(talker(), 3).unwrap();
    assert_eq!(
        text(&lines[0]),
        "$IIALF,2,1,3,123519.00,B,W,V,,10101,1,1,0,Reef 2 now*46\r\n"
    );
    assert_eq!(
        text(&lines[1]),
        "$IIALF,2,2,3,,,,,,10101,1,1,0,Gusts 31 kn in 8 min*61\r\n"
    );
}

#[test]
fn a_title_is_cut_to_what_displays_show() {
    let mut alert = alert();
    alert.title = Words::try_from("Third reef and storm jib now").unwrap();
    let lines = alert.write(talker(), 0).unwrap();
    let AlertIn::Alert(alf) = read_alert(&lines[0]) else {
        panic!();
    };
    assert_eq!(alf.words.as_str(), "Third reef and s");
    assert_eq!(alf.words.len(), TITLE_MOST);
}

#[test]
fn reserved_characters_are_escaped_both_ways() {
    let mut alert = alert();
    alert.title = Words::try_from("Réf 2, $5*!\\^~").unwrap();
    let lines = alert.write(talker(), 0).unwrap();
    assert!(text(&lines[0]).contains(",R^E9f 2^2C ^245^2A^21^5C^5E^7E*"));
    let AlertIn::Alert(alf) = read_alert(&lines[0]) else {
        panic!();
    };
    assert_eq!(alf.words, alert.title);
}

#[test]
fn the_same_alert_the_older_way() {
    // The pairs of letters are a Doppler log's installation manual's.
    let pairs = [
        (AlertState::ActiveUnacknowledged, "A,V"),
        (AlertState::ActiveAcknowledged, "A,A"),
        (AlertState::RectifiedUnacknowledged, "V,V"),
    ];
    for (state, letters) in pairs {
        let mut alert = alert();
        alert.standing.state = state;
        let line = alert.as_alr(101).write(talker()).unwrap();
        let expected = format!("$IIALR,123519.00,101,{letters},Reef 2 now");
        assert_eq!(text(&line).trim_end(), summed(&expected));
    }
}

#[test]
fn state_letters_are_those_three_manuals_agree_on() {
    for (letter, state) in [
        (b'V', AlertState::ActiveUnacknowledged),
        (b'S', AlertState::ActiveSilenced),
        (b'A', AlertState::ActiveAcknowledged),
        (b'O', AlertState::ResponsibilityTransferred),
        (b'U', AlertState::RectifiedUnacknowledged),
        (b'N', AlertState::Normal),
    ] {
        assert_eq!(AlertState::from_letter(letter), Some(state));
        assert_eq!(state.letter(), letter);
    }
}

#[test]
fn an_empty_list_is_one_sentence() {
    let mut lines = Vec::new();
    list(talker(), 8, &[], &mut |line| {
        lines.push(text(line).to_owned())
    })
    .unwrap();
    assert_eq!(lines, ["$IIALC,01,01,08,0*76\r\n"]);
}

#[test]
fn a_leap_second_is_the_last_of_its_minute() {
    let leap = TimeOfDay::read(b"235960.00").unwrap();
    assert_eq!(leap.to_string(), "235959.99");
    for wrong in ["245959.00", "236000.00", "23595", "2359591", "-10000"] {
        assert_eq!(TimeOfDay::read(wrong.as_bytes()), None, "{wrong}");
    }
}

#[test]
fn what_is_written_is_what_a_strict_port_takes() {
    let line = wind::mwv_true(talker(), None).unwrap();
    let mut decoder = strict();
    hear_with(&mut decoder, line.trim_ascii_end());
    assert_eq!(decoder.tally().checksum_missing, 0);
    assert_eq!(decoder.tally().invalid, 1);
}
