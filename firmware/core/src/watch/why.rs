//! The one line that says why.

use crate::alert::judge::{Passed, Threat};
use crate::event::Cause;
use crate::text::{Text, format};

use super::assess::Blindness;

/// The line for a threat. `level` and `limit` are in the threat's own unit.
pub(crate) fn threat(threat: &Threat, level: f64, plan: &str, call_time_min: f64) -> Text<96> {
    let limit = threat.limit;
    if threat.passed == Passed::Held {
        return match threat.cause {
            Cause::Heel => format(format_args!(
                "heel {level:.0} deg is past {plan}'s limit of {limit:.0}"
            )),
            _ => format(format_args!(
                "wind {level:.1} kn is past {plan}'s limit of {limit:.1}"
            )),
        };
    }
    match (threat.cause, threat.time_to_limit_s) {
        (Cause::Squall, Some(seconds)) => format(format_args!(
            "squall in about {:.0} min, {call_time_min:.0} min of work for these hands",
            (seconds / 60.0).max(0.0)
        )),
        (Cause::Heel, Some(seconds)) => format(format_args!(
            "heel {level:.0} deg, limit {limit:.0} may be passed in {:.0} min, work takes {call_time_min:.0}",
            seconds / 60.0
        )),
        (_, Some(seconds)) => format(format_args!(
            "wind {level:.1} kn, limit {limit:.1} may be passed in {:.0} min, work takes {call_time_min:.0}",
            seconds / 60.0
        )),
        (_, None) => format(format_args!("wind {level:.1} kn, limit {limit:.1}")),
    }
}

/// The line for what the forecast brings forward, and how it has done so far.
pub(crate) fn forecast(threat: &Threat, level: f64, call_time_min: f64, so_far: &str) -> Text<96> {
    let minutes = threat.time_to_limit_s.unwrap_or(0.0) / 60.0;
    format(format_args!(
        "forecast: {:.0} kn may be passed in {minutes:.0} min, now {level:.0}, work {call_time_min:.0}; {so_far}",
        threat.limit
    ))
}

/// The line for blindness.
pub(crate) fn blind(why: Blindness) -> Text<96> {
    match why {
        Blindness::Lost(quantity) => format(format_args!("cannot judge: no {}", quantity.name())),
        Blindness::Doubted(fault) => format(format_args!("cannot judge: {fault}")),
    }
}
