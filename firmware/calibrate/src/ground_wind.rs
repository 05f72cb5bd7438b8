//! Anemometer factor and upwash: what is felt is the wind over ground plus the
//! boat's own velocity, which GNSS knows.

use crate::filter::{Seen, constants};
use crate::finding::{Finding, Refusal};
use crate::gather::Sample;
use crate::legs::Passage;
use crate::solve::{Plane, within_nine_in_ten};

/// Shorter pieces follow the gusts that the helm answers. Chosen by trial.
const PIECE_S: usize = 45;
/// What no passage shows: cups that are not straight, the mast's own motion.
/// Share, one standard error. Common practice, no source.
const CUPS_FLOOR: f64 = 0.005;
/// Upwash close-hauled before anything is known of this boat, and its standard
/// deviation, degrees: nought to five (common practice, no source).
const USUAL_UPWASH_DEG: (f64, f64) = (2.5, 1.5);
/// Wider than this it is no finding.
const WIDEST_CUPS: f64 = 0.08;

const STEADIER: &str = "sail in steadier wind: eight tacks of ten minutes, then a beam reach and a broad reach \
     on both sides";

/// What wind and ground together tell.
pub(crate) struct Cups {
    pub(crate) factor: Finding,
    pub(crate) upwash_deg: Finding,
}

pub(crate) fn look(passage: &Passage, vane: &Finding, heel_offset: f64) -> Result<Cups, Refusal> {
    let level = |s: &Sample| level(s, vane.value, heel_offset);
    let pieces = passage.pieces(PIECE_S);
    let felt: Vec<Plane> = pieces
        .iter()
        .map(|piece| piece.mean_plane(|s| level(s).turned(s.heading_deg)))
        .collect();
    let wind = felt
        .iter()
        .zip(&pieces)
        .map(|(felt, piece)| *felt - piece.mean_plane(|s| s.over_ground))
        .fold(Plane::default(), |a, b| a + b);
    let from = wind.direction_deg();
    let seen: Vec<Seen> = pieces
        .iter()
        .zip(&felt)
        .map(|(piece, felt)| {
            let felt = felt.turned(-from);
            // The leg's own mean: the helm follows the wind, and what both do
            // together must not pass for what the boat's way does to the wind.
            let own = piece.leg_over_ground.turned(-from);
            let bent = piece.mean_plane(|s| bent(level(s)).turned(s.heading_deg - from));
            Seen {
                at_s: piece.at_s,
                along: felt.x,
                across: felt.y,
                by_first: (own.x, own.y),
                by_second: (bent.x, bent.y),
            }
        })
        .collect();
    let refusal = || {
        Refusal::new(
            "the wind changes more than the cups could be wrong",
            STEADIER,
        )
    };
    let told = constants(&seen)
        .filter(|told| told.first > 0.0)
        .ok_or_else(refusal)?;
    let (usual, spread) = (
        USUAL_UPWASH_DEG.0.to_radians(),
        USUAL_UPWASH_DEG.1.to_radians(),
    );
    let told = told.with_second_known(usual * told.first, (spread * told.first).powi(2));
    let factor = 1.0 / told.first;
    let error = (told.first_variance.sqrt() * factor).hypot(CUPS_FLOOR) * factor;
    let finding = |value, error| Finding {
        value,
        within: within_nine_in_ten(error, passage.legs - 1),
        hours: passage.hours(),
    };
    let cups = Cups {
        factor: finding(factor, error),
        upwash_deg: finding(
            (told.second * factor).to_degrees(),
            (told.second_variance.sqrt() * factor).to_degrees(),
        ),
    };
    match cups.factor.within <= WIDEST_CUPS {
        true => Ok(cups),
        false => Err(refusal()),
    }
}

/// What is felt, vane set right and the mast's lean undone.
fn level(sample: &Sample, vane_deg: f64, heel_offset: f64) -> Plane {
    let felt = sample.felt.turned(vane_deg);
    let heel = sample.heel_deg.map_or(0.0, |heel| heel + heel_offset);
    Plane {
        x: felt.x,
        y: felt.y / heel.clamp(-60.0, 60.0).to_radians().cos(),
    }
}

/// What a radian of upwash close-hauled adds to what is felt: less the further
/// aft the wind, nothing abaft the beam (common practice, no source).
fn bent(felt: Plane) -> Plane {
    let forward = (felt.x / felt.length().max(0.1)).max(0.0);
    felt.turned(90.0) * (forward * felt.y.signum())
}
