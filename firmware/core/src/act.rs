//! What the crew does with the keys: inputs of the core beside the readings.

use crate::ladder::{ItemId, PlanId, RiggedId};
use crate::units::Knots;

/// One deliberate act of the crew, already confirmed where that is needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Act {
    /// Stills the sound of the standing call; the call stays.
    Acknowledge,
    /// Stills the sound for half a minute without answering.
    Silence,
    /// The crew has begun the change that is being called for.
    Started,
    /// The begun change was given up; the plan is what it was.
    GivenUp,
    /// This plan is set now. Ends a begun change.
    Plan(PlanId),
    /// The next plan down the ladder is set now.
    PlanDown,
    /// The next plan up the ladder is set now.
    PlanUp,
    /// The call is put off, for a while and for a reason.
    NotNow {
        /// How long, 20 to 60; clamped to that.
        minutes: u8,
        /// Why.
        because: NotNow,
    },
    /// A squall is in sight.
    SquallSeen {
        /// Until it is likely to be here; 0: it is none, or has gone by.
        minutes: u8,
        /// The wind that it is thought to bring; none where nobody can tell.
        strength: Option<Knots>,
    },
    /// A set-up item was made ready or undone.
    Setup {
        /// Which.
        item: ItemId,
        /// How it is now.
        readiness: Readiness,
    },
    /// Something that must be taken in before a change was rigged or cleared.
    Rigged {
        /// Which.
        item: RiggedId,
        /// How it is now.
        rigging: Rigging,
    },
    /// Who is aboard and where.
    Hands(Hands),
    /// How the crew feels.
    Condition(Condition),
    /// Who steers.
    Helm(Helm),
    /// What the boat is doing.
    Doing(Doing),
    /// The sea as the crew sees it; `None` goes back to measured motion.
    Sea(Option<Sea>),
    /// True wind by a hand-held unit or by Beaufort force.
    WindByHand {
        /// Its speed.
        speed: Knots,
        /// Where it comes over the boat.
        side: PointOfSail,
    },
    /// Calls the hands below now, until somebody answers at the bunk.
    Wake,
    /// Somebody answers at the bunk: up, and coming.
    UpAtBunk,
    /// Those who were called are on deck.
    OnDeck,
    /// The answer to a question of the watch.
    Answer {
        /// Which.
        to: Question,
        /// Yes or no.
        reply: Reply,
    },
    /// The skipper has confirmed the limits of all plans.
    ConfirmLimits,
    /// The fitter has confirmed the wind unit's calibration.
    ConfirmWind,
    /// The watch has changed as the watch bill has it, now.
    WatchChanged,
    /// The hint to reduce now was declined for today.
    DeclineBeforeDark,
}

/// What the watch asks aloud, what comes first foremost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// A change was under way when the watch stopped, longer ago than it takes:
    /// is it set? "No": it is not being made.
    OldChange,
    /// A call stood when the watch stopped, longer ago than its work takes:
    /// does it still?
    OldCall,
    /// Who was on deck and below when it stopped: still so?
    OldHands,
    /// A change has used up its time: is it set? "No": not yet.
    IsItSet,
    /// Who was called has had the time to muster: on deck? "No": not yet.
    OnDeck,
    /// All is ready and the wind hovers: reduce and rest? "No": carry on.
    CarryOn,
}

impl Question {
    /// Every question, what comes first foremost.
    pub const ALL: [Question; 6] = [
        Question::OldChange,
        Question::OldCall,
        Question::OldHands,
        Question::IsItSet,
        Question::OnDeck,
        Question::CarryOn,
    ];
}

/// An answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reply {
    /// Yes.
    Yes,
    /// No, or not yet.
    No,
}

/// Why a call was put off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotNow {
    /// A harbour or shelter is near.
    Shelter,
    /// Traffic or a hazard needs the hands first.
    Traffic,
    /// The crew expects the wind to drop.
    Lull,
    /// The hands are resting or eating.
    Rest,
}

/// Whether a set-up item is ready.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Readiness {
    /// Still to be done.
    #[default]
    Open,
    /// Done.
    Ready,
}

impl Readiness {
    /// In one word.
    pub const fn word(self) -> &'static str {
        match self {
            Readiness::Open => "open",
            Readiness::Ready => "ready",
        }
    }
}

/// Whether something stands in the way of a change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rigging {
    /// Not set.
    #[default]
    Cleared,
    /// Set: must be taken in first.
    Rigged,
}

/// People aboard who can work on deck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hands {
    /// On watch, dressed and clipped on; the one who steers counted in.
    pub on_deck: u8,
    /// Below, who can be called.
    pub below: u8,
}

/// How fit the crew is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Condition {
    /// Rested enough.
    #[default]
    Fresh,
    /// Worn out, seasick or cold: everything takes longer.
    WornOut,
}

/// Who steers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Helm {
    /// A pilot or vane gear.
    #[default]
    Pilot,
    /// One of the hands.
    Hand,
}

/// What the boat is doing. Only under sail is there a call.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Doing {
    /// Under sail alone.
    #[default]
    Sailing,
    /// Sails set and engine on.
    MotorSailing,
    /// Engine alone.
    Motoring,
    /// Hove-to.
    HoveTo,
    /// At anchor.
    Anchored,
    /// Alongside or on a mooring.
    Moored,
}

impl Doing {
    /// As the crew says it.
    pub const fn word(self) -> &'static str {
        match self {
            Doing::Sailing => "sailing",
            Doing::MotorSailing => "motor-sailing",
            Doing::Motoring => "motoring",
            Doing::HoveTo => "hove-to",
            Doing::Anchored => "anchored",
            Doing::Moored => "moored",
        }
    }

    /// Whether sails are set that the wind can overpower.
    pub const fn is_under_sail(self) -> bool {
        match self {
            Doing::Sailing | Doing::MotorSailing | Doing::HoveTo => true,
            Doing::Motoring | Doing::Anchored | Doing::Moored => false,
        }
    }
}

/// The sea, in the terms of WMO code table 3700.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sea {
    /// Up to 0.5 m.
    Smooth,
    /// 0.5 to 1.25 m.
    Slight,
    /// 1.25 to 2.5 m.
    Moderate,
    /// 2.5 to 4 m.
    Rough,
    /// Over 4 m.
    VeryRough,
}

/// How the wind meets the boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointOfSail {
    /// True wind less than 60 degrees off the bow.
    CloseHauled,
    /// 60 to 120 degrees.
    Reaching,
    /// More than 120 degrees.
    Running,
}
