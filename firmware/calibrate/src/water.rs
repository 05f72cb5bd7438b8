//! Log factor, compass error and leeway, from the velocity over ground.

use crate::finding::{Finding, Refusal};
use crate::legs::{Passage, Piece};
use crate::solve::{Normal, Plane, within_nine_in_ten, without_each};

/// Long enough for waves to even out. Chosen by trial on simulated passages.
const PIECE_S: usize = 120;
/// Courses must differ by so much, or scale and current are one, degrees.
const LEAST_SPREAD_DEG: f64 = 110.0;
/// A current is taken to change evenly over the passage.
const UNKNOWNS: usize = 7;
/// What no passage shows: a log that is not straight, a GNSS that is not quite
/// where she is. Share of the speed, one standard error. Common practice, no source.
const LOG_FLOOR: f64 = 0.005;
/// The same for the compass, degrees.
const COMPASS_FLOOR_DEG: f64 = 0.5;
/// Wider than this it is no finding.
const WIDEST_LOG: f64 = 0.05;
/// Wider than this it is no finding, degrees.
const WIDEST_COMPASS_DEG: f64 = 3.0;
/// Wider than this it is no finding.
const WIDEST_LEEWAY: f64 = 6.0;

const RECIPROCAL: &str =
    "sail two courses that are opposite, ten minutes each, and both tacks to windward";

/// What water and ground together tell.
pub(crate) struct Water {
    pub(crate) log_factor: Finding,
    pub(crate) compass_deg: Finding,
    pub(crate) leeway_k: Finding,
}

pub(crate) fn look(passage: &Passage) -> Result<Water, Refusal> {
    refuse_one_course(passage)?;
    let pieces = passage.pieces(PIECE_S);
    let begin = pieces.first().map_or(0.0, |piece| piece.at_s);
    let told = without_each(passage.legs, |left_out| fit(&pieces, begin, left_out));
    let refusal = || Refusal::new("log and current cannot be told apart", RECIPROCAL);
    let (values, errors) = told.ok_or_else(refusal)?;
    let floors = [LOG_FLOOR, COMPASS_FLOOR_DEG, 0.0];
    let mut found = values
        .iter()
        .zip(errors)
        .zip(floors)
        .map(|((value, error), floor)| Finding {
            value: *value,
            within: within_nine_in_ten(error.hypot(floor), passage.legs - 1),
            hours: passage.hours(),
        });
    let (Some(log_factor), Some(compass_deg), Some(leeway_k)) =
        (found.next(), found.next(), found.next())
    else {
        return Err(refusal());
    };
    let is_wide = log_factor.within > WIDEST_LOG
        || compass_deg.within > WIDEST_COMPASS_DEG
        || leeway_k.within > WIDEST_LEEWAY;
    match is_wide {
        true => Err(refusal()),
        false => Ok(Water {
            log_factor,
            compass_deg,
            leeway_k,
        }),
    }
}

fn refuse_one_course(passage: &Passage) -> Result<(), Refusal> {
    let headings: Vec<f64> = passage.sides().map(|(_, heading)| heading).collect();
    let spread = headings
        .iter()
        .flat_map(|a| {
            headings
                .iter()
                .map(move |b| cringle_core::angle::wrap_180(a - b).abs())
        })
        .fold(0.0, f64::max);
    match spread >= LEAST_SPREAD_DEG {
        true => Ok(()),
        false => Err(Refusal::new(
            format!("courses differ by {spread:.0} degrees at most"),
            RECIPROCAL,
        )),
    }
}

/// Log factor, compass error, leeway.
fn fit(pieces: &[Piece], begin_s: f64, left_out: Option<usize>) -> Option<[f64; 3]> {
    let mut normal = Normal::<UNKNOWNS>::new();
    for piece in pieces.iter().filter(|piece| Some(piece.leg) != left_out) {
        let ahead = piece.mean_plane(|s| Plane::polar(s.stw_kn, s.heading_deg));
        let abeam = ahead.turned(90.0);
        let ground = piece.mean_plane(|s| s.over_ground);
        // She slips away from the wind: to the side she heels to.
        let slip = piece.heel_deg().unwrap_or(0.0) / piece.mean(|s| s.stw_kn).max(2.0).powi(2);
        let hours = (piece.at_s - begin_s) / 3600.0;
        let north = [ahead.x, abeam.x, slip * abeam.x, 1.0, 0.0, hours, 0.0];
        let east = [ahead.y, abeam.y, slip * abeam.y, 0.0, 1.0, 0.0, hours];
        normal.add(&north, ground.x, piece.weight());
        normal.add(&east, ground.y, piece.weight());
    }
    let [along, across, leeway, ..] = normal.solve()?;
    let factor = along.hypot(across);
    Some([
        factor,
        across.atan2(along).to_degrees(),
        leeway.to_degrees() / factor,
    ])
}
