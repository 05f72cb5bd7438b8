//! Writes NMEA 0183 sentences, apart from the writer under test.
//!
//! Field order after the open references of the standard; `None` leaves a
//! field empty. Angles in degrees, speeds in knots, as on the wire.

use core::fmt::Write;

use crate::calendar::Utc;
use crate::maths::MS_PER_KN;

/// Kilometres an hour in a knot.
const KMH_PER_KN: f64 = 1.852;

/// Adds `$`, checksum and line end to a body.
pub fn seal(body: &str) -> Vec<u8> {
    let sum = body.bytes().fold(0u8, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n").into_bytes()
}

/// An angle 0 to 360 that never rounds up to 360.
fn circle(degrees: f64, decimals: usize) -> String {
    let scale = libm::pow(10.0, decimals as f64);
    let steps = libm::floor(degrees * scale + 0.5);
    let turn = 360.0 * scale;
    let within = (steps - turn * libm::floor(steps / turn)) / scale;
    format!("{within:0width$.decimals$}", width = width(3, decimals))
}

fn width(whole: usize, decimals: usize) -> usize {
    if decimals == 0 {
        whole
    } else {
        whole + 1 + decimals
    }
}

/// Apparent or true wind by the bow: `reference` is R or T, speed in knots.
pub fn mwv(talker: &str, reference: char, wind: Option<(f64, f64)>, decimals: usize) -> Vec<u8> {
    let body = match wind {
        Some((angle_deg, speed_kn)) => format!(
            "{talker}MWV,{},{reference},{speed_kn:.decimals$},N,A",
            circle(angle_deg, decimals)
        ),
        None => format!("{talker}MWV,,{reference},,N,V"),
    };
    seal(&body)
}

/// Wind by the bow in the old form: `formatter` is VWR or VWT.
pub fn vwr(talker: &str, formatter: &str, angle_deg: f64, speed_kn: f64) -> Vec<u8> {
    let side = if angle_deg < 0.0 { 'L' } else { 'R' };
    seal(&format!(
        "{talker}{formatter},{:05.1},{side},{speed_kn:.1},N,{:.1},M,{:.1},K",
        angle_deg.abs(),
        speed_kn * MS_PER_KN,
        speed_kn * KMH_PER_KN
    ))
}

/// Wind by the compass rose.
pub fn mwd(talker: &str, true_deg: f64, magnetic_deg: f64, speed_kn: f64) -> Vec<u8> {
    seal(&format!(
        "{talker}MWD,{},T,{},M,{speed_kn:.1},N,{:.1},M",
        circle(true_deg, 1),
        circle(magnetic_deg, 1),
        speed_kn * MS_PER_KN
    ))
}

/// Speed through the water, with no heading.
pub fn vhw(talker: &str, speed_kn: f64, decimals: usize) -> Vec<u8> {
    seal(&format!(
        "{talker}VHW,,T,,M,{speed_kn:.decimals$},N,{:.decimals$},K",
        speed_kn * KMH_PER_KN
    ))
}

/// Magnetic sensor heading with the variation known aboard.
pub fn hdg(talker: &str, sensor_deg: f64, variation_deg: f64) -> Vec<u8> {
    seal(&format!(
        "{talker}HDG,{},,,{:.1},{}",
        circle(sensor_deg, 1),
        variation_deg.abs(),
        east_west(variation_deg)
    ))
}

/// Magnetic heading.
pub fn hdm(talker: &str, magnetic_deg: f64) -> Vec<u8> {
    seal(&format!("{talker}HDM,{},M", circle(magnetic_deg, 1)))
}

/// True heading.
pub fn hdt(talker: &str, true_deg: f64, decimals: usize) -> Vec<u8> {
    seal(&format!("{talker}HDT,{},T", circle(true_deg, decimals)))
}

/// Rate of turn in degrees a minute, starboard positive.
pub fn rot(talker: &str, deg_per_min: f64) -> Vec<u8> {
    seal(&format!("{talker}ROT,{deg_per_min:.1},A"))
}

/// One transducer value.
#[derive(Clone, Copy, Debug)]
pub struct Transducer<'a> {
    /// Type letter: A angle, P pressure.
    pub kind: char,
    /// Value in `unit`.
    pub value: f64,
    /// Digits after the point.
    pub decimals: usize,
    /// Unit letter: D degrees, B bar, P pascal.
    pub unit: char,
    /// Its name.
    pub name: &'a str,
}

/// Any number of transducer values.
pub fn xdr(talker: &str, values: &[Transducer<'_>]) -> Vec<u8> {
    let mut body = format!("{talker}XDR");
    for value in values {
        let decimals = value.decimals;
        // Writing to a string cannot fail.
        let _ = write!(
            body,
            ",{},{:.decimals$},{},{}",
            value.kind, value.value, value.unit, value.name
        );
    }
    seal(&body)
}

/// Attitude in the maker-neutral proprietary form: roll and pitch in degrees.
pub fn pashr(utc: &Utc, heading_deg: f64, roll_deg: f64, pitch_deg: f64) -> Vec<u8> {
    seal(&format!(
        "PASHR,{},{},T,{roll_deg:+06.2},{pitch_deg:+06.2},+00.00,0.020,0.020,0.080,1,1",
        clock(utc),
        circle(heading_deg, 2)
    ))
}

/// A position fix.
#[derive(Clone, Copy, Debug)]
pub struct Fix {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
    /// Speed over ground, knots.
    pub sog_kn: f64,
    /// Course over ground, true.
    pub cog_deg: f64,
    /// East positive.
    pub variation_deg: f64,
}

/// Recommended minimum of a fix; `None` is no fix.
pub fn rmc(talker: &str, utc: &Utc, fix: Option<&Fix>) -> Vec<u8> {
    let body = match fix {
        Some(fix) => format!(
            "{talker}RMC,{},A,{},{},{:.1},{},{},{:.1},{},A",
            clock(utc),
            latitude(fix.latitude_deg),
            longitude(fix.longitude_deg),
            fix.sog_kn,
            circle(fix.cog_deg, 1),
            date(utc),
            fix.variation_deg.abs(),
            east_west(fix.variation_deg)
        ),
        None => format!("{talker}RMC,{},V,,,,,,,{},,,N", clock(utc), date(utc)),
    };
    seal(&body)
}

/// Course and speed over ground.
pub fn vtg(talker: &str, fix: &Fix) -> Vec<u8> {
    seal(&format!(
        "{talker}VTG,{},T,{},M,{:.1},N,{:.1},K,A",
        circle(fix.cog_deg, 1),
        circle(fix.cog_deg - fix.variation_deg, 1),
        fix.sog_kn,
        fix.sog_kn * KMH_PER_KN
    ))
}

/// Time and date.
pub fn zda(talker: &str, utc: &Utc) -> Vec<u8> {
    seal(&format!(
        "{talker}ZDA,{},{:02},{:02},{:04},00,00",
        clock(utc),
        utc.day,
        utc.month,
        utc.year
    ))
}

fn clock(utc: &Utc) -> String {
    format!("{:02}{:02}{:05.2}", utc.hour, utc.minute, utc.second)
}

fn date(utc: &Utc) -> String {
    format!(
        "{:02}{:02}{:02}",
        utc.day,
        utc.month,
        utc.year.rem_euclid(100)
    )
}

fn latitude(degrees: f64) -> String {
    let hemisphere = if degrees < 0.0 { 'S' } else { 'N' };
    let (whole, minutes) = degrees_minutes(degrees);
    format!("{whole:02}{minutes},{hemisphere}")
}

fn longitude(degrees: f64) -> String {
    let (whole, minutes) = degrees_minutes(degrees);
    format!("{whole:03}{minutes},{}", east_west(degrees))
}

fn degrees_minutes(degrees: f64) -> (i64, String) {
    let ten_thousandths = libm::floor(degrees.abs() * 600_000.0 + 0.5) as i64;
    let whole = ten_thousandths / 600_000;
    let minutes = (ten_thousandths % 600_000) as f64 / 10_000.0;
    (whole, format!("{minutes:07.4}"))
}

fn east_west(degrees: f64) -> char {
    if degrees < 0.0 { 'W' } else { 'E' }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn assert_line(bytes: Vec<u8>, expected: &str) {
        assert_eq!(String::from_utf8_lossy(&bytes), format!("{expected}\r\n"));
    }

    // Lines and sums worked out by hand from the open field references.
    #[test]
    fn sentences_match_lines_worked_out_elsewhere() {
        let utc = Utc {
            year: 2026,
            month: 7,
            day: 4,
            hour: 20,
            minute: 15,
            second: 30.0,
        };
        assert_line(
            mwv("WI", 'R', Some((214.8, 15.6)), 1),
            "$WIMWV,214.8,R,15.6,N,A*1E",
        );
        assert_line(
            mwv("WI", 'T', Some((33.0, 12.4)), 1),
            "$WIMWV,033.0,T,12.4,N,A*12",
        );
        assert_line(mwv("WI", 'R', None, 1), "$WIMWV,,R,,N,V*34");
        assert_line(
            vwr("II", "VWR", -45.0, 17.8),
            "$IIVWR,045.0,L,17.8,N,9.2,M,33.0,K*53",
        );
        assert_line(
            vwr("II", "VWT", 68.0, 14.0),
            "$IIVWT,068.0,R,14.0,N,7.2,M,25.9,K*4F",
        );
        assert_line(
            mwd("WI", 302.4, 289.6, 10.5),
            "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M*6F",
        );
        assert_line(hdg("HC", 98.3, -12.6), "$HCHDG,098.3,,,12.6,W*0C");
        assert_line(hdm("HC", 98.3), "$HCHDM,098.3,M*2B");
        assert_line(hdt("HE", 85.7, 1), "$HEHDT,085.7,T*25");
        assert_line(rot("TI", -12.5), "$TIROT,-12.5,A*20");
        assert_line(zda("GP", &utc), "$GPZDA,201530.00,04,07,2026,00,00*66");
        let angle = |value, name| Transducer {
            kind: 'A',
            value,
            decimals: 1,
            unit: 'D',
            name,
        };
        assert_line(
            xdr("YX", &[angle(-3.2, "PTCH"), angle(18.4, "ROLL")]),
            "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C",
        );
    }

    #[test]
    fn a_fix_is_written_in_degrees_and_minutes() {
        let utc = Utc {
            year: 2026,
            month: 3,
            day: 23,
            hour: 12,
            minute: 35,
            second: 19.0,
        };
        let fix = Fix {
            latitude_deg: 48.0 + 7.038 / 60.0,
            longitude_deg: -(11.0 + 31.0 / 60.0),
            sog_kn: 6.4,
            cog_deg: 84.4,
            variation_deg: -3.1,
        };
        let line = String::from_utf8_lossy(&rmc("GP", &utc, Some(&fix))).into_owned();
        let body = "GPRMC,123519.00,A,4807.0380,N,01131.0000,W,6.4,084.4,230326,3.1,W,A";
        assert!(line.starts_with(&format!("${body}*")), "{line}");
        assert!(rmc("GP", &utc, None).starts_with(b"$GPRMC,123519.00,V,,,,,,,230326,,,N*"));
    }

    #[test]
    fn no_angle_is_ever_written_as_360() {
        assert_eq!(circle(359.97, 1), "000.0");
        assert_eq!(circle(-0.04, 1), "000.0");
        assert_eq!(circle(359.4, 0), "359");
        assert_eq!(circle(-90.0, 1), "270.0");
    }
}
