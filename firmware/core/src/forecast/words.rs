//! What a forecast has been worth so far, in plain words.

use super::{Error, Forecast};
use crate::text::{Text, format, text};

/// An hour of ten-minute means before anything is said.
const LEAST_MEANS: u32 = 6;
/// Less than this is right enough to say nothing of it.
const LEAST_HOURS: f64 = 0.75;
const LEAST_KN: f64 = 2.0;
/// An error is told when it is this many of its own standard deviations.
const SURE: f64 = 1.2;
/// A table that changes by less has no front in it.
const FRONT_KN: f64 = 6.0;

impl Forecast {
    /// Such as "front about 2 h early, 4 kn over the forecast".
    pub fn words(&self) -> Text<64> {
        let error = self.error();
        if error.means < LEAST_MEANS {
            return text("forecast not tried yet");
        }
        let what = if self.aloft.range_kn() >= FRONT_KN {
            "front"
        } else {
            "wind"
        };
        match (late(error), over(error)) {
            (Some(late), Some(over)) => format(format_args!("{what} {late}, {over}")),
            (Some(late), None) => format(format_args!("{what} {late}")),
            (None, Some(over)) => format(format_args!("wind {over}")),
            (None, None) => text("about as forecast so far"),
        }
    }
}

fn late(error: Error) -> Option<Text<24>> {
    let hours = libm::fabs(error.late_h);
    if hours < LEAST_HOURS || hours < error.late_spread_h * SURE {
        return None;
    }
    let side = if error.late_h < 0.0 { "early" } else { "late" };
    Some(format(format_args!("about {hours:.0} h {side}")))
}

fn over(error: Error) -> Option<Text<32>> {
    let knots = libm::fabs(error.over_kn);
    if knots < LEAST_KN || knots < error.over_spread_kn * SURE {
        return None;
    }
    let side = if error.over_kn > 0.0 { "over" } else { "under" };
    Some(format(format_args!("{knots:.0} kn {side} the forecast")))
}
