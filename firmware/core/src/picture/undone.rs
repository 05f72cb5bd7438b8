//! What was undone: the corrections that are in force at this moment.
//!
//! A correction that the boat file asks for but whose sensor is silent is not
//! in force, and is not listed.

use heapless::Vec;

use crate::instruments::{Factor, Switch};
use crate::reading::Quantity;
use crate::time::Timestamp;

use super::Picture;
use super::basis::Basis;

/// One correction between what the sensors say and what is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Correction {
    /// The vane's offset.
    VaneOffset,
    /// The cups' factor or table.
    Anemometer,
    /// Upwash of the sails.
    Upwash,
    /// Lean of the masthead plane by heel and pitch.
    Heel,
    /// The masthead's own motion.
    MastMotion,
    /// Leeway.
    Leeway,
    /// The log's factor.
    Log,
    /// The compass's deviation.
    Deviation,
    /// Magnetic variation.
    Variation,
}

impl Correction {
    /// In plain words.
    pub const fn name(self) -> &'static str {
        match self {
            Correction::VaneOffset => "vane offset",
            Correction::Anemometer => "anemometer",
            Correction::Upwash => "upwash",
            Correction::Heel => "heel",
            Correction::MastMotion => "mast motion",
            Correction::Leeway => "leeway",
            Correction::Log => "log",
            Correction::Deviation => "deviation",
            Correction::Variation => "variation",
        }
    }
}

/// Those in force at one moment.
pub type Undone = Vec<Correction, 9>;

impl Picture {
    /// The corrections in force, in the order in which they are made.
    pub fn undone(&self, now: Timestamp) -> Undone {
        let mut undone = Undone::new();
        // One each, so they always fit.
        self.find_undone(now, |correction| {
            let _ = undone.push(correction);
        });
        undone
    }

    fn find_undone(&self, now: Timestamp, mut found: impl FnMut(Correction)) {
        let instruments = self.corrections.instruments();
        let live = |quantity| self.sources.live(quantity, now).is_some();
        let basis = self.basis_at(now);
        let heel = live(Quantity::Heel);
        if matches!(basis, Basis::Water | Basis::Ground) {
            if instruments.vane_offset.get() != 0.0 {
                found(Correction::VaneOffset);
            }
            if instruments.anemometer_factor != Factor(1.0)
                || !instruments.anemometer_table.is_empty()
            {
                found(Correction::Anemometer);
            }
            if !instruments.upwash_table.is_empty() {
                found(Correction::Upwash);
            }
            if heel && instruments.heel_correction == Switch::On {
                found(Correction::Heel);
            }
            if heel && self.corrections.wants_motion() && self.heel.is_quick() {
                found(Correction::MastMotion);
            }
        }
        if basis == Basis::Water {
            let by_formula = heel && instruments.leeway_k.is_some();
            if by_formula || live(Quantity::WaterDrift) {
                found(Correction::Leeway);
            }
            if instruments.log_factor != Factor(1.0) {
                found(Correction::Log);
            }
        }
        if !live(Quantity::HeadingTrue) {
            if live(Quantity::HeadingCompass) && !instruments.deviation_table.is_empty() {
                found(Correction::Deviation);
            }
            if self
                .heading()
                .is_some_and(|h| h.north == crate::wind::North::True)
            {
                found(Correction::Variation);
            }
        }
    }
}
