//! How far the masthead unit is believed, and which seconds are not.
//!
//! ```text
//!   sound --- found ---> doubted --- over ---> recovering --- 75 s ---> sound
//!                           ^                      |
//!                           '------- found --------'
//! ```
//!
//! A doubt outlives its cause: the word stays until the last second it
//! spoiled has left the 1-minute mean. The seconds themselves are taken out of
//! every mean and gust, those before it was found as well, and the minutes
//! that hold them are gaps in trend and outlook: a navigator strikes out what
//! the log holds from a unit that has turned out to be stuck.

use core::time::Duration;

use crate::fault::Fault;
use crate::reading::Quantity;
use crate::sources::AGREE_SECONDS;
use crate::time::Timestamp;
use crate::view::{DoubtPhase, WindDoubt};

use super::Picture;

/// Until this long after a unit moves again it is not believed: gate, cups
/// and smoothing come up first.
const SETTLE: Duration = Duration::from_secs(10);

/// The word stays for so long after its cause: settling, a whole minute of
/// sound seconds, and what a second waits for its heel.
const RECOVER: Duration = Duration::from_secs(75);

/// A log that fouls had stopped for so long when it was found.
const FOULED_FOR: Duration = Duration::from_secs(30);

/// Whether the parts of the masthead unit are believed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Trust {
    cups: Mending,
    vane: Mending,
    units: Was,
    log: Was,
}

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Mending {
    #[default]
    Sound,
    Doubted,
    Recovering {
        since: Timestamp,
    },
}

/// What happened in a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Turned {
    Nothing,
    Began,
    Ended,
}

/// Whether something was so a second ago.
#[derive(Clone, Copy, Debug, Default)]
struct Was(bool);

impl Mending {
    fn step(&mut self, is_so: bool, now: Timestamp) -> Turned {
        let (next, turned) = match (*self, is_so) {
            (Mending::Doubted, true) => (Mending::Doubted, Turned::Nothing),
            (Mending::Sound | Mending::Recovering { .. }, true) => {
                (Mending::Doubted, Turned::Began)
            }
            (Mending::Doubted, false) => (Mending::Recovering { since: now }, Turned::Ended),
            (Mending::Recovering { since }, false) if now.since(since) >= RECOVER => {
                (Mending::Sound, Turned::Nothing)
            }
            (same, false) => (same, Turned::Nothing),
        };
        *self = next;
        turned
    }

    fn phase(self) -> Option<DoubtPhase> {
        match self {
            Mending::Sound => None,
            Mending::Doubted => Some(DoubtPhase::Stands),
            Mending::Recovering { .. } => Some(DoubtPhase::Recovering),
        }
    }

    /// Whether what it says now may be added to any mean.
    fn is_spoiling(self, now: Timestamp) -> bool {
        match self {
            Mending::Sound => false,
            Mending::Doubted => true,
            Mending::Recovering { since } => now.since(since) < SETTLE,
        }
    }
}

impl Was {
    fn step(&mut self, is_so: bool) -> Turned {
        let turned = match (self.0, is_so) {
            (false, true) => Turned::Began,
            (true, false) => Turned::Ended,
            _ => Turned::Nothing,
        };
        self.0 = is_so;
        turned
    }
}

impl Picture {
    /// Weighs trust for one second, after the doubts were looked at.
    pub(super) fn weigh_trust(&mut self, now: Timestamp) {
        let disputed = self.sources.is_disputed(Quantity::ApparentWind);
        let cups = self.trust.cups.step(self.doubts.cups_are_slow(), now);
        let vane = self.trust.vane.step(self.doubts.vane_is_stuck(), now);
        let units = self.trust.units.step(disputed);
        let log = self.trust.log.step(self.doubts.log_is_fouled());
        // They count up one second and down another.
        let differed_s = u64::from(self.corrections.instruments().may_differ.seconds);
        let differed_for = Duration::from_secs(2 * differed_s);
        let before = |span: Duration| {
            let ms = now.as_millis().saturating_sub(span.as_millis() as u64);
            Timestamp::from_millis(ms)
        };
        for (turned, from) in [
            (cups, self.doubts.cups_slow_since(now)),
            (vane, self.doubts.vane_still_since(now)),
            (units, before(differed_for)),
            (log, before(FOULED_FOR)),
        ] {
            if turned == Turned::Began {
                let from = from.as_millis().saturating_sub(self.seen_late_ms());
                self.strike_out(Timestamp::from_millis(from), now);
            }
        }
        if cups == Turned::Ended || vane == Turned::Ended {
            // What stood still is no middle for what moves again.
            self.gate.reset();
            self.signals.forget_smoothed();
        }
        if self.wind_is_spoiling(now) {
            self.strike_out(now, now);
        }
    }

    /// What speaks against a wind that is heard.
    pub(super) fn doubt(&self, now: Timestamp) -> Option<WindDoubt> {
        self.sources.live(Quantity::ApparentWind, now)?;
        let phases = [
            (Fault::CupsSlow, self.trust.cups.phase()),
            (Fault::VaneStuck, self.trust.vane.phase()),
            (
                Fault::Disagree(Quantity::ApparentWind),
                self.phase_of_units(),
            ),
        ];
        phases
            .into_iter()
            .find_map(|(fault, phase)| phase.map(|phase| WindDoubt { fault, phase }))
    }

    /// Whether cups or vane are doubted, or were just now.
    pub(super) fn is_doubted(&self, fault: Fault) -> bool {
        match fault {
            Fault::CupsSlow => self.trust.cups != Mending::Sound,
            Fault::VaneStuck => self.trust.vane != Mending::Sound,
            _ => false,
        }
    }

    fn phase_of_units(&self) -> Option<DoubtPhase> {
        let quantity = Quantity::ApparentWind;
        self.sources.is_disputed(quantity).then(|| {
            if self.sources.agreed_for(quantity) * 2 < AGREE_SECONDS {
                DoubtPhase::Stands
            } else {
                DoubtPhase::Recovering
            }
        })
    }

    fn wind_is_spoiling(&self, now: Timestamp) -> bool {
        let quantity = Quantity::ApparentWind;
        let differs = self.sources.is_disputed(quantity)
            && u64::from(self.sources.agreed_for(quantity)) < SETTLE.as_secs();
        differs || self.trust.cups.is_spoiling(now) || self.trust.vane.is_spoiling(now)
    }

    /// A still figure is seen at the whole second after it was said, and may
    /// be a repetition of one a period older.
    fn seen_late_ms(&self) -> u64 {
        let slot = self.sources.chosen(Quantity::ApparentWind);
        let period_ms = slot.and_then(|slot| slot.period_ms()).unwrap_or(0);
        1_000 + u64::from(period_ms)
    }

    /// Wind from a moment until now is no wind.
    fn strike_out(&mut self, from: Timestamp, now: Timestamp) {
        let first = from.as_millis() / 1000;
        self.seconds
            .disbelieve_wind(first, now.as_millis() / 1000 + 1);
        if from < now {
            let gaps = self.minutes.forget_wind_since(from);
            self.day.forget_wind(gaps);
            self.trends = self.find_trends();
        }
    }
}
