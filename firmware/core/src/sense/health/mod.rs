//! One health for every sensor: what speaks against it, since when, and what
//! is struck out for it.
//!
//! ```text
//!   fresh --- found ---> doubted --- over ---> recovering --- time ---> fresh
//!     |                     ^                       |
//!     | silent              '-------- found --------'
//!     v
//!   lost --- heard ---> fresh
//! ```
//!
//! Once a second the detectors hand in a list of findings. Each is a fault
//! with the time from which it was so; [`table::row`] says what a doubt
//! strikes out and how long its word outlives its cause.

pub mod apart;
pub mod course;
pub mod evidence;
pub mod sail;
pub mod side;
pub mod standstill;
pub mod table;

use core::time::Duration;

use heapless::Vec;

use crate::sense::fault::{Fault, FaultTurn};
use crate::sense::reading::Quantity;
use crate::time::Timestamp;

/// Faults at one time; the least needed falls off.
pub const FAULTS: usize = 16;

/// How a sensor is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SensorHealth {
    /// Heard, and nothing speaks against it.
    #[default]
    Fresh,
    /// Heard, but this speaks against it now.
    Doubted(Doubt),
    /// What spoke against it is over, but not out of the means yet.
    Recovering(Doubt),
    /// Not heard, or not valid.
    Lost(Quantity),
}

/// One doubt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// What is wrong. How it was found and what it strikes out stand in its
    /// row of the [`table`].
    pub fault: Fault,
    /// Whether it is so now.
    pub phase: DoubtPhase,
    /// From when it was so, as far as can be told.
    pub began: Timestamp,
    /// When it was found.
    pub found: Timestamp,
}

/// How far a doubt has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DoubtPhase {
    /// It is so now.
    Stands,
    /// It is over since then, but the means are not clean yet.
    Recovering {
        /// When it was over.
        since: Timestamp,
    },
}

/// What a detector found in this second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What is wrong.
    pub fault: Fault,
    /// From when it was so.
    pub began: Timestamp,
}

/// The findings of one second.
pub type Findings = Vec<Finding, FAULTS>;

/// What changed in a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// A fault began or ended, word and all.
    Turn(Fault, FaultTurn),
    /// A doubt was found: strike out from when it began.
    Found(Doubt),
    /// What spoke against the sensor is over; its word stays a while.
    Over(Doubt),
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Health {
    doubts: Vec<Doubt, FAULTS>,
}

impl Health {
    /// Takes the findings of a second; what changed comes out.
    pub fn step(&mut self, findings: &Findings, now: Timestamp, mut edge: impl FnMut(Edge)) {
        let before = core::mem::take(&mut self.doubts);
        for old in &before {
            let found = findings.iter().any(|finding| finding.fault == old.fault);
            match old.after(found, now) {
                Some(doubt) => {
                    if old.phase == DoubtPhase::Stands && doubt.phase != DoubtPhase::Stands {
                        edge(Edge::Over(doubt));
                    }
                    self.put(doubt);
                }
                None => edge(Edge::Turn(old.fault, FaultTurn::Ended)),
            }
        }
        for finding in findings {
            let old = before.iter().find(|doubt| doubt.fault == finding.fault);
            if old.is_some_and(|doubt| doubt.phase == DoubtPhase::Stands) {
                continue;
            }
            let doubt = Doubt {
                fault: finding.fault,
                phase: DoubtPhase::Stands,
                began: finding.began,
                found: now,
            };
            self.put(doubt);
            edge(Edge::Found(doubt));
            if old.is_none() {
                edge(Edge::Turn(finding.fault, FaultTurn::Began));
            }
        }
    }

    /// All doubts, most needed first.
    pub fn doubts(&self) -> impl Iterator<Item = &Doubt> {
        self.doubts.iter()
    }

    /// The doubt that a fault has raised.
    pub fn doubt(&self, fault: Fault) -> Option<Doubt> {
        self.doubts.iter().find(|d| d.fault == fault).copied()
    }

    /// The most needed doubt that strikes something out now.
    pub fn striking(&self, struck: table::StrikesOut) -> Option<Doubt> {
        let strikes = |doubt: &&Doubt| table::row(doubt.fault).strikes_out == struck;
        self.doubts.iter().find(strikes).copied()
    }

    /// Whether what a sensor says now may be added to no mean.
    pub fn is_spoiling(&self, struck: table::StrikesOut, now: Timestamp) -> bool {
        self.doubts
            .iter()
            .filter(|doubt| table::row(doubt.fault).strikes_out == struck)
            .any(|doubt| doubt.is_spoiling(now))
    }

    /// In the order of [`Fault`]; a full list drops the least needed.
    fn put(&mut self, doubt: Doubt) {
        self.doubts.retain(|kept| kept.fault != doubt.fault);
        let place = self.doubts.iter().take_while(|d| d.fault < doubt.fault);
        let place = place.count();
        if self.doubts.is_full() {
            if place == self.doubts.len() {
                return;
            }
            self.doubts.pop();
        }
        // Made room for above.
        let _ = self.doubts.insert(place, doubt);
    }
}

impl Doubt {
    /// The state that its sensor is in.
    pub fn health(self) -> SensorHealth {
        match self.phase {
            DoubtPhase::Stands => SensorHealth::Doubted(self),
            DoubtPhase::Recovering { .. } => SensorHealth::Recovering(self),
        }
    }

    /// What becomes of it in a second in which it was found again, or not.
    fn after(self, found: bool, now: Timestamp) -> Option<Doubt> {
        let recovers = Duration::from_secs(u64::from(table::row(self.fault).recovers_s));
        match self.phase {
            DoubtPhase::Stands if found => Some(self),
            DoubtPhase::Stands if recovers.is_zero() => None,
            DoubtPhase::Stands => Some(Doubt {
                phase: DoubtPhase::Recovering { since: now },
                ..self
            }),
            // Found anew: the caller raises it again.
            DoubtPhase::Recovering { .. } if found => Some(self),
            DoubtPhase::Recovering { since } => (now.since(since) < recovers).then_some(self),
        }
    }

    fn is_spoiling(&self, now: Timestamp) -> bool {
        match self.phase {
            DoubtPhase::Stands => true,
            DoubtPhase::Recovering { since } => now.since(since) < table::SETTLE,
        }
    }
}

/// Something that must go on for a while to begin, and for a while to end.
/// Seconds in which it is not so count back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Persistence {
    seconds: u16,
    is_so: bool,
}

impl Persistence {
    /// One more second, or minute, in which it was so or not; whether it
    /// stands.
    pub fn step(&mut self, seen: bool, begins: u16, ends: u16) -> bool {
        let most = if self.is_so { ends } else { begins }.max(1);
        self.seconds = if seen {
            self.seconds.saturating_add(1).min(most)
        } else {
            self.seconds.saturating_sub(1)
        };
        if !self.is_so && self.seconds >= most {
            *self = Persistence {
                seconds: ends.max(1),
                is_so: true,
            };
        } else if self.is_so && self.seconds == 0 {
            self.is_so = false;
        }
        self.is_so
    }

    /// Seconds of it that stand so far, where it does not stand yet.
    pub fn begun(&self) -> u16 {
        if self.is_so { 0 } else { self.seconds }
    }

    /// Whether it stands.
    pub fn is_so(&self) -> bool {
        self.is_so
    }
}
