//! Units that still talk but tell nothing: a vane that sticks, cups that
//! freeze or drag, a log that is fouled.
//!
//! Looked at once a second. A sensor is doubted only against something else
//! that moved meanwhile: in a calm berth nothing is wrong with a still vane.

use crate::angle::wrap_180;
use crate::time::Timestamp;

/// A vane that stays within this many degrees has not moved.
const VANE_STILL_DEG: f64 = 1.0;
/// For so long.
const VANE_STILL_S: f64 = 90.0;
/// While the wind could turn it.
const VANE_ALIVE_KN: f64 = 4.0;
/// And the boat turned, or rolled, by this much.
const TURNED_DEG: f64 = 10.0;
/// See above.
const ROLLED_DEG: f64 = 6.0;

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

/// Heel per AWS^2 over its usual figure that means that the cups drag. A
/// shaken-out reef may double it; cups at two thirds of their speed do more.
const DRAG_RATIO: f64 = 2.25;
/// For so many seconds.
const DRAG_S: u16 = 120;

/// STW under this with SOG over the next is a fouled paddlewheel.
const FOULED_STW_KN: f64 = 0.3;
/// See above.
const FOULED_SOG_KN: f64 = 2.0;
/// STW over SOG by more than any stream she would be in: it reads too much,
/// and would take as much off the wind. Common practice, no source.
const STRONGEST_STREAM_KN: f64 = 8.0;
/// For so many seconds: it comes and goes as she stops.
const FOULED_S: u16 = 20;

/// What the doubts are judged by, at one second.
#[derive(Clone, Copy, Debug, Default)]
pub struct Evidence {
    /// AWA as measured.
    pub awa_deg: Option<f64>,
    /// AWS as measured.
    pub aws_kn: Option<f64>,
    /// Heading by any north.
    pub heading_deg: Option<f64>,
    /// Heel of the moment.
    pub heel_deg: Option<f64>,
    /// Heel per AWS^2 over the last minute, where it tells.
    pub stiffness: Option<f64>,
    /// What that usually is.
    pub usual_stiffness: Option<f64>,
    /// STW.
    pub stw_kn: Option<f64>,
    /// SOG.
    pub sog_kn: Option<f64>,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Doubts {
    vane: Still,
    cups: Still,
    dragging: Persistence,
    fouled: Persistence,
    stuck_vane: Finding,
    dead_cups: Finding,
}

/// Whether something was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Finding {
    /// Nothing.
    #[default]
    Clear,
    /// It is so.
    Found,
}

impl Doubts {
    /// Looks at one second.
    pub fn look(&mut self, evidence: &Evidence, now: Timestamp) {
        self.look_at_vane(evidence, now);
        self.look_at_cups(evidence, now);
        match (evidence.stiffness, evidence.usual_stiffness) {
            (Some(now), Some(usual)) => {
                self.dragging
                    .step(finding(now > DRAG_RATIO * usual), DRAG_S);
            }
            // Off the wind heel says nothing: to bear away clears no cups.
            (None, Some(_)) => {}
            (_, None) => self.dragging.step(Finding::Clear, DRAG_S),
        }
        let fouled = match (evidence.stw_kn, evidence.sog_kn) {
            (Some(stw), Some(sog)) => finding(
                stw.abs() < FOULED_STW_KN && sog > FOULED_SOG_KN
                    || stw.abs() - sog > STRONGEST_STREAM_KN,
            ),
            _ => Finding::Clear,
        };
        self.fouled.step(fouled, FOULED_S);
    }

    /// Another unit speaks now: nothing is known against it.
    pub fn forget_masthead(&mut self) {
        self.dragging = Persistence::default();
        self.vane = Still::default();
        self.cups = Still::default();
    }

    /// Whether the vane sticks.
    pub fn vane_is_stuck(&self) -> bool {
        self.stuck_vane == Finding::Found
    }

    /// Whether the cups are still, or drag.
    pub fn cups_are_slow(&self) -> bool {
        self.dead_cups == Finding::Found || self.dragging.is_so()
    }

    /// Since when the cups have been slow, where they are. Cups that drag are
    /// found by the heel of two minutes, by whole minutes.
    pub fn cups_slow_since(&self, now: Timestamp) -> Timestamp {
        match self.dead_cups {
            Finding::Found => self.cups.since(now),
            Finding::Clear => {
                let found_after_ms = u64::from(DRAG_S + 60) * 1000;
                Timestamp::from_millis(now.as_millis().saturating_sub(found_after_ms))
            }
        }
    }

    /// Since when the vane has stood still.
    pub fn vane_still_since(&self, now: Timestamp) -> Timestamp {
        self.vane.since(now)
    }

    /// Whether the log reads nothing while she moves.
    pub fn log_is_fouled(&self) -> bool {
        self.fouled.is_so()
    }

    fn look_at_vane(&mut self, evidence: &Evidence, now: Timestamp) {
        let (Some(awa), Some(aws)) = (evidence.awa_deg, evidence.aws_kn) else {
            self.vane = Still::default();
            self.stuck_vane = Finding::Clear;
            return;
        };
        self.vane.look(
            |value| wrap_180(awa - value).abs(),
            VANE_STILL_DEG,
            awa,
            evidence,
            now,
        );
        self.stuck_vane = finding(
            aws >= VANE_ALIVE_KN
                && self.vane.seconds(now) >= VANE_STILL_S
                && self.vane.boat_moved(),
        );
    }

    fn look_at_cups(&mut self, evidence: &Evidence, now: Timestamp) {
        let Some(aws) = evidence.aws_kn else {
            self.cups = Still::default();
            self.dead_cups = Finding::Clear;
            return;
        };
        self.cups.look(
            |value| (aws - value).abs(),
            CUPS_STILL_KN,
            aws,
            evidence,
            now,
        );
        let speed = evidence
            .stw_kn
            .unwrap_or(0.0)
            .max(evidence.sog_kn.unwrap_or(0.0));
        let heeled = evidence
            .heel_deg
            .is_some_and(|heel| heel.abs() >= HEELED_DEG);
        let zero = aws < CUPS_STILL_KN
            && self.cups.seconds(now) >= CUPS_ZERO_S
            && (speed >= MOVING_KN || heeled);
        let frozen = self.cups.seconds(now) >= CUPS_STILL_S && self.cups.boat_moved();
        self.dead_cups = finding(zero || frozen);
    }
}

fn finding(so: bool) -> Finding {
    if so { Finding::Found } else { Finding::Clear }
}

/// How long a figure has stood still, and what the boat did meanwhile.
#[derive(Clone, Copy, Debug, Default)]
struct Still {
    since: Option<(f64, Timestamp)>,
    heading: Option<f64>,
    turned: f64,
    least_heel: f64,
    most_heel: f64,
}

impl Still {
    fn look(
        &mut self,
        distance: impl Fn(f64) -> f64,
        allowed: f64,
        value: f64,
        evidence: &Evidence,
        now: Timestamp,
    ) {
        let moved = self
            .since
            .is_none_or(|(stood, _)| distance(stood) > allowed);
        if moved {
            *self = Still {
                since: Some((value, now)),
                heading: evidence.heading_deg,
                turned: 0.0,
                least_heel: evidence.heel_deg.unwrap_or(0.0),
                most_heel: evidence.heel_deg.unwrap_or(0.0),
            };
            return;
        }
        if let Some(heel) = evidence.heel_deg {
            self.least_heel = self.least_heel.min(heel);
            self.most_heel = self.most_heel.max(heel);
        }
        if let (Some(from), Some(to)) = (self.heading, evidence.heading_deg) {
            self.turned = self.turned.max(wrap_180(to - from).abs());
        }
    }

    fn since(&self, now: Timestamp) -> Timestamp {
        self.since.map_or(now, |(_, since)| since)
    }

    fn seconds(&self, now: Timestamp) -> f64 {
        self.since.map_or(0.0, |(_, since)| now.secs_since(since))
    }

    fn boat_moved(&self) -> bool {
        self.turned >= TURNED_DEG || self.most_heel - self.least_heel >= ROLLED_DEG
    }
}

/// Something that must go on for a while to begin, and as long to end.
#[derive(Clone, Copy, Debug, Default)]
pub struct Persistence {
    seconds: u16,
    state: Finding,
}

impl Persistence {
    /// One more second in which it was so, or not.
    pub fn step(&mut self, seen: Finding, needed: u16) {
        match seen {
            Finding::Found => {
                self.seconds = self.seconds.saturating_add(1).min(needed);
                if self.seconds >= needed {
                    self.state = Finding::Found;
                }
            }
            Finding::Clear => {
                self.seconds = self.seconds.saturating_sub(1);
                if self.seconds == 0 {
                    self.state = Finding::Clear;
                }
            }
        }
    }

    /// Whether it stands.
    pub fn is_so(&self) -> bool {
        self.state == Finding::Found
    }
}
