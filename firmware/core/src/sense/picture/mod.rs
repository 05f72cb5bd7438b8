//! All that the sensors tell, as one picture: wind, heel, motion, pressure.
//!
//! Readings go in at any rate. Once a whole second, whether anything was
//! heard or not, sources are reviewed, doubts weighed, and the second that
//! ended one before is closed; so what is told depends only on the readings
//! and their times, and extra ticks change nothing.
//!
//! A wind sample waits up to [`MOST_WAIT_MS`] for the heel samples about it, so
//! that the mast's motion can be taken out of it, and as long as the spike
//! gate holds it back. Figures made of whole seconds lag by that much.

mod basis;
mod corrections;
mod each_second;
mod faults;
mod knowledge;
mod refine;
mod show;

use heapless::Deque;

pub use corrections::{AppliedCorrection, AppliedCorrections, Correction};
pub use knowledge::{BY_HAND_LIMIT, ByHand, WindHealth};
pub use show::point_of_sail;

use crate::act::PointOfSail;
use crate::fault::{Fault, FaultTurn};
use crate::instruments::Instruments;
use crate::reading::{Heard, Quantity, Reading, SourceId};
use crate::sense::health::Health;
use crate::sense::health::apart::OtherUnit;
use crate::sense::health::course::Crosschecks;
use crate::sense::health::sail::{HeelBySail, LearntHeel};
use crate::sense::health::side::Side;
use crate::sense::health::standstill::Standstill;
use crate::sources::{HandOver, Sources};
use crate::stats::minute::DayMinute;
use crate::stats::squall::Squall;
use crate::stats::trend::Trend;
use crate::stats::{Day, Held, Minute, Minutes, Seconds, Smooth, WindSample};
use crate::time::Timestamp;
use crate::units::Knots;
use crate::wind::lag::Lag;
use crate::wind::spikes::{Spikes, Verdict};
use crate::wind::{Corrections, Gate, North, Sample, Track};

/// A wind sample waits no longer than this for the heel about it.
pub const MOST_WAIT_MS: u64 = 2_500;

/// A second is closed this long after it ended, for lines that come late.
const LATE_MS: u64 = 1_000;

/// A silence longer than this is not caught up on second by second.
const LONGEST_CATCH_UP_S: u64 = 2 * 86_400;

/// Nothing let through for so long and the gate starts anew: the wind has
/// moved on, and the old middle says nothing any more.
const GATE_RESET_S: f64 = 60.0;

/// Turns that wait to be fetched; the oldest goes first.
const TURNS: usize = 48;

/// Quantities that are watched for wild values: those of `faults`.
const WATCHED: usize = 7;

/// Samples that wait for heel: 2.5 s at the 12 a second of thinned feeds.
const WAITING: usize = 40;

/// Something that changed, for the event log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turn {
    /// A quantity is now taken from this source, or from none.
    Source(Quantity, Option<SourceId>),
    /// A fault began or ended.
    Fault(Fault, FaultTurn),
}

/// See the module.
pub struct Picture {
    corrections: Corrections,
    sources: Sources,
    spikes: Spikes,
    /// Wild values counted a second ago, by place in `faults`.
    spikes_before: [u32; WATCHED],
    gate: Gate,
    mast: Lag,
    waiting: Deque<Sample, WAITING>,
    heel: Track,
    pitch: Track,
    steady_heel: Smooth,
    signals: Signals,
    seconds: Seconds,
    minutes: Minutes,
    day: Day,
    health: Health,
    standstill: Standstill,
    heel_by_sail: HeelBySail,
    side: Side,
    crosschecks: Crosschecks,
    other_unit: OtherUnit,
    wind_unit: Option<SourceId>,
    trends: Trends,
    north: North,
    squall: Squall,
    by_hand: Option<ByHand>,
    turns: Deque<Turn, TURNS>,
    started: Option<Timestamp>,
    next_edge: u64,
    now: Timestamp,
}

/// Wind and heel as they stand, and smoothed for the eye.
struct Signals {
    wind: Held<WindSample>,
    heel: Held<f64>,
    last_wind: Option<Timestamp>,
    apparent: Smooth,
    true_boat: Smooth,
    true_compass: Smooth,
    ground: Smooth,
    tws: Smooth,
}

/// Trends of the last hour.
#[derive(Clone, Copy, Debug, Default)]
struct Trends {
    speed: Option<Trend>,
    direction: Option<Trend>,
}

const _: () = assert!(size_of::<Picture>() <= 64 * 1024);

impl Picture {
    /// Knows nothing yet but the boat file's part.
    pub fn new(instruments: &Instruments) -> Self {
        Picture {
            corrections: Corrections::new(instruments),
            sources: Sources::new(instruments.may_differ),
            spikes: Spikes::default(),
            spikes_before: [0; WATCHED],
            gate: Gate::default(),
            mast: Lag::default(),
            waiting: Deque::new(),
            heel: Track::default(),
            pitch: Track::default(),
            steady_heel: Smooth::default(),
            signals: Signals::new(Timestamp::ZERO),
            seconds: Seconds::new(0),
            minutes: Minutes::default(),
            day: Day::default(),
            health: Health::default(),
            standstill: Standstill::default(),
            heel_by_sail: HeelBySail::default(),
            side: Side::default(),
            crosschecks: Crosschecks::default(),
            other_unit: OtherUnit::default(),
            wind_unit: None,
            trends: Trends::default(),
            north: North::True,
            squall: Squall::None,
            by_hand: None,
            turns: Deque::new(),
            started: None,
            next_edge: 0,
            now: Timestamp::ZERO,
        }
    }

    /// Takes one reading, after what was due before it.
    pub fn hear(&mut self, reading: &Reading, now: Timestamp) {
        self.tick(now);
        let mut reading = *reading;
        // Nothing can have been heard in the future.
        if reading.at > self.now {
            reading.at = self.now;
        }
        if self.sources.is_too_soon(&reading) || self.is_spike(&reading) {
            return;
        }
        if let Some(turn) = self.sources.hear(&reading) {
            self.on_hand_over(turn);
        }
        let Heard::Value(measure) = reading.heard else {
            return;
        };
        if self.sources.chosen_id(measure.quantity()) == Some(reading.source) {
            self.on_measure(measure, reading.at);
        } else {
            self.on_other(reading.source, measure);
        }
    }

    /// Does what is due by `now`. Extra ticks change nothing.
    pub fn tick(&mut self, now: Timestamp) {
        self.now = self.now.max(now);
        let now = self.now;
        if self.started.is_none() {
            self.started = Some(now);
            self.restart(now);
        }
        let second = now.as_millis() / 1000;
        if second > self.next_edge.saturating_add(LONGEST_CATCH_UP_S) {
            self.restart(now);
        }
        while self.next_edge <= second {
            let edge = Timestamp::from_secs(self.next_edge);
            self.next_edge += 1;
            self.on_second(edge);
        }
    }

    /// The next whole second: sources are reviewed then, heard or not.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        self.started.map(|_| Timestamp::from_secs(self.next_edge))
    }

    /// The oldest turn not fetched yet.
    pub fn next_turn(&mut self) -> Option<Turn> {
        self.turns.pop_front()
    }

    /// The oldest closed minute not fetched yet, of the last 180.
    pub fn next_minute(&mut self) -> Option<Minute> {
        self.minutes.next_unread()
    }

    /// The last closed minutes, oldest first, at most 180.
    pub fn last_minutes(
        &self,
    ) -> impl DoubleEndedIterator<Item = Minute> + ExactSizeIterator + Clone {
        self.minutes.iter()
    }

    /// A day of minutes, newest first, rounded to hundredths.
    pub fn last_day(&self) -> impl Iterator<Item = DayMinute> {
        self.day.newest_first()
    }

    /// The closed seconds of the last ten minutes, for who needs them finer.
    pub fn seconds(&self) -> &Seconds {
        &self.seconds
    }

    /// True wind read off a hand-held unit or the sea. Judged only where the
    /// masthead's is lost, and for [`BY_HAND_LIMIT`] at most.
    pub fn wind_by_hand(&mut self, speed: Knots, point: PointOfSail, now: Timestamp) {
        self.tick(now);
        self.by_hand = Some(ByHand {
            speed,
            point,
            at: self.now,
        });
    }

    /// Another sail plan is set, of this many times the area if that is known.
    pub fn plan_changed(&mut self, plan: usize, area_ratio: Option<f64>) {
        self.heel_by_sail.plan_changed(plan, area_ratio);
    }

    /// What was learnt of heel by plan and point of sail, to be kept.
    pub fn learnt_heel(&self) -> LearntHeel {
        self.heel_by_sail.saved()
    }

    /// Goes on from what was kept, with this plan set.
    pub fn restore_learnt_heel(&mut self, learnt: LearntHeel, plan: usize) {
        self.heel_by_sail.restore(learnt, plan);
    }

    fn restart(&mut self, now: Timestamp) {
        let second = now.as_millis() / 1000;
        self.next_edge = second + 1;
        self.signals = Signals::new(now);
        self.seconds = Seconds::new(second);
        // Minutes of days ago are no trend and no tendency.
        self.minutes = Minutes::default();
        self.day = Day::default();
        self.trends = Trends::default();
        self.waiting.clear();
        self.gate.reset();
        self.squall = Squall::None;
    }

    /// A wild value of the source in use is as if it had not been heard.
    fn is_spike(&mut self, reading: &Reading) -> bool {
        match reading.heard {
            Heard::Value(measure)
                if self.sources.chosen_id(measure.quantity()) == Some(reading.source) =>
            {
                self.spikes.pass(&measure, reading.at) == Verdict::HeldBack
            }
            Heard::Value(_) | Heard::Invalid(_) => false,
        }
    }

    fn on_hand_over(&mut self, turn: HandOver) {
        self.spikes.reset(turn.quantity);
        match turn.quantity {
            // Another unit has its own spread and its own faults.
            Quantity::ApparentWind => {
                self.gate.reset();
                // The same one come back is as doubtful as it was.
                if turn.to.is_some() && turn.to != self.wind_unit {
                    self.wind_unit = turn.to;
                    self.standstill.forget_masthead();
                    self.heel_by_sail.forget_masthead();
                    self.side = Side::default();
                    self.other_unit.forget();
                }
            }
            Quantity::Heel => {
                self.heel = Track::default();
                self.standstill.forget_heel();
            }
            Quantity::Pitch => self.pitch = Track::default(),
            _ => {}
        }
        self.tell(Turn::Source(turn.quantity, turn.to));
    }

    fn tell(&mut self, turn: Turn) {
        if self.turns.is_full() {
            self.turns.pop_front();
        }
        // Made room for above.
        let _ = self.turns.push_back(turn);
    }
}

impl Signals {
    fn new(now: Timestamp) -> Self {
        Signals {
            wind: Held::new(now),
            heel: Held::new(now),
            last_wind: None,
            apparent: Smooth::default(),
            true_boat: Smooth::default(),
            true_compass: Smooth::default(),
            ground: Smooth::default(),
            tws: Smooth::default(),
        }
    }

    /// What follows is not to be mixed with what was.
    fn forget_smoothed(&mut self) {
        self.apparent.clear();
        self.true_boat.clear();
        self.true_compass.clear();
        self.ground.clear();
        self.tws.clear();
    }
}

#[cfg(test)]
mod tests;
