//! From the features of a moment to calibrated log-odds.
//!
//! A sum over small trees, then lines between knots of calibration. The trees
//! were grown so that raising a level or the look-ahead never lowers the sum,
//! and the calibration only rises.

use super::Curve;
use super::fitted::{
    CALIBRATION_LOG_ODDS, CALIBRATION_RAW, FEATURE, HORIZON_MIN, LEAF, LEFT, RIGHT, ROOT, THRESHOLD,
};
use super::history::{Row, WIDTH};

/// No tree is deeper; a damaged table ends the walk instead of looping.
const DEEPEST: usize = 64;

pub(super) fn curve(row: &Row, limit: f64) -> Curve {
    let mut input = [0.0; WIDTH + 1];
    for (to, from) in input.iter_mut().zip(&row.features) {
        *to = from / limit;
    }
    let log_odds = HORIZON_MIN.map(|minutes| {
        if let Some(last) = input.last_mut() {
            *last = minutes;
        }
        calibrated(raw(&input))
    });
    Curve {
        passed: row.latest >= limit && row.block() >= limit,
        log_odds,
    }
}

fn raw(input: &[f64; WIDTH + 1]) -> f64 {
    ROOT.iter()
        .enumerate()
        .map(|(tree, &root)| leaf(input, tree, usize::from(root)))
        .sum()
}

fn leaf(input: &[f64; WIDTH + 1], tree: usize, root: usize) -> f64 {
    let mut node = 0_i8;
    for _ in 0..DEEPEST {
        let Ok(inner) = usize::try_from(node) else {
            // Each tree has one leaf more than it has nodes.
            let index = root + tree + usize::from((-1 - node).unsigned_abs());
            return LEAF.get(index).map_or(0.0, |&value| f64::from(value));
        };
        node = next(input, root + inner).unwrap_or(-1);
    }
    0.0
}

fn next(input: &[f64; WIDTH + 1], at: usize) -> Option<i8> {
    let value = *input.get(usize::from(*FEATURE.get(at)?))?;
    if value <= f64::from(*THRESHOLD.get(at)?) {
        LEFT.get(at).copied()
    } else {
        RIGHT.get(at).copied()
    }
}

/// Straight between knots and on along the outer pieces beyond them.
fn calibrated(raw: f64) -> f64 {
    let mut piece = None;
    let mut before: Option<(f64, f64)> = None;
    for (&x, &y) in CALIBRATION_RAW.iter().zip(&CALIBRATION_LOG_ODDS) {
        if let Some((bx, by)) = before {
            piece = Some((bx, by, (y - by) / (x - bx)));
            if raw <= x {
                break;
            }
        }
        before = Some((x, y));
    }
    piece.map_or(raw, |(x, y, slope)| y + (raw - x) * slope)
}
