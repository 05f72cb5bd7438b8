//! What one moment's figures ask for, before any holding.

use crate::event::{Call, Cause};

/// Wind must fall this far under a limit before `past` lets go: the greater
/// of 1 kn and this share of the limit.
const LET_GO_SHARE: f64 = 0.04;
/// Odds must fall to this share of the setting before a call lets go. At 0.6
/// the limit that the wind stands nearest sounded needlessly 1.3 times a day
/// (farm wind, the shipped setting), at 0.25, chosen on 2014, 0.8; the call then
/// stands longer, and more is warned of.
const LET_GO_ODDS: f64 = 0.25;
/// Minutes in hand must grow to this before `reduce` lets go.
const LET_GO_MINUTES: f64 = 3.0;

/// One limit held against one measured level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threat {
    /// What would break the limit.
    pub cause: Cause,
    /// Level over limit; 1 is at the limit. Wind by speed, heel by angle.
    pub load: f64,
    /// The limit itself, in its own unit; for the width of letting go.
    pub limit: f64,
    /// Whether the level has been at or over the limit long enough to be no
    /// passing thing.
    pub passed: Passed,
    /// Seconds until the odds reach the setting; none beyond the outlook.
    pub time_to_limit_s: Option<f64>,
    /// The same on the odds at which a standing call lets go.
    pub time_to_let_go_s: Option<f64>,
    /// Odds that it is passed within the call time.
    pub odds: Option<f64>,
}

/// Whether a limit has been passed for good.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Passed {
    /// Under it, or over it only for moments.
    #[default]
    NotYet,
    /// At or over it, and has been.
    Held,
}

/// What the figures ask for: to raise to, and to keep at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// A lower call is raised to this.
    pub raise: Call,
    /// A higher call may fall to this, once it has stood long enough.
    pub keep: Call,
}

impl Asked {
    /// The stronger of two demands, part by part.
    pub fn or(self, other: Asked) -> Asked {
        Asked {
            raise: self.raise.max(other.raise),
            keep: self.keep.max(other.keep),
        }
    }
}

/// Odds at which a standing call lets go, for a setting.
pub fn let_go_odds(setting: f64) -> f64 {
    setting * LET_GO_ODDS
}

/// What one threat asks for, when the whole call takes `call_time_s` and the
/// change alone `change_s`.
pub fn asked(threat: &Threat, call_time_s: f64, change_s: f64) -> Asked {
    Asked {
        raise: raised(threat, call_time_s, change_s),
        keep: kept(threat, call_time_s, change_s),
    }
}

fn raised(threat: &Threat, call_time_s: f64, change_s: f64) -> Call {
    if threat.passed == Passed::Held {
        return Call::Past;
    }
    match threat.time_to_limit_s {
        Some(time) if time <= change_s => Call::Reduce,
        Some(time) if time <= call_time_s => Call::Prepare,
        _ => Call::None,
    }
}

fn kept(threat: &Threat, call_time_s: f64, change_s: f64) -> Call {
    let let_go_load = 1.0 - LET_GO_SHARE.max(1.0 / threat.limit.max(1.0));
    if threat.passed == Passed::Held || threat.load >= let_go_load {
        return Call::Past;
    }
    match threat.time_to_let_go_s {
        Some(time) if time <= change_s => Call::Reduce,
        Some(time) if time <= call_time_s => Call::Prepare,
        _ => match threat.time_to_limit_s {
            Some(time) if time <= change_s + LET_GO_MINUTES * 60.0 => Call::Reduce,
            _ => Call::None,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn threat(time_to_limit_s: Option<f64>) -> Threat {
        Threat {
            cause: Cause::Wind,
            load: 0.8,
            limit: 24.0,
            passed: Passed::NotYet,
            time_to_limit_s,
            time_to_let_go_s: time_to_limit_s.map(|t| t * 0.8),
            odds: None,
        }
    }

    #[test]
    fn prepare_comes_at_slack_nought_and_reduce_when_only_the_change_fits() {
        for (time, call) in [
            (None, Call::None),
            (Some(901.0), Call::None),
            (Some(900.0), Call::Prepare),
            (Some(301.0), Call::Prepare),
            (Some(300.0), Call::Reduce),
            (Some(0.0), Call::Reduce),
        ] {
            assert_eq!(
                asked(&threat(time), 900.0, 300.0).raise,
                call,
                "time to limit {time:?}"
            );
        }
    }

    #[test]
    fn what_raises_a_call_also_keeps_it() {
        for tenth_minutes in 0..200 {
            let asked = asked(&threat(Some(f64::from(tenth_minutes) * 6.0)), 900.0, 300.0);
            assert!(asked.keep >= asked.raise, "at {tenth_minutes}");
        }
    }

    #[test]
    fn just_under_the_limit_does_not_let_go_of_past() {
        let mut near = threat(None);
        near.load = 0.97;
        assert_eq!(asked(&near, 900.0, 300.0).keep, Call::Past);
        near.load = 0.95;
        assert_eq!(asked(&near, 900.0, 300.0).keep, Call::None);
    }
}
