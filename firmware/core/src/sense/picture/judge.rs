//! Which faults stand, once a second, and when each began and ended.

use heapless::Vec;

use crate::event::FaultTurn;
use crate::fault::Fault;
use crate::reading::Quantity;
use crate::time::Timestamp;
use crate::wind::North;

use super::basis::Basis;
use super::{FAULTS, Picture, Turn};

/// What was never heard is missed only after this, so that instruments have
/// time to wake up.
const GRACE_S: f64 = 60.0;

/// A spike is shown for so long after it.
const SPIKE_SHOWN_S: f64 = 60.0;

/// What is missed when it was heard and no longer is, most needed first.
const MISSED: [Quantity; 10] = [
    Quantity::ApparentWind,
    Quantity::Heel,
    Quantity::WaterSpeed,
    Quantity::HeadingTrue,
    Quantity::HeadingMagnetic,
    Quantity::HeadingCompass,
    Quantity::GroundMotion,
    Quantity::Pressure,
    Quantity::Rudder,
    Quantity::Pitch,
];

impl Picture {
    /// What is wrong now, most needed first.
    pub fn faults(&self) -> impl Iterator<Item = Fault> {
        self.faults.iter().copied()
    }

    pub(super) fn judge_faults(&mut self, now: Timestamp) {
        let mut standing: Vec<Fault, FAULTS> = Vec::new();
        // A full list drops what is needed least.
        self.find_faults(now, |fault| {
            let _ = standing.push(fault);
        });
        let before = core::mem::replace(&mut self.faults, standing);
        for fault in &before {
            if !self.faults.contains(fault) {
                self.tell(Turn::Fault(*fault, FaultTurn::Ended));
            }
        }
        for place in 0..self.faults.len() {
            if let Some(fault) = self.faults.get(place).copied()
                && !before.contains(&fault)
            {
                self.tell(Turn::Fault(fault, FaultTurn::Began));
            }
        }
    }

    fn find_faults(&self, now: Timestamp, mut found: impl FnMut(Fault)) {
        let awake = self
            .started
            .is_some_and(|started| now.secs_since(started) >= GRACE_S);
        for quantity in MISSED {
            if let Some(fault) = self.missing(quantity, now) {
                found(fault);
            }
        }
        match self.basis_at(now) {
            Basis::Water => {}
            Basis::Ground if awake || self.doubts.log_is_fouled() => found(Fault::NoWaterSpeed),
            Basis::TrueWind | Basis::GroundWind if awake => found(Fault::TrueWindOnly),
            Basis::None(quantity) if awake && self.sources.last_valid(quantity).is_none() => {
                found(Fault::Lost(quantity));
            }
            Basis::Ground | Basis::TrueWind | Basis::GroundWind | Basis::None(_) => {}
        }
        if self.is_doubted(Fault::CupsSlow) {
            found(Fault::CupsSlow);
        }
        if self.is_doubted(Fault::VaneStuck) {
            found(Fault::VaneStuck);
        }
        for quantity in [
            Quantity::ApparentWind,
            Quantity::Heel,
            Quantity::Pitch,
            Quantity::WaterSpeed,
            Quantity::HeadingTrue,
            Quantity::HeadingMagnetic,
            Quantity::HeadingCompass,
        ] {
            if self.is_gating(quantity, now) {
                found(Fault::Spikes(quantity));
            }
        }
        match self.heading() {
            Some(heading) if heading.north == North::Magnetic => found(Fault::NoVariation),
            None if awake => found(Fault::NoHeading),
            _ => {}
        }
        let heel = self.sources.live(Quantity::Heel, now).is_some();
        if awake
            && self.corrections.wants_heel()
            && self.sources.last_valid(Quantity::Heel).is_none()
        {
            found(Fault::Lost(Quantity::Heel));
        }
        if awake && heel && self.corrections.wants_motion() && !self.heel.is_quick() {
            found(Fault::SlowHeel);
        }
        for quantity in Quantity::ALL {
            if self.sources.is_disputed(quantity) {
                found(Fault::Disagree(quantity));
            }
        }
    }

    fn missing(&self, quantity: Quantity, now: Timestamp) -> Option<Fault> {
        if self.sources.live(quantity, now).is_some() {
            return None;
        }
        if self.sources.is_invalid(quantity, now) {
            return Some(Fault::Invalid(quantity));
        }
        self.sources
            .last_valid(quantity)
            .map(|_| Fault::Lost(quantity))
    }

    fn is_gating(&self, quantity: Quantity, now: Timestamp) -> bool {
        let last = match quantity {
            Quantity::ApparentWind => self.gate.last_dropped(),
            _ => self.glitches.last(quantity),
        };
        last.is_some_and(|last| now.secs_since(last) <= SPIKE_SHOWN_S)
    }
}
