//! What the true wind is worked out from just now, and the speeds and
//! heading that go with it.

use crate::fault::Fault;
use crate::reading::{Measure, Quantity};
use crate::sense::health::course::MOST_DRIFT_DEG;
use crate::sense::health::table::StrikesOut;
use crate::time::Timestamp;
use crate::wind::{Heading, North, Vector, correct, heading, triangle};

use super::Picture;

/// What the true wind is worked out from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Basis {
    /// Apparent wind and the log.
    Water,
    /// Apparent wind and SOG for want of a log.
    Ground,
    /// A true wind that an instrument worked out.
    TrueWind,
    /// A ground wind that an instrument worked out.
    GroundWind,
    /// Nothing.
    None(Quantity),
}

impl Picture {
    /// Heel, unless it is too old or not believed.
    pub(super) fn live_heel(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::Heel, now) {
            Some(Measure::Heel(heel)) if !self.health.is_spoiling(StrikesOut::Heel, now) => {
                Some(self.corrections.heel(heel))
            }
            _ => None,
        }
    }

    pub(super) fn log_is_fouled(&self) -> bool {
        self.standstill.log_fouled(self.now).is_some()
    }

    /// Whether the boat file prefers the wind unit in use to the other one.
    pub(super) fn is_preferred(&self) -> bool {
        let rank = |source| {
            let mut slots = self.sources.slots();
            slots.find(|slot| slot.quantity == Quantity::ApparentWind && slot.source == source)
        };
        let other = self.other_unit.source().and_then(rank);
        let chosen = self.sources.chosen(Quantity::ApparentWind);
        chosen
            .zip(other)
            .is_some_and(|(chosen, other)| chosen.rank < other.rank)
    }

    pub(super) fn heading(&self) -> Option<Heading> {
        heading::heading(&self.sources, self.corrections.instruments(), self.now)
    }

    pub(super) fn basis(&self) -> Basis {
        self.basis_at(self.now)
    }

    pub(super) fn basis_at(&self, now: Timestamp) -> Basis {
        let live = |quantity| self.sources.live(quantity, now).is_some();
        let missing = if live(Quantity::ApparentWind) {
            if live(Quantity::WaterSpeed) && !self.log_is_fouled() {
                return Basis::Water;
            }
            if live(Quantity::GroundMotion) {
                return Basis::Ground;
            }
            Quantity::WaterSpeed
        } else {
            Quantity::ApparentWind
        };
        if live(Quantity::TrueWind) {
            Basis::TrueWind
        } else if live(Quantity::GroundWind) {
            Basis::GroundWind
        } else {
            Basis::None(missing)
        }
    }

    /// STW along the keel, put right.
    pub(super) fn stw(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::WaterSpeed, now) {
            Some(Measure::WaterSpeed(stw)) => Some(self.corrections.stw(stw.get())),
            _ => None,
        }
    }

    /// Leeway from both axes of a log, else from steady heel.
    pub(super) fn leeway(&self, stw: f64, now: Timestamp) -> f64 {
        if let Some(Measure::WaterDrift(drift)) = self.sources.live(Quantity::WaterDrift, now)
            && stw >= correct::LEAST_LEEWAY_STW_KN
        {
            return correct::drift_deg(stw, self.corrections.stw(drift.get()))
                .clamp(-correct::MOST_LEEWAY_DEG, correct::MOST_LEEWAY_DEG);
        }
        let heel = self
            .live_heel(now)
            .and_then(|_| self.steady_heel.get())
            .map(|steady| steady.x);
        self.corrections.leeway_deg(heel, stw)
    }

    pub(super) fn water_velocity(&self) -> Option<Vector> {
        let stw = self.stw(self.now)?;
        Some(triangle::through_water(stw, self.leeway(stw, self.now)))
    }

    /// Over the ground in compass axes; a course is needed to tell it.
    pub(super) fn ground_velocity(&self) -> Option<Vector> {
        match self.sources.live(Quantity::GroundMotion, self.now) {
            Some(Measure::GroundMotion {
                speed,
                course: Some(course),
            }) => Some(Vector::polar(speed.get(), course.degrees())),
            // Lying still, no course is needed.
            Some(Measure::GroundMotion { speed, .. }) if speed.get() < 0.5 => {
                Some(Vector::default())
            }
            _ => None,
        }
    }

    /// SOG in boat axes for want of a log: with its drift where course and
    /// true heading tell it, else along the keel.
    pub(super) fn ground_for_water(&self, heading: Option<Heading>) -> Option<Vector> {
        let Some(Measure::GroundMotion { speed, course }) =
            self.sources.live(Quantity::GroundMotion, self.now)
        else {
            return None;
        };
        let drift = match (course, heading) {
            (Some(course), Some(heading)) if heading.north == North::True => {
                course.from_bearing(heading.bearing)
            }
            _ => 0.0,
        };
        // Drift that is no drift: a wrong heading, or she is turning.
        let is_wrong = self.is_doubted(Fault::HeadingAgainstCourse) || drift.abs() > MOST_DRIFT_DEG;
        let off_bow = if is_wrong { 0.0 } else { drift };
        Some(Vector::polar(speed.get(), off_bow))
    }
}
