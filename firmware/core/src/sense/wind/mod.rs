//! From what the vane and cups say to the wind that drives the sails.
//!
//! In: apparent wind as measured, one sample at a time. Then, in order:
//! scale and vane [`Corrections`] in the mast's own plane, the spike
//! [`Gate`], the mast's motion and lean (from [`Track`]s of heel and pitch),
//! and the [`triangle`]. Out: true wind over the water at masthead height,
//! which is the wind that is judged, and wind over the ground beside it.

pub mod correct;
pub mod gate;
pub mod gradient;
pub mod heading;
pub mod lag;
pub mod round_up;
pub mod spikes;
pub mod track;
pub mod triangle;
pub mod vector;

pub use correct::{Attitude, Corrections};
pub use gate::{Gate, Sample};
pub use heading::{Heading, North};
pub use track::Track;
pub use vector::Vector;
