//! From the rows of the last minutes to calibrated log-odds.
//!
//! A sum over small trees for each of the curve's knots, averaged over the
//! rows, then lines between knots of calibration. The trees were grown so that
//! raising any column but the minutes known never lowers the sum, nor does the
//! look-ahead (the last column), and the calibration only rises.

use super::fitted::{
    CALIBRATION_LOG_ODDS, CALIBRATION_RAW, COLUMNS, FEATURE, HORIZON_MIN, LEAF, LEFT, RIGHT, ROOT,
    THRESHOLD,
};
use super::history::{Row, WIDTH};

/// Knots of a curve.
pub(super) const KNOTS: usize = HORIZON_MIN.len();
/// No tree is deeper; a damaged table ends the walk instead of looping.
const DEEPEST: u32 = 32;
/// The look-ahead stands behind the row.
const HORIZON: usize = COLUMNS - 1;

/// Log-odds at each knot that the limit is passed, by the mean over the rows.
pub(super) fn log_odds<'a>(rows: impl Iterator<Item = &'a Row>, limit: f64) -> [f64; KNOTS] {
    let mut total = [0.0; KNOTS];
    let mut count = 0.0;
    for row in rows {
        let input = row.at_limit(limit);
        for (tree, &root) in ROOT.iter().enumerate() {
            let tree = Tree {
                input: &input,
                root: usize::from(root),
                leaves: usize::from(root) + tree,
            };
            tree.add(0, 0, KNOTS, &mut total, DEEPEST);
        }
        count += 1.0;
    }
    total.map(|sum| calibrated(sum / count))
}

/// A tree and what it is asked.
struct Tree<'a> {
    input: &'a [f64; WIDTH],
    root: usize,
    leaves: usize,
}

impl Tree<'_> {
    /// Adds the leaves that the knots from `from` to `to` come to, from a node
    /// on. The knots part only where the tree asks for the look-ahead.
    fn add(&self, node: i8, from: usize, to: usize, total: &mut [f64; KNOTS], deepest: u32) {
        if from >= to || deepest == 0 {
            return;
        }
        let Ok(inner) = usize::try_from(node) else {
            let leaf = self.leaves + usize::from((-1 - node).unsigned_abs());
            let value = LEAF.get(leaf).map_or(0.0, |value| f64::from(*value));
            for sum in total.iter_mut().take(to).skip(from) {
                *sum += value;
            }
            return;
        };
        let at = self.root + inner;
        let (Some(&feature), Some(&threshold), Some(&left), Some(&right)) = (
            FEATURE.get(at),
            THRESHOLD.get(at),
            LEFT.get(at),
            RIGHT.get(at),
        ) else {
            return;
        };
        let (feature, threshold) = (usize::from(feature), f64::from(threshold));
        let part = if feature == HORIZON {
            let under = HORIZON_MIN.iter().filter(|knot| **knot <= threshold);
            under.count().clamp(from, to)
        } else if self.input.get(feature).is_some_and(|it| *it <= threshold) {
            to
        } else {
            from
        };
        self.add(left, from, part, total, deepest - 1);
        self.add(right, part, to, total, deepest - 1);
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
