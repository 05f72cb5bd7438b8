//! Heel, pitch and the weather's transducers: XDR, PASHR.

use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::{Celsius, Degrees, Hectopascals, Percent};

use super::heading::bearing;
use super::hearing::Hearing;
use super::units::{HEEL_MOST, QUARTER_TURN, within};
use crate::fields::Number;
use crate::refusal::Refusal;
use crate::transducer::{Kind, PASHR_PITCH, PASHR_ROLL, Sign};

/// `type, value, unit, name`, repeated. Names that are not mapped say nothing.
pub(crate) fn xdr(h: &mut Hearing<'_, '_>) {
    let count = h.fields().len();
    let whole = count / 4;
    for group in 0..whole {
        transducer(h, group * 4);
    }
    // A trailing comma is common; a part of a group is a cut line.
    let rest_is_empty = (whole * 4..count).all(|index| h.fields().text(index).is_empty());
    if whole == 0 || !rest_is_empty {
        h.refuse(Refusal::Layout);
    }
}

fn transducer(h: &mut Hearing<'_, '_>, first: usize) {
    let name = h.fields().text(first + 3);
    let Some((place, feeds, sign)) = h.transducers.find(name) else {
        return;
    };
    let Some(quantity) = feeds else { return };
    h.part = place;
    let kind = h.fields().letter(first).and_then(Kind::read);
    if kind != Kind::of(quantity) {
        return h.refuse(Refusal::Layout);
    }
    let Some(value) = h.main_number(quantity, first + 1) else {
        return;
    };
    let unit = h.fields().text(first + 2);
    match kind.and_then(|kind| kind.convert(value, unit)) {
        Some(value) => {
            let measure = measure(quantity, sign.apply(value));
            h.tell(quantity, measure);
        }
        None => h.refuse(Refusal::Layout),
    }
}

/// `UTC, heading, T, roll, pitch, heave, accuracies..., flags`. The flags
/// differ by maker and are not judged. A second, older field order has no T
/// in its third field and is refused.
pub(crate) fn pashr(h: &mut Hearing<'_, '_>) {
    if h.fields().letter(2) != Some(b'T') {
        return h.refuse(Refusal::Layout);
    }
    if let Some(heading) = h.extra_number(Quantity::HeadingTrue, 1) {
        h.tell(
            Quantity::HeadingTrue,
            bearing(heading).map(Measure::HeadingTrue),
        );
    }
    motion_angle(h, PASHR_ROLL, 3);
    motion_angle(h, PASHR_PITCH, 4);
}

fn motion_angle(h: &mut Hearing<'_, '_>, name: &str, index: usize) {
    let Some((_, Some(quantity), sign)) = h.transducers.find(name.as_bytes()) else {
        return;
    };
    if h.fields().number(index) == Number::Null {
        return h.invalid(quantity);
    }
    if let Some(angle) = h.main_number(quantity, index) {
        let measure = measure(quantity, Sign::apply(sign, angle));
        h.tell(quantity, measure);
    }
}

fn measure(quantity: Quantity, value: f64) -> Option<Measure> {
    match quantity {
        Quantity::Heel => degrees(value, HEEL_MOST).map(Measure::Heel),
        Quantity::Pitch => degrees(value, QUARTER_TURN).map(Measure::Pitch),
        Quantity::Rudder => degrees(value, QUARTER_TURN).map(Measure::Rudder),
        Quantity::Pressure => Hectopascals::new(value).ok().map(Measure::Pressure),
        Quantity::AirTemperature => Celsius::new(value).ok().map(Measure::AirTemperature),
        Quantity::WaterTemperature => Celsius::new(value).ok().map(Measure::WaterTemperature),
        Quantity::Humidity => Percent::new(value).ok().map(Measure::Humidity),
        _ => None,
    }
}

fn degrees(value: f64, most: f64) -> Option<Degrees> {
    Degrees::new(within(value, most)?).ok()
}
