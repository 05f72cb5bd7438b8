//! Motion and machinery: ROT, RSA, RPM.

use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::{Degrees, DegreesPerMinute, Rpm};

use super::hearing::{Hearing, Status};
use super::units::{QUARTER_TURN, within};
use crate::fields::whole;

/// `degrees a minute, status`; bow to port is negative.
pub(crate) fn rot(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::TurnRate;
    match h.status(1) {
        None => {}
        Some(Status::Invalid) => h.invalid(quantity),
        Some(Status::Valid) => {
            if let Some(rate) = h.main_number(quantity, 0) {
                let rate = DegreesPerMinute::new(rate).ok();
                h.tell(quantity, rate.map(Measure::TurnRate));
            }
        }
    }
}

/// `starboard or single rudder, status, port rudder, status`; an angle that
/// turns the bow to port is negative. The port rudder speaks where the
/// starboard one is invalid.
pub(crate) fn rsa(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::Rudder;
    let Some(single) = h.status(1) else { return };
    let index = match (single, h.fields().text(3)) {
        (Status::Valid, _) => 0,
        (Status::Invalid, b"A" | b"a") => 2,
        (Status::Invalid, _) => return h.invalid(quantity),
    };
    if let Some(angle) = h.main_number(quantity, index) {
        let angle = within(angle, QUARTER_TURN).and_then(|angle| Degrees::new(angle).ok());
        h.tell(quantity, angle.map(Measure::Rudder));
    }
}

/// Parts of a source below this are engines, from it on shafts.
const SHAFT_PARTS: u8 = 16;

/// `S shaft or E engine, number, turns a minute, pitch, status`. Each engine
/// and shaft is a source of its own.
pub(crate) fn rpm(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::EngineTurns;
    let number = whole(h.fields().text(1), 2).unwrap_or(0).min(15) as u8;
    h.part = match h.fields().letter(0) {
        Some(b'S') => SHAFT_PARTS + number,
        _ => number,
    };
    match h.status(4) {
        None => {}
        Some(Status::Invalid) => h.invalid(quantity),
        Some(Status::Valid) => {
            if let Some(turns) = h.main_number(quantity, 2) {
                h.tell(quantity, Rpm::new(turns).ok().map(Measure::EngineTurns));
            }
        }
    }
}
