//! Heel against apparent wind, by sail plan and point of sail: learnt slowly,
//! kept over restarts. It may say that the wind reads low for this heel, and
//! never makes a number of its own.
//!
//! Heel per AWS squared, the falling lever taken out, goes with the sails
//! that are set and is nearly the boat's own. Cups that drag raise it.

use crate::angle::{atan2_deg, cos_deg, sin_deg};
use crate::sense::fault::Fault;
use crate::sense::wind::round_up::upright_stiffness;
use crate::time::Timestamp;

use super::evidence::Evidence;
use super::{Finding, Persistence};

/// Plans told apart: as many as a ladder may have.
pub const PLANS: usize = 16;
/// Points of sail at which heel tells: by apparent wind angle, up to these.
/// Cups that drag leave it as it is; the true one they turn.
const POINTS_DEG: [f64; 2] = [45.0, 80.0];
/// Closer to the wind than this she is in stays or luffing.
const LEAST_AWA_DEG: f64 = 18.0;
/// Heel and wind under these tell nothing.
const LEAST_HEEL_DEG: f64 = 4.0;
/// See above.
const LEAST_AWS_KN: f64 = 5.0;

/// Minutes until what is usual is known well enough to hold against it.
const LEARNT_MINUTES: u16 = 20;
/// What was guessed counts as so many.
const GUESS_MINUTES: f64 = 5.0;
/// From then on it follows over about so many minutes: cups that drag more
/// and more over half an hour are not learnt.
const FOLLOWS_MINUTES: f64 = 360.0;
/// The last minutes are smoothed over about this many.
const RECENT_MINUTES: f64 = 2.0;

/// So many times what is usual means that the wind reads low, before it is
/// known how far single minutes stray from it. By trial: the greatest of an
/// honest twelve hours is 1.3.
const LOW_RATIO: f64 = 1.4;
/// Where that is known, this many times as far over it, but no less than the
/// next: cups at 0.9 of their speed. By trial, with the honest twelve hours.
const TIMES_SPREAD: f64 = 5.0;
/// See above.
const LEAST_LOW_RATIO: f64 = 1.22;
/// It is over under this share of what is over one in the line.
const LOW_OVER_SHARE: f64 = 0.6;
/// For so many minutes.
const LOW_MINUTES: u16 = 2;
/// So many times means that the cups drag. A shaken-out reef that nobody
/// entered may double it; cups at two thirds of their speed do more.
const DRAG_RATIO: f64 = 2.25;
/// For so many seconds of the newest minute.
const DRAG_S: u16 = 120;
/// Found by the heel of two minutes, by whole minutes: it began so long ago.
const DRAG_FOUND_MS: u64 = (DRAG_S as u64 + 60) * 1000;

/// What is usual with one plan on one point of sail.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Usual {
    /// Degrees of heel a kn^2 of apparent wind; 0 before it is known.
    pub stiffness: f32,
    /// Minutes that it was learnt from; 0 for one guessed from another plan.
    pub minutes: u16,
    /// How far a minute strays from it on average, as a share of it; 0 before
    /// it is known.
    pub spread: f32,
}

/// What is worth keeping when the power fails.
pub type LearntHeel = [[Usual; POINTS_DEG.len()]; PLANS];

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct HeelBySail {
    plan: usize,
    point: usize,
    usual: LearntHeel,
    /// Sums of sine and cosine of AWA in this minute.
    awa: (f64, f64),
    last: Option<f64>,
    /// The last minutes against what is usual, smoothed.
    recent: Option<f64>,
    low: Persistence,
    dragging: Persistence,
}

/// One minute's means.
#[derive(Clone, Copy, Debug, Default)]
pub struct SailMinute {
    /// Heel.
    pub heel_deg: Option<f64>,
    /// AWS.
    pub aws_kn: Option<f64>,
}

impl Usual {
    fn is_learnt(&self) -> bool {
        self.minutes >= LEARNT_MINUTES
    }

    /// So many times what is usual is low wind.
    fn low_ratio(&self) -> f64 {
        match f64::from(self.spread) {
            spread if spread > 0.0 => {
                (1.0 + TIMES_SPREAD * spread).clamp(LEAST_LOW_RATIO, LOW_RATIO)
            }
            _ => LOW_RATIO,
        }
    }
}

impl HeelBySail {
    /// Takes a minute; it is learnt from unless it is doubted. Wind that is
    /// not believed is looked at too: by this it may be forgiven.
    pub fn take(&mut self, minute: SailMinute, is_doubted: bool) {
        self.last = self.measured(minute);
        let Some(last) = self.last else {
            return;
        };
        self.compare(last);
        if !is_doubted {
            self.learn(last);
        }
    }

    /// Holds a minute against what is usual here, where that is known.
    fn compare(&mut self, last: f64) {
        let Some(usual) = self.here().copied().filter(Usual::is_learnt) else {
            self.recent = None;
            self.low = Persistence::default();
            return;
        };
        let fresh = last / f64::from(usual.stiffness);
        let recent = self.recent.unwrap_or(1.0);
        let recent = recent + (fresh - recent) / RECENT_MINUTES;
        self.recent = Some(recent);
        let over = usual.low_ratio() - 1.0;
        let line = if self.low.is_so() {
            LOW_OVER_SHARE * over
        } else {
            over
        };
        let is_low = recent - 1.0 > line;
        self.low.step(is_low, LOW_MINUTES, LOW_MINUTES);
    }

    /// Looks at one second.
    pub fn look(&mut self, seen: &Evidence, now: Timestamp, mut found: impl FnMut(Finding)) {
        if let Some(awa) = seen.awa_deg {
            self.awa.0 += sin_deg(awa);
            self.awa.1 += cos_deg(awa);
        }
        let is_learnt = self.here().is_some_and(Usual::is_learnt);
        match (self.last, self.usual().filter(|_| is_learnt)) {
            (Some(last), Some(usual)) => {
                self.dragging
                    .step(last > DRAG_RATIO * usual, DRAG_S, DRAG_S);
            }
            // Off the wind heel says nothing: to bear away clears no cups.
            (None, Some(_)) => {}
            (_, None) => {
                self.dragging.step(false, DRAG_S, DRAG_S);
            }
        }
        let began = Timestamp::from_millis(now.as_millis().saturating_sub(DRAG_FOUND_MS));
        if self.dragging.is_so() {
            let fault = Fault::CupsSlow;
            found(Finding { fault, began });
        } else if self.low.is_so() {
            let fault = Fault::WindLowForHeel;
            found(Finding { fault, began });
        }
    }

    /// Another wind unit speaks now.
    pub fn forget_masthead(&mut self) {
        self.dragging = Persistence::default();
        self.low = Persistence::default();
        self.recent = None;
    }

    /// Another plan is set. Where it was never sailed under, its figure is
    /// guessed from the old one's: moment goes with area^1.5 where the lever
    /// shrinks as its root. `area_ratio` is new over old; none guesses none.
    pub fn plan_changed(&mut self, plan: usize, area_ratio: Option<f64>) {
        let old = self.usual.get(self.plan).copied().unwrap_or_default();
        self.plan = plan;
        self.forget_masthead();
        self.last = None;
        let Some(now) = self.usual.get_mut(plan) else {
            return;
        };
        for (usual, old) in now.iter_mut().zip(old) {
            if usual.minutes == 0 {
                let ratio = area_ratio.filter(|ratio| *ratio > 0.0);
                let guessed = ratio.map_or(0.0, |r| f64::from(old.stiffness) * r * libm::sqrt(r));
                usual.stiffness = guessed as f32;
            }
        }
    }

    /// Heel per AWS squared over the last minute, where it tells.
    pub fn last(&self) -> Option<f64> {
        self.last
    }

    /// What that usually is with this plan.
    pub fn usual(&self) -> Option<f64> {
        let known = |usual: &&Usual| usual.stiffness > 0.0;
        // The other point of sail stands in: they differ little.
        self.here()
            .filter(known)
            .or_else(|| self.usual.get(self.plan)?.iter().find(known))
            .map(|usual| f64::from(usual.stiffness))
    }

    /// What is worth keeping.
    pub fn saved(&self) -> LearntHeel {
        self.usual
    }

    /// Goes on from what was kept.
    pub fn restore(&mut self, learnt: LearntHeel, plan: usize) {
        self.usual = learnt;
        self.plan = plan;
    }

    fn here(&self) -> Option<&Usual> {
        self.usual.get(self.plan)?.get(self.point)
    }

    fn measured(&mut self, minute: SailMinute) -> Option<f64> {
        let (sin, cos) = core::mem::take(&mut self.awa);
        let off = atan2_deg(sin, cos).abs();
        let (heel, aws) = (minute.heel_deg?, minute.aws_kn?);
        if heel.abs() <= LEAST_HEEL_DEG || aws <= LEAST_AWS_KN || off < LEAST_AWA_DEG {
            return None;
        }
        self.point = POINTS_DEG.iter().position(|most| off <= *most)?;
        upright_stiffness(heel, aws)
    }

    fn learn(&mut self, last: f64) {
        let (plan, point) = (self.plan, self.point);
        let before = self.usual().unwrap_or(last);
        let Some(usual) = self.usual.get_mut(plan).and_then(|p| p.get_mut(point)) else {
            return;
        };
        usual.minutes = usual.minutes.saturating_add(1);
        // What was guessed counts as some minutes, and a sudden doubling is
        // not learnt: it may be the cups.
        let over = if usual.minutes < LEARNT_MINUTES {
            f64::from(usual.minutes).max(GUESS_MINUTES)
        } else {
            FOLLOWS_MINUTES
        };
        let step = (last.min(1.8 * before) - before) / over;
        usual.stiffness = (before + step) as f32;
        let stray = (last / before - 1.0).abs().min(1.0);
        let spread = f64::from(usual.spread);
        usual.spread = (spread + (stray - spread) / over) as f32;
    }
}
