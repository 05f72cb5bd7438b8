//! What the crew has said, held against what is measured: is this plan really
//! set, is she really doing that? Asked once each, silently.
//!
//! A forgotten plan shows in heel per AWS squared, which goes with the sail
//! area. A forgotten state shows in speed, engine and heel; it matters most
//! where the crew has said that she is under engine and so is not watched.

use core::time::Duration;

use crate::act::Doing;
use crate::call::Since;
use crate::stats::Minute;
use crate::time::Timestamp;
use crate::wind::round_up::upright_stiffness;

/// Heel per AWS squared is compared on the wind only, where it depends least
/// on the angle and on how far sheets are eased, and in a breeze.
const ON_THE_WIND_DEG: core::ops::RangeInclusive<f32> = 25.0..=65.0;
const LEAST_AWS_KN: f32 = 8.0;
const LEAST_HEEL_DEG: f32 = 4.0;
/// Minutes on the wind until what is usual with a plan is known.
const LEARNT: u16 = 10;
/// The last minutes are smoothed over about this many, what is usual over
/// that many.
const RECENT_MINUTES: f64 = 5.0;
const USUAL_MINUTES: f64 = 120.0;
/// Moment goes with area to this power: the lever shrinks as its root.
const AREA_EXPONENT: f64 = 1.5;
/// A plan is doubted once heel has gone this share of the way to what
/// another plan would make of it...
const SHARE_OF_THE_WAY: f64 = 0.6;
/// ...but not for less than this, natural logarithm: a fifth.
const LEAST_SHIFT: f64 = 0.2;
/// ...for this many minutes on the wind in a row.
const SHIFTED_MINUTES: u16 = 8;
/// After a change of area larger than this (natural logarithm of stiffness),
/// what is usual is learnt anew rather than guessed.
const GUESSED_SHIFT: f64 = 0.5;

/// An engine that turns slower than this does not drive her.
const ENGINE_STOPPED_RPM: f64 = 100.0;
/// One that turns faster does. Common practice, no source.
const ENGINE_DRIVES_RPM: f64 = 600.0;
/// Speed at which she is under way.
const UNDER_WAY_KN: f64 = 3.0;
/// Steady heel that only sails make; more where engine turns are not heard.
const HEELED_DEG: f64 = 8.0;
const HEELED_ALONE_DEG: f64 = 10.0;

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct PlanDoubt {
    usual: Option<f64>,
    recent: Option<f64>,
    learnt: u16,
    shifted: u16,
    question: Question,
}

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DoingDoubt {
    since: Since,
    question: Question,
}

/// Where a question stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Question {
    /// There is nothing to ask.
    #[default]
    None,
    /// Asked, and what raised it still stands.
    Standing,
    /// Asked; not again before the crew has said anew.
    Asked,
}

/// Whether a question is to be asked now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ask {
    /// Now, for the first time.
    Now,
    /// No.
    No,
}

impl Question {
    fn put(&mut self, so: bool) -> Ask {
        let (next, ask) = match (*self, so) {
            (Question::None, true) => (Question::Standing, Ask::Now),
            (Question::None, false) => (Question::None, Ask::No),
            (_, true) => (Question::Standing, Ask::No),
            (_, false) => (Question::Asked, Ask::No),
        };
        *self = next;
        ask
    }
}

/// Areas of the next plans up and down over that of the plan believed set.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Neighbours {
    pub(super) more: Option<f64>,
    pub(super) less: Option<f64>,
}

impl PlanDoubt {
    /// Takes a minute under sail alone.
    pub(super) fn take(&mut self, minute: &Minute, neighbours: Neighbours) -> Ask {
        let Some(stiffness) = on_the_wind(minute) else {
            return Ask::No;
        };
        let recent = match self.recent {
            Some(recent) => recent + (stiffness - recent) / RECENT_MINUTES,
            None => stiffness,
        };
        self.recent = Some(recent);
        let Some(usual) = self.usual.filter(|_| self.learnt >= LEARNT) else {
            self.learnt += 1;
            let usual = self.usual.unwrap_or(stiffness);
            self.usual = Some(usual + (stiffness - usual) / f64::from(self.learnt));
            return Ask::No;
        };
        if has_shifted(libm::log(recent / usual), neighbours) {
            self.shifted = self.shifted.saturating_add(1);
        } else {
            self.shifted = 0;
            self.usual = Some(usual + (recent - usual) / USUAL_MINUTES);
        }
        self.question.put(self.shifted >= SHIFTED_MINUTES)
    }

    /// The crew has said anew which plan is set; `area_ratio` is new over old.
    pub(super) fn plan_said(&mut self, area_ratio: Option<f64>) {
        let shift = area_ratio
            .map(|ratio| AREA_EXPONENT * libm::log(ratio))
            .filter(|shift| shift.abs() <= GUESSED_SHIFT && self.learnt >= LEARNT);
        let usual = self.usual.zip(shift);
        *self = PlanDoubt {
            usual: usual.map(|(usual, shift)| usual * libm::exp(shift)),
            learnt: if usual.is_some() { LEARNT } else { 0 },
            ..PlanDoubt::default()
        };
    }

    /// The crew says that it is this plan: what she does now is usual.
    pub(super) fn plan_confirmed(&mut self) {
        *self = PlanDoubt::default();
    }

    pub(super) fn stands(&self) -> bool {
        self.question == Question::Standing
    }
}

fn on_the_wind(minute: &Minute) -> Option<f64> {
    let (heel, aws, twa) = (minute.heel_deg?, minute.aws_kn?, minute.twa_deg?);
    let tells =
        heel.abs() >= LEAST_HEEL_DEG && aws >= LEAST_AWS_KN && ON_THE_WIND_DEG.contains(&twa.abs());
    if !tells {
        return None;
    }
    upright_stiffness(f64::from(heel), f64::from(aws)).filter(|s| s.is_finite() && *s > 0.0)
}

fn has_shifted(shift: f64, neighbours: Neighbours) -> bool {
    let line = |ratio: f64| {
        (AREA_EXPONENT * libm::log(ratio) * SHARE_OF_THE_WAY)
            .abs()
            .max(LEAST_SHIFT)
    };
    neighbours.less.is_some_and(|ratio| shift <= -line(ratio))
        || neighbours.more.is_some_and(|ratio| shift >= line(ratio))
}

/// What her motion says, at one second.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Motion {
    pub(super) engine_rpm: Option<f64>,
    pub(super) heel_mean_deg: Option<f64>,
    /// Through the water, else over the ground.
    pub(super) speed_kn: Option<f64>,
    pub(super) sog_kn: Option<f64>,
}

impl DoingDoubt {
    pub(super) fn look(&mut self, doing: Doing, motion: &Motion, now: Timestamp) -> Ask {
        let against = against(doing, motion);
        self.since.track(against.is_some(), now);
        let lasted = against.is_some_and(|minutes| {
            self.since
                .has_held(Duration::from_secs(u64::from(minutes) * 60), now)
        });
        self.question.put(lasted)
    }

    /// The crew has said anew what she is doing.
    pub(super) fn doing_said(&mut self) {
        *self = DoingDoubt::default();
    }

    pub(super) fn stands(&self) -> bool {
        self.question == Question::Standing
    }
}

/// Minutes after which what speaks against a state is asked about; none where
/// nothing does.
fn against(doing: Doing, motion: &Motion) -> Option<u32> {
    let heeled = |least: f64| motion.heel_mean_deg.is_some_and(|heel| heel.abs() > least);
    let under_way = motion.speed_kn.is_some_and(|kn| kn > UNDER_WAY_KN);
    match (doing, motion.engine_rpm) {
        (Doing::Motoring, Some(rpm)) => {
            (rpm.abs() < ENGINE_STOPPED_RPM && heeled(HEELED_DEG) && under_way).then_some(2)
        }
        (Doing::Motoring, None) => (heeled(HEELED_ALONE_DEG) && under_way).then_some(5),
        (Doing::Anchored | Doing::Moored, _) => motion
            .sog_kn
            .is_some_and(|kn| kn > UNDER_WAY_KN)
            .then_some(3),
        (Doing::Sailing | Doing::HoveTo, Some(rpm)) => (rpm.abs() > ENGINE_DRIVES_RPM).then_some(5),
        (Doing::Sailing | Doing::HoveTo, None) | (Doing::MotorSailing, _) => None,
    }
}
