//! Every fault of the wire, with the line that causes it.

mod common;

use common::{hear_with, lenient, says, strict, summed};
use cringle_core::reading::{Quantity, Rank};
use cringle_core::time::Timestamp;
use cringle_wire::decode::{Decoder, Out, PortOptions};
use cringle_wire::frame::{Junk, Liner, parted};
use cringle_wire::prefer::{Preference, Preferences};
use cringle_wire::sentence::{Formatter, Talker};

fn lines(bytes: &[u8]) -> (Vec<String>, Junk) {
    let mut liner = Liner::new();
    let mut lines = Vec::new();
    liner.feed(bytes, &mut |line| {
        lines.push(line.escape_ascii().to_string());
    });
    (lines, liner.junk())
}

#[track_caller]
fn cuts(bytes: &[u8], expected: &[&str]) -> Junk {
    let (lines, junk) = lines(bytes);
    assert_eq!(lines, expected);
    junk
}

const WIND: &str = "$WIMWV,214.8,R,15.6,N,A*1E";

#[test]
fn any_line_end_ends_a_line_once() {
    for end in ["\r\n", "\n", "\r", "\n\r", "\r\r\n", "\n\n"] {
        let stream = format!("{WIND}{end}{WIND}{end}");
        assert_eq!(cuts(stream.as_bytes(), &[WIND, WIND]), Junk::default());
    }
}

#[test]
fn a_datagram_without_line_end_is_a_line() {
    let mut liner = Liner::new();
    let mut count = 0;
    liner.feed(WIND.as_bytes(), &mut |_| count += 1);
    assert_eq!(count, 0);
    liner.finish(&mut |line| {
        assert_eq!(line, WIND.as_bytes());
        count += 1;
    });
    assert_eq!(count, 1);
}

#[test]
fn junk_before_a_sentence_is_dropped_and_counted() {
    let junk = cuts(b"\x00\xFFgarbage $WIMWV,1*00\r\n", &["$WIMWV,1*00"]);
    assert_eq!(junk.stray, 10);
    assert_eq!(junk.high_bit, 1);
    assert_eq!(junk.control, 1);
}

#[test]
fn two_sentences_run_together_are_two() {
    let stream = format!("{WIND}$HEHDT,085.7,T*25\r\n");
    let junk = cuts(stream.as_bytes(), &[WIND, "$HEHDT,085.7,T*25"]);
    assert_eq!(junk.run_together, 1);
}

/// The same bytes as a line of a log and as they came live.
#[test]
fn a_logs_run_together_lines_are_parted_as_live_ones_are() {
    let tag = "\\s:mast,c:1764050000*5A\\";
    for raw in [
        format!("{WIND}{WIND}"),
        format!("{WIND}  {WIND}{WIND}"),
        format!("$WIMWV,21{WIND}"),
        format!("{tag}{WIND}{tag}{WIND}"),
        format!("{WIND}\r{WIND}"),
        format!("{tag}{WIND}$WIMWV,1"),
        format!("{tag}{tag}{WIND}!AIVDM,1*00"),
        WIND.to_owned(),
    ] {
        let live: Vec<String> = lines(format!("{raw}\r\n").as_bytes()).0;
        let logged: Vec<String> = parted(raw.as_bytes())
            .map(|part| part.escape_ascii().to_string())
            .collect();
        assert_eq!(logged, live, "{raw}");
    }
    // A time in front stays with the first.
    let timed = format!("1764050000 {WIND}{WIND}");
    let parts: Vec<_> = parted(timed.as_bytes()).collect();
    assert_eq!(
        parts,
        [&timed.as_bytes()[..11 + WIND.len()], WIND.as_bytes()]
    );
}

#[test]
fn a_sentence_cut_off_by_the_next_is_lost_and_the_next_is_not() {
    let junk = cuts(
        b"$WIMWV,214.8,R,1$HEHDT,085.7,T*25\r\n",
        &["$HEHDT,085.7,T*25"],
    );
    assert_eq!(junk.cut_off, 1);
}

#[test]
fn an_over_long_line_is_dropped_and_the_next_is_not() {
    let stream = format!("$WIMWV,{}\r\n{WIND}\r\n", "1".repeat(300));
    assert_eq!(cuts(stream.as_bytes(), &[WIND]).over_long, 1);
    let run_on = format!("$WIMWV,{}{WIND}\r\n", "1".repeat(300));
    assert_eq!(cuts(run_on.as_bytes(), &[WIND]).over_long, 1);
}

#[test]
fn a_tag_block_stays_with_its_sentence() {
    let stream = format!("\\s:mast1,c:1774268119,n:42*78\\{WIND}\r\n");
    cuts(
        stream.as_bytes(),
        &[&format!("\\\\s:mast1,c:1774268119,n:42*78\\\\{WIND}")],
    );
    // Run together with the sentence before it.
    let glued = format!("{WIND}\\s:a*28\\{WIND}\r\n");
    let (cut, junk) = lines(glued.as_bytes());
    assert_eq!(cut.len(), 2);
    assert_eq!(junk.run_together, 1);
}

#[test]
fn a_tag_block_that_never_closes_does_not_take_its_sentence_along() {
    let junk = cuts(format!("\\c:1774268119{WIND}\r\n").as_bytes(), &[WIND]);
    assert_eq!(junk.cut_off, 1);
}

#[test]
fn bytes_with_the_high_bit_set_are_kept_for_the_checksum_to_judge() {
    let (cut, junk) = lines(b"$WIMWV,2\xB14.8,R,15.6,N,A*1E\r\n");
    assert_eq!(cut.len(), 1);
    assert_eq!(junk.high_bit, 1);
    let said = hear_with(&mut strict(), b"$WIMWV,2\xB14.8,R,15.6,N,A*1E");
    assert_eq!(
        said,
        ["refused: checksum mismatch: line states 1E, bytes give 9E"]
    );
    let said = hear_with(&mut lenient(), b"$WIMWV,2\xB14.8,R,15.6,N,A");
    assert_eq!(
        said,
        ["refused: bytes with the high bit set and no checksum"]
    );
}

#[test]
fn a_wrong_checksum_is_refused_even_where_it_may_be_missing() {
    let wrong = "$WIMWV,214.8,R,15.6,N,A*1F";
    let expected = ["refused: checksum mismatch: line states 1F, bytes give 1E"];
    says(wrong, &expected);
    assert_eq!(hear_with(&mut lenient(), wrong.as_bytes()), expected);
    says(
        "$WIMWV,214.8,R,15.6,N,A*1",
        &["refused: checksum is not two hexadecimal digits"],
    );
    says(
        "$WIMWV,214.8,R,15.6,N,A*G0",
        &["refused: checksum is not two hexadecimal digits"],
    );
}

#[test]
fn a_missing_checksum_is_refused_unless_the_port_allows_it() {
    let bare = "$WIMWV,214.8,R,15.6,N,A";
    says(
        bare,
        &["refused: checksum missing, and this port requires one"],
    );
    assert_eq!(
        hear_with(&mut lenient(), bare.as_bytes()),
        ["apparent wind -145.2 15.6"]
    );
}

#[test]
fn lower_case_is_understood() {
    says("$WIMWV,214.8,R,15.6,N,A*1e", &["apparent wind -145.2 15.6"]);
    says(
        &summed("$wimwv,214.8,r,15.6,n,a"),
        &["apparent wind -145.2 15.6"],
    );
}

#[test]
fn bytes_behind_the_checksum_are_refused_but_blanks_are_not() {
    says(
        "$WIMWV,214.8,R,15.6,N,A*1Egarbage",
        &["refused: bytes behind the checksum"],
    );
    says(
        "$WIMWV,214.8,R,15.6,N,A*1E  ",
        &["apparent wind -145.2 15.6"],
    );
}

#[test]
fn an_address_that_is_none_is_refused() {
    for line in ["$", "$WI", "$WIMWVX,1", "$W MWV,1", "$PX,1", "$*00"] {
        let said = hear_with(&mut lenient(), line.as_bytes());
        assert_eq!(said.len(), 1, "{line}");
        assert!(said[0].starts_with("refused: address"), "{line}: {said:?}");
    }
    says("no sentence", &["refused: no sentence begins with $ or !"]);
}

#[test]
fn status_v_is_invalid_even_with_values() {
    says(
        &summed("$WIMWV,214.8,R,15.6,N,V"),
        &["apparent wind invalid"],
    );
}

#[test]
fn empty_fields_with_a_valid_looking_status_are_invalid() {
    says(&summed("$WIMWV,,R,,N,A"), &["apparent wind invalid"]);
    says(&summed("$WIMWV,214.8,R,,N,A"), &["apparent wind invalid"]);
    says(&summed("$WIMWV,,R,15.6,N,A"), &["apparent wind invalid"]);
}

#[test]
fn the_all_empty_form_takes_both_winds_away() {
    says(
        &summed("$WIMWV,,,,,V"),
        &["apparent wind invalid", "true wind invalid"],
    );
}

#[test]
fn absurd_values_are_refused() {
    for (line, quantity) in [
        ("$WIMWV,361.5,R,10.0,N,A", "apparent wind"),
        ("$WIMWV,-12,R,10.0,N,A", "apparent wind"),
        ("$WIMWV,045,R,-3,N,A", "apparent wind"),
        ("$WIMWV,045,R,250,N,A", "apparent wind"),
        ("$IIVWR,181,L,10,N,,M,,K", "apparent wind"),
        ("$IIVWR,-45,L,10,N,,M,,K", "apparent wind"),
        ("$WIMWD,400,T,,M,10,N,,M", "ground wind"),
        ("$HEHDT,361,T", "true heading"),
        ("$HCHDM,-1,M", "magnetic heading"),
        ("$VWVHW,,T,,M,120,N,,K", "water speed"),
        ("$IIXDR,A,-181,D,HEEL", "heel"),
        ("$IIXDR,A,91,D,PITCH", "pitch"),
        ("$IIXDR,P,0.3,B,BARO", "pressure"),
        ("$TIROT,9000,A", "turn rate"),
        ("$AGRSA,95,A,,V", "rudder"),
        ("$GPVTG,084.4,T,,M,150,N,,K,A", "ground motion"),
        ("$GPVTG,484.4,T,,M,5,N,,K,A", "ground motion"),
        ("$GPGLL,9907.038,N,01131.000,E,123519.00,A,A", "position"),
        // 123 degrees and 99 minutes.
        ("$GPGLL,4807.038,N,12399.120,W,123519.00,A,A", "position"),
        ("$YXMTW,300,C", "water temperature"),
        // 1e40 is infinite in the f32 of the crate behind VTG.
        ("$GPVTG,084.4,T,,M,1e40,N,,K,A", "ground motion"),
        ("$GPVTG,084.4,T,,M,nan,N,,K,A", "ground motion"),
        ("$YXMTW,inf,C", "water temperature"),
    ] {
        says(
            &summed(line),
            &[&format!("refused: {quantity} is outside what can be")],
        );
    }
}

#[test]
fn what_is_no_number_is_refused() {
    for number in [
        "nan", "inf", "1e2", "1.2.3", "--1", "0x10", "1 2", "-", "+", ".",
    ] {
        says(
            &summed(&format!("$WIMWV,045,R,{number},N,A")),
            &["refused: apparent wind is not a plain number"],
        );
    }
}

#[test]
fn fields_that_are_not_the_sentence_s_are_refused() {
    for line in [
        "$WIMWV,045,X,10.0,N,A",
        "$WIMWV,045,R,10.0,Z,A",
        "$WIMWV,045,R,10.0,N,Q",
        "$WIMWV,045,R,10.0",
        "$IIVWR,045,x,10,N,,M,,K",
        "$IIXDR,P,12,D,HEEL",
        "$IIXDR,A,12,Q,HEEL",
        "$IIXDR,A,12",
        "$PASHR,1,2,3",
        "$GPRMC,123560.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A",
        "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,310226,3.1,W,A",
        "$GPRMC,123519.00,A,4807.038,N",
        "$HCHDG,098.3,2.0,,12.6,W",
        "$IIACK,12345",
    ] {
        let said = common::hear(&summed(line));
        let last = said.last().map(String::as_str);
        assert_eq!(
            last,
            Some("refused: fields are not those of this sentence"),
            "{line}"
        );
    }
}

#[test]
fn a_sentence_of_nothing_but_commas_harms_nobody() {
    let said = hear_with(
        &mut lenient(),
        format!("$WIMWV{}", ",".repeat(120)).as_bytes(),
    );
    assert_eq!(said, ["refused: more fields than any sentence has"]);
}

#[test]
fn a_direction_by_magnetic_north_alone_is_refused() {
    says(
        &summed("$WIMWD,,T,289.6,M,10.5,N,5.4,M"),
        &["refused: ground wind is by magnetic north only, expected true"],
    );
}

#[test]
fn tag_blocks_tell_time_source_and_group() {
    // From the open document on TAG blocks; its checksum is right.
    says(
        r"\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\$HEHDT,085.7,T*25",
        &[
            "tag Some(1241544035000) Some(\"r003669945\") Some(Group { part: 1, total: 2, id: 73874 })",
            "true heading 85.7",
        ],
    );
    // Milliseconds, as the size tells.
    says(
        r"\c:1694010602000*66\$HEHDT,121.0,T*2D",
        &["tag Some(1694010602000) None None", "true heading 121"],
    );
}

#[test]
fn the_rest_of_a_group_has_the_time_of_its_first() {
    let mut decoder = strict();
    let tag = |keys: &str| {
        let sum = cringle_wire::fields::checksum(keys.as_bytes());
        format!(r"\{keys}*{sum:02X}\$HEHDT,085.7,T*25")
    };
    hear_with(&mut decoder, tag("g:1-2-7,s:mast,c:1241544035").as_bytes());
    let said = hear_with(&mut decoder, tag("g:2-2-7").as_bytes());
    assert!(
        said[0].starts_with("tag Some(1241544035000) Some(\"mast\")"),
        "{said:?}"
    );
    let said = hear_with(&mut decoder, tag("g:2-2-8").as_bytes());
    assert!(said[0].starts_with("tag None None"), "{said:?}");
}

#[test]
fn a_broken_tag_block_is_told_and_its_sentence_still_read() {
    says(
        r"\c:1694010602000*67\$HEHDT,121.0,T*2D",
        &[
            "refused: TAG block: states 67, bytes give 66",
            "true heading 121",
        ],
    );
    says(
        r"\c:1694010602000\$HEHDT,121.0,T*2D",
        &["refused: TAG block: no checksum", "true heading 121"],
    );
}

#[test]
fn eight_talkers_interleaved_byte_by_line_all_come_through() {
    let talkers = ["WI", "II", "IN", "HC", "HE", "GP", "YX", "SD"];
    let mut stream = String::new();
    for round in 0..50 {
        for talker in talkers {
            stream += &summed(&format!("${talker}HDT,{:05.1},T", f64::from(round)));
            stream += "\r\n";
        }
    }
    let mut decoder = strict();
    let mut liner = Liner::new();
    let mut by_source = std::collections::BTreeMap::new();
    for chunk in stream.as_bytes().chunks(13) {
        liner.feed(chunk, &mut |line| {
            decoder.decode(line, Timestamp::ZERO, &mut |out| {
                if let Out::Reading(reading) = out {
                    *by_source.entry(reading.source).or_insert(0) += 1;
                }
            });
        });
    }
    assert_eq!(by_source.len(), 8);
    assert!(by_source.values().all(|count| *count == 50));
}

#[test]
fn what_is_refused_is_counted_by_kind() {
    let mut decoder = strict();
    for line in [
        "$WIMWV,214.8,R,15.6,N,A*1E",
        "$WIMWV,,R,,N,V*34",
        "$WIMWV,214.8,R,15.6,N,A*1F",
        "$WIMWV,214.8,R,15.6,N,A",
        &summed("$WIMWV,361.5,R,10.0,N,A"),
        &summed("$WIMWV,045,X,10.0,N,A"),
        &summed("$GPGSV,1,1,00"),
        "nothing",
    ] {
        hear_with(&mut decoder, line.as_bytes());
    }
    let tally = decoder.tally();
    assert_eq!(
        (
            tally.lines,
            tally.known,
            tally.unknown,
            tally.values,
            tally.invalid
        ),
        (8, 4, 1, 1, 1)
    );
    assert_eq!(
        (
            tally.checksum_wrong,
            tally.checksum_missing,
            tally.out_of_range,
            tally.layout,
            tally.no_sentence
        ),
        (1, 1, 1, 1, 1)
    );
}

#[test]
fn preferences_rank_by_quantity_port_talker_and_sentence() {
    let mut preferences = Preferences::new();
    let rule = Preference {
        quantity: Some(Quantity::ApparentWind),
        port: None,
        talker: Talker::from_text("WI"),
        formatter: Formatter::from_text("MWV"),
        rank: Rank(1),
    };
    preferences.add(rule).unwrap();
    let mut decoder = Decoder::new(2, PortOptions::default()).with_preferences(preferences);
    let mut rank = |line: &str| {
        let mut rank = None;
        decoder.decode(line.as_bytes(), Timestamp::ZERO, &mut |out| {
            if let Out::Reading(reading) = out {
                rank = Some(reading.rank);
            }
        });
        rank.unwrap()
    };
    assert_eq!(rank("$WIMWV,214.8,R,15.6,N,A*1E"), Rank(1));
    assert_eq!(rank("$WIMWV,033.0,T,12.4,N,A*12"), Rank::AUTOMATIC);
    assert_eq!(rank(&summed("$IIMWV,214.8,R,15.6,N,A")), Rank::AUTOMATIC);
}
