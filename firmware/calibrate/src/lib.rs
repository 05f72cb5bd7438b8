//! What a sailing log says of the instruments that wrote it.
//!
//! In: a second's worth of each instrument, as read and not corrected
//! ([`Sample`]), with GNSS. Out: vane offset, anemometer factor, log factor and
//! heel zero, beside them leeway, upwash and compass error, each with its
//! confidence and the hours it rests on ([`Finding`]); or why the log cannot
//! tell, and what to sail so that it can.
//!
//! How each is told from the rest:
//!
//! - **Log and compass**: velocity over ground is velocity through the water,
//!   scaled and turned, plus a current that is the same on every course. Leeway
//!   changes sides with the heel, a compass error does not.
//! - **Vane**: a boat is as fast on one tack as on the other at the same wind
//!   angle (common practice, no source). The offset at which both tacks lie on
//!   one curve of speed by angle and wind is the vane's. The true wind's
//!   direction does not tell: an offset turns it by nearly the same on both tacks.
//! - **Cups and upwash**: what is felt is the wind over ground plus the boat's
//!   own velocity over ground, which GNSS knows. From course to course it must
//!   change by just that, while the wind itself wanders slowly. Upwash turns
//!   what is felt outwards on either tack, and only forward of the beam.
//! - **Heel**: she heels alike on both tacks.
//!
//! No finding is written anywhere by this crate: the fitter looks at it first.

mod filter;
mod finding;
mod gather;
mod ground_wind;
mod legs;
mod picture;
mod solve;
mod symmetry;
mod water;

pub use finding::{Corrections, Finding, Refusal, Report};
pub use gather::{Gather, Heard, Sample};
pub use picture::picture;

use legs::Passage;

/// Looks for all that a log can tell. Samples are in order of time, one a
/// second where there is one.
pub fn calibrate(samples: &[Sample]) -> Report {
    let passage = Passage::of(samples);
    let mut report = Report::of(&passage);
    let water = water::look(&passage);
    report.log_factor = water.as_ref().map(|w| w.log_factor).map_err(Clone::clone);
    report.leeway_k = water.as_ref().map(|w| w.leeway_k).map_err(Clone::clone);
    report.compass_deg = water.as_ref().map(|w| w.compass_deg).map_err(Clone::clone);
    let tacks = symmetry::look(&passage);
    report.vane_offset_deg = tacks.as_ref().map(|t| t.vane_deg).map_err(Clone::clone);
    report.heel_offset_deg = match &tacks {
        Ok(tacks) => tacks.heel_deg.clone(),
        Err(why) => Err(why.clone()),
    };
    let cups = tacks.and_then(|tacks| {
        let heel = tacks.heel_deg.as_ref().map_or(0.0, |heel| heel.value);
        ground_wind::look(&passage, &tacks.vane_deg, heel)
    });
    report.anemometer_factor = cups.as_ref().map(|c| c.factor).map_err(Clone::clone);
    report.upwash_deg = cups.map(|c| c.upwash_deg);
    report
}
