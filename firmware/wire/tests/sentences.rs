//! Every sentence that is read: the line and what it says.
//!
//! Lines with a source are examples or layouts of it; the checksums were worked
//! out again. Sources: (1) "NMEA Revealed", open protocol document; (2) source
//! comments of an open NMEA library in Go, late 2024; (3) a weather-sensor
//! manual's XDR page; (4) a heading-sensor-fed echo-sounder manual; (5) a
//! Doppler log's installation manual; (6) a GNSS receiver's PASHR page; own
//! otherwise, to the layouts of (1) and (2).

mod common;

use common::{hear_with, says, strict, summed};
use cringle_core::reading::Quantity;
use cringle_wire::decode::{Decoder, PortOptions};
use cringle_wire::transducer::{PASHR_ROLL, Sign, Transducers};

#[test]
fn mwv_feeds_apparent_and_true_wind_by_its_reference() {
    says("$WIMWV,214.8,R,15.6,N,A*1E", &["apparent wind -145.2 15.6"]);
    says("$WIMWV,033.0,T,12.4,N,A*12", &["true wind 33 12.4"]);
    says("$WIMWV,,R,,N,V*34", &["apparent wind invalid"]);
}

#[test]
fn mwv_speeds_are_brought_to_knots() {
    for (unit, knots) in [
        ("N", "10"),
        // 1 m/s = 3600/1852 kn; 1 km/h = 1/1.852 kn; 1 mph = 1609.344/1852 kn.
        ("M", "19.4384"),
        ("K", "5.3996"),
        ("S", "8.6898"),
    ] {
        let line = summed(&format!("$WIMWV,045.0,R,10.0,{unit},A"));
        says(&line, &[&format!("apparent wind 45 {knots}")]);
    }
}

#[test]
fn mwv_angles_go_round_to_port() {
    for (sent, meant) in [
        ("0", "0"),
        ("180", "180"),
        ("180.1", "-179.9"),
        ("360", "0"),
    ] {
        let line = summed(&format!("$WIMWV,{sent},R,10.0,N,A"));
        says(&line, &[&format!("apparent wind {meant} 10")]);
    }
}

#[test]
fn mwd_gives_where_the_wind_comes_from_over_the_ground() {
    says(
        "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M*6F",
        &["ground wind 302.4 10.5"],
    );
    says(
        &summed("$WIMWD,302.4,T,,M,,N,5.4,M"),
        &["ground wind 302.4 10.4968"],
    );
}

#[test]
fn the_old_forms_have_sides() {
    says(
        "$IIVWR,045.0,L,17.8,N,9.2,M,33.0,K*53",
        &["apparent wind -45 17.8"],
    );
    says(
        "$IIVWT,068.0,R,14.0,N,7.2,M,25.9,K*4F",
        &["true wind 68 14"],
    );
    says(
        &summed("$IIVWR,045.0,L,,N,,M,33.0,K"),
        &["apparent wind -45 17.8186"],
    );
    says(&summed("$IIVWR,180,,5.0,N,,,,"), &["apparent wind 180 5"]);
    says(&summed("$IIVWR,,,,N,,M,,K"), &["apparent wind invalid"]);
}

#[test]
fn vhw_gives_headings_only_where_it_has_them() {
    says(
        "$VWVHW,045.0,T,043.0,M,6.50,N,12.04,K*66",
        &["true heading 45", "magnetic heading 43", "water speed 6.5"],
    );
    says(&summed("$VWVHW,,T,,M,,N,12.04,K"), &["water speed 6.5011"]);
    says(&summed("$VWVHW,,T,,M,6.50,N"), &["water speed 6.5"]);
    says(&summed("$VWVHW,,T,,M,,N,,K"), &["water speed invalid"]);
}

#[test]
fn vbw_gives_both_axes_through_the_water_and_nothing_of_the_ground() {
    says(
        &summed("$VDVBW,6.5,-0.2,A,7.1,0.1,A,,V,,V"),
        &["water speed 6.5", "water drift -0.2"],
    );
    says(&summed("$VDVBW,-1.5,,A,,,V"), &["water speed -1.5"]);
    says(
        &summed("$VDVBW,,,V,7.1,0.1,A"),
        &["water speed invalid", "water drift invalid"],
    );
}

#[test]
fn vlw_gives_the_log() {
    says(&summed("$VWVLW,4512.3,N,12.5,N"), &["log distance 4512.3"]);
}

#[test]
fn hdg_is_magnetic_with_its_deviation_and_the_compass_s_own_without() {
    // Worked in full: magnetic 098.3, and true 085.7 once the core adds
    // variation.
    says(
        "$HCHDG,098.3,0.0,E,12.6,W*67",
        &["variation -12.6", "magnetic heading 98.3"],
    );
    says(
        "$HCHDG,098.3,,,12.6,W*0C",
        &["variation -12.6", "compass heading 98.3"],
    );
    says(
        &summed("$HCHDG,003.0,2.0,W,4.5,W"),
        &["variation -4.5", "magnetic heading 1"],
    );
    says(
        &summed("$HCHDG,358.0,1.5,E,3.0,E"),
        &["variation 3", "magnetic heading 359.5"],
    );
    says(&summed("$HCHDG,359.0,2.0,E,,"), &["magnetic heading 1"]);
    says(&summed("$HCHDG,,2.0,E,,"), &["magnetic heading invalid"]);
    says(
        &summed("$HCHDG,,,,,"),
        &["magnetic heading invalid", "compass heading invalid"],
    );
}

#[test]
fn headings_by_magnetic_and_true_north() {
    says("$HCHDM,098.3,M*2B", &["magnetic heading 98.3"]);
    says("$HEHDT,085.7,T*25", &["true heading 85.7"]);
    says(&summed("$HEHDT,,T"), &["true heading invalid"]);
    says(&summed("$HEHDT,085.7"), &["true heading 85.7"]);
}

#[test]
fn ths_is_believed_by_its_mode() {
    says(&summed("$HETHS,085.7,A"), &["true heading 85.7"]);
    for mode in ["V", "E", "M", "S", ""] {
        says(
            &summed(&format!("$HETHS,085.7,{mode}")),
            &["true heading invalid"],
        );
    }
}

#[test]
fn rate_of_turn_rudder_and_engine() {
    says("$TIROT,-12.5,A*20", &["turn rate -12.5"]);
    says(&summed("$TIROT,-12.5,V"), &["turn rate invalid"]);
    says(&summed("$AGRSA,-5.5,A,,V"), &["rudder -5.5"]);
    says(&summed("$AGRSA,,V,4.0,A"), &["rudder 4"]);
    says(&summed("$AGRSA,,V,,V"), &["rudder invalid"]);
    says(&summed("$ERRPM,E,1,2400,,A"), &["engine turns 2400"]);
    says(&summed("$ERRPM,E,1,,,V"), &["engine turns invalid"]);
}

#[test]
fn xdr_names_as_shipped() {
    says(
        "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C",
        &["pitch -3.2", "heel 18.4"],
    );
    says("$IIXDR,P,1.01325,B,BARO*68", &["pressure 1013.25"]);
    says(
        "$IIXDR,A,-14.5,D,HEEL,P,100850,P,Barometer*25",
        &["heel -14.5", "pressure 1008.5"],
    );
    says(
        &summed("$WIXDR,C,17.3,C,AirTemp,H,64,P,Humidity,C,12.1,C,WATERTEMP"),
        &[
            "air temperature 17.3",
            "humidity 64",
            "water temperature 12.1",
        ],
    );
    says(&summed("$IIXDR,A,,D,HEEL"), &["heel invalid"]);
}

#[test]
fn xdr_units_are_told_by_type_and_letter() {
    for (value, unit, hectopascals) in [
        ("1.0085", "B", "1008.5"),
        ("100850", "P", "1008.5"),
        ("1008.5", "H", "1008.5"),
        // 29.78 inHg at 33.863886 hPa and 756.4 mmHg at 1.3332239 hPa.
        ("29.78", "I", "1008.4665"),
        ("756.4", "M", "1008.4506"),
    ] {
        let line = summed(&format!("$IIXDR,P,{value},{unit},BARO"));
        says(&line, &[&format!("pressure {hectopascals}")]);
    }
    says(&summed("$IIXDR,C,290.45,K,AIR"), &["air temperature 17.3"]);
    says(&summed("$IIXDR,C,63.14,F,AIR"), &["air temperature 17.3"]);
}

#[test]
fn xdr_names_that_nobody_mapped_say_nothing() {
    says(&summed("$IIXDR,U,12.6,V,BATT"), &[]);
    says(&summed("$IIXDR,A,4.0,D,MASTROT,A,12,D,HEEL"), &["heel 12"]);
}

#[test]
fn the_boat_file_maps_any_name_and_turns_any_sign() {
    let mut map = Transducers::shipped();
    map.set("gyro1", Some(Quantity::Heel), Sign::Reversed)
        .unwrap();
    map.set("ROLL", None, Sign::AsSent).unwrap();
    map.set(PASHR_ROLL, Some(Quantity::Heel), Sign::Reversed)
        .unwrap();
    let mut decoder = Decoder::new(0, PortOptions::default()).with_transducers(map);
    let xdr = summed("$IIXDR,A,12.0,D,GYRO1,A,3.0,D,ROLL");
    assert_eq!(hear_with(&mut decoder, xdr.as_bytes()), ["heel -12"]);
    let pashr = summed("$PASHR,123519.000,,T,+14.20,-01.35,,,,,1,1");
    assert_eq!(
        hear_with(&mut decoder, pashr.as_bytes()),
        ["heel -14.2", "pitch -1.35"]
    );
}

#[test]
fn pashr_gives_heading_heel_and_pitch() {
    says(
        "$PASHR,123519.000,084.40,T,+14.20,-01.35,+00.12,0.020,0.020,0.080,1,1*03",
        &["true heading 84.4", "heel 14.2", "pitch -1.35"],
    );
    // Older firmware leaves the last flag out (6).
    says(
        &summed("$PASHR,123519.000,084.40,T,+14.20,-01.35,+00.12,0.020,0.020,0.080,1"),
        &["true heading 84.4", "heel 14.2", "pitch -1.35"],
    );
    says(
        &summed("$PASHR,123519.000,,T,,,,,,,0,0"),
        &["heel invalid", "pitch invalid"],
    );
}

#[test]
fn rmc_of_every_length() {
    let expected = [
        "utc 1774269319000",
        "position 48.1173 11.5167",
        "ground motion 6.4 84.4",
        "variation -3.1",
    ];
    says(
        "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A,S*59",
        &expected,
    );
    let head = "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W";
    says(&summed(head), &expected);
    says(&summed(&format!("{head},A")), &expected);
    // "Not provided" in the last field is usual beside a good fix.
    says(&summed(&format!("{head},D,V")), &expected);
}

#[test]
fn rmc_without_course_or_variation_still_gives_speed() {
    says(
        &summed("$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100126,,,A"),
        &[
            "utc 1768003831000",
            "position 44.069 -121.3143",
            "ground motion 0.146",
        ],
    );
}

#[test]
fn rmc_without_a_fix_is_invalid_and_its_time_is_its_own_clock_s() {
    says(
        "$GPRMC,001031.00,V,,,,,,,230326,,,N*78",
        &[
            "utc 1774224631000 without fix",
            "position invalid",
            "ground motion invalid",
        ],
    );
    for mode in ["N", "E", "M", "S"] {
        let line = summed(&format!(
            "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,{mode}"
        ));
        says(
            &line,
            &[
                "utc 1774269319000 without fix",
                "position invalid",
                "ground motion invalid",
            ],
        );
    }
    says(
        &summed("$GPRMC,,V,,,,,,,,,,N"),
        &["position invalid", "ground motion invalid"],
    );
}

#[test]
fn vtg_of_every_age() {
    says(
        "$GPVTG,084.4,T,087.5,M,6.4,N,11.9,K,A*1A",
        &["ground motion 6.4 84.4"],
    );
    says(
        &summed("$GPVTG,084.4,T,087.5,M,6.4,N,11.9,K"),
        &["ground motion 6.4 84.4"],
    );
    says(
        &summed("$GPVTG,084.4,T,,M,,N,11.853,K,A"),
        &["ground motion 6.4001 84.4"],
    );
    says(
        &summed("$GPVTG,,T,,M,0.05,N,0.09,K,D"),
        &["ground motion 0.05"],
    );
    // The oldest form has no unit letters.
    says(
        &summed("$GPVTG,084.4,087.5,6.4,11.9"),
        &["ground motion 6.4 84.4"],
    );
    says(&summed("$GPVTG,,,,,,,,,N"), &["ground motion invalid"]);
    says(
        &summed("$GPVTG,084.4,T,087.5,M,6.4,N,11.9,K,N"),
        &["ground motion invalid"],
    );
}

#[test]
fn gga_is_believed_by_its_quality() {
    says(
        "$GPGGA,123519.00,4807.0380,N,01131.0000,E,1,08,0.9,12.4,M,46.9,M,,*5E",
        &["position 48.1173 11.5167"],
    );
    for quality in 0..=8 {
        let line = summed(&format!(
            "$GPGGA,123519.00,4807.0380,S,01131.0000,W,{quality},08,0.9,12.4,M,46.9,M,,"
        ));
        let good = (1..=5).contains(&quality);
        let expected = if good {
            "position -48.1173 -11.5167"
        } else {
            "position invalid"
        };
        says(&line, &[expected]);
    }
    says(&summed("$GPGGA,,,,,,0,,,,,,,,"), &["position invalid"]);
}

#[test]
fn gll_of_every_length() {
    says(
        &summed("$GPGLL,4807.038,N,01131.000,E,123519.00,A,A"),
        &["position 48.1173 11.5167"],
    );
    says(
        &summed("$GPGLL,4807.038,N,01131.000,E,123519.00,A"),
        &["position 48.1173 11.5167"],
    );
    says(
        &summed("$GPGLL,4807.038,N,01131.000,E,123519.00,A,N"),
        &["position invalid"],
    );
    says(&summed("$GPGLL,,,,,001031.00,V,N"), &["position invalid"]);
}

#[test]
fn zda_gives_the_time_only_when_all_of_it_is_there() {
    says(
        "$GPZDA,201530.00,04,07,2026,00,00*66",
        &["utc 1783196130000"],
    );
    says(
        &summed("$GPZDA,201530.00,04,07,2026,,"),
        &["utc 1783196130000"],
    );
    says(&summed("$GPZDA,201530.00,,,,,"), &[]);
    says(&summed("$GPZDA,,,,,,"), &[]);
}

#[test]
fn the_clock_of_a_receiver_without_a_fix_is_not_trusted() {
    let zda = "$GPZDA,201530.00,04,07,2026,00,00*66";
    let mut decoder = strict();
    for (fix, expected) in [
        (
            "$GPRMC,001031.00,V,,,,,,,230326,,,N",
            "utc 1783196130000 without fix",
        ),
        (
            "$GPGLL,4807.038,N,01131.000,E,123519.00,A,A",
            "utc 1783196130000",
        ),
        ("$GPGGA,,,,,,0,,,,,,,,", "utc 1783196130000 without fix"),
        (
            "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A",
            "utc 1783196130000",
        ),
    ] {
        hear_with(&mut decoder, summed(fix).as_bytes());
        assert_eq!(hear_with(&mut decoder, zda.as_bytes()), [expected], "{fix}");
    }
    // Where satellite time begins, a receiver has just woken up.
    says(
        &summed("$GPZDA,000012.00,06,01,1980,00,00"),
        &["utc 315964812000 without fix"],
    );
}

#[test]
fn mda_gives_the_weather_even_when_it_is_short() {
    says(
        "$WIMDA,29.78,I,1.0085,B,17.3,C,,,64.0,,10.5,C,238.0,T,240.5,M,21.4,N,11.0,M*6F",
        &[
            "pressure 1008.5",
            "air temperature 17.3",
            "humidity 64",
            "ground wind 238 21.4",
        ],
    );
    says(
        &summed("$WIMDA,29.78,I,,,17.3,C,12.1,C"),
        &[
            "pressure 1008.4665",
            "air temperature 17.3",
            "water temperature 12.1",
        ],
    );
}

#[test]
fn depth_and_water_temperature() {
    says(&summed("$SDDPT,2.4,-0.7,"), &["depth 2.4"]);
    says(&summed("$SDDPT,2.4,0.5"), &["depth 2.4"]);
    says(&summed("$SDDPT,,"), &["depth invalid"]);
    says(&summed("$SDDBT,7.9,f,2.4,M,1.3,F"), &["depth 2.4"]);
    says(&summed("$SDDBT,10,f,,M,,F"), &["depth 3.048"]);
    says(&summed("$SDDBT,,f,,M,2,F"), &["depth 3.6576"]);
    says(&summed("$SDDBT,,f,,M,,F"), &["depth invalid"]);
    says(&summed("$YXMTW,17.9,C"), &["water temperature 17.9"]);
    says(&summed("$YXMTW,,C"), &["water temperature invalid"]);
}

#[test]
fn alerts_come_in() {
    says("$IIACK,101*55", &["acknowledge 101"]);
    says(
        "$IIACN,123522.00,,10101,1,A,C*65",
        &["command Acknowledge for 10101/Some(1)"],
    );
    says(
        &summed("$IIACN,123522.00,,10101,1,S,C"),
        &["command Silence for 10101/Some(1)"],
    );
    says(
        &summed("$IIACN,,ABC,10101,,Q,C"),
        &["command Repeat for 10101/None"],
    );
    says(
        &summed("$IIACN,123522.00,,10101,1,A,"),
        &["refused: command flag is not C"],
    );
    says("$IIHBT,60,A,3*06", &["heartbeat Some(60) Working Some(3)"]);
    says(
        "$IIALR,123519.00,101,A,V,Reef limit near*2E",
        &["alarm 101 Exceeded Unacknowledged \"Reef limit near\""],
    );
    says(
        "$IIALF,1,1,3,123519.00,B,W,V,,10101,1,1,0,Reef 2 now*45",
        &["alert 10101/Some(1) Some(ActiveUnacknowledged) \"Reef 2 now\""],
    );
    says(
        "$IIALF,2,2,3,,,,,,10101,1,1,0,Gusts 31 kn in 8 min*61",
        &["alert 10101/Some(1) None \"Gusts 31 kn in 8 min\""],
    );
    says("$IIALC,01,01,07,2,,10101,1,1,,10102,1,4*7D", &["list of 2"]);
    says("$IIALC,01,01,08,0*76", &["list of 0"]);
    says(
        "$IIARC,123522.50,,10101,1,A*13",
        &["refused Acknowledge for 10101"],
    );
}

#[test]
fn sentences_that_nobody_reads_are_named_and_do_no_harm() {
    says("$IIWIQ,MWV*2F", &["unknown IIWIQ"]);
    says(&summed("$GPGSV,1,1,00"), &["unknown GPGSV"]);
    says(&summed("!AIVDM,1,1,,A,15M67F,0"), &["unknown AIVDM"]);
    says(&summed("$PXYZ,1,2"), &["unknown PXYZ"]);
}

#[test]
fn every_reading_names_its_source() {
    use cringle_core::time::Timestamp;
    use cringle_wire::decode::Out;
    use cringle_wire::source::Source;
    let mut decoder = Decoder::new(7, PortOptions::default());
    let mut names = Vec::new();
    for line in [
        "$WIMWV,214.8,R,15.6,N,A*1E",
        "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C",
        "$PASHR,123519.000,084.40,T,+14.20,-01.35,+00.12,0.020,0.020,0.080,1,1*03",
    ] {
        decoder.decode(line.as_bytes(), Timestamp::ZERO, &mut |out| {
            if let Out::Reading(reading) = out {
                let source = Source::unpack(reading.source).unwrap();
                assert_eq!(source.pack(), Some(reading.source));
                names.push(source.to_string());
            }
        });
    }
    assert_eq!(
        names,
        [
            "WIMWV on port 7",
            "YXXDR on port 7, part 3",
            "YXXDR on port 7, part 1",
            "PASHR on port 7",
            "PASHR on port 7",
            "PASHR on port 7",
        ]
    );
}

#[test]
fn two_engines_are_two_sources() {
    use cringle_core::time::Timestamp;
    use cringle_wire::decode::Out;
    let mut sources = std::collections::BTreeSet::new();
    for engine in ["E,1", "E,2", "S,1"] {
        let line = summed(&format!("$ERRPM,{engine},2400,,A"));
        strict().decode(line.as_bytes(), Timestamp::ZERO, &mut |out| {
            if let Out::Reading(reading) = out {
                sources.insert(reading.source);
            }
        });
    }
    assert_eq!(sources.len(), 3);
}
