//! Heading: HDG, HDM, HDT, THS.

use cringle_core::angle::Bearing;
use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::Degrees;

use super::hearing::{Hearing, Status, mode_status};
use super::units::{HALF_TURN, full_circle, within};
use crate::fields::Number;
use crate::refusal::Refusal;

/// `heading, deviation, E|W, variation, E|W`. With its deviation the heading
/// is magnetic; where deviation is null it is the compass's own, as null is
/// unknown and not zero.
pub(crate) fn hdg(h: &mut Hearing<'_, '_>) {
    variation(h, 3);
    let deviation = east_positive(h, Quantity::HeadingMagnetic, 1);
    let quantity = match deviation {
        Offset::Known(_) => Quantity::HeadingMagnetic,
        Offset::Null => Quantity::HeadingCompass,
        Offset::Refused => return,
    };
    if h.fields().number(0) == Number::Null && quantity == Quantity::HeadingCompass {
        // With both null it does not say which of the two is gone.
        h.invalid(Quantity::HeadingMagnetic);
    }
    let Some(heading) = h.main_number(quantity, 0) else {
        return;
    };
    let measure = bearing(heading).map(|heading| match deviation {
        Offset::Known(degrees) => Measure::HeadingMagnetic(heading.turned(degrees)),
        Offset::Null | Offset::Refused => Measure::HeadingCompass(heading),
    });
    h.tell(quantity, measure);
}

/// `heading, M`: deviation already taken out.
pub(crate) fn hdm(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::HeadingMagnetic;
    if let Some(heading) = h.main_number(quantity, 0) {
        h.tell(quantity, bearing(heading).map(Measure::HeadingMagnetic));
    }
}

/// `heading, T`.
pub(crate) fn hdt(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::HeadingTrue;
    if let Some(heading) = h.main_number(quantity, 0) {
        h.tell(quantity, bearing(heading).map(Measure::HeadingTrue));
    }
}

/// `heading, mode`: true heading with a mode that says how far to trust it.
pub(crate) fn ths(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::HeadingTrue;
    // A mode is mandatory here: null is not valid.
    let mode = h.fields().text(1);
    if mode.is_empty() || mode_status(mode) == Status::Invalid {
        return h.invalid(quantity);
    }
    hdt(h);
}

/// Variation at `index` with its letter behind it; null says nothing.
fn variation(h: &mut Hearing<'_, '_>, index: usize) {
    let quantity = Quantity::Variation;
    if let Offset::Known(degrees) = east_positive(h, quantity, index) {
        let checked = Degrees::new(degrees).ok();
        h.tell(quantity, checked.map(Measure::Variation));
    }
}

enum Offset {
    Known(f64),
    Null,
    Refused,
}

/// Degrees at `index` with E or W behind them, east positive.
fn east_positive(h: &mut Hearing<'_, '_>, quantity: Quantity, index: usize) -> Offset {
    if h.fields().text(index).is_empty() {
        return Offset::Null;
    }
    let Some(degrees) = h.extra_number(quantity, index) else {
        return Offset::Refused;
    };
    let Some(degrees) = within(degrees, HALF_TURN) else {
        h.refuse(Refusal::OutOfRange(quantity));
        return Offset::Refused;
    };
    match h.fields().letter(index + 1) {
        Some(b'E') => Offset::Known(degrees),
        Some(b'W') => Offset::Known(-degrees),
        // Zero has no side.
        None if degrees == 0.0 => Offset::Known(0.0),
        _ => {
            h.refuse(Refusal::Layout);
            Offset::Refused
        }
    }
}

/// A heading of 0 to 360 degrees.
pub(super) fn bearing(degrees: f64) -> Option<Bearing> {
    full_circle(degrees).and_then(Bearing::new)
}
