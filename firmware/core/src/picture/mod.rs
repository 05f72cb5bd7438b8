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

mod judge;
mod show;
mod standing;
mod undone;

use heapless::{Deque, Vec};

pub use show::point_of_sail;
pub use standing::{BY_HAND_LIMIT, ByHand, WindStanding};
pub use undone::{Correction, Undone};

use crate::act::PointOfSail;
use crate::event::FaultTurn;
use crate::fault::Fault;
use crate::instruments::{Instruments, Switch};
use crate::reading::{Heard, Measure, Quantity, Reading, SourceId};
use crate::sources::{HandOver, Sources};
use crate::stats::minute::DayMinute;
use crate::stats::squall::Squall;
use crate::stats::trend::Trend;
use crate::stats::{Day, Minute, Minutes, Seconds, Smooth, Standing, WindSample, squall};
use crate::time::Timestamp;
use crate::units::Knots;
use crate::wind::doubt::{Doubts, Evidence};
use crate::wind::round_up::upright_stiffness;
use crate::wind::{
    Attitude, Corrections, Gate, Heading, North, Sample, Track, Vector, correct, heading, triangle,
    vector::Turn as Turning,
};

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

/// Faults at one time; those listed last in [`judge`] fall off.
const FAULTS: usize = 24;

/// Samples that wait for heel: 2.5 s at 20 Hz.
const WAITING: usize = 56;

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
    gate: Gate,
    waiting: Deque<Sample, WAITING>,
    heel: Track,
    pitch: Track,
    steady_heel: Smooth,
    signals: Signals,
    seconds: Seconds,
    minutes: Minutes,
    day: Day,
    doubts: Doubts,
    stiffness: Stiffness,
    trends: Trends,
    north: North,
    squall: Squall,
    by_hand: Option<ByHand>,
    faults: Vec<Fault, FAULTS>,
    turns: Deque<Turn, TURNS>,
    started: Option<Timestamp>,
    next_edge: u64,
    now: Timestamp,
}

/// Wind and heel as they stand, and smoothed for the eye.
struct Signals {
    wind: Standing<WindSample>,
    heel: Standing<f64>,
    last_wind: Option<Timestamp>,
    apparent: Smooth,
    true_boat: Smooth,
    true_compass: Smooth,
    ground: Smooth,
    tws: Smooth,
}

/// Heel per AWS squared with the falling lever taken out.
#[derive(Clone, Copy, Debug, Default)]
struct Stiffness {
    last: Option<f64>,
    usual: Option<f64>,
}

/// A true wind as it was found: in boat axes, compass axes, or both.
struct Found {
    boat: Option<Vector>,
    compass: Option<Vector>,
    north: North,
    aws_kn: Option<f64>,
}

impl Found {
    fn off_bow(wind: Vector, aws_kn: Option<f64>, heading: Option<Heading>) -> Self {
        let turn = heading.map(|h| Turning::by(h.bearing.degrees()));
        Found::turned(wind, aws_kn, heading, turn)
    }

    fn turned(
        wind: Vector,
        aws_kn: Option<f64>,
        heading: Option<Heading>,
        turn: Option<Turning>,
    ) -> Self {
        Found {
            boat: Some(wind),
            compass: turn.map(|turn| wind.turned_by(turn)),
            north: heading.map_or(North::True, |h| h.north),
            aws_kn,
        }
    }
}

/// Trends of the last hour.
#[derive(Clone, Copy, Debug, Default)]
struct Trends {
    speed: Option<Trend>,
    direction: Option<Trend>,
}

/// What the true wind is worked out from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Basis {
    /// Apparent wind and the log.
    Water,
    /// Apparent wind and SOG for want of a log.
    Ground,
    /// A true wind that an instrument worked out.
    TrueWind,
    /// A ground wind that an instrument worked out.
    GroundWind,
    /// Nothing.
    None(Quantity),
}

const _: () = assert!(size_of::<Picture>() <= 64 * 1024);

impl Picture {
    /// Knows nothing yet but the boat file's part.
    pub fn new(instruments: &Instruments) -> Self {
        Picture {
            corrections: Corrections::new(instruments),
            sources: Sources::default(),
            gate: Gate::default(),
            waiting: Deque::new(),
            heel: Track::default(),
            pitch: Track::default(),
            steady_heel: Smooth::default(),
            signals: Signals::new(Timestamp::ZERO),
            seconds: Seconds::new(0),
            minutes: Minutes::default(),
            day: Day::default(),
            doubts: Doubts::default(),
            stiffness: Stiffness::default(),
            trends: Trends::default(),
            north: North::True,
            squall: Squall::None,
            by_hand: None,
            faults: Vec::new(),
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
        if let Some(turn) = self.sources.hear(&reading) {
            self.on_hand_over(turn);
        }
        if self.sources.chosen_id(reading.heard.quantity()) != Some(reading.source) {
            return;
        }
        match reading.heard {
            Heard::Value(measure) => self.on_measure(measure, reading.at),
            Heard::Invalid(_) => {}
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

    /// Another sail plan is set: its stiffness is guessed from the old one's,
    /// moment going with area^1.5 where the lever shrinks as its root, until
    /// it is measured. `area_ratio` is new over old; none forgets it.
    pub fn plan_changed(&mut self, area_ratio: Option<f64>) {
        self.stiffness.last = None;
        self.stiffness.usual = match (self.stiffness.usual, area_ratio) {
            (Some(usual), Some(ratio)) if ratio > 0.0 => Some(usual * ratio * libm::sqrt(ratio)),
            _ => None,
        };
    }

    fn restart(&mut self, now: Timestamp) {
        let second = now.as_millis() / 1000;
        self.next_edge = second + 1;
        self.signals = Signals::new(now);
        self.seconds = Seconds::new(second);
        self.waiting.clear();
        self.gate.reset();
        self.squall = Squall::None;
    }

    fn on_hand_over(&mut self, turn: HandOver) {
        match turn.quantity {
            // Another unit has its own spread and its own faults.
            Quantity::ApparentWind => self.gate.reset(),
            Quantity::Heel => self.heel = Track::default(),
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

    fn on_measure(&mut self, measure: Measure, at: Timestamp) {
        match measure {
            Measure::ApparentWind { angle, speed } => {
                let sample = Sample {
                    at,
                    felt: self.corrections.in_plane(angle, speed),
                    heading: self.heading(),
                    hold_ms: self.hold_ms(Quantity::ApparentWind),
                };
                self.on_apparent(sample);
            }
            Measure::TrueWind { angle, speed } if self.basis() == Basis::TrueWind => {
                let wind = Vector::polar(speed.get(), angle.degrees());
                let found = Found::off_bow(wind, None, self.heading());
                self.on_true_wind(found, at, self.hold_ms(Quantity::TrueWind));
            }
            Measure::GroundWind { direction, speed } if self.basis() == Basis::GroundWind => {
                self.on_ground_wind(Vector::polar(speed.get(), direction.degrees()), at);
            }
            Measure::Heel(heel) => {
                let heel = self.corrections.heel(heel);
                self.heel.put(at, heel);
                self.steady_heel.put(Vector { x: heel, y: 0.0 }, at);
                let hold = self.hold_ms(Quantity::Heel);
                let seconds = &mut self.seconds;
                self.signals
                    .heel
                    .put(heel, at, hold, |piece, heel| seconds.add_heel(piece, *heel));
                self.release();
            }
            Measure::Pitch(pitch) => self.pitch.put(at, self.corrections.pitch(pitch)),
            // Taken from their source when they are needed.
            _ => {}
        }
    }

    fn hold_ms(&self, quantity: Quantity) -> u32 {
        self.sources
            .chosen(quantity)
            .map_or(0, |slot| slot.ageing().limit_ms)
    }

    fn on_apparent(&mut self, sample: Sample) {
        let waiting = &mut self.waiting;
        self.gate.put(sample, |sample| {
            if waiting.is_full() {
                waiting.pop_front();
            }
            // Made room for above.
            let _ = waiting.push_back(sample);
        });
        self.release();
    }

    /// Works out the samples whose heel is known, in order of time.
    fn release(&mut self) {
        while let Some(sample) = self.waiting.front().copied() {
            let Some(attitude) = self.attitude(sample.at) else {
                break;
            };
            self.waiting.pop_front();
            self.on_level(sample, attitude);
        }
    }

    /// How the mast stood and moved; none while it pays to wait.
    fn attitude(&self, at: Timestamp) -> Option<Attitude> {
        let instruments = self.corrections.instruments();
        if instruments.heel_correction == Switch::Off && instruments.mast_motion.is_none() {
            return Some(Attitude::default());
        }
        if self.sources.live(Quantity::Heel, self.now).is_none() {
            return Some(Attitude::default());
        }
        let pitch = match self.sources.live(Quantity::Pitch, self.now) {
            Some(_) => self.pitch.at(at).map(|p| (p.value, Some(p.rate))),
            None => None,
        };
        let pitch = pitch.or_else(|| self.pitch_as_it_is());
        if let Some(heel) = self.heel.at(at) {
            return Some(Attitude {
                heel_deg: Some(heel.value),
                roll_rate: Some(heel.rate),
                pitch_deg: pitch.map(|(value, _)| value),
                pitch_rate: pitch.and_then(|(_, rate)| rate),
            });
        }
        let waited = self.now.millis_since(at) >= MOST_WAIT_MS;
        (waited || self.heel.is_hopeless(at)).then(|| Attitude {
            heel_deg: self.heel.newest(),
            pitch_deg: pitch.map(|(value, _)| value),
            ..Attitude::default()
        })
    }

    fn pitch_as_it_is(&self) -> Option<(f64, Option<f64>)> {
        self.sources.live(Quantity::Pitch, self.now)?;
        self.pitch.newest().map(|value| (value, None))
    }

    fn on_level(&mut self, sample: Sample, attitude: Attitude) {
        let apparent = self.corrections.level(sample.felt, attitude);
        self.signals.apparent.put(apparent, sample.at);
        let heading = sample.heading;
        // One turn from boat to compass serves both winds.
        let turn = heading.map(|h| Turning::by(h.bearing.degrees()));
        if let Some(turn) = turn
            && heading.is_some_and(|h| h.north == North::True)
            && let Some(ground) = self.ground_velocity()
        {
            let wind = triangle::ground_wind(apparent, turn, ground);
            self.signals.ground.put(wind, sample.at);
        }
        let velocity = match self.basis() {
            Basis::Water => self.water_velocity(),
            Basis::Ground => self.ground_for_water(heading),
            Basis::TrueWind | Basis::GroundWind | Basis::None(_) => None,
        };
        if let Some(velocity) = velocity {
            let wind = triangle::true_wind(apparent, velocity);
            let found = Found::turned(wind, Some(apparent.speed()), heading, turn);
            self.on_true_wind(found, sample.at, sample.hold_ms);
        }
    }

    /// A wind over the ground for want of any other: its direction needs no
    /// heading, its angle off the bow does.
    fn on_ground_wind(&mut self, compass: Vector, at: Timestamp) {
        let heading = self.heading().filter(|h| h.north == North::True);
        let found = Found {
            boat: heading.map(|h| compass.turned(-h.bearing.degrees())),
            compass: Some(compass),
            north: North::True,
            aws_kn: None,
        };
        self.on_true_wind(found, at, self.hold_ms(Quantity::GroundWind));
    }

    fn on_true_wind(&mut self, found: Found, at: Timestamp, hold_ms: u32) {
        let Some(speed) = found.boat.or(found.compass).map(Vector::speed) else {
            return;
        };
        let unit = |v: Vector| (speed > 0.0).then(|| (v.y / speed, v.x / speed));
        if found.north != self.north {
            self.signals.true_compass.clear();
            self.north = found.north;
        }
        let sample = WindSample {
            tws_kn: speed,
            twa: found.boat.and_then(unit),
            twd: found.compass.and_then(unit),
            aws_kn: found.aws_kn,
        };
        self.signals.true_boat.put_or_clear(found.boat, at);
        self.signals.true_compass.put_or_clear(found.compass, at);
        self.signals.tws.put(Vector { x: speed, y: 0.0 }, at);
        self.signals.last_wind = Some(at);
        let seconds = &mut self.seconds;
        self.signals
            .wind
            .put(sample, at, hold_ms, |piece, s| seconds.add_wind(piece, s));
    }

    fn on_second(&mut self, edge: Timestamp) {
        self.gate.tick(edge);
        if self.gate.held_since().is_some()
            && self
                .signals
                .last_wind
                .is_some_and(|last| edge.secs_since(last) > GATE_RESET_S)
        {
            self.gate.reset();
        }
        for turn in &self.sources.review(edge) {
            self.on_hand_over(*turn);
        }
        // Deadlines see the moment they were set for, however late they run.
        let late = core::mem::replace(&mut self.now, edge);
        self.release();
        self.settle(edge);
        self.weigh(edge);
        self.now = late;
    }

    /// Closes the seconds that nothing can be added to any more.
    fn settle(&mut self, edge: Timestamp) {
        let late = edge.as_millis().saturating_sub(LATE_MS);
        let held = self.gate.held_since();
        let first = match (held, self.waiting.front().map(|sample| sample.at)) {
            (Some(a), Some(b)) => Some(if a < b { a } else { b }),
            (one, other) => one.or(other),
        };
        let until = first.map_or(late, |first| late.min(first.as_millis()));
        let seconds = &mut self.seconds;
        self.signals
            .wind
            .settle(Timestamp::from_millis(until), |piece, sample| {
                seconds.add_wind(piece, sample);
            });
        self.signals
            .heel
            .settle(Timestamp::from_millis(late), |piece, heel| {
                seconds.add_heel(piece, *heel);
            });
        while (self.seconds.closed() + 1) * 1000 <= until {
            let second = self.seconds.close_one();
            if (second + 1).is_multiple_of(60) {
                self.on_minute(second + 1);
            }
        }
    }

    fn on_minute(&mut self, end_second: u64) {
        let start = Timestamp::from_secs(end_second.saturating_sub(60));
        let pressure = match self.sources.live(Quantity::Pressure, self.now) {
            Some(Measure::Pressure(hpa)) => Some(hpa.get()),
            _ => None,
        };
        let minute = Minute::of(start, self.seconds.window(60, 0), self.north, pressure);
        self.learn_stiffness(&minute);
        self.day.push(&minute);
        self.minutes.push(minute);
        self.trends = self.find_trends();
    }

    /// Upwind and with wind enough, heel per AWS squared is the boat's own
    /// figure; the usual one follows slowly, and not while it is doubted.
    fn learn_stiffness(&mut self, minute: &Minute) {
        self.stiffness.last = match (minute.heel_deg, minute.aws_kn, minute.twa_deg) {
            (Some(heel), Some(aws), Some(twa))
                if heel.abs() > 4.0 && aws > 2.0 && (25.0..=90.0).contains(&twa.abs()) =>
            {
                upright_stiffness(f64::from(heel), f64::from(aws))
            }
            _ => None,
        };
        if self.doubts.cups_are_slow() {
            return;
        }
        self.stiffness.usual = match (self.stiffness.usual, self.stiffness.last) {
            (None, last) => last,
            (usual, None) => usual,
            // A sudden doubling is not learnt: it may be the cups.
            (Some(usual), Some(last)) if last > 1.8 * usual => Some(usual * 1.005),
            (Some(usual), Some(last)) => Some(usual + 0.1 * (last - usual)),
        };
    }

    fn weigh(&mut self, edge: Timestamp) {
        let evidence = self.evidence(edge);
        self.doubts.look(&evidence, edge);
        self.squall = squall::judge(&self.seconds);
        self.judge_faults(edge);
    }

    fn evidence(&self, now: Timestamp) -> Evidence {
        let mut evidence = Evidence {
            heading_deg: self.heading().map(|h| h.bearing.degrees()),
            heel_deg: self.live_heel(now),
            stiffness: self.stiffness.last,
            usual_stiffness: self.stiffness.usual,
            ..Evidence::default()
        };
        if let Some(Measure::ApparentWind { angle, speed }) =
            self.sources.live(Quantity::ApparentWind, now)
        {
            evidence.awa_deg = Some(angle.degrees());
            evidence.aws_kn = Some(speed.get());
        }
        if let Some(Measure::WaterSpeed(stw)) = self.sources.live(Quantity::WaterSpeed, now) {
            evidence.stw_kn = Some(stw.get());
        }
        if let Some(Measure::GroundMotion { speed, .. }) =
            self.sources.live(Quantity::GroundMotion, now)
        {
            evidence.sog_kn = Some(speed.get());
        }
        evidence
    }

    fn live_heel(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::Heel, now) {
            Some(Measure::Heel(heel)) => Some(self.corrections.heel(heel)),
            _ => None,
        }
    }

    fn heading(&self) -> Option<Heading> {
        heading::heading(&self.sources, self.corrections.instruments(), self.now)
    }

    fn basis(&self) -> Basis {
        self.basis_at(self.now)
    }

    fn basis_at(&self, now: Timestamp) -> Basis {
        let live = |quantity| self.sources.live(quantity, now).is_some();
        let missing = if live(Quantity::ApparentWind) {
            if live(Quantity::WaterSpeed) && !self.doubts.log_is_fouled() {
                return Basis::Water;
            }
            if live(Quantity::GroundMotion) {
                return Basis::Ground;
            }
            Quantity::WaterSpeed
        } else {
            Quantity::ApparentWind
        };
        if live(Quantity::TrueWind) {
            Basis::TrueWind
        } else if live(Quantity::GroundWind) {
            Basis::GroundWind
        } else {
            Basis::None(missing)
        }
    }

    /// STW along the keel, put right.
    fn stw(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::WaterSpeed, now) {
            Some(Measure::WaterSpeed(stw)) => Some(self.corrections.stw(stw.get())),
            _ => None,
        }
    }

    /// Leeway from both axes of a log, else from steady heel.
    fn leeway(&self, stw: f64, now: Timestamp) -> f64 {
        if let Some(Measure::WaterDrift(drift)) = self.sources.live(Quantity::WaterDrift, now)
            && stw >= correct::LEAST_LEEWAY_STW_KN
        {
            return correct::drift_deg(stw, self.corrections.stw(drift.get()))
                .clamp(-correct::MOST_LEEWAY_DEG, correct::MOST_LEEWAY_DEG);
        }
        let heel = self
            .sources
            .live(Quantity::Heel, now)
            .and_then(|_| self.steady_heel.get())
            .map(|steady| steady.x);
        self.corrections.leeway_deg(heel, stw)
    }

    fn water_velocity(&self) -> Option<Vector> {
        let stw = self.stw(self.now)?;
        Some(triangle::through_water(stw, self.leeway(stw, self.now)))
    }

    /// Over the ground in compass axes; a course is needed to tell it.
    fn ground_velocity(&self) -> Option<Vector> {
        match self.sources.live(Quantity::GroundMotion, self.now) {
            Some(Measure::GroundMotion {
                speed,
                course: Some(course),
            }) => Some(Vector::polar(speed.get(), course.degrees())),
            // Lying still, no course is needed.
            Some(Measure::GroundMotion { speed, .. }) if speed.get() < 0.5 => {
                Some(Vector::default())
            }
            _ => None,
        }
    }

    /// SOG in boat axes for want of a log: with its drift where course and
    /// true heading tell it, else along the keel.
    fn ground_for_water(&self, heading: Option<Heading>) -> Option<Vector> {
        let Some(Measure::GroundMotion { speed, course }) =
            self.sources.live(Quantity::GroundMotion, self.now)
        else {
            return None;
        };
        let off_bow = match (course, heading) {
            (Some(course), Some(heading)) if heading.north == North::True => {
                course.from_bearing(heading.bearing)
            }
            _ => 0.0,
        };
        Some(Vector::polar(speed.get(), off_bow))
    }
}

impl Signals {
    fn new(now: Timestamp) -> Self {
        Signals {
            wind: Standing::new(now),
            heel: Standing::new(now),
            last_wind: None,
            apparent: Smooth::default(),
            true_boat: Smooth::default(),
            true_compass: Smooth::default(),
            ground: Smooth::default(),
            tws: Smooth::default(),
        }
    }
}

#[cfg(test)]
mod tests;
