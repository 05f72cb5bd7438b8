//! Speed and distance through the water: VHW, VBW, VLW.

use cringle_core::reading::{Measure, Quantity};
use cringle_core::units::{NauticalMiles, SignedKnots};

use super::heading::bearing;
use super::hearing::{Hearing, Status};
use super::units::{SPEED_MOST, SpeedUnit, within};
use super::wind::any_speed;

/// `heading, T, heading, M, speed, N, speed, K`. The headings are often null.
pub(crate) fn vhw(h: &mut Hearing<'_, '_>) {
    if let Some(heading) = h.extra_number(Quantity::HeadingTrue, 0) {
        h.tell(
            Quantity::HeadingTrue,
            bearing(heading).map(Measure::HeadingTrue),
        );
    }
    if let Some(heading) = h.extra_number(Quantity::HeadingMagnetic, 2) {
        h.tell(
            Quantity::HeadingMagnetic,
            bearing(heading).map(Measure::HeadingMagnetic),
        );
    }
    let places = [(4, SpeedUnit::Knots), (6, SpeedUnit::KilometresAnHour)];
    if let Some(knots) = any_speed(h, Quantity::WaterSpeed, &places) {
        let speed = signed_knots(knots).map(Measure::WaterSpeed);
        h.tell(Quantity::WaterSpeed, speed);
    }
}

/// `along, across, status, ...`: a two-axis log's water speeds, ahead and
/// starboard positive. The ground speeds behind them are along the keel, not
/// along a course, and feed nothing.
pub(crate) fn vbw(h: &mut Hearing<'_, '_>) {
    let Some(status) = h.status(2) else { return };
    if status == Status::Invalid {
        h.invalid(Quantity::WaterSpeed);
        h.invalid(Quantity::WaterDrift);
        return;
    }
    if let Some(along) = h.main_number(Quantity::WaterSpeed, 0) {
        let speed = signed_knots(along).map(Measure::WaterSpeed);
        h.tell(Quantity::WaterSpeed, speed);
    }
    // A single-axis log leaves this null.
    if let Some(across) = h.extra_number(Quantity::WaterDrift, 1) {
        let drift = signed_knots(across).map(Measure::WaterDrift);
        h.tell(Quantity::WaterDrift, drift);
    }
}

/// `total, N, since reset, N`: distance through the water.
pub(crate) fn vlw(h: &mut Hearing<'_, '_>) {
    let quantity = Quantity::LogDistance;
    if let Some(total) = h.main_number(quantity, 0) {
        let distance = NauticalMiles::new(total).ok();
        h.tell(quantity, distance.map(Measure::LogDistance));
    }
}

fn signed_knots(knots: f64) -> Option<SignedKnots> {
    SignedKnots::new(within(knots, SPEED_MOST)?).ok()
}
