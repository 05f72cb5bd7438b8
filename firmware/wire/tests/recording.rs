//! Times of foreign logs.

mod common;

use common::summed;
use cringle_wire::recording::{How, LineTime};

const WIND: &str = "$WIMWV,214.8,R,15.6,N,A*1E";

/// 2026-03-23 12:35:19.250 UTC.
const MOMENT: i64 = 1_774_269_319_250;

fn rmc(second: u32) -> String {
    summed(&format!(
        "$GPRMC,1235{second:02}.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A"
    ))
}

#[track_caller]
fn leads(before: &str, unix_ms: Option<i64>, how: How) {
    let mut times = LineTime::default();
    let raw = format!("{before}{WIND}\r\n");
    let timed = times.read(raw.as_bytes()).unwrap();
    assert_eq!(timed.line, WIND.as_bytes(), "{raw}");
    assert_eq!((timed.unix_ms, timed.how), (unix_ms, how), "{raw}");
    assert_eq!(times.used().mostly(), Some(how));
}

#[test]
fn iso_8601_of_every_form_leads() {
    for before in [
        "2026-03-23T12:35:19.250Z ",
        "2026-03-23T12:35:19.250Z,",
        "2026-03-23 12:35:19.250\t",
        "2026-03-23T14:35:19.250+02:00|",
        "2026-03-23T07:05:19.250-0530 ",
        "2026-03-23T13:35:19.250+01 ",
        "20260323T123519.250Z ",
        "[2026-03-23 12:35:19.250] ",
        "\"2026-03-23T12:35:19.250123Z\",\"",
        "mast,2026-03-23T12:35:19.250Z,in,",
    ] {
        leads(before, Some(MOMENT), How::Iso);
    }
    leads("2026-03-23T12:35:19Z ", Some(MOMENT - 250), How::Iso);
}

#[test]
fn unix_seconds_and_milliseconds_lead() {
    for separator in [" ", ",", "\t", ";", "|", ": ", " | "] {
        leads(
            &format!("1774269319{separator}"),
            Some(MOMENT - 250),
            How::UnixSeconds,
        );
        leads(
            &format!("1774269319.250{separator}"),
            Some(MOMENT),
            How::UnixSeconds,
        );
        leads(
            &format!("1774269319250{separator}"),
            Some(MOMENT),
            How::UnixMillis,
        );
    }
}

#[test]
fn what_is_no_time_is_not_taken_for_one() {
    for before in [
        "12345 ",
        "port0,",
        "2026-13-23T12:35:19Z ",
        "2026-03-23T25:35:19Z ",
        "2026-0323T12:35:19Z ",
        "17742693192501234 ",
    ] {
        leads(before, None, How::Rate);
    }
}

#[test]
fn a_tag_block_comes_before_what_leads_the_line() {
    let mut times = LineTime::default();
    let raw = format!("1774269000 \\c:1694010602000*66\\{WIND}");
    let timed = times.read(raw.as_bytes()).unwrap();
    assert_eq!(timed.how, How::Tag);
    assert_eq!(timed.unix_ms, Some(1_694_010_602_000));
    assert!(timed.line.starts_with(b"\\c:"));
}

#[test]
fn a_line_without_a_time_among_lines_with_one_has_the_last() {
    let mut times = LineTime::default();
    times.read(format!("1774269319 {WIND}").as_bytes());
    times.read(format!("1774269321 {WIND}").as_bytes());
    let timed = times.read(WIND.as_bytes()).unwrap();
    assert_eq!(timed.how, How::LineBefore);
    assert_eq!(timed.at.as_millis(), 2000);
}

#[test]
fn where_there_is_no_time_rmc_and_zda_give_it() {
    let mut times = LineTime::default();
    let mut last = 0;
    for second in 0..20 {
        let line = rmc(second);
        let timed = times.read(line.as_bytes()).unwrap();
        assert_eq!(timed.how, How::Sentence);
        assert_eq!(
            timed.unix_ms,
            Some(1_774_269_300_000 + i64::from(second) * 1000)
        );
        for _ in 0..9 {
            let wind = times.read(WIND.as_bytes()).unwrap();
            assert!(wind.at.as_millis() >= last);
            last = wind.at.as_millis();
        }
    }
    // Once the rate is learned, the nine lines are spread over their second:
    // 9 times 28 bytes of all that came between two RMC, 69 and 2 more.
    let spread = last % 1000;
    assert!((700..1000).contains(&spread), "{spread}");
    let zda = times.read(b"$GPZDA,201530.00,04,07,2026,00,00*66").unwrap();
    assert_eq!(zda.unix_ms, Some(1_783_196_130_000));
}

#[test]
fn rmc_and_zda_for_one_moment_do_not_fight() {
    let mut times = LineTime::default();
    for second in 0..10 {
        times.read(rmc(second).as_bytes());
        let zda = summed(&format!("$GPZDA,1235{second:02}.00,23,03,2026,00,00"));
        times.read(zda.as_bytes());
    }
    let used = times.used();
    assert_eq!((used.went_back, used.sentence), (0, 20));
    let line = rmc(10);
    let timed = times.read(line.as_bytes()).unwrap();
    assert_eq!(timed.at.as_millis(), 10_000);
}

#[test]
fn a_gap_in_the_log_does_not_stretch_the_lines_after_it() {
    let mut times = LineTime::default();
    let mut moments = Vec::new();
    // Four seconds, a gap of fifty, four more.
    for second in (0..4).chain(54..58) {
        let line = rmc(second);
        moments.push(times.read(line.as_bytes()).unwrap().at.as_millis());
        for _ in 0..4 {
            let wind = times.read(WIND.as_bytes()).unwrap();
            assert!(wind.at.as_millis() < moments[moments.len() - 1] + 1000);
        }
    }
    assert_eq!(
        moments,
        [0, 1000, 2000, 3000, 54_000, 55_000, 56_000, 57_000]
    );
    assert_eq!(times.used().went_back, 0);
}

#[test]
fn without_any_time_the_rate_of_the_line_gives_it() {
    let mut times = LineTime::new(4800);
    for _ in 0..100 {
        times.read(WIND.as_bytes());
    }
    let timed = times.read(WIND.as_bytes()).unwrap();
    // 101 lines of 28 bytes of 10 bits at 4800 Bd.
    assert_eq!(timed.at.as_millis(), 101 * 280 * 1000 / 4800);
    assert_eq!((timed.how, timed.unix_ms), (How::Rate, None));
}

#[test]
fn a_clock_that_goes_back_does_not_take_the_lines_with_it() {
    let mut times = LineTime::default();
    let mut at = |seconds: u64| {
        let line = format!("{seconds} {WIND}");
        let timed = times.read(line.as_bytes()).unwrap();
        timed.at.as_millis()
    };
    assert_eq!(at(1_774_269_319), 0);
    assert_eq!(at(1_774_269_329), 10_000);
    assert_eq!(at(1_774_269_300), 10_000);
    assert_eq!(at(1_774_269_301), 11_000);
    assert_eq!(times.used().went_back, 1);
}

#[test]
fn lines_with_no_sentence_are_counted() {
    let mut times = LineTime::default();
    assert_eq!(times.read(b"# a comment"), None);
    assert_eq!(times.read(b""), None);
    assert_eq!(times.used().no_sentence, 1);
    assert_eq!(times.used().mostly(), None);
}
