//! What the core tells: one event each time that something a person or a
//! logbook should know has changed.

use crate::act::{Condition, Doing, Hands, Helm, NotNow, Question, Readiness, Reply, Rigging, Sea};
use crate::fault::Fault;
pub use crate::fault::FaultTurn;
use crate::ladder::{AtOnceId, ItemId, PlanId, RiggedId};
use crate::reading::{Quantity, SourceId};
use crate::text::Text;
use crate::time::Timestamp;
use crate::units::Knots;

/// How hard the boat calls; drawn in [`crate::call::standing`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Call {
    /// Nothing to do.
    #[default]
    None,
    /// Cannot be judged; the reason is with it.
    Blind,
    /// Get ready for the next reduction now.
    Prepare,
    /// Make the change now: only the change itself still fits.
    Reduce,
    /// Past the limit of this plan.
    Past,
}

impl Call {
    /// As the event line has it.
    pub const fn word(self) -> &'static str {
        match self {
            Call::None => "none",
            Call::Blind => "blind",
            Call::Prepare => "prepare",
            Call::Reduce => "reduce",
            Call::Past => "past",
        }
    }

    /// As in the IMO bridge alert management standard; none for no call.
    pub const fn priority(self) -> Option<Priority> {
        match self {
            Call::None => None,
            Call::Blind | Call::Prepare => Some(Priority::Warning),
            Call::Reduce | Call::Past => Some(Priority::Alarm),
        }
    }
}

/// Alert priority, lowest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Priority {
    /// Silent, shown.
    Caution,
    /// Sounds, to be acknowledged.
    Warning,
    /// Sounds until acknowledged; action is due.
    Alarm,
}

impl Priority {
    /// As the event line has it.
    pub const fn word(self) -> &'static str {
        match self {
            Priority::Caution => "caution",
            Priority::Warning => "warning",
            Priority::Alarm => "alarm",
        }
    }
}

/// What brought a call or hint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// True wind against the plan's limit.
    Wind,
    /// Heel against the plan's limit.
    Heel,
    /// A squall seen or a sudden onset.
    Squall,
    /// The skipper's forecast.
    Forecast,
    /// Darkness to come.
    Dark,
    /// Data missing or doubted.
    Data,
}

impl Cause {
    /// As the event line has it.
    pub const fn word(self) -> &'static str {
        match self {
            Cause::Wind => "wind",
            Cause::Heel => "heel",
            Cause::Squall => "squall",
            Cause::Forecast => "forecast",
            Cause::Dark => "dark",
            Cause::Data => "data",
        }
    }
}

/// A silent word beside the call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hint {
    /// An item that the next reduction needs is open.
    OpenSetup(ItemId),
    /// A long settled lull: more sail would stand.
    ShakeOut(PlanId),
    /// The last good moment to go down to this plan is now.
    ReduceNow(PlanId),
    /// Going down to this plan can wait for a better moment.
    CanWait(PlanId),
    /// A change of the watch bill has come: has the watch changed?
    WatchDue,
    /// The plan believed set may not be the one that is set.
    PlanDoubted,
    /// Speed, engine or heel contradicts what the boat is said to be doing.
    DoingDoubted,
}

/// What kind of change an event tells.
#[derive(Clone, Debug, PartialEq)]
pub enum EventKind {
    /// The call rose, fell or changed its cause.
    Call,
    /// A hint was raised.
    Hint(Hint),
    /// A person acknowledged.
    Acknowledge,
    /// The crew has begun a change.
    Start,
    /// The crew has given a begun change up: the plan is what it was.
    GivenUp,
    /// The watch asks the crew something, aloud.
    Ask(Question),
    /// The plan believed set changed.
    Plan,
    /// A set-up item changed.
    Setup(ItemId, Readiness),
    /// Hands or their condition changed.
    Hands(Hands, Condition),
    /// Who steers changed.
    Helm(Helm),
    /// What the boat is doing changed.
    State(Doing),
    /// The crew said something else that a logbook should know.
    Said(Saying),
    /// A quantity is now taken from this source, or from none.
    Source(Quantity, Option<SourceId>),
    /// A fault began or ended.
    Fault(Fault, FaultTurn),
    /// A clock told another time than the one held.
    Clock(ClockTurn, ClockJump),
    /// The figures of the moment, once in a while.
    Summary,
}

/// What became of another time that was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClockTurn {
    /// It is told, and not followed.
    Contradicted,
    /// It has been told for minutes, and is followed from here on.
    Followed,
    /// It is told no more: the held time was right.
    Withdrawn,
}

/// Two times for one moment, Unix milliseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockJump {
    /// As it was held.
    pub held_ms: i64,
    /// As it was told.
    pub told_ms: i64,
}

/// What the crew said that has no kind of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Saying {
    /// The change is put off for so many minutes.
    NotNow(u8, NotNow),
    /// The other hand is called.
    Woken,
    /// Somebody has answered at the bunk; seconds until on deck.
    UpAtBunk(u32),
    /// What was asked has been answered.
    Answered(Question, Reply),
    /// The sea, or that it is to be judged by wind and motion.
    Sea(Option<Sea>),
    /// Something that is in a change's way was set, or taken in.
    Rigged(RiggedId, Rigging),
    /// The wind, read off by hand.
    WindByHand(Knots),
    /// A squall is due in so many minutes, 0: it has gone by; with the wind that
    /// it is thought to bring.
    SquallSeen(u8, Option<Knots>),
    /// The limits are the skipper's.
    LimitsConfirmed,
    /// The wind is as the fitter left it.
    WindConfirmed,
    /// No reef before dark today.
    DarkDeclined,
}

/// One event with the figures that stood when it came.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Counts up by one from 1.
    pub seq: u64,
    /// Stays for an alert's life; 0 for what is no alert.
    pub id: u32,
    /// When.
    pub at: Timestamp,
    /// Unix milliseconds, if UTC is known.
    pub unix_ms: Option<i64>,
    /// What.
    pub kind: EventKind,
    /// The call that stands.
    pub call: Call,
    /// Its priority, or that of the hint or fault.
    pub priority: Option<Priority>,
    /// What brought it.
    pub cause: Option<Cause>,
    /// In one line.
    pub why: Text<96>,
    /// The plan believed set.
    pub plan: PlanId,
    /// The plan called for next.
    pub next: Option<PlanId>,
    /// What can be done at once, where that is the order.
    pub at_once: Option<AtOnceId>,
    /// Time to the limit less the change alone; none if not known.
    pub minutes_in_hand: Option<f64>,
    /// Time to the limit less the call time.
    pub slack_s: Option<f64>,
    /// Time to the limit at the odds of the setting.
    pub soonest_s: Option<f64>,
    /// Those odds: that it is sooner.
    pub promise: Option<f64>,
    /// Muster, set-up left and the change.
    pub call_time_s: Option<f64>,
    /// That the limit is passed within the call time.
    pub odds: Option<f64>,
    /// True wind over water, 1-minute mean.
    pub tws_mean_1min_kn: Option<f64>,
    /// True wind over water, 3-second gust.
    pub gust_3s_kn: Option<f64>,
    /// Steady heel, starboard down positive.
    pub heel_mean_deg: Option<f64>,
}
