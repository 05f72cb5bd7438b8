//! Navigation, time, weather and depth, through the `nmea` crate: RMC, GGA,
//! GLL, VTG, ZDA, MDA, MTW, DPT; and DBT, which it does not read.
//!
//! What that crate leaves open is closed here: it accepts any finite or
//! infinite number, latitude 99 included, does not see VTG's mode or km/h,
//! refuses a short MDA, and refuses all of DPT for a keel offset.

use core::ops::RangeInclusive;
use core::str;

use chrono::{Datelike, NaiveDateTime};
use cringle_core::angle::Bearing;
use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::{Celsius, Degrees, Hectopascals, Knots, Metres, Percent, Position};
use nmea::sentences::rmc::{RmcData, RmcStatusOfFix};
use nmea::sentences::{
    FixType, GgaData, MdaData, ZdaData, parse_dpt, parse_gga, parse_gll, parse_mda, parse_mtw,
    parse_rmc, parse_vtg, parse_zda,
};
use nmea::{NmeaSentence, SentenceType};

use super::hearing::{Hearing, Status, mode_status};
use super::units::{HALF_TURN, HPA_PER_INHG, SPEED_MOST, SpeedUnit, full_circle, within};
use super::wind::ground;
use super::{Out, Trust};
use crate::fields::{Fields, Number};
use crate::frame::LINE_CAPACITY;
use crate::refusal::Refusal;

/// Position, speed and course, variation, date and time. V and mode N (and
/// estimated, manual, simulated) make position and motion invalid; variation
/// comes from a model in the receiver and is taken only with a fix.
pub(crate) fn rmc(h: &mut Hearing<'_, '_>) {
    let Some(Ok(data)) = body(h).map(|body| parse_rmc(input(SentenceType::RMC, body))) else {
        return h.refuse(Refusal::Layout);
    };
    let status = rmc_status(h, &data);
    *h.fix = Some(status);
    if let (Some(date), Some(time)) = (data.fix_date, data.fix_time) {
        utc(h, date.and_time(time), status);
    }
    if status == Status::Invalid {
        h.invalid(Quantity::Position);
        h.invalid(Quantity::GroundMotion);
        return;
    }
    position(h, (2, 4), data.lat, data.lon);
    motion(h, data.speed_over_ground, data.true_course);
    if let Some(east) = data.magnetic_variation {
        let checked = within(plain(east), HALF_TURN).and_then(|east| Degrees::new(east).ok());
        h.tell(Quantity::Variation, checked.map(Measure::Variation));
    }
}

fn rmc_status(h: &Hearing<'_, '_>, data: &RmcData) -> Status {
    // The navigational status of 4.1 is not judged: many receivers state V
    // there, "not provided", beside a good fix.
    if data.status_of_fix == RmcStatusOfFix::Invalid {
        return Status::Invalid;
    }
    mode_status(h.fields().text(11))
}

/// Position by quality: none, estimated, manual and simulated are invalid.
pub(crate) fn gga(h: &mut Hearing<'_, '_>) {
    let Some(Ok(data)) = body(h).map(|body| parse_gga(input(SentenceType::GGA, body))) else {
        return h.refuse(Refusal::Layout);
    };
    let GgaData {
        fix_type,
        latitude,
        longitude,
        ..
    } = data;
    let measured = fix_type.is_some_and(FixType::is_valid);
    believe(h, measured, |h| position(h, (1, 3), latitude, longitude));
}

/// Fields in a whole GLL; before 2.3 it had no mode.
const GLL_FIELDS: usize = 7;

/// Position with a status and, from 2.3 on, a mode.
pub(crate) fn gll(h: &mut Hearing<'_, '_>) {
    let padded = padded(h.fields(), GLL_FIELDS);
    let data = text(&padded).map(|text| parse_gll(input(SentenceType::GLL, text)));
    let Some(Ok(data)) = data else {
        return h.refuse(Refusal::Layout);
    };
    let measured = data.valid && mode_status(h.fields().text(6)) == Status::Valid;
    believe(h, measured, |h| {
        position(h, (0, 2), data.latitude, data.longitude)
    });
}

/// Speed and course over the ground. The old form has no unit letters.
pub(crate) fn vtg(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::GroundMotion;
    let mode = h.fields().text(8);
    if mode_status(mode) == Status::Invalid {
        return h.invalid(quantity);
    }
    if h.fields().letter(1) != Some(b'T') && h.fields().len() < 8 {
        return old_vtg(h);
    }
    let Some(Ok(data)) = body(h).map(|body| parse_vtg(input(SentenceType::VTG, body))) else {
        return h.refuse(Refusal::Layout);
    };
    let from_kmh = || {
        let kmh = h.fields().number(6).value()?;
        Some(SpeedUnit::KilometresAnHour.knots(kmh) as f32)
    };
    let speed = data.speed_over_ground.or_else(from_kmh);
    motion(h, speed, data.true_course);
}

/// `course true, course magnetic, knots, km/h`.
fn old_vtg(h: &mut Hearing<'_, '_>) {
    let course = h.fields().number(0).value().map(|value| value as f32);
    let speed = h.fields().number(2).value().map(|value| value as f32);
    motion(h, speed, course);
}

/// Date and time of day. It has no status of its own, and a receiver without
/// a fix sends its own clock's: so it is trusted unless the receiver last said
/// that it has no fix.
pub(crate) fn zda(h: &mut Hearing<'_, '_>) {
    let Some(Ok(data)) = body(h).map(|body| parse_zda(input(SentenceType::ZDA, body))) else {
        return h.refuse(Refusal::Layout);
    };
    if let Some(moment) = ZdaData::utc_date_time(&data) {
        let status = h.fix.unwrap_or(Status::Valid);
        utc(h, moment, status);
    }
}

/// Fields in a whole MDA.
const MDA_FIELDS: usize = 20;

/// The weather in one sentence; a short one is read as far as it goes.
pub(crate) fn mda(h: &mut Hearing<'_, '_>) {
    let padded = padded(h.fields(), MDA_FIELDS);
    match text(&padded).map(|text| parse_mda(input(SentenceType::MDA, text))) {
        Some(Ok(data)) => weather(h, &data),
        _ => h.refuse(Refusal::Layout),
    }
}

fn weather(h: &mut Hearing<'_, '_>, data: &MdaData) {
    let bar = data.pressure_bar.map(|bar| plain(bar) * 1000.0);
    let inches = data
        .pressure_in_hg
        .map(|inches| plain(inches) * HPA_PER_INHG);
    if let Some(pressure) = bar.or(inches) {
        let checked = Hectopascals::new(pressure).ok();
        h.tell(Quantity::Pressure, checked.map(Measure::Pressure));
    }
    if let Some(air) = data.air_temp_deg {
        let checked = Celsius::new(plain(air)).ok();
        h.tell(
            Quantity::AirTemperature,
            checked.map(Measure::AirTemperature),
        );
    }
    if let Some(water) = data.water_temp_deg {
        water_temperature(h, plain(water));
    }
    if let Some(humidity) = data.rel_humidity {
        let checked = Percent::new(plain(humidity)).ok();
        h.tell(Quantity::Humidity, checked.map(Measure::Humidity));
    }
    let knots = data.wind_speed_knots.map(plain);
    let metres = data
        .wind_speed_ms
        .map(|speed| SpeedUnit::MetresASecond.knots(plain(speed)));
    if let (Some(direction), Some(speed)) = (data.wind_direction_true, knots.or(metres)) {
        h.tell(Quantity::GroundWind, ground(plain(direction), speed));
    }
}

/// Water temperature.
pub(crate) fn mtw(h: &mut Hearing<'_, '_>) {
    match body(h).map(|body| parse_mtw(input(SentenceType::MTW, body))) {
        Some(Ok(data)) => match data.temperature {
            Some(temperature) => water_temperature(h, temperature),
            None => h.invalid(Quantity::WaterTemperature),
        },
        _ => h.refuse(Refusal::Layout),
    }
}

fn water_temperature(h: &mut Hearing<'_, '_>, degrees: f64) {
    let checked = Celsius::new(degrees).ok();
    h.tell(
        Quantity::WaterTemperature,
        checked.map(Measure::WaterTemperature),
    );
}

/// `depth below the transducer, offset, range`. Only the depth is handed on,
/// as a negative offset (to the keel) would cost the whole sentence.
pub(crate) fn dpt(h: &mut Hearing<'_, '_>) {
    let only_depth = body(h).map(|body| match body.find(',') {
        Some(comma) => body.get(..=comma).unwrap_or(body),
        None => body,
    });
    match only_depth.map(|body| parse_dpt(input(SentenceType::DPT, body))) {
        Some(Ok(data)) => match data.water_depth {
            Some(depth) => h.tell(Quantity::Depth, Metres::new(depth).ok().map(Measure::Depth)),
            None => h.invalid(Quantity::Depth),
        },
        _ => h.refuse(Refusal::Layout),
    }
}

/// Metres in a foot, exactly.
const METRES_PER_FOOT: f64 = 0.3048;

/// `depth, f, depth, M, depth, F`: feet, metres, fathoms.
pub(crate) fn dbt(h: &mut Hearing<'_, '_>) {
    for (index, metres) in [(2, 1.0), (0, METRES_PER_FOOT), (4, 6.0 * METRES_PER_FOOT)] {
        match h.fields().number(index) {
            Number::Null => {}
            Number::Broken => return h.refuse(Refusal::NotANumber(Quantity::Depth)),
            Number::Value(depth) => {
                let depth = Metres::new(depth * metres).ok();
                return h.tell(Quantity::Depth, depth.map(Measure::Depth));
            }
        }
    }
    h.invalid(Quantity::Depth);
}

/// The sentence's fields for the `nmea` crate, which reads text only.
fn body<'s>(h: &Hearing<'_, 's>) -> Option<&'s str> {
    text(h.fields().body())
}

fn text(bytes: &[u8]) -> Option<&str> {
    str::from_utf8(bytes).ok().filter(|text| text.is_ascii())
}

/// A line's fields, and the commas that a short one lacks.
type Padded = heapless::Vec<u8, { LINE_CAPACITY + MDA_FIELDS }>;

/// The sentence's fields filled up with empty ones, as the `nmea` crate wants
/// them all.
fn padded(fields: &Fields<'_>, whole: usize) -> Padded {
    let mut padded = Padded::new();
    // A line is never longer than the liner's buffer; one that is stays short
    // and is refused.
    let _ = padded.extend_from_slice(fields.body());
    for _ in fields.len()..whole {
        let _ = padded.push(b',');
    }
    padded
}

/// The crate's own parsers look at neither talker nor checksum: both were
/// checked before.
fn input(message_id: SentenceType, data: &str) -> NmeaSentence<'_> {
    NmeaSentence {
        talker_id: "",
        message_id,
        data,
        checksum: 0,
    }
}

/// The decimal number that an f32 of the crate was read from: five places are
/// more than any sentence here means.
fn plain(value: f32) -> f64 {
    libm::round(f64::from(value) * 1e5) / 1e5
}

fn position(
    h: &mut Hearing<'_, '_>,
    (north, east): (usize, usize),
    latitude: Option<f64>,
    longitude: Option<f64>,
) {
    let minutes_fit = minutes_fit(h, north) && minutes_fit(h, east);
    match latitude.zip(longitude) {
        Some((latitude, longitude)) => {
            let checked = Position::new(latitude, longitude).ok();
            let checked = checked.filter(|_| minutes_fit);
            h.tell(Quantity::Position, checked.map(Measure::Position));
        }
        None => h.invalid(Quantity::Position),
    }
}

/// Whether the minutes of `dddmm.mmm` are below 60: the crate carries them
/// over into degrees.
fn minutes_fit(h: &Hearing<'_, '_>, index: usize) -> bool {
    h.fields()
        .number(index)
        .value()
        .is_some_and(|angle| libm::fmod(angle, 100.0) < 60.0)
}

fn motion(h: &mut Hearing<'_, '_>, speed: Option<f32>, course: Option<f32>) {
    let quantity = Quantity::GroundMotion;
    match speed {
        Some(speed) => {
            let motion = checked_motion(plain(speed), course.map(plain));
            h.tell(quantity, motion);
        }
        None => h.invalid(quantity),
    }
}

fn checked_motion(speed: f64, course: Option<f64>) -> Option<Measure> {
    let course = match course {
        Some(course) => Some(Bearing::new(full_circle(course)?)?),
        None => None,
    };
    Some(Measure::GroundMotion {
        speed: Knots::new(within(speed, SPEED_MOST)?).ok()?,
        course,
    })
}

/// Remembers whether there is a fix, and gives its position if so.
fn believe(h: &mut Hearing<'_, '_>, measured: bool, position: impl FnOnce(&mut Hearing<'_, '_>)) {
    if measured {
        *h.fix = Some(Status::Valid);
        position(h);
    } else {
        *h.fix = Some(Status::Invalid);
        h.invalid(Quantity::Position);
    }
}

/// Years in which a recording may have been made. Receivers that just woke up
/// are often in 1980, where their system's time begins.
const YEARS: RangeInclusive<i32> = 1990..=2100;

fn utc(h: &mut Hearing<'_, '_>, moment: NaiveDateTime, status: Status) {
    let trust = match status {
        Status::Valid if YEARS.contains(&moment.year()) => Trust::Valid,
        Status::Valid | Status::Invalid => Trust::NoFix,
    };
    h.out(Out::Utc {
        unix_ms: moment.and_utc().timestamp_millis(),
        trust,
    });
}
