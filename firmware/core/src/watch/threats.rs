//! Each limit of the plan held against what is measured.

use core::time::Duration;

use super::Watch;
use super::assess::{Sight, Since};
use super::deck::Met;
use crate::act::PointOfSail;
use crate::ahead::{Ahead, Line, TellsAhead};
use crate::alert::judge::{Passed, Threat, let_go_odds};
use crate::event::Cause;
use crate::ladder::{Circumstances, Limit, brought_forward, effective_limit};
use crate::near;
use crate::outlook::HORIZON_S;
use crate::picture::WindStanding;
use crate::stats::squall::Squall;
use crate::time::Timestamp;

/// A 1-minute mean at or over its limit this long is no passing gust: only
/// the change itself still fits.
const OVER: Duration = Duration::from_secs(20);
/// A 2-minute mean of wind, or a 1-minute mean of heel, at or over its limit
/// this long is past it.
const PAST: Duration = Duration::from_secs(60);
/// Over the limit by this much is past it as soon as it has held [`OVER`].
const FAR_OVER: f64 = 1.15;
/// Bows-down trim is taken as a mean over about this long, seconds.
const TRIM_S: f64 = 60.0;
/// A sudden onset must last.
const ONSET_HELD: Duration = Duration::from_secs(15);
/// Gust factor reckoned with until one is measured: 3 s in 10 min between the
/// at-sea 1.23 and off-sea 1.38 of WMO/TD-No. 1555.
const GUST_FACTOR: f64 = 1.3;
/// Heel goes into its outlook as this many knots at the limit, by the square
/// root: heeling moment grows as wind squared.
pub(super) const HEEL_LIMIT_KN: f64 = 20.0;

/// The newest minute that an outlook has taken is up to a little over two
/// minutes old in the ordinary run of things; older than this, some are
/// missing.
const CURRENT_MS: u64 = 240_000;

impl Watch {
    /// Wind read off by hand, where that is what is judged by.
    fn by_hand_kn(&self) -> Option<f64> {
        match self.picture.needs(self.now) {
            WindStanding::ByHand => self.seen.wind.by_hand.map(|(kn, _)| kn),
            _ => None,
        }
    }

    /// The wind that is judged by: read off by hand, or the 1-minute mean, or
    /// until there is one the smoothed wind. None where it is doubted.
    pub(super) fn level_kn(&self) -> Option<f64> {
        let wind = &self.seen.wind;
        match self.picture.needs(self.now) {
            WindStanding::Lost { .. } | WindStanding::Doubted(_) => None,
            WindStanding::ByHand => wind.by_hand.map(|(kn, _)| kn),
            WindStanding::Good | WindStanding::Degraded(_) => wind.mean_1min_kn.or(wind.tws_kn),
        }
    }

    /// Whether the outlook tells of the wind of now. After a gap, or by a
    /// wind read off by hand, it would tell of a wind that is gone.
    pub(super) fn wind_ahead_is_current(&self) -> bool {
        self.by_hand_kn().is_none() && is_current(&self.wind_ahead, self.now)
    }

    /// What tells of the wind to come: the outlook of what is measured, or
    /// that of a wind read off by hand; none where neither is of now.
    pub(super) fn ahead(&self) -> Option<&dyn TellsAhead> {
        match self.by_hand_kn() {
            Some(_) => Some(&self.hand_ahead),
            None if is_current(&self.wind_ahead, self.now) => Some(&self.wind_ahead),
            None => None,
        }
    }

    pub(super) fn ahead_mut(&mut self) -> Option<&mut dyn TellsAhead> {
        match self.by_hand_kn() {
            Some(_) => Some(&mut self.hand_ahead),
            None if is_current(&self.wind_ahead, self.now) => Some(&mut self.wind_ahead),
            None => None,
        }
    }

    pub(super) fn gust_factor(&self) -> f64 {
        if self.by_hand_kn().is_some() {
            return GUST_FACTOR;
        }
        let wind = &self.seen.wind;
        // Against the mean of now where that is higher: in a rising wind the
        // gusts of now over the mean of ten minutes would count the rise too.
        let mean = wind.mean_10min_kn.zip(wind.mean_1min_kn);
        let measured = match (wind.gust_kn, mean) {
            (Some(gust), Some((ten, one))) if ten.max(one) > 1.0 => gust / ten.max(one),
            _ => GUST_FACTOR,
        };
        // By hundredths, so that a limit does not shift every second.
        libm::round(measured.max(1.0) * 100.0) / 100.0
    }

    pub(super) fn wind_threat(
        &mut self,
        now: &Circumstances,
        call_time_s: f64,
    ) -> Option<(Threat, f64)> {
        let limit = self
            .limit(now)
            .and_then(|limit| wind_limit(limit, self.gust_factor()));
        self.assessment.limit_kn = limit;
        let limit = limit?;
        if self.assessment.sight != Sight::Clear {
            self.assessment.wind = Over::default();
            self.assessment.onset = Since::default();
            return None;
        }
        let level = self.level_kn()?;
        let by_hand = self.by_hand_kn().is_some();
        let wind = &self.seen.wind;
        // The first seconds after a start are no mean: without one it is not
        // past. What a person read off is taken as meant.
        let minute = self.by_hand_kn().or(wind.mean_1min_kn);
        let steady = wind.mean_2min_kn.filter(|_| !by_hand).or(minute);
        let load = Load {
            quick: level / limit,
            minute: minute.map(|kn| kn / limit),
            steady: steady.map(|kn| kn / limit),
        };
        let passed = self.assessment.wind.track(load, self.now);
        let smooth = wind.tws_kn.filter(|_| !by_hand).unwrap_or(level);
        let before = wind.mean_10min_kn.filter(|_| !by_hand).unwrap_or(level);
        self.assessment
            .onset
            .track(near::is_onset(smooth, before, limit), self.now);
        let is_squall = wind.squall != Squall::None;
        let setting = self.setting();
        let times = self.ahead_mut().map_or(Times::UNKNOWN, |ahead| {
            Times::of(ahead, limit, setting, call_time_s)
        });
        let mut threat = threat_of(Cause::Wind, (level, limit), passed, times);
        if is_squall {
            threat.cause = Cause::Squall;
        }
        if self.assessment.onset.has_held(ONSET_HELD, self.now) && threat.passed == Passed::NotYet {
            threat.cause = Cause::Squall;
            threat.time_to_limit_s = Some(0.0);
            threat.time_to_let_go_s = Some(0.0);
        }
        Some((threat, level))
    }

    /// The plan's wind limit now: by mean or by gust, brought forward where
    /// the next change could not be made at it.
    pub(super) fn limit(&self, now: &Circumstances) -> Option<Limit> {
        let limit = effective_limit(self.plan()?, now.point);
        let below = self
            .assessment
            .choice
            .as_ref()
            .and_then(|choice| choice.must_be_done_below);
        Some(brought_forward(limit, below))
    }

    pub(super) fn heel_threat(&mut self, call_time_s: f64) -> Option<(Threat, f64)> {
        let limit = self.heel_limit()?;
        let level = self.seen.heel.mean_deg?.abs();
        let setting = self.setting();
        let load = level / limit;
        let passed = self.assessment.heel.track(Load::mean(load), self.now);
        let threat = threat_of(
            Cause::Heel,
            (level, limit),
            passed,
            if is_current(&self.heel_ahead, self.now) {
                Times::of(&mut self.heel_ahead, HEEL_LIMIT_KN, setting, call_time_s)
            } else {
                Times::UNKNOWN
            },
        );
        Some((threat, level))
    }

    /// Bows-down trim against the plan's limit: for a boat that buries them.
    /// It gives no time ahead; it tells when the limit is met.
    pub(super) fn trim_threat(&mut self) -> Option<(Threat, f64)> {
        let limit = self.plan()?.trim_limit?.get();
        let level = self.trim_deg?;
        let load = level / limit;
        let passed = self.assessment.trim.track(Load::mean(load), self.now);
        let threat = threat_of(Cause::Heel, (level, limit), passed, Times::UNKNOWN);
        Some((threat, level))
    }

    /// Takes one second's pitch into the mean trim.
    pub(super) fn take_trim(&mut self) {
        let pitch = self.picture.pitch_deg(self.now);
        self.trim_deg = match (pitch, self.trim_deg) {
            (Some(pitch), Some(mean)) => Some(mean + (-pitch - mean) / TRIM_S),
            (pitch, _) => pitch.map(|pitch| -pitch),
        };
    }

    pub(super) fn squall_threat(&self) -> Option<(Threat, f64)> {
        let squall = self.deck.squall.filter(|s| s.met == Met::NotYet)?;
        let seconds = squall.due.secs_since(self.now);
        let threat = Threat {
            cause: Cause::Squall,
            load: 0.0,
            limit: self.assessment.limit_kn.unwrap_or(0.0),
            passed: Passed::NotYet,
            time_to_limit_s: Some(seconds),
            time_to_let_go_s: Some(seconds),
            odds: None,
        };
        Some((threat, 0.0))
    }

    /// Where the wind meets the boat, if that is known.
    pub(super) fn point(&self) -> Option<PointOfSail> {
        self.seen.wind.point
    }
}

/// Whether an outlook's newest minute is young enough to go on.
fn is_current(ahead: &Ahead, now: Timestamp) -> bool {
    ahead
        .outlook()
        .at_s()
        .is_some_and(|at_s| now.millis_since(Timestamp::from_secs(at_s)) <= CURRENT_MS)
}

/// The wind by 1-minute mean at which a limit is met.
pub(super) fn wind_limit(limit: Limit, gust_factor: f64) -> Option<f64> {
    let by_gust = limit.gust.map(|gust| gust.get() / gust_factor);
    match (limit.mean.map(|mean| mean.get()), by_gust) {
        (Some(mean), Some(gust)) => Some(mean.min(gust)),
        (mean, gust) => mean.or(gust),
    }
}

/// What an outlook says of one limit.
struct Times {
    to_limit_s: Option<f64>,
    to_let_go_s: Option<f64>,
    odds: Option<f64>,
}

impl Times {
    const UNKNOWN: Times = Times {
        to_limit_s: None,
        to_let_go_s: None,
        odds: None,
    };

    fn of(ahead: &mut dyn TellsAhead, limit: f64, setting: f64, call_time_s: f64) -> Self {
        Times {
            to_limit_s: ahead.time_to_s(limit, Line::Raise(setting)),
            to_let_go_s: ahead.time_to_s(limit, Line::LetGo(let_go_odds(setting))),
            odds: ahead.odds(limit, within(call_time_s)),
        }
    }
}

/// The horizon of a call time.
pub(super) fn within(call_time_s: f64) -> u32 {
    (call_time_s as u32).min(HORIZON_S)
}

fn threat_of(cause: Cause, (level, limit): (f64, f64), over: Reached, times: Times) -> Threat {
    // At the limit already: nothing but the change itself still fits.
    let at_once = (over != Reached::NotYet).then_some(0.0);
    Threat {
        cause,
        load: if limit > 0.0 { level / limit } else { 0.0 },
        limit,
        passed: match over {
            Reached::Past => Passed::Held,
            Reached::NotYet | Reached::At => Passed::NotYet,
        },
        time_to_limit_s: at_once.or(times.to_limit_s),
        time_to_let_go_s: at_once.or(times.to_let_go_s),
        odds: times.odds,
    }
}

/// How far a level has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reached {
    NotYet,
    At,
    Past,
}

/// Since when a level has been over its limit.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Over {
    at: Since,
    far: Since,
    past: Since,
}

/// Levels over their limit.
#[derive(Clone, Copy, Debug)]
struct Load {
    quick: f64,
    /// As a mean of a minute; none before there is one.
    minute: Option<f64>,
    /// As the mean that it is past by.
    steady: Option<f64>,
}

impl Load {
    /// One mean for all.
    fn mean(load: f64) -> Self {
        Load {
            quick: load,
            minute: Some(load),
            steady: Some(load),
        }
    }
}

impl Over {
    fn track(&mut self, load: Load, now: Timestamp) -> Reached {
        self.at.track(load.quick >= 1.0, now);
        let is_far = load.minute.is_some_and(|load| load >= FAR_OVER);
        self.far.track(is_far, now);
        self.past
            .track(load.steady.is_some_and(|it| it >= 1.0), now);
        if self.past.has_held(PAST, now) || self.far.has_held(OVER, now) {
            Reached::Past
        } else if self.at.has_held(OVER, now) {
            Reached::At
        } else {
            Reached::NotYet
        }
    }
}
