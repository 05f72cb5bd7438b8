//! Units that still talk but tell nothing: a vane that sticks, cups that
//! freeze, a feed that repeats itself, a heel sensor that hangs, a log that
//! is fouled.
//!
//! A sensor is doubted only against something else that moved meanwhile: in a
//! calm berth nothing is wrong with a still vane.

use crate::angle::wrap_180;
use crate::sense::fault::Fault;
use crate::sense::reading::Quantity;
use crate::time::Timestamp;

use super::evidence::Evidence;
use super::{Finding, Persistence};

/// A vane that stays within this many degrees has not moved.
const VANE_STILL_DEG: f64 = 1.0;
/// For so long, in a wind that could turn it.
const VANE_STILL_S: f64 = 90.0;
/// Wind that turns a vane; under it a feed that repeats itself may be calm.
const VANE_ALIVE_KN: f64 = 4.0;

/// Cups that stay within this have not changed.
const CUPS_STILL_KN: f64 = 0.11;
/// At a plain zero for so long.
const CUPS_ZERO_S: f64 = 30.0;
/// At one other figure for so long.
const CUPS_STILL_S: f64 = 120.0;
/// Zero wind is absurd while she moves this fast, or heels this much.
const MOVING_KN: f64 = 3.0;
/// See above.
const HEELED_DEG: f64 = 8.0;

/// Speed and angle both the same to the last digit for so long: chosen by
/// trial, the longest honest run of a 0.1 kn unit damped over 10 s in a wind
/// of 5 kn is 20 s.
const FEED_FROZEN_S: f64 = 150.0;
/// A unit that tells whole knots and degrees may repeat itself for longer.
/// Common practice, no source: no wind at sea holds both for this long.
const COARSE_FROZEN_S: f64 = 900.0;
/// A unit that has changed this often is known: it is frozen as well once it
/// repeats itself for so many times the longest honest run heard of it, and
/// at least for so long. So damping, whole degrees and slow gateways set
/// their own measure.
const KNOWN_CHANGES: u16 = 60;
/// See above.
const TIMES_LONGEST: f64 = 4.0;
/// See above.
const LEAST_RUN_S: f64 = 15.0;
/// The longest run is forgotten at this share with each change.
const RUN_FORGOTTEN: f64 = 0.001;

/// Steps finer than this are not whole knots, nor whole degrees.
const FINE_STEP: f64 = 0.45;

/// Heel the same to the last digit for so long while she is in a seaway or
/// under way: no boat sails on rails.
const HEEL_FROZEN_S: f64 = 60.0;
/// At a heel that this little wind does not make, sooner: it would be past
/// its limit before the minute is over.
const ABSURD_HEEL_S: f64 = 15.0;
/// See above: apparent wind under this...
const LIGHT_AIR_KN: f64 = 10.0;
/// ...with heel over this.
const ABSURD_HEEL_DEG: f64 = 25.0;
/// A sensor of whole degrees may show the same for so long.
const COARSE_HEEL_FROZEN_S: f64 = 600.0;
/// Under this a heel sensor of whole degrees is never doubted: flat water.
const COARSE_HEEL_DEG: f64 = 3.0;

/// STW under this with SOG over the next is a fouled paddlewheel.
const FOULED_STW_KN: f64 = 0.3;
/// See above.
const FOULED_SOG_KN: f64 = 2.0;
/// STW over SOG by more than any stream she would be in: it reads too much,
/// and would take as much off the wind. Common practice, no source.
const STRONGEST_STREAM_KN: f64 = 8.0;
/// For so many seconds: it comes and goes as she stops.
const FOULED_S: u16 = 20;
/// A log that fouls had stopped for so long when it was found.
const FOULED_FOR_MS: u64 = 30_000;

/// What must have moved, by how much, while a figure stood still: heading,
/// heel, pitch, speed.
#[derive(Clone, Copy, Debug)]
struct Moves {
    turned_deg: f64,
    rolled_deg: f64,
    pitched_deg: f64,
    speed_kn: f64,
}

/// Enough to swing a vane or the cups with it.
const BOAT_MOVES: Moves = Moves {
    turned_deg: 10.0,
    rolled_deg: 6.0,
    pitched_deg: f64::INFINITY,
    speed_kn: f64::INFINITY,
};

/// A seaway, in which no wind stays even: at a berth and in flat water its
/// speed may stay the same for half a minute.
const SEAWAY: Moves = Moves {
    turned_deg: 5.0,
    rolled_deg: 3.0,
    pitched_deg: f64::INFINITY,
    speed_kn: f64::INFINITY,
};

/// Enough to show that other sensors are alive.
const ANYTHING_MOVES: Moves = Moves {
    turned_deg: 1.0,
    rolled_deg: 0.5,
    pitched_deg: 0.5,
    speed_kn: 0.2,
};

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Standstill {
    vane: Still,
    vane_runs: Runs,
    cups: Still,
    cups_runs: Runs,
    feed: Still,
    feed_step: Step,
    heel: Still,
    heel_step: Step,
    fouled: Persistence,
}

impl Standstill {
    /// Looks at one second.
    pub fn look(&mut self, seen: &Evidence, now: Timestamp, mut found: impl FnMut(Finding)) {
        if let Some(began) = self.vane_stuck(seen, now) {
            found(finding(Fault::VaneStuck, began));
        }
        if let Some(began) = self.cups_still(seen, now) {
            found(finding(Fault::CupsSlow, began));
        }
        if let Some(began) = self.feed_frozen(seen, now) {
            found(finding(Fault::Frozen(Quantity::ApparentWind), began));
        }
        if let Some(began) = self.heel_frozen(seen, now) {
            found(finding(Fault::Frozen(Quantity::Heel), began));
        }
        self.look_at_log(seen);
    }

    /// Another unit speaks now: nothing is known against it.
    pub fn forget_masthead(&mut self) {
        let (fouled, heel, heel_step) = (self.fouled, self.heel, self.heel_step);
        *self = Standstill {
            fouled,
            heel,
            heel_step,
            ..Standstill::default()
        };
    }

    /// Another heel sensor speaks now.
    pub fn forget_heel(&mut self) {
        self.heel = Still::default();
        self.heel_step = Step::default();
    }

    /// Since when the log is fouled, where it is.
    pub fn log_fouled(&self, now: Timestamp) -> Option<Timestamp> {
        let began = now.as_millis().saturating_sub(FOULED_FOR_MS);
        self.fouled.is_so().then_some(Timestamp::from_millis(began))
    }

    fn vane_stuck(&mut self, seen: &Evidence, now: Timestamp) -> Option<Timestamp> {
        let (Some(awa), Some(aws)) = (seen.awa_deg, seen.aws_kn) else {
            self.vane = Still::default();
            return None;
        };
        let moved = |(angle, _): (f64, f64)| wrap_180(awa - angle).abs() > VANE_STILL_DEG;
        self.vane.look((awa, 0.0), moved, seen, now);
        self.vane_runs.look(awa, seen, now);
        if aws < VANE_ALIVE_KN {
            return None;
        }
        let still = self.vane.boat_moved(&BOAT_MOVES);
        still
            .then(|| self.vane.for_at_least(VANE_STILL_S, now))
            .flatten()
            .or_else(|| self.vane_runs.too_long(&ANYTHING_MOVES, now))
    }

    fn cups_still(&mut self, seen: &Evidence, now: Timestamp) -> Option<Timestamp> {
        let Some(aws) = seen.aws_kn else {
            self.cups = Still::default();
            return None;
        };
        let moved = |(speed, _): (f64, f64)| (aws - speed).abs() > CUPS_STILL_KN;
        self.cups.look((aws, 0.0), moved, seen, now);
        let is_heeled = seen.heel_deg.is_some_and(|heel| heel.abs() >= HEELED_DEG);
        if aws < CUPS_STILL_KN && (seen.speed_kn() >= MOVING_KN || is_heeled) {
            return self.cups.for_at_least(CUPS_ZERO_S, now);
        }
        self.cups_runs.look(aws, seen, now);
        let run = self.cups_runs.too_long(&SEAWAY, now);
        let still = self.cups.boat_moved(&BOAT_MOVES);
        still
            .then(|| self.cups.for_at_least(CUPS_STILL_S, now))
            .flatten()
            .or(run.filter(|_| aws >= VANE_ALIVE_KN))
    }

    fn feed_frozen(&mut self, seen: &Evidence, now: Timestamp) -> Option<Timestamp> {
        let (Some(awa), Some(aws)) = (seen.awa_deg, seen.aws_kn) else {
            self.feed = Still::default();
            return None;
        };
        self.feed_step.take(aws);
        self.feed
            .look((awa, aws), |was| was != (awa, aws), seen, now);
        let needed_s = if self.feed_step.is_fine() {
            FEED_FROZEN_S
        } else {
            COARSE_FROZEN_S
        };
        (aws >= VANE_ALIVE_KN && self.feed.boat_moved(&ANYTHING_MOVES))
            .then(|| self.feed.for_at_least(needed_s, now))?
    }

    /// Whether she moves is told by all but the heel itself.
    fn heel_frozen(&mut self, seen: &Evidence, now: Timestamp) -> Option<Timestamp> {
        let Some(heel) = seen.heel_said_deg else {
            self.heel = Still::default();
            return None;
        };
        self.heel_step.take(heel);
        self.heel
            .look((heel, 0.0), |(was, _)| was != heel, seen, now);
        let is_fine = self.heel_step.is_fine();
        let is_absurd =
            heel.abs() >= ABSURD_HEEL_DEG && seen.aws_kn.is_some_and(|aws| aws < LIGHT_AIR_KN);
        let needed_s = match (is_absurd, is_fine) {
            (true, _) => ABSURD_HEEL_S,
            (false, true) => HEEL_FROZEN_S,
            (false, false) if heel.abs() >= COARSE_HEEL_DEG => COARSE_HEEL_FROZEN_S,
            (false, false) => return None,
        };
        (seen.speed_kn() >= 1.0 && self.heel.boat_moved(&ANYTHING_MOVES))
            .then(|| self.heel.for_at_least(needed_s, now))?
    }

    fn look_at_log(&mut self, seen: &Evidence) {
        let is_fouled = match (seen.stw_kn, seen.sog_kn) {
            (Some(stw), Some(sog)) => {
                stw.abs() < FOULED_STW_KN && sog > FOULED_SOG_KN
                    || stw.abs() - sog > STRONGEST_STREAM_KN
            }
            _ => false,
        };
        self.fouled.step(is_fouled, FOULED_S, FOULED_S);
    }
}

fn finding(fault: Fault, began: Timestamp) -> Finding {
    Finding { fault, began }
}

/// The least step between two figures of a sensor that were not the same.
#[derive(Clone, Copy, Debug, Default)]
struct Step {
    last: Option<f64>,
    least: Option<f64>,
}

impl Step {
    fn take(&mut self, value: f64) {
        let step = self.last.map(|last| (value - last).abs());
        if let Some(step) = step.filter(|step| *step > 0.0) {
            self.least = Some(self.least.map_or(step, |least| least.min(step)));
        }
        self.last = Some(value);
    }

    fn is_fine(&self) -> bool {
        self.least.is_some_and(|least| least < FINE_STEP)
    }
}

/// How long a sensor repeats one figure, against how long it honestly does.
#[derive(Clone, Copy, Debug, Default)]
struct Runs {
    run: Still,
    longest_s: f64,
    changes: u16,
}

impl Runs {
    fn look(&mut self, value: f64, seen: &Evidence, now: Timestamp) {
        if let Some(((was, _), since)) = self.run.since
            && was != value
            && self.too_long(&ANYTHING_MOVES, now).is_none()
        {
            let kept = self.longest_s * (1.0 - RUN_FORGOTTEN);
            self.longest_s = kept.max(now.secs_since(since));
            self.changes = self.changes.saturating_add(1);
        }
        self.run
            .look((value, 0.0), |(was, _)| was != value, seen, now);
    }

    fn too_long(&self, meanwhile: &Moves, now: Timestamp) -> Option<Timestamp> {
        let needed_s = (TIMES_LONGEST * self.longest_s).max(LEAST_RUN_S);
        (self.changes >= KNOWN_CHANGES && self.run.boat_moved(meanwhile))
            .then(|| self.run.for_at_least(needed_s, now))?
    }
}

/// How long a figure has stood still, and what the boat did meanwhile.
#[derive(Clone, Copy, Debug, Default)]
struct Still {
    since: Option<((f64, f64), Timestamp)>,
    heading: Option<f64>,
    turned: f64,
    heel: Range,
    pitch: Range,
    stw: Range,
    sog: Range,
}

/// Least and greatest; the other way about before there is any.
#[derive(Clone, Copy, Debug)]
struct Range(f32, f32);

impl Default for Range {
    fn default() -> Self {
        Range(f32::INFINITY, f32::NEG_INFINITY)
    }
}

impl Range {
    fn take(&mut self, value: Option<f64>) {
        if let Some(value) = value {
            *self = Range(self.0.min(value as f32), self.1.max(value as f32));
        }
    }

    fn reaches(self, width: f64) -> bool {
        f64::from(self.1 - self.0) >= width
    }
}

impl Still {
    fn look(
        &mut self,
        value: (f64, f64),
        moved: impl Fn((f64, f64)) -> bool,
        seen: &Evidence,
        now: Timestamp,
    ) {
        if self.since.is_none_or(|(stood, _)| moved(stood)) {
            *self = Still {
                since: Some((value, now)),
                heading: seen.heading_deg,
                ..Still::default()
            };
        }
        self.heel.take(seen.heel_deg);
        self.pitch.take(seen.pitch_deg);
        self.stw.take(seen.stw_kn);
        self.sog.take(seen.sog_kn);
        if let (Some(from), Some(to)) = (self.heading, seen.heading_deg) {
            self.turned = self.turned.max(wrap_180(to - from).abs());
        }
    }

    /// Since when, if for so many seconds.
    fn for_at_least(&self, seconds: f64, now: Timestamp) -> Option<Timestamp> {
        let (_, since) = self.since?;
        (now.secs_since(since) >= seconds).then_some(since)
    }

    fn boat_moved(&self, by: &Moves) -> bool {
        self.turned >= by.turned_deg
            || self.heel.reaches(by.rolled_deg)
            || self.pitch.reaches(by.pitched_deg)
            || self.stw.reaches(by.speed_kn)
            || self.sog.reaches(by.speed_kn)
    }
}
