//! The instrument's own wind, on request: MWV with reference T, MWD, VWT.
//!
//! Where the wind is not known the sentence says so: MWV with status V, the
//! others, which have no status, with null fields.

use cringle_core::angle::{Bearing, BowAngle, wrap_360};
use cringle_core::units::{Degrees, Knots, MS_PER_KNOT};

use super::{Builder, SentenceBytes, TooLong};
use crate::sentence::Talker;

/// Kilometres an hour in one knot, exactly.
const KMH_PER_KNOT: f64 = 1.852;

/// True wind over the water, off the bow.
pub fn mwv_true(talker: Talker, wind: Option<(BowAngle, Knots)>) -> Result<SentenceBytes, TooLong> {
    let mut line = Builder::new(talker, b"MWV");
    match wind {
        Some((angle, speed)) => {
            line.field(format_args!("{:05.1}", tenth_of_circle(angle.degrees())));
            line.letter(b'T');
            line.field(format_args!("{:.1}", speed.get()));
            line.letter(b'N');
            line.letter(b'A');
        }
        None => {
            line.null();
            line.letter(b'T');
            line.null();
            line.letter(b'N');
            line.letter(b'V');
        }
    }
    line.finish()
}

/// Wind over the ground by where it blows from. The magnetic direction is null
/// where variation is not known.
pub fn mwd(
    talker: Talker,
    wind: Option<(Bearing, Knots)>,
    variation: Option<Degrees>,
) -> Result<SentenceBytes, TooLong> {
    let mut line = Builder::new(talker, b"MWD");
    let direction = wind.map(|(direction, _)| direction.degrees());
    bearing(&mut line, direction);
    line.letter(b'T');
    let magnetic = direction
        .zip(variation)
        .map(|(direction, variation)| direction - variation.get());
    bearing(&mut line, magnetic);
    line.letter(b'M');
    let knots = wind.map(|(_, speed)| speed.get());
    speed(&mut line, knots, b'N');
    speed(&mut line, knots.map(|knots| knots * MS_PER_KNOT), b'M');
    line.finish()
}

/// True wind over the water, the old form.
pub fn vwt(talker: Talker, wind: Option<(BowAngle, Knots)>) -> Result<SentenceBytes, TooLong> {
    let mut line = Builder::new(talker, b"VWT");
    match wind {
        Some((angle, _)) => {
            let side = if angle.degrees() < 0.0 { b'L' } else { b'R' };
            line.field(format_args!("{:05.1}", angle.off_bow()));
            line.letter(side);
        }
        None => {
            line.null();
            line.null();
        }
    }
    let knots = wind.map(|(_, speed)| speed.get());
    speed(&mut line, knots, b'N');
    speed(&mut line, knots.map(|knots| knots * MS_PER_KNOT), b'M');
    speed(&mut line, knots.map(|knots| knots * KMH_PER_KNOT), b'K');
    line.finish()
}

fn bearing(line: &mut Builder, degrees: Option<f64>) {
    match degrees {
        Some(degrees) => line.field(format_args!("{:05.1}", tenth_of_circle(degrees))),
        None => line.null(),
    }
}

fn speed(line: &mut Builder, value: Option<f64>, unit: u8) {
    match value {
        Some(value) => line.field(format_args!("{value:.1}")),
        None => line.null(),
    }
    line.letter(unit);
}

/// Degrees of 0 to 359.9: what would round to 360.0 is 0.
fn tenth_of_circle(degrees: f64) -> f64 {
    wrap_360(libm::round(wrap_360(degrees) * 10.0) / 10.0)
}
