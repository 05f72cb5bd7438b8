//! What the census counts, and what it says in plain words.

mod common;

use common::{lenient, strict, summed};
use cringle_core::reading::Quantity;
use cringle_core::time::Timestamp;
use cringle_wire::census::{Census, Garbage, Hint, Need, ROWS_MOST, Understood};
use cringle_wire::decode::{Decoder, Out};
use cringle_wire::frame::Liner;

/// A port with a census on it.
struct Bench {
    census: Census,
    decoder: Decoder,
    liner: Liner,
}

impl Bench {
    fn new(baud: Option<u32>) -> Self {
        let mut census = Census::new(Timestamp::ZERO);
        census.add_port(0, baud);
        Bench {
            census,
            decoder: strict(),
            liner: Liner::new(),
        }
    }

    fn hear(&mut self, bytes: &[u8], at: Timestamp) {
        let Bench {
            census,
            decoder,
            liner,
        } = self;
        census.bytes(0, bytes);
        liner.feed(bytes, &mut |line| {
            census.line(0, line, at);
            decoder.decode(line, at, &mut |out| census.out(0, &out));
        });
    }

    /// All lines once a second from 0 for this many seconds.
    fn hear_each_second(&mut self, lines: &[&str], seconds: u64) {
        for second in 0..seconds {
            for line in lines {
                self.hear(
                    format!("{line}\r\n").as_bytes(),
                    Timestamp::from_secs(second),
                );
            }
        }
    }

    fn says(&self, seconds: u64) -> Vec<String> {
        let hints = self.census.hints(Timestamp::from_secs(seconds));
        hints.iter().map(ToString::to_string).collect()
    }
}

const WIND: &str = "$WIMWV,214.8,R,15.6,N,A*1E";
const LOG: &str = "$VWVHW,045.0,T,043.0,M,6.50,N,12.04,K*66";
const HEEL: &str = "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C";
const PLACE: &str = "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A,S*59";

#[test]
fn rows_say_who_says_what_how_often_and_what_it_feeds() {
    let mut bench = Bench::new(Some(4800));
    bench.hear_each_second(&[WIND, LOG], 11);
    let rows = bench.census.rows();
    assert_eq!(rows.len(), 2);
    let wind = rows[0];
    assert_eq!(wind.talker.to_string(), "WI");
    assert_eq!(wind.formatter.to_string(), "MWV");
    assert_eq!((wind.lines, wind.bytes), (11, 11 * 28));
    assert_eq!(wind.rate_hz(), Some(1.0));
    assert_eq!(wind.read, Understood::Yes);
    assert!(wind.feeds.has(Quantity::ApparentWind));
    assert_eq!((wind.fields, wind.fields_seen), (5, 0b11111));
    let fed: Vec<_> = rows[1].feeds.iter().collect();
    assert_eq!(
        fed,
        [
            Quantity::HeadingTrue,
            Quantity::HeadingMagnetic,
            Quantity::WaterSpeed
        ]
    );
    // 308 bytes of 10 bits in 10 s of 4800 Bd.
    let load = bench.census.load_percent(&wind, Timestamp::from_secs(10));
    assert!((load.unwrap() - 3080.0 / 48_000.0 * 100.0).abs() < 1e-9);
}

#[test]
fn a_row_knows_the_source_that_the_core_has_chosen() {
    let mut bench = Bench::new(None);
    bench.hear_each_second(&[WIND, LOG], 1);
    let mut chosen = None;
    strict().decode(WIND.as_bytes(), Timestamp::ZERO, &mut |out| {
        if let Out::Reading(reading) = out {
            chosen = Some(reading.source);
        }
    });
    let marked: Vec<bool> = bench
        .census
        .rows()
        .iter()
        .map(|row| row.is_source(chosen.unwrap()))
        .collect();
    assert_eq!(marked, [true, false]);
}

/// Letters and refused lines, without one byte that no sentence has.
#[test]
fn garbage_that_can_be_printed_is_called_garbage_until_a_good_sentence_comes() {
    let mut bench = Bench::new(Some(4800));
    bench.hear_each_second(&["$W1MWV,2a4.8*00", "pq,r,,s*7"], 20);
    let words = "garbage on port 0: 560 bytes, and not one good sentence among them";
    assert!(
        bench.says(20).contains(&words.to_owned()),
        "{:?}",
        bench.says(20)
    );
    bench.hear_each_second(&[WIND], 1);
    let says = bench.says(20);
    assert!(
        !says.iter().any(|hint| hint.contains("garbage")),
        "{says:?}"
    );
}

#[test]
fn a_port_that_is_no_serial_line_has_no_load() {
    let mut bench = Bench::new(None);
    bench.hear_each_second(&[WIND], 2);
    let row = bench.census.rows()[0];
    assert_eq!(
        bench.census.load_percent(&row, Timestamp::from_secs(1)),
        None
    );
}

#[test]
fn empty_fields_are_not_seen() {
    let mut bench = Bench::new(None);
    bench.hear_each_second(&[&summed("$VWVHW,,T,,M,6.50,N,,K")], 1);
    assert_eq!(bench.census.rows()[0].fields_seen, 0b1011_1010);
}

#[test]
fn all_that_the_job_needs_leaves_nothing_to_say() {
    let mut bench = Bench::new(Some(38_400));
    bench.hear_each_second(&[WIND, "$HEHDT,085.7,T*25", HEEL], 70);
    let mut says = bench.says(70);
    assert_eq!(says.len(), 2, "{says:?}");
    bench.hear_each_second(&[PLACE], 1);
    says = bench.says(70);
    assert!(says.is_empty(), "{says:?}");
}

#[test]
fn no_heel_is_said_in_plain_words_after_a_minute() {
    let mut bench = Bench::new(Some(38_400));
    bench.hear_each_second(&[WIND, LOG, PLACE], 60);
    assert_eq!(bench.says(59), Vec::<String>::new());
    assert_eq!(
        bench.says(60),
        ["no heel: none of XDR roll, heel or PASHR heard in 60 s"]
    );
}

#[test]
fn wind_that_is_never_valid_is_not_called_missing() {
    let mut bench = Bench::new(Some(38_400));
    bench.hear_each_second(&["$WIMWV,,R,,N,V*34", LOG, PLACE, HEEL], 60);
    assert_eq!(
        bench.says(60),
        ["no wind: WIMWV on port 0 speaks of it, but never with a valid value"]
    );
    assert_eq!(bench.census.rows()[0].invalid, 60);
}

#[test]
fn two_talkers_with_the_same_quantity_are_named() {
    let mut bench = Bench::new(Some(38_400));
    let other = summed("$IIMWV,200.0,R,15.0,N,A");
    bench.hear_each_second(&[WIND, &other], 3);
    let hints = bench.census.hints(Timestamp::from_secs(3));
    assert!(matches!(
        hints.as_slice(),
        [Hint::Both {
            quantity: Quantity::ApparentWind,
            ..
        }]
    ));
    assert_eq!(
        hints[0].to_string(),
        "apparent wind comes from both WIMWV on port 0 and IIMWV on port 0: state a \
         preference, or leave the choice to quality"
    );
}

#[test]
fn two_sentences_of_one_talker_are_no_conflict() {
    let mut bench = Bench::new(Some(38_400));
    let old = summed("$WIVWR,145.2,L,15.6,N,,M,,K");
    bench.hear_each_second(&[WIND, &old], 3);
    assert_eq!(bench.says(3), Vec::<String>::new());
}

#[test]
fn failing_checksums_are_counted_and_told() {
    let mut bench = Bench::new(Some(38_400));
    bench.hear_each_second(&[WIND, "$WIMWV,214.8,R,15.6,N,A*1F"], 10);
    assert_eq!(bench.census.rows()[0].checksum_failures, 10);
    assert_eq!(
        bench.says(10),
        [
            "50 % of the lines on port 0 fail their checksum: loose wire, or two talkers on one pair?"
        ]
    );
}

#[test]
fn a_full_line_is_told() {
    let mut bench = Bench::new(Some(4800));
    bench.hear_each_second(&[LOG; 10], 10);
    let says = bench.says(10);
    assert_eq!(
        says,
        ["port 0 is 88 % full: sentences will be late or lost"]
    );
}

#[test]
fn a_silent_port_is_told() {
    let bench = Bench::new(Some(4800));
    assert_eq!(bench.says(9), Vec::<String>::new());
    assert_eq!(
        bench.says(10),
        ["nothing heard on port 0 in 10 s: is the instrument on, and its output on this pair?"]
    );
}

/// The levels on an asynchronous line: idle high, one start bit low, eight data
/// bits lowest first, one stop bit high.
fn levels(bytes: &[u8], idle_between: usize) -> Vec<bool> {
    let mut levels = vec![true; 20];
    for &byte in bytes {
        levels.push(false);
        levels.extend((0..8).map(|bit| byte >> bit & 1 == 1));
        levels.push(true);
        levels.extend(vec![true; idle_between]);
    }
    levels.extend([true; 20]);
    levels
}

/// What a receiver makes of levels sampled `ratio` times for each bit of its
/// own. A break is skipped until the line is high again.
fn receive(levels: &[bool], ratio: f64) -> Vec<u8> {
    let at = |time: f64| levels.get(time as usize).copied();
    let mut bytes = Vec::new();
    let mut time = 0.0;
    let mut before = true;
    while let Some(level) = at(time) {
        if before && !level {
            let sample = |bit: f64| at(time + ratio * (bit + 1.5));
            let bits: Vec<bool> = (0..8).map_while(|bit| sample(f64::from(bit))).collect();
            if bits.len() < 8 {
                break;
            }
            bytes.push(
                bits.iter()
                    .rev()
                    .fold(0, |byte, bit| byte << 1 | u8::from(*bit)),
            );
            time += ratio * 9.5;
            before = at(time).unwrap_or(true);
        } else {
            before = level;
        }
        time += ratio.min(1.0) / 4.0;
    }
    bytes
}

fn stream() -> Vec<u8> {
    format!("{WIND}\r\n{LOG}\r\n{PLACE}\r\n{HEEL}\r\n")
        .repeat(10)
        .into_bytes()
}

#[test]
fn the_simulated_line_carries_bytes_when_all_is_right() {
    assert_eq!(receive(&levels(&stream(), 0), 1.0), stream());
}

#[test]
fn swapped_wires_are_suspected() {
    for idle in [0, 1, 2] {
        let turned: Vec<bool> = levels(&stream(), idle).iter().map(|level| !level).collect();
        let mut bench = Bench::new(Some(4800));
        bench.hear(&receive(&turned, 1.0), Timestamp::from_secs(20));
        let looks_like = bench.census.ports()[0].garbage_looks_like();
        if idle == 0 {
            assert_eq!(looks_like, Garbage::Swapped);
            assert_eq!(
                bench.says(20),
                [
                    "garbage on port 0 reads as sentences with every bit turned: A and B \
                     swapped suspected"
                ]
            );
        } else {
            // With gaps between characters the framing is lost: garbage, but
            // not to be told from another baud.
            assert_ne!(looks_like, Garbage::None, "idle {idle}");
        }
    }
}

#[test]
fn a_wrong_baud_is_suspected() {
    // Sent at 38400 and heard at 4800, and the other way round.
    for (ratio, baud, expected) in [
        (8.0, 4800, "(4800 is set, try 38400)"),
        (1.0 / 8.0, 38_400, "(38400 is set, try 4800)"),
    ] {
        let mut bench = Bench::new(Some(baud));
        let mut heard = Vec::new();
        while heard.len() < 400 {
            heard.extend(receive(&levels(&stream(), 0), ratio));
        }
        bench.hear(&heard, Timestamp::from_secs(20));
        assert_eq!(
            bench.says(20),
            [format!(
                "garbage on port 0: wrong baud suspected {expected}"
            )]
        );
    }
}

#[test]
fn good_sentences_are_never_called_garbage() {
    let mut bench = Bench::new(Some(4800));
    bench.hear(&stream(), Timestamp::from_secs(20));
    assert_eq!(bench.census.ports()[0].garbage_looks_like(), Garbage::None);
}

#[test]
fn more_sentences_than_rows_are_counted_not_kept() {
    let mut census = Census::new(Timestamp::ZERO);
    for number in 0..ROWS_MOST + 5 {
        let line = format!("$II{number:03},1");
        census.line(0, line.as_bytes(), Timestamp::ZERO);
        lenient().decode(line.as_bytes(), Timestamp::ZERO, &mut |out| {
            census.out(0, &out)
        });
    }
    assert_eq!(census.rows().len(), ROWS_MOST);
    assert_eq!(census.lost(), 5);
}

#[test]
fn hints_have_names_for_programs() {
    let missing = Hint::Missing {
        need: Need::Heel,
        seconds: 60,
    };
    assert_eq!(missing.key(), "missing");
}
