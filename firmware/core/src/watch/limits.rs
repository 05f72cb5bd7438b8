//! Each limit of the plan as a threat: the level that it is held against, and
//! when the outlook has it passed.

use core::time::Duration;

use heapless::Vec;

use super::Watch;
use super::judge::Watching;
use crate::ahead::{Ahead, Line, TellsAhead};
use crate::call::Since;
use crate::call::standing::MAX_THREATS;
use crate::call::threat::{Against, Reached, Sums, Threat};
use crate::ladder::{Circumstances, Limit, effective_limit};
use crate::outlook::HORIZON_S;
use crate::picture::WindHealth;
use crate::sense::health::apart::level_to_judge_kn;
use crate::time::Timestamp;

/// A 1-minute mean at or over its limit this long is no passing gust: only
/// the change itself still fits.
const OVER: Duration = Duration::from_secs(20);
/// A 2-minute mean of wind, or a 1-minute mean of heel, at or over its limit
/// this long is past it. The ten-minute mean by which a hindcast is judged
/// would tell the crew five minutes later; a 1-minute mean goes over the limit
/// in turbulence a quarter of an hour before the wind does.
const PAST: Duration = Duration::from_secs(60);
/// Over the limit by this much is past it as soon as it has held [`OVER`].
const FAR_OVER: f64 = 1.15;
/// A sudden onset: wind this much over the limit...
const ONSET_SHARE: f64 = 1.1;
/// ...while the 10-minute mean was still this much under it...
const ONSET_FROM_SHARE: f64 = 0.85;
/// ...for so long.
const ONSET_HELD: Duration = Duration::from_secs(15);
/// Gusts are judged by so many greatest minutes of the last ten: the least of
/// them is the level, so that one puff is none.
const GUSTY_MINUTES: usize = 3;
/// Bows-down trim is taken as a mean over about this long, seconds.
const TRIM_S: f64 = 60.0;
/// Gust factor reckoned with until one is measured: 3 s in 10 min between the
/// at-sea 1.23 and off-sea 1.38 of WMO/TD-No. 1555.
const GUST_FACTOR: f64 = 1.3;
/// The factor is taken by steps of this, so that a limit does not shift every
/// minute.
const GUST_STEP: f64 = 0.05;
/// Heel goes into its outlook as this many knots at the limit, by the square
/// root: heeling moment grows as wind squared.
pub(super) const HEEL_LIMIT_KN: f64 = 20.0;
/// The newest minute that an outlook has taken is up to a little over two
/// minutes old in the ordinary run of things; older than this, some are
/// missing.
const CURRENT_MS: u64 = 240_000;

/// Since when each level has been over its limit.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Levels {
    mean: Over,
    gust: Over,
    heel: Over,
    trim: Over,
    onset: Since,
}

/// Since when a level has been over its limit.
#[derive(Clone, Copy, Debug, Default)]
struct Over {
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
    const fn mean(load: f64) -> Self {
        Load {
            quick: load,
            minute: Some(load),
            steady: Some(load),
        }
    }
}

impl Over {
    fn track(&mut self, load: Load, now: Timestamp) -> Reached {
        let is = |load: Option<f64>, least: f64| load.is_some_and(|load| load >= least);
        self.at.track(load.quick >= 1.0, now);
        self.far.track(is(load.minute, FAR_OVER), now);
        self.past.track(is(load.steady, 1.0), now);
        if self.past.has_held(PAST, now) || self.far.has_held(OVER, now) {
            Reached::Past
        } else if self.at.has_held(OVER, now) {
            Reached::At
        } else {
            Reached::Under
        }
    }
}

impl Watch {
    /// All that threatens the plan now.
    pub(super) fn threats(&mut self, now: &Circumstances, sums: &Sums) -> Vec<Threat, MAX_THREATS> {
        let limit = self.plan().map(|plan| effective_limit(plan, now.point));
        let limit = limit.unwrap_or_default();
        let door = self.door(limit);
        let by_gust = limit.gust.map(|gust| gust.get() / self.gust_factor());
        self.assessment.limit_kn = [limit.mean.map(|kn| kn.get()), by_gust, door.map(|it| it.1)]
            .into_iter()
            .flatten()
            .reduce(f64::min);
        let mut all: [Option<Threat>; MAX_THREATS] = [None; MAX_THREATS];
        let [mean, gust, at_door, onset, heel, trim, squall, forecast] = &mut all;
        if self.assessment.watching == Watching::Wind {
            *mean = self.mean_threat(limit, sums);
            *gust = self.gust_threat(limit, sums);
            *at_door = self.door_threat(door, sums);
            *onset = self.onset_threat(limit);
            *forecast = self.forecast_threat(limit, sums);
        } else {
            self.assessment.levels.mean = Over::default();
            self.assessment.levels.gust = Over::default();
            self.assessment.levels.onset = Since::default();
        }
        *heel = self.heel_threat(sums);
        *trim = self.trim_threat();
        *squall = self.squall_threat(limit);
        all.into_iter().flatten().collect()
    }

    /// The limit as entered that the wind is drawn against.
    pub(super) fn entered_limit_kn(&self) -> Option<f64> {
        let limit = effective_limit(self.plan()?, self.point());
        limit.mean.or(limit.gust).map(|kn| kn.get())
    }

    /// The wind below which the change ahead must be done, where that is
    /// under the plan's own limit.
    fn door(&self, limit: Limit) -> Option<(crate::ladder::PlanId, f64)> {
        let choice = self.assessment.choice.as_ref()?;
        let door = choice.must_be_done_below?.get();
        let is_lower = limit.mean.is_none_or(|mean| door < mean.get());
        is_lower.then_some((choice.to, door))
    }

    fn mean_threat(&mut self, limit: Limit, sums: &Sums) -> Option<Threat> {
        let limit = limit.mean?.get();
        let by_hand = self.by_hand_kn();
        let wind = &self.measured.wind;
        // Two units that differ: which of both levels is judged by.
        let other = wind.other_mean_kn.filter(|_| by_hand.is_none());
        let judged = |kn| level_to_judge_kn(kn, other, limit);
        let level = judged(self.level_kn()?);
        // The first seconds after a start are no mean: without one it is not
        // past. What a person read off is taken as meant.
        let minute = by_hand.or(wind.mean_1min_kn.map(judged));
        let steady = wind.mean_2min_kn.filter(|_| by_hand.is_none()).map(judged);
        let steady = steady.or(minute);
        let load = Load {
            quick: level / limit,
            minute: minute.map(|kn| kn / limit),
            steady: steady.map(|kn| kn / limit),
        };
        let reached = self.assessment.levels.mean.track(load, self.now);
        Some(self.by_wind(Against::Mean, (level, limit), reached, (limit, sums)))
    }

    /// Judged by more than one gust, against the limit as entered; the
    /// outlook, which knows means, by how much gustier it has been.
    fn gust_threat(&mut self, limit: Limit, sums: &Sums) -> Option<Threat> {
        let limit = limit.gust?.get();
        let mean = self.level_kn()?;
        let level = match self.by_hand_kn() {
            Some(kn) => kn * GUST_FACTOR,
            None => self.gust_level_kn().unwrap_or(mean),
        };
        let reached = self
            .assessment
            .levels
            .gust
            .track(Load::mean(level / limit), self.now);
        let by_mean = limit / self.gust_factor();
        Some(self.by_wind(Against::Gust, (level, limit), reached, (by_mean, sums)))
    }

    /// Wind at a door is no overload: another change has to do.
    fn door_threat(
        &mut self,
        door: Option<(crate::ladder::PlanId, f64)>,
        sums: &Sums,
    ) -> Option<Threat> {
        let (plan, limit) = door?;
        let other = self.measured.wind.other_mean_kn;
        let level = level_to_judge_kn(self.level_kn()?, other, limit);
        let reached = match level >= limit {
            true => Reached::At,
            false => Reached::Under,
        };
        Some(self.by_wind(Against::Door(plan), (level, limit), reached, (limit, sums)))
    }

    fn by_wind(
        &mut self,
        against: Against,
        (level, limit): (f64, f64),
        reached: Reached,
        (asked_kn, sums): (f64, &Sums),
    ) -> Threat {
        let setting = self.setting();
        let ahead = self.ahead_mut();
        let (soonest_s, odds) = ahead.map_or((None, None), |ahead| {
            let soonest_s = ahead.time_to_s(asked_kn, Line::Raise(setting));
            (soonest_s, ahead.odds(asked_kn, within(sums.work_s)))
        });
        Threat {
            against,
            limit,
            level,
            reached,
            soonest_s,
            odds,
        }
    }

    fn onset_threat(&mut self, limit: Limit) -> Option<Threat> {
        let limit = limit.mean.or(limit.gust)?.get();
        let by_hand = self.by_hand_kn();
        let wind = &self.measured.wind;
        let level = wind.tws_kn.filter(|_| by_hand.is_none())?;
        let before = wind.mean_10min_kn.unwrap_or(level);
        let is_onset = level >= limit * ONSET_SHARE && before <= limit * ONSET_FROM_SHARE;
        self.assessment.levels.onset.track(is_onset, self.now);
        let has_held = self.assessment.levels.onset.has_held(ONSET_HELD, self.now);
        has_held.then_some(Threat {
            against: Against::Onset,
            limit,
            level,
            reached: Reached::At,
            soonest_s: Some(0.0),
            odds: None,
        })
    }

    fn heel_threat(&mut self, sums: &Sums) -> Option<Threat> {
        let limit = self.heel_limit()?;
        let level = self.measured.heel.mean_deg?.abs();
        let load = Load::mean(level / limit);
        let reached = self.assessment.levels.heel.track(load, self.now);
        let setting = self.setting();
        let (soonest_s, odds) = match is_current(&self.heel_ahead, self.now) {
            true => (
                self.heel_ahead
                    .time_to_s(HEEL_LIMIT_KN, Line::Raise(setting)),
                self.heel_ahead.odds(HEEL_LIMIT_KN, within(sums.work_s)),
            ),
            false => (None, None),
        };
        Some(Threat {
            against: Against::Heel,
            limit,
            level,
            reached,
            soonest_s,
            odds,
        })
    }

    /// Bows-down trim against the plan's limit: for a boat that buries them.
    /// It gives no time ahead; it tells when the limit is met.
    fn trim_threat(&mut self) -> Option<Threat> {
        let limit = self.plan()?.trim_limit?.get();
        let level = self.trim_deg?;
        let load = Load::mean(level / limit);
        let reached = self.assessment.levels.trim.track(load, self.now);
        Some(Threat {
            against: Against::Trim,
            limit,
            level,
            reached,
            soonest_s: None,
            odds: None,
        })
    }

    /// Takes one second's pitch into the mean trim.
    pub(super) fn take_trim(&mut self) {
        let pitch = self.picture.pitch_deg(self.now);
        self.trim_deg = match (pitch, self.trim_deg) {
            (Some(pitch), Some(mean)) => Some(mean + (-pitch - mean) / TRIM_S),
            (pitch, _) => pitch.map(|pitch| -pitch),
        };
    }

    /// No limit is told with it: what is thought to come is no level.
    fn squall_threat(&self, limit: Limit) -> Option<Threat> {
        let limit_kn = limit.mean.or(limit.gust).map(|kn| kn.get());
        let squall = self.deck.squall.filter(|it| !it.is_met(limit_kn))?;
        Some(Threat {
            against: Against::Squall,
            limit: 0.0,
            level: squall.strength.map_or(0.0, |kn| kn.get()),
            reached: Reached::Under,
            soonest_s: Some(squall.due.secs_since(self.now)),
            odds: None,
        })
    }

    /// Wind read off by hand, where that is what is judged by.
    fn by_hand_kn(&self) -> Option<f64> {
        match self.picture.needs(self.now) {
            WindHealth::ByHand => self.measured.wind.by_hand.map(|(kn, _)| kn),
            _ => None,
        }
    }

    /// The wind that is judged by: read off by hand, or the 1-minute mean, or
    /// until there is one the smoothed wind. None where it is doubted.
    pub(super) fn level_kn(&self) -> Option<f64> {
        let wind = &self.measured.wind;
        match self.picture.needs(self.now) {
            WindHealth::Lost { .. } | WindHealth::Doubted(_) => None,
            WindHealth::ByHand => wind.by_hand.map(|(kn, _)| kn),
            WindHealth::Good | WindHealth::Degraded(_) => wind.mean_1min_kn.or(wind.tws_kn),
        }
    }

    /// What gusts come up to: the least of the greatest minutes.
    fn gust_level_kn(&self) -> Option<f64> {
        let mut gusts: Vec<f64, 10> = self
            .picture
            .last_minutes()
            .rev()
            .take(10)
            .filter_map(|minute| minute.gust_kn.map(f64::from))
            .collect();
        gusts.sort_unstable_by(|a, b| b.total_cmp(a));
        gusts.get(GUSTY_MINUTES - 1).copied()
    }

    /// What gusts come up to over the mean.
    pub(super) fn gust_factor(&self) -> f64 {
        if self.by_hand_kn().is_some() {
            return GUST_FACTOR;
        }
        let wind = &self.measured.wind;
        // Against the mean of now where that is higher: in a rising wind the
        // gusts of now over the mean of ten minutes would count the rise too.
        let mean = wind.mean_10min_kn.zip(wind.mean_1min_kn);
        let measured = match (self.gust_level_kn(), mean) {
            (Some(gust), Some((ten, one))) if ten.max(one) > 1.0 => gust / ten.max(one),
            _ => GUST_FACTOR,
        };
        libm::round(measured.max(1.0) / GUST_STEP) * GUST_STEP
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

    /// Where the wind meets the boat, if that is known.
    pub(super) fn point(&self) -> Option<crate::act::PointOfSail> {
        self.measured.wind.point
    }
}

/// Whether an outlook's newest minute is young enough to go on.
fn is_current(ahead: &Ahead, now: Timestamp) -> bool {
    let at_s = ahead.outlook().at_s();
    at_s.is_some_and(|at_s| now.millis_since(Timestamp::from_secs(at_s)) <= CURRENT_MS)
}

/// The wind by 1-minute mean at which a limit is met.
pub(super) fn wind_limit(limit: Limit, gust_factor: f64) -> Option<f64> {
    let by_gust = limit.gust.map(|gust| gust.get() / gust_factor);
    match (limit.mean.map(|mean| mean.get()), by_gust) {
        (Some(mean), Some(gust)) => Some(mean.min(gust)),
        (mean, gust) => mean.or(gust),
    }
}

/// The horizon of some work.
pub(super) fn within(work_s: f64) -> u32 {
    (work_s as u32).min(HORIZON_S)
}
