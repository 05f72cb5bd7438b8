//! The call time: how long these hands need, here and now, from the call to
//! the change being done.
//!
//! It is muster, then set-up still open and what stands in the way, then the
//! change, one after the other. Night, sea and weariness stretch all of it,
//! and each that stretches it also makes it less sure. Fewer hands, darkness,
//! an open item or more sea never make it shorter.

use super::limits::{CLOSE_REACH_KN, lower_of, true_wind_for_round_up};
use super::{Change, Course, HandsMinutes, ItemId, Ladder, MAX_ITEMS, MAX_RIGGED, Standing};
use crate::act::{Condition, Hands, Helm, PointOfSail, Readiness, Rigging, Sea};
use crate::boat::Crew;
use crate::instruments::Confirmation;
use crate::units::Knots;
use crate::view::{CallTime, Light};

/// Of what night, sea or weariness add, the share that is one standard
/// deviation. Common practice, no source.
const STRETCH_SPREAD: f64 = 0.5;
/// Times by which the spread is wider where nobody has vouched for the
/// limits. Common practice, no source.
const UNCONFIRMED_SPREAD: f64 = 1.5;

/// All that a call time depends on beside the boat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circumstances {
    /// Who is there.
    pub hands: Hands,
    /// Fit or worn out.
    pub condition: Condition,
    /// Who steers.
    pub helm: Helm,
    /// Day or night; unknown counts as night.
    pub light: Light,
    /// The sea.
    pub sea: Sea,
    /// Where the wind meets the boat, if known.
    pub point: Option<PointOfSail>,
    /// True wind, 1-minute mean, if known.
    pub tws_kn: Option<f64>,
    /// Speed that she makes on a close reach while sail is changed.
    pub close_reach_kn: f64,
    /// Which set-up items are ready, by [`ItemId`].
    pub readiness: [Readiness; MAX_ITEMS],
    /// What is rigged now, by [`super::RiggedId`].
    pub rigging: [Rigging; MAX_RIGGED],
    /// Whether somebody has vouched for limits and times.
    pub confirmed: Confirmation,
    /// Who has been called and is on the way.
    pub mustering: Mustering,
}

/// People who have been called and are on the way.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mustering {
    /// How many.
    pub people: u8,
    /// Seconds since they answered.
    pub gone_s: f64,
}

impl Circumstances {
    /// Fresh hands on a slight sea by day, the pilot steering, nothing ready
    /// and nothing in the way, wind not known.
    pub const fn fair(hands: Hands) -> Self {
        Circumstances {
            hands,
            condition: Condition::Fresh,
            helm: Helm::Pilot,
            light: Light::Day,
            sea: Sea::Slight,
            point: None,
            tws_kn: None,
            close_reach_kn: CLOSE_REACH_KN,
            readiness: [Readiness::Open; MAX_ITEMS],
            rigging: [Rigging::Cleared; MAX_RIGGED],
            confirmed: Confirmation::Confirmed,
            mustering: Mustering {
                people: 0,
                gone_s: 0.0,
            },
        }
    }

    /// Whether an item still has to be made ready. A permanently rigged one
    /// never has.
    pub fn is_open(&self, ladder: &Ladder, id: ItemId) -> bool {
        let Some(item) = ladder.item(id) else {
            return false;
        };
        item.standing == Standing::WhenNeeded
            && self.readiness.get(id.0 as usize) != Some(&Readiness::Ready)
    }

    /// The same, with one item as given.
    pub fn with_item(mut self, id: ItemId, readiness: Readiness) -> Self {
        if let Some(place) = self.readiness.get_mut(id.0 as usize) {
            *place = readiness;
        }
        self
    }
}

/// Whether and how a change can be made by these hands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Feasibility {
    /// It can.
    Feasible(Job),
    /// It cannot, as things are.
    Impossible(Obstacle),
}

impl Feasibility {
    /// The job, if it can be done.
    pub const fn job(&self) -> Option<&Job> {
        match self {
            Feasibility::Feasible(job) => Some(job),
            Feasibility::Impossible(_) => None,
        }
    }
}

/// The quickest way for these hands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Job {
    /// Its parts and their spread.
    pub time: CallTime,
    /// People who work on deck, the one who steers not counted.
    pub working: u8,
    /// How many of them have to be called from below.
    pub called: u8,
    /// Who steers meanwhile.
    pub steering: Steering,
}

/// Who steers while a change is made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Steering {
    /// The pilot: all hands work.
    #[default]
    Pilot,
    /// One of the hands.
    Hand,
}

/// Why a change cannot be made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Obstacle {
    /// Not enough people aboard.
    TooFewHands {
        /// People it takes, the one who steers counted in.
        need: u8,
        /// People there are.
        have: u8,
    },
    /// It blows too hard for the change or for a step before it.
    TooMuchWind {
        /// Highest true wind in which all of it can be done.
        highest: Knots,
    },
}

/// The call time of one change.
pub fn call_time(
    ladder: &Ladder,
    crew: &Crew,
    change: &Change,
    now: &Circumstances,
) -> Feasibility {
    route_time(ladder, crew, &[change], now)
}

/// The call time of changes made one after the other, mustered once.
pub fn route_time(
    ladder: &Ladder,
    crew: &Crew,
    route: &[&Change],
    now: &Circumstances,
) -> Feasibility {
    let steps = Steps::before(ladder, route, now);
    let steering = steering(crew, route, now, now.tws_kn);
    let have = people(now.hands);
    let need = steps.need(route).saturating_add(steering.hands());
    if need > have {
        return Feasibility::Impossible(Obstacle::TooFewHands { need, have });
    }
    if let (Some(wind), Some(highest)) = (now.tws_kn, steps.highest)
        && wind > highest.get()
    {
        return Feasibility::Impossible(Obstacle::TooMuchWind { highest });
    }
    let mut best: Option<Job> = None;
    for called in 0..=now.hands.below {
        let there = now.hands.on_deck.saturating_add(called);
        if there < need {
            continue;
        }
        let working = there.saturating_sub(steering.hands());
        let change_min: f64 = route.iter().map(|change| minutes_by(change, working)).sum();
        let mut time =
            Stretch::of(crew, now).time(muster_min(crew, called), steps.minutes, change_min);
        if called > 0 && called <= now.mustering.people {
            let ready_s = Stretch::of(crew, now).seconds(muster_min(crew, 0));
            time.muster_s = (time.muster_s - now.mustering.gone_s.max(0.0)).max(ready_s);
        }
        if best.is_none_or(|job| time.total_s() < job.time.total_s()) {
            best = Some(Job {
                time,
                working,
                called,
                steering,
            });
        }
    }
    match best {
        Some(job) => Feasibility::Feasible(job),
        None => Feasibility::Impossible(Obstacle::TooFewHands { need, have }),
    }
}

/// The call time if only the fewest hands did it and all had to be called:
/// what it would take though it is out of reach. Never below the time of any
/// crew that can do it.
pub(super) fn longest_time(
    ladder: &Ladder,
    crew: &Crew,
    route: &[&Change],
    now: &Circumstances,
) -> CallTime {
    let steps = Steps::before(ladder, route, now);
    let change_min = route
        .iter()
        .map(|change| change.minutes.iter().map(booked).fold(0.0, f64::max))
        .sum();
    Stretch::of(crew, now).time(muster_min(crew, 1), steps.minutes, change_min)
}

/// The true wind below which changes must be done by these hands: above it
/// one of them, or a step before it, can no longer be made.
pub fn deadline(
    ladder: &Ladder,
    crew: &Crew,
    route: &[&Change],
    now: &Circumstances,
) -> Option<Knots> {
    let steps = Steps::before(ladder, route, now);
    let short_when_steered = people(now.hands) < steps.need(route).saturating_add(1);
    if short_when_steered {
        lower_of(steps.highest, pilot_limit(crew, route, now))
    } else {
        steps.highest
    }
}

/// The lowest that [`deadline`] can be for any hands.
pub(super) fn lowest_deadline(
    ladder: &Ladder,
    crew: &Crew,
    route: &[&Change],
    now: &Circumstances,
) -> Option<Knots> {
    let steps = Steps::before(ladder, route, now);
    lower_of(steps.highest, pilot_limit(crew, route, now))
}

/// The highest that [`deadline`] can be for any hands and any set-up.
pub(super) fn highest_deadline(route: &[&Change], now: &Circumstances) -> Option<Knots> {
    route
        .iter()
        .map(|change| highest_of(change, now))
        .fold(None, lower_of)
}

/// Everything that comes before the changes themselves.
struct Steps {
    minutes: f64,
    hands: u8,
    /// Highest wind for these and for the changes.
    highest: Option<Knots>,
}

impl Steps {
    fn before(ladder: &Ladder, route: &[&Change], now: &Circumstances) -> Self {
        let mut steps = Steps {
            minutes: 0.0,
            hands: 0,
            highest: highest_deadline(route, now),
        };
        for (place, item) in ladder.setup.iter().enumerate() {
            let id = ItemId(place as u8);
            let is_needed = route.iter().any(|change| change.setup.contains(&id));
            if is_needed && now.is_open(ladder, id) {
                steps.add(item.minutes, item.hands, item.highest_wind);
            }
        }
        for (item, rigging) in ladder.rigged.iter().zip(now.rigging) {
            if rigging == Rigging::Rigged {
                steps.add(item.minutes, item.hands, item.highest_wind);
            }
        }
        steps
    }

    fn add(&mut self, minutes: f64, hands: u8, highest_wind: Option<Knots>) {
        self.minutes += minutes.max(0.0);
        self.hands = self.hands.max(hands);
        self.highest = lower_of(self.highest, highest_wind);
    }

    /// Hands working that all of it takes at least.
    fn need(&self, route: &[&Change]) -> u8 {
        let fewest = |change: &&Change| {
            let hands = change.minutes.iter().map(|entry| entry.hands);
            // A change that says nothing of hands can be done by nobody.
            hands.min().unwrap_or(u8::MAX)
        };
        route.iter().map(fewest).fold(self.hands, u8::max)
    }
}

impl Steering {
    const fn hands(self) -> u8 {
        match self {
            Steering::Pilot => 0,
            Steering::Hand => 1,
        }
    }
}

/// By how much everything takes longer, and how unsure that is.
struct Stretch {
    factor: f64,
    spread: f64,
}

impl Stretch {
    fn of(crew: &Crew, now: &Circumstances) -> Self {
        let night = match now.light {
            Light::Day => 1.0,
            Light::Night | Light::Unknown => crew.night_factor.max(1.0),
        };
        let worn = match now.condition {
            Condition::Fresh => 1.0,
            Condition::WornOut => crew.worn_factor.max(1.0),
        };
        let factors = [night, worn, sea_factor(crew, now.sea)];
        let own = match now.confirmed {
            Confirmation::Confirmed => crew.spread.max(0.0),
            Confirmation::Unconfirmed => crew.spread.max(0.0) * UNCONFIRMED_SPREAD,
        };
        let unsure = |factor: f64| STRETCH_SPREAD * (factor - 1.0) / factor;
        let square: f64 = factors.iter().map(|f| unsure(*f) * unsure(*f)).sum();
        Stretch {
            factor: factors.iter().product(),
            spread: libm::sqrt(own * own + square),
        }
    }

    fn seconds(&self, minutes: f64) -> f64 {
        minutes * 60.0 * self.factor
    }

    /// A slow crew is slow at everything, so the spread is that of the whole.
    fn time(&self, muster_min: f64, setup_min: f64, change_min: f64) -> CallTime {
        let whole = self.seconds(muster_min + setup_min + change_min);
        CallTime {
            muster_s: self.seconds(muster_min),
            setup_s: self.seconds(setup_min),
            change_s: self.seconds(change_min),
            spread_s: whole * self.spread,
        }
    }
}

/// The factor of a sea: never below that of any lesser sea.
fn sea_factor(crew: &Crew, sea: Sea) -> f64 {
    let up_to = match sea {
        Sea::Smooth => 1,
        Sea::Slight => 2,
        Sea::Moderate => 3,
        Sea::Rough => 4,
        Sea::VeryRough => 5,
    };
    let lesser = crew.sea_factors.iter().take(up_to);
    lesser.copied().fold(1.0, f64::max)
}

/// Seconds from an answer at the bunk to being on deck, under these
/// circumstances.
pub fn muster_s(crew: &Crew, now: &Circumstances) -> f64 {
    Stretch::of(crew, now).seconds(crew.muster_minutes.max(0.0))
}

fn muster_min(crew: &Crew, called: u8) -> f64 {
    let ready = crew.ready_minutes.max(0.0);
    if called == 0 {
        ready
    } else {
        ready + crew.muster_minutes.max(0.0)
    }
}

/// The least minutes booked for so many hands or fewer.
fn minutes_by(change: &Change, working: u8) -> f64 {
    change
        .minutes
        .iter()
        .filter(|entry| entry.hands <= working)
        .map(booked)
        .fold(f64::INFINITY, f64::min)
}

fn booked(entry: &HandsMinutes) -> f64 {
    entry.minutes.max(0.0)
}

/// Highest true wind for a change by itself, coming up to do it included.
fn highest_of(change: &Change, now: &Circumstances) -> Option<Knots> {
    let round_up = match change.course {
        Course::Holds => None,
        Course::ComesUp => change.round_up,
    };
    let coming_up = round_up.map(|most| true_wind_for_round_up(most, now.close_reach_kn));
    lower_of(change.highest_wind, coming_up)
}

/// True wind above which the pilot hands over to one of the crew. None where
/// it need not, or where a hand steers already.
fn pilot_limit(crew: &Crew, route: &[&Change], now: &Circumstances) -> Option<Knots> {
    let comes_up = route.iter().any(|change| change.course == Course::ComesUp);
    match now.helm {
        Helm::Pilot if comes_up => crew.pilot_limit_kn.and_then(|limit| Knots::new(limit).ok()),
        Helm::Pilot | Helm::Hand => None,
    }
}

/// Who steers in this wind. An unknown wind may be above the pilot's limit.
fn steering(crew: &Crew, route: &[&Change], now: &Circumstances, wind_kn: Option<f64>) -> Steering {
    if now.helm == Helm::Hand {
        return Steering::Hand;
    }
    match (pilot_limit(crew, route, now), wind_kn) {
        (Some(limit), Some(wind)) if wind <= limit.get() => Steering::Pilot,
        (Some(_), _) => Steering::Hand,
        (None, _) => Steering::Pilot,
    }
}

fn people(hands: Hands) -> u8 {
    hands.on_deck.saturating_add(hands.below)
}
