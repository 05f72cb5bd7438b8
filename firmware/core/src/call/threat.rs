//! One limit, one level, one outlook: how soon, and what that asks for.

use crate::event::{Call, Cause};
use crate::ladder::PlanId;

/// The wind must fall this share of the limit under it before `past` lets go...
const LET_GO_WIND: f64 = 0.04;
/// ...and at least so many knots: less is the unsteadiness of a mean.
const LET_GO_KN: f64 = 1.0;
/// Heel and trim go with the square of the wind, so twice its share.
const LET_GO_ANGLE: f64 = 0.08;
/// `reduce` lets go when so many seconds more than the change are there.
const LET_GO_S: f64 = 180.0;
/// `prepare` lets go when soonest has grown to so many times what raised it.
/// Odds of first passing grow about with time, so this is one step of log-odds,
/// which gave the fewest calls for a crossing (tried on ocean minutes).
const LET_GO_TIMES: f64 = 2.5;
/// And at the latest when it is this far away, seconds.
pub(super) const LET_GO_AT_MOST_S: f64 = 4_800.0;

/// What a level is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// The plan's limit by mean wind, knots.
    Mean,
    /// The plan's limit by gusts, knots.
    Gust,
    /// The wind above which a change, to this plan, cannot be made any more.
    Door(PlanId),
    /// The plan's heel, degrees.
    Heel,
    /// The plan's trim, bow down, degrees.
    Trim,
    /// The plan's wind limit, come over all at once.
    Onset,
    /// A squall that was seen: by the clock.
    Squall,
    /// The plan's wind limit by the skipper's forecast.
    Forecast,
}

impl Against {
    /// What brings it.
    pub const fn cause(self) -> Cause {
        match self {
            Against::Mean | Against::Gust | Against::Door(_) => Cause::Wind,
            Against::Heel | Against::Trim => Cause::Heel,
            Against::Onset | Against::Squall => Cause::Squall,
            Against::Forecast => Cause::Forecast,
        }
    }

    /// Whether its time comes from an outlook on what is measured.
    const fn is_by_outlook(self) -> bool {
        matches!(
            self,
            Against::Mean | Against::Gust | Against::Door(_) | Against::Heel
        )
    }

    /// Whether it can be judged only while wind is measured.
    pub const fn needs_wind(self) -> bool {
        !matches!(self, Against::Heel | Against::Trim | Against::Squall)
    }
}

/// How far a level has come, as measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reached {
    /// Under the limit, or over it only for moments.
    #[default]
    Under,
    /// At it: only the change itself still fits.
    At,
    /// Past it, and has been.
    Past,
}

/// One limit held against one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threat {
    /// What the level is held against.
    pub against: Against,
    /// The limit as entered, in its own unit; 0 where there is none.
    pub limit: f64,
    /// The level, in the same unit.
    pub level: f64,
    /// How far it has come.
    pub reached: Reached,
    /// Seconds until the limit is passed at the odds of the setting; none
    /// beyond the outlook, or where there is no outlook.
    pub soonest_s: Option<f64>,
    /// Odds that it is passed within the work; none where there is no outlook.
    pub odds: Option<f64>,
}

impl Threat {
    /// Level over limit; 0 where there is no limit.
    pub fn load(&self) -> f64 {
        if self.limit > 0.0 {
            self.level / self.limit
        } else {
            0.0
        }
    }

    /// Seconds, none left where the level is there already.
    pub fn soonest_s(&self) -> Option<f64> {
        match self.reached {
            Reached::Under => self.soonest_s,
            Reached::At | Reached::Past => Some(0.0),
        }
    }

    /// An outlook is not listened to before so many seconds ahead.
    pub(super) fn put_off(&mut self, not_before_s: f64) {
        if self.against.is_by_outlook() {
            self.soonest_s = self.soonest_s.map(|s| s.max(not_before_s));
        }
    }

    /// What this alone asks for.
    pub fn asks_for(&self, sums: &Sums) -> Call {
        match self.reached {
            Reached::Past => Call::Past,
            Reached::At | Reached::Under => sums.call_for(self.soonest_s()),
        }
    }

    /// Whether a standing `past` is held by a level hardly under its limit,
    /// in the limit's own unit.
    fn holds_past(&self) -> bool {
        let width = match self.against {
            Against::Mean | Against::Gust => (self.limit * LET_GO_WIND).max(LET_GO_KN),
            Against::Heel | Against::Trim => self.limit * LET_GO_ANGLE,
            Against::Door(_) | Against::Onset | Against::Squall | Against::Forecast => {
                return false;
            }
        };
        self.limit > 0.0 && self.level >= self.limit - width
    }
}

/// What the hands need, in seconds: the same in every sum.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sums {
    /// Muster, set-up left and the change, with their margin.
    pub work_s: f64,
    /// The change alone.
    pub change_s: f64,
    /// `prepare` comes at least so long before `reduce`.
    pub lead_s: f64,
}

impl Sums {
    /// Soonest at which `prepare` comes.
    pub fn prepare_s(&self) -> f64 {
        self.work_s.max(self.change_s + self.lead_s)
    }

    /// The call for a soonest; none is beyond the outlook.
    pub fn call_for(&self, soonest_s: Option<f64>) -> Call {
        match soonest_s {
            Some(s) if s <= self.change_s => Call::Reduce,
            Some(s) if s <= self.prepare_s() => Call::Prepare,
            _ => Call::None,
        }
    }

    /// The call that a soonest holds.
    fn holds(&self, soonest_s: Option<f64>) -> Call {
        let let_go_s = (self.prepare_s() * LET_GO_TIMES)
            .min(LET_GO_AT_MOST_S)
            .max(self.prepare_s());
        match soonest_s {
            Some(s) if s <= self.change_s + LET_GO_S => Call::Reduce,
            Some(s) if s <= let_go_s => Call::Prepare,
            _ => Call::None,
        }
    }
}

/// What the figures of one moment ask for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Demand {
    /// A lower call is raised to this.
    pub raise_to: Call,
    /// A higher call may fall to this.
    pub hold_at: Call,
}

impl Demand {
    /// Of all threats, and the one soonest.
    pub fn of(threats: &[Threat], soonest_s: Option<f64>, sums: &Sums) -> Demand {
        let calls = threats.iter().map(|threat| threat.asks_for(sums));
        let raise_to = calls.fold(sums.call_for(soonest_s), Call::max);
        let past = if threats.iter().any(Threat::holds_past) {
            Call::Past
        } else {
            Call::None
        };
        Demand {
            raise_to,
            hold_at: raise_to.max(past).max(sums.holds(soonest_s)),
        }
    }
}
