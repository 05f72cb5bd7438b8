//! Wind: MWV, MWD, VWR, VWT.

use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::Knots;

use super::hearing::{Hearing, Status};
use super::units::{SpeedUnit, WIND_MOST, full_circle, within};
use crate::fields::Number;
use crate::refusal::Refusal;

/// `angle, R|T, speed, unit, status`. R and T come interleaved on one wire
/// and feed two quantities. Status V counts even where values stand.
pub(crate) fn mwv(h: &mut Hearing<'_, '_>) {
    let fields = h.fields();
    let reference = fields.letter(1);
    let Some(status) = h.status(4) else { return };
    let quantity = match reference {
        Some(b'R') => Quantity::ApparentWind,
        Some(b'T') => Quantity::TrueWind,
        // The all-empty form of a sensor that lost its vane does not say
        // which of the two is gone.
        None if status == Status::Invalid => {
            h.invalid(Quantity::ApparentWind);
            h.invalid(Quantity::TrueWind);
            return;
        }
        _ => return h.refuse(Refusal::Layout),
    };
    if status == Status::Invalid {
        return h.invalid(quantity);
    }
    let Some((angle, speed)) = angle_and_speed(h, quantity) else {
        return;
    };
    let Some(unit) = h.fields().letter(3).and_then(SpeedUnit::read) else {
        return h.refuse(Refusal::Layout);
    };
    let wind = full_circle(angle).and_then(|angle| off_bow(quantity, angle, unit.knots(speed)));
    h.tell(quantity, wind);
}

/// Both numbers or neither: half a wind is none.
fn angle_and_speed(h: &mut Hearing<'_, '_>, quantity: Quantity) -> Option<(f64, f64)> {
    let angle = h.main_number(quantity, 0)?;
    let speed = h.main_number(quantity, 2)?;
    Some((angle, speed))
}

/// `direction, T, direction, M, speed, N, speed, M`: where the wind blows
/// from, over the ground.
pub(crate) fn mwd(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::GroundWind;
    let Some(speed) = any_speed(
        h,
        quantity,
        &[(4, SpeedUnit::Knots), (6, SpeedUnit::MetresASecond)],
    ) else {
        return;
    };
    if h.fields().number(0) == Number::Null && h.fields().number(2) != Number::Null {
        return h.refuse(Refusal::MagneticOnly(quantity));
    }
    let Some(direction) = h.main_number(quantity, 0) else {
        return;
    };
    let wind = ground(direction, speed);
    h.tell(quantity, wind);
}

/// The old form of apparent wind.
pub(crate) fn vwr(h: &mut Hearing<'_, '_>) {
    by_side(h, Quantity::ApparentWind);
}

/// The old form of true wind, referenced to the water.
pub(crate) fn vwt(h: &mut Hearing<'_, '_>) {
    by_side(h, Quantity::TrueWind);
}

/// `angle, L|R, speed, N, speed, M, speed, K`; L is port.
fn by_side(h: &mut Hearing<'_, '_>, quantity: Quantity) {
    let speeds = [
        (2, SpeedUnit::Knots),
        (4, SpeedUnit::MetresASecond),
        (6, SpeedUnit::KilometresAnHour),
    ];
    let Some(angle) = h.main_number(quantity, 0) else {
        return;
    };
    let Some(speed) = any_speed(h, quantity, &speeds) else {
        return;
    };
    let angle = match h.fields().letter(1) {
        Some(b'R') => angle,
        Some(b'L') => -angle,
        // Dead ahead and dead astern have no side.
        _ if angle == 0.0 || angle == 180.0 => angle,
        _ => return h.refuse(Refusal::Layout),
    };
    let wind = within(angle, 180.0).and_then(|angle| off_bow(quantity, angle, speed));
    // L and R give the side, so the angle itself has no sign.
    let signed = h.fields().text(0).first() == Some(&b'-');
    h.tell(quantity, wind.filter(|_| !signed));
}

/// The first speed that is not null, in knots. Trailing ones often are.
pub(super) fn any_speed(
    h: &mut Hearing<'_, '_>,
    quantity: Quantity,
    places: &[(usize, SpeedUnit)],
) -> Option<f64> {
    for (index, unit) in places {
        match h.fields().number(*index) {
            Number::Value(value) => return Some(unit.knots(value)),
            Number::Null => {}
            Number::Broken => {
                h.refuse(Refusal::NotANumber(quantity));
                return None;
            }
        }
    }
    h.invalid(quantity);
    None
}

fn off_bow(quantity: Quantity, angle: f64, knots: f64) -> Option<Measure> {
    let angle = BowAngle::new(angle)?;
    let speed = Knots::new(within(knots, WIND_MOST)?).ok()?;
    match quantity {
        Quantity::ApparentWind => Some(Measure::ApparentWind { angle, speed }),
        Quantity::TrueWind => Some(Measure::TrueWind { angle, speed }),
        _ => None,
    }
}

/// Wind over the ground, checked.
pub(super) fn ground(direction: f64, knots: f64) -> Option<Measure> {
    Some(Measure::GroundWind {
        direction: Bearing::new(full_circle(direction)?)?,
        speed: Knots::new(within(knots, WIND_MOST)?).ok()?,
    })
}
