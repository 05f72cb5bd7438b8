//! Vane offset and heel zero, from a boat that sails alike on both tacks.

use crate::finding::{Finding, Refusal};
use crate::legs::{Passage, Piece};
use crate::solve::{Normal, Plane, within_nine_in_ten, without_each};

/// A boat answers a gust in less than this, seconds: shorter pieces would hold
/// a speed that belongs to another wind. Chosen by trial on simulated passages.
const PIECE_S: usize = 120;
/// Fewer legs than this on either tack do not tell chance from offset.
const LEAST_LEGS: usize = 3;
/// An offset past this is no offset but a vane put on wrong, degrees.
const MOST_OFFSET_DEG: f64 = 20.0;
/// What no passage can show: a swell on one bow, a boat that is not quite alike
/// on both tacks. One standard error, degrees of vane. Common practice, no source.
const UNLIKE_DEG: f64 = 0.3;
/// The same for heel: a stowage that lists her. Degrees.
const LIST_DEG: f64 = 0.15;
/// Wider than this it is no finding, degrees.
const WIDEST_VANE_DEG: f64 = 2.0;
/// Wider than this it is no finding, degrees.
const WIDEST_HEEL_DEG: f64 = 1.5;
/// Apparent wind and angle that make the columns of the fit about 1.
const USUAL_AWS_KN: f64 = 18.0;
const USUAL_AWA_DEG: f64 = 60.0;

const EIGHT_TACKS: &str = "sail eight tacks of ten minutes in steady wind, then a beam reach and a \
     broad reach on both sides";

/// What both tacks together tell.
pub(crate) struct Tacks {
    /// To be added to AWA.
    pub(crate) vane_deg: Finding,
    /// To be added to heel.
    pub(crate) heel_deg: Result<Finding, Refusal>,
}

pub(crate) fn look(passage: &Passage) -> Result<Tacks, Refusal> {
    refuse_one_side(passage)?;
    let pieces = passage.pieces(PIECE_S);
    let rows: Vec<Row> = pieces.iter().map(Row::of).collect();
    let (vane, error) = without_each(passage.legs, |left_out| Some([offset(&rows, left_out)?]))
        .ok_or_else(|| Refusal::new("speed does not tell angle from wind", EIGHT_TACKS))?;
    let within = |error: f64, floor: f64| within_nine_in_ten(error.hypot(floor), passage.legs - 1);
    let ([vane], [error]) = (vane, error);
    let vane_deg = Finding {
        value: vane,
        within: within(error, UNLIKE_DEG),
        hours: passage.hours(),
    };
    if vane_deg.within > WIDEST_VANE_DEG {
        let why = format!(
            "the vane's offset is known to {:.1} degrees only",
            vane_deg.within
        );
        return Err(Refusal::new(why, EIGHT_TACKS));
    }
    Ok(Tacks {
        heel_deg: heel(&rows, vane, passage, within),
        vane_deg,
    })
}

fn refuse_one_side(passage: &Passage) -> Result<(), Refusal> {
    let starboard = passage.sides().filter(|(starboard, _)| *starboard).count();
    let port = passage.legs - starboard;
    if starboard.min(port) >= LEAST_LEGS {
        return Ok(());
    }
    let (mut left, mut right) = (0, 0);
    for heel in passage.heels() {
        left += usize::from(heel < -4.0);
        right += usize::from(heel > 4.0);
    }
    if starboard.min(port) == 0 && left.min(right) > 0 {
        return Err(Refusal::new(
            "the wind is said to be on one side while she heels to both: its angle has no side",
            "have the wind unit send angles of 0 to 360, or its side",
        ));
    }
    let or = match starboard.min(port) == 0 && passage.legs > 0 {
        true => " (or a wind unit that tells no side)",
        false => "",
    };
    Err(Refusal::new(
        format!("{starboard} steady legs on starboard and {port} on port tack{or}"),
        EIGHT_TACKS,
    ))
}

/// A piece as the fits take it.
struct Row {
    leg: usize,
    weight: f64,
    awa_deg: f64,
    aws_kn: f64,
    stw_kn: f64,
    heel_deg: Option<f64>,
}

impl Row {
    fn of(piece: &Piece) -> Row {
        // The lean of the mast narrows what is felt across it.
        let heel = piece.heel_deg().unwrap_or(0.0);
        let felt = piece.mean_plane(|s| s.felt);
        let upright = Plane {
            x: felt.x,
            y: felt.y / heel.to_radians().cos(),
        };
        Row {
            leg: piece.leg,
            weight: piece.weight(),
            awa_deg: upright.direction_deg(),
            aws_kn: upright.length(),
            stw_kn: piece.mean(|s| s.stw_kn),
            heel_deg: piece.heel_deg(),
        }
    }
}

/// The offset at which one curve of speed fits both tacks best.
fn offset(rows: &[Row], left_out: Option<usize>) -> Option<f64> {
    let rest = |offset: f64| speed_rest(rows, offset, left_out);
    let coarse = (-40..=40).map(|half| f64::from(half) * MOST_OFFSET_DEG / 40.0);
    let (mut best, mut least) = (0.0, f64::INFINITY);
    for tried in coarse {
        let rest = rest(tried)?;
        if rest < least {
            (best, least) = (tried, rest);
        }
    }
    // A parabola through the best and its neighbours, then finer, twice.
    for step in [0.5, 0.05] {
        let (below, here, above) = (rest(best - step)?, rest(best)?, rest(best + step)?);
        let bend = below - 2.0 * here + above;
        if bend <= 0.0 {
            return None;
        }
        best += (0.5 * step * (below - above) / bend).clamp(-step, step);
    }
    (best.abs() < MOST_OFFSET_DEG).then_some(best)
}

/// Squares left by speed as a curve of second degree in angle and wind.
fn speed_rest(rows: &[Row], offset: f64, left_out: Option<usize>) -> Option<f64> {
    let mut normal = Normal::<6>::new();
    for row in rows.iter().filter(|row| Some(row.leg) != left_out) {
        let a = (row.awa_deg + offset).abs() / USUAL_AWA_DEG;
        let u = row.aws_kn / USUAL_AWS_KN;
        normal.add(&[1.0, a, a * a, u, u * a, u * u], row.stw_kn, row.weight);
    }
    normal.solve_with_rest().map(|(_, rest)| rest)
}

/// Heel is a curve of angle and wind that changes sign with the tack, and a
/// constant, which is the sensor's.
fn heel(
    rows: &[Row],
    vane_deg: f64,
    passage: &Passage,
    within: impl Fn(f64, f64) -> f64,
) -> Result<Finding, Refusal> {
    let is_measured = rows.iter().all(|row| row.heel_deg.is_some());
    if !is_measured {
        return Err(Refusal::new(
            "heel was not heard all the time",
            "record a passage with the heel sensor on",
        ));
    }
    let constant = |left_out: Option<usize>| {
        let mut normal = Normal::<4>::new();
        for row in rows.iter().filter(|row| Some(row.leg) != left_out) {
            let awa = (row.awa_deg + vane_deg).to_radians();
            let u = row.aws_kn / USUAL_AWS_KN;
            let (single, double) = (awa.sin(), (2.0 * awa).sin());
            let line = [1.0, u * u * single, u * u * double, u * awa.signum()];
            normal.add(&line, row.heel_deg.unwrap_or(0.0), row.weight);
        }
        let [zero, ..] = normal.solve()?;
        Some([-zero])
    };
    let told = without_each(passage.legs, constant);
    let refusal = || Refusal::new("heel does not tell zero from wind", EIGHT_TACKS);
    let ([value], [error]) = told.ok_or_else(refusal)?;
    let finding = Finding {
        value,
        within: within(error, LIST_DEG),
        hours: passage.hours(),
    };
    match finding.within <= WIDEST_HEEL_DEG {
        true => Ok(finding),
        false => Err(refusal()),
    }
}
