//! A boat as the core knows it: the checked contents of a boat file.

use crate::act::{Doing, Hands, Helm};
use crate::bill::WatchBill;
use crate::forecast::Table;
use crate::instruments::{Confirmation, Instruments};
use crate::ladder::{Ladder, PlanId};
use crate::moment::Costs;
use crate::text::Name;

/// All settings. Built by the boat crate, which checks them all.
#[derive(Clone, Debug, PartialEq)]
pub struct Boat {
    /// Her name.
    pub name: Name,
    /// Sensors and their corrections.
    pub instruments: Instruments,
    /// Sail plans and changes.
    pub ladder: Ladder,
    /// Who sails her and how fast they are.
    pub crew: Crew,
    /// When to call.
    pub calling: Calling,
    /// What is assumed when the monitor starts and knows no better.
    pub start: Start,
    /// The skipper's forecast, if there is one.
    pub forecast: Option<Table>,
    /// Who is on deck when, if the crew keeps to a watch bill.
    pub bill: Option<WatchBill>,
    /// What work costs these people, by the hour at which it is done.
    pub costs: Costs,
}

/// People and how long things take them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crew {
    /// Minutes to call one hand below, who dresses and clips on, by day.
    pub muster_minutes: f64,
    /// Minutes for hands on deck to get ready (clip on, think, talk).
    pub ready_minutes: f64,
    /// Times by which work takes longer in the dark.
    pub night_factor: f64,
    /// Times by which work takes longer when worn out.
    pub worn_factor: f64,
    /// Times by which work takes longer in a smooth, slight, moderate, rough
    /// and very rough sea.
    pub sea_factors: [f64; 5],
    /// Share by which a booked time may be wrong (one standard deviation).
    pub spread: f64,
    /// True wind above which the pilot cannot hold her while she comes up,
    /// so that one hand steers.
    pub pilot_limit_kn: Option<f64>,
}

impl Default for Crew {
    /// Common practice, no source; each crew should time its own.
    fn default() -> Self {
        Crew {
            muster_minutes: 8.0,
            ready_minutes: 2.0,
            night_factor: 1.4,
            worn_factor: 1.5,
            sea_factors: [1.0, 1.0, 1.15, 1.5, 2.0],
            spread: 0.3,
            pilot_limit_kn: None,
        }
    }
}

/// When to call and when to rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calling {
    /// The ONE setting, sooner to later: `prepare` comes when the odds that
    /// the limit is passed within the call time reach this.
    pub odds: f64,
    /// Seconds after which an unanswered `prepare` goes to the bunk sounder.
    pub bunk_after_s: u32,
    /// Seconds by which `prepare` comes before `reduce` at least, so that hands
    /// who stand ready hear it early too.
    pub lead_s: u32,
    /// Seconds a call stands at least.
    pub least_standing_s: u32,
    /// Whether the skipper has vouched for the limits.
    pub limits: Confirmation,
    /// The wind reckoned with in a squall of which nobody can tell the strength,
    /// knots.
    pub squall_kn: f64,
    /// Minutes of settled lull before shaking out is hinted at.
    pub shake_out_after_min: u32,
}

impl Default for Calling {
    fn default() -> Self {
        Calling {
            odds: 0.04,
            bunk_after_s: 30,
            lead_s: 600,
            least_standing_s: 300,
            limits: Confirmation::Unconfirmed,
            // Most squalls at sea bring 25 to 40 kn: common practice, no source.
            squall_kn: 35.0,
            shake_out_after_min: 60,
        }
    }
}

/// What is assumed at a cold start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Start {
    /// The plan believed set, unconfirmed until the crew says so.
    pub plan: PlanId,
    /// Hands.
    pub hands: Hands,
    /// Who steers.
    pub helm: Helm,
    /// What she is doing.
    pub doing: Doing,
}
