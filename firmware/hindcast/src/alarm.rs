//! An alarm at one setting: a score at or over it raises the call, and the call
//! stands until the score falls a little further. The fixed pre-alarms, and the
//! odds where nothing finer than ten minutes is known.

use crate::curve::Caller;
use crate::judged::Judged;
use crate::tally::Stands;

/// A fixed pre-alarm lets go so far under its setting (common practice, no
/// source).
const LET_GO_KN: f64 = 1.0;
/// The odds let go one log-odds under theirs (chosen by trial, on the waters
/// that they were fitted on).
const LET_GO_LOG_ODDS: f64 = 1.0;

/// Where calls of this caller stand, by slot. Without a score nothing stands.
pub fn stands(it: &Judged, caller: Caller, setting: f64) -> Vec<Stands> {
    let let_go = match caller {
        Caller::Fraction => setting - LET_GO_KN / it.limit.limit_kn,
        Caller::Knots => setting - LET_GO_KN,
        Caller::Odds | Caller::Aboard => {
            let odds = setting / (1.0 - setting) * (-LET_GO_LOG_ODDS).exp();
            odds / (1.0 + odds)
        }
    };
    let mut is_raised = false;
    let one = |slot: usize| {
        let score = caller.score(it, slot);
        is_raised = score >= if is_raised { let_go } else { setting };
        match is_raised {
            true => Stands::Sounding,
            false => Stands::Not,
        }
    };
    (0..it.idle.len()).map(one).collect()
}
