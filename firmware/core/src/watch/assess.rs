//! Holds what is measured against what the plan stands, every second: which
//! limit threatens, when, and what that asks of these hands.

use core::time::Duration;

use heapless::Vec;

use super::Watch;
use super::ahead::{Ahead, Line};
use super::deck::Met;
use super::why;
use crate::act::{PointOfSail, Sea};
use crate::alert::judge::{Asked, Passed, Threat, asked, let_go_odds};
use crate::alert::life::{Severity, Turn};
use crate::event::{Call, Cause, EventKind};
use crate::fault::Fault;
use crate::instruments::Confirmation;
use crate::ladder::{
    CLOSE_REACH_KN, Choice, Circumstances, Limit, MAX_PLANS, Plan, PlanId, brought_forward, choose,
    effective_limit,
};
use crate::outlook::{HORIZON_S, Summary};
use crate::picture::WindStanding;
use crate::reading::Quantity;
use crate::stats::minute::Minute;
use crate::text::Text;
use crate::time::Timestamp;
use crate::view::{CallTime, HeelView, TrendMinute, WindView};

/// A mean at or over its limit this long is past it for good.
const HELD: Duration = Duration::from_secs(20);
/// A sudden onset: wind this much over the limit...
const ONSET_SHARE: f64 = 1.1;
/// ...this long, while the 10-minute mean was still this much under it.
const ONSET_HELD: Duration = Duration::from_secs(15);
const ONSET_FROM_SHARE: f64 = 0.85;
/// Gust factor reckoned with until one is measured: 3 s in 10 min between the
/// at-sea 1.23 and off-sea 1.38 of WMO/TD-No. 1555.
const GUST_FACTOR: f64 = 1.3;
/// Heel goes into its outlook as this many knots at the limit, by the square
/// root: heeling moment grows as wind squared.
const HEEL_LIMIT_KN: f64 = 20.0;
/// Calls come earlier while limits or wind are unconfirmed: the setting is
/// multiplied by this for each.
const UNCONFIRMED: f64 = 0.85;
/// Booked times hold three times in four: this many standard deviations.
const THREE_IN_FOUR: f64 = 0.674;

/// The outlook is stepped by whole minutes.
const MINUTE_S: u32 = 60;

fn start_s(minute: &Minute) -> u64 {
    minute.start.as_millis() / 1000
}

/// What is measured, taken once for each judgement.
#[derive(Clone, Debug, Default)]
pub(super) struct Seen {
    pub(super) wind: WindView,
    pub(super) heel: HeelView,
}

/// What can be judged at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Sight {
    /// Not under sail: nothing is judged.
    #[default]
    NotWatching,
    /// Wind cannot be judged.
    Blind(Blindness),
    /// Wind is judged.
    Clear,
}

/// Why wind cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Blindness {
    /// This is not heard.
    Lost(Quantity),
    /// It is heard, but this speaks against it.
    Doubted(Fault),
}

/// The figures of the moment.
#[derive(Clone, Debug, Default)]
pub(super) struct Assessment {
    pub(super) sight: Sight,
    pub(super) choice: Option<Choice>,
    pub(super) leading: Option<Threat>,
    pub(super) limit_kn: Option<f64>,
    pub(super) time_to_limit_s: Option<f64>,
    pub(super) odds: Option<f64>,
    pub(super) why: Text<96>,
    wind_over: Since,
    heel_over: Since,
    onset: Since,
}

impl Assessment {
    /// How bad it is, for raising an answered call again.
    pub(super) fn severity(&self) -> Severity {
        Severity {
            odds: self.odds.unwrap_or(0.0),
            load: self.leading.map_or(0.0, |threat| threat.load),
        }
    }

    /// Whole call time, with its margin, seconds.
    pub(super) fn call_time_s(&self) -> Option<f64> {
        self.choice.as_ref().map(booked_s)
    }

    /// Seconds until only the change itself fits.
    pub(super) fn in_hand_s(&self) -> Option<f64> {
        let change_s = self.choice.as_ref()?.call_time.change_s;
        Some(self.time_to_limit_s? - change_s)
    }

    /// A new plan has its own limits: what was held against the old is gone.
    pub(super) fn forget_plan(&mut self) {
        self.wind_over = Since::default();
        self.heel_over = Since::default();
        self.onset = Since::default();
        self.choice = None;
    }
}

/// Call time with its margin and, where a better way is out of reach, what
/// that way would have taken.
fn booked_s(choice: &Choice) -> f64 {
    choice.reckoned_s() + choice.call_time.spread_s * THREE_IN_FOUR
}

/// Since when something has been so.
#[derive(Clone, Copy, Debug, Default)]
struct Since(Option<Timestamp>);

impl Since {
    fn track(&mut self, is_so: bool, now: Timestamp) {
        self.0 = if is_so { self.0.or(Some(now)) } else { None };
    }

    fn has_held(self, span: Duration, now: Timestamp) -> bool {
        self.0.is_some_and(|since| now.since(since) >= span)
    }
}

impl Watch {
    /// Judges, raises or rests the call, and tells what changed.
    pub(super) fn assess(&mut self) {
        self.deck.expire(self.now);
        let asked = self.reckon();
        let call = self.held(asked);
        let severity = self.assessment.severity();
        let answered = self.seen_to(call);
        let mut turn = self.life.update(call, severity, self.now);
        if answered {
            self.life.still(severity, self.now);
        } else if self.was_seen_to && self.life.raise_again(self.now) == Turn::Told {
            turn = Turn::Told;
        }
        self.was_seen_to = answered;
        if turn == Turn::Told {
            self.tell(EventKind::Call);
        }
        self.tell_turns();
        self.look_for_hints();
        self.tell_summary();
    }

    /// Brings the figures up to date, so that an event told now has them.
    pub(super) fn assess_quietly(&mut self) {
        let _ = self.reckon();
    }

    /// Feeds each closed minute to the outlooks and the trend.
    pub(super) fn take_minutes(&mut self) {
        while let Some(minute) = self.picture.next_minute() {
            self.feed_wind(&minute);
            self.feed_heel(&minute);
            let entry = TrendMinute {
                mean_kn: minute.mean_kn,
                gust_kn: minute.gust_kn,
                limit_kn: self.assessment.limit_kn.map(|kn| kn as f32),
                call: self.life.call(),
            };
            if self.trend.is_full() {
                self.trend.pop_front();
            }
            let _ = self.trend.push_back(entry);
        }
    }

    /// A minute with too little wind is a gap, and no summary.
    fn feed_wind(&mut self, minute: &Minute) {
        let Some(mean) = minute.mean_kn else {
            return;
        };
        let summary = Summary {
            mean_kn: f64::from(mean),
            gust_kn: minute.gust_kn.map(f64::from),
            direction_deg: minute.twd_deg.map(f64::from),
            pressure_hpa: minute.pressure_hpa.map(f64::from),
            interval_s: MINUTE_S,
        };
        self.wind_ahead.step(start_s(minute), &summary);
    }

    fn feed_heel(&mut self, minute: &Minute) {
        let (Some(heel), Some(limit)) = (minute.heel_deg, self.heel_limit()) else {
            return;
        };
        let summary = Summary {
            mean_kn: HEEL_LIMIT_KN * libm::sqrt(f64::from(heel).abs() / limit),
            interval_s: MINUTE_S,
            ..Summary::default()
        };
        self.heel_ahead.step(start_s(minute), &summary);
    }

    /// All figures anew; what they ask for.
    pub(super) fn reckon(&mut self) -> Asked {
        self.seen = Seen {
            wind: self.picture.wind(self.now),
            heel: self.picture.heel(self.now, self.heel_limit()),
        };
        self.assessment.sight = self.sight();
        if self.assessment.sight == Sight::NotWatching {
            let choice = None;
            self.assessment = Assessment {
                choice,
                ..Assessment::default()
            };
            return Asked {
                raise: Call::None,
                keep: Call::None,
            };
        }
        let circumstances = self.circumstances();
        self.assessment.choice = self.choose(&circumstances);
        let (call_time_s, change_s) = match &self.assessment.choice {
            Some(choice) => (booked_s(choice), choice.call_time.change_s),
            None => (0.0, 0.0),
        };
        let mut threats: Vec<(Threat, f64), 3> = Vec::new();
        let wind = self.wind_threat(&circumstances, call_time_s);
        let heel = self.heel_threat(call_time_s);
        for threat in [wind, heel, self.squall_threat()].into_iter().flatten() {
            let _ = threats.push(threat);
        }
        self.lead(&threats, call_time_s, change_s);
        threats
            .iter()
            .map(|(threat, _)| asked(threat, call_time_s, change_s))
            .fold(
                Asked {
                    raise: Call::None,
                    keep: Call::None,
                },
                Asked::or,
            )
    }

    /// Keeps from chattering, and puts blindness in its place: below a
    /// threat that heel or a seen squall still tells of.
    fn held(&mut self, asked: Asked) -> Call {
        match self.assessment.sight {
            Sight::NotWatching => {
                self.hold.set(Call::None, self.now);
                Call::None
            }
            Sight::Clear => self.hold.update(asked, self.now),
            // The hold is left as it was, for when the wind is back.
            Sight::Blind(_) => asked.raise.max(Call::Blind),
        }
    }

    /// Whether nothing needs to sound: a change is being made within its
    /// time, the call was put off, or the watch has only just begun.
    fn seen_to(&mut self, call: Call) -> bool {
        if let Some(manoeuvre) = &mut self.deck.manoeuvre {
            manoeuvre.worst = manoeuvre.worst.max(call);
            let booked = manoeuvre.booked_s.max(60.0) * 1.5;
            return self.now.secs_since(manoeuvre.since) <= booked;
        }
        if call == Call::Blind {
            return self.now.since(self.started) < super::LISTENING;
        }
        call == Call::Prepare && self.deck.not_now.is_some() && !self.is_worse_than_put_off()
    }

    fn is_worse_than_put_off(&self) -> bool {
        self.assessment
            .severity()
            .is_worse_than(self.life.answered())
    }

    fn sight(&self) -> Sight {
        if !self.deck.doing.is_under_sail() {
            return Sight::NotWatching;
        }
        match self.picture.needs(self.now) {
            WindStanding::Lost { what } => Sight::Blind(Blindness::Lost(what)),
            WindStanding::Doubted(fault) => Sight::Blind(Blindness::Doubted(fault)),
            WindStanding::Good | WindStanding::Degraded(_) | WindStanding::ByHand => Sight::Clear,
        }
    }

    pub(super) fn circumstances(&self) -> Circumstances {
        let wind = &self.seen.wind;
        let mut now = Circumstances::fair(self.deck.hands);
        now.condition = self.deck.condition;
        now.helm = self.deck.helm;
        now.light = self.light();
        now.sea = self.sea();
        now.point = wind.point;
        now.tws_kn = wind.mean_1min_kn;
        now.close_reach_kn = CLOSE_REACH_KN;
        now.confirmed = self.deck.limits;
        for (known, was) in now.readiness.iter_mut().zip(&self.deck.readiness) {
            *known = *was;
        }
        for (known, was) in now.rigging.iter_mut().zip(&self.deck.rigging) {
            *known = *was;
        }
        now
    }

    /// The sea reckoned with: as set by hand, else what the wind has
    /// probably raised (Beaufort scale's probable wave heights, from memory)
    /// and at least what the boat's rolling tells of (common practice, no
    /// source).
    pub(super) fn sea(&self) -> Sea {
        if let Some(sea) = self.deck.sea {
            return sea;
        }
        let by_wind = match self.seen.wind.mean_10min_kn {
            None => Sea::Slight,
            Some(kn) if kn < 11.0 => Sea::Smooth,
            Some(kn) if kn < 17.0 => Sea::Slight,
            Some(kn) if kn < 22.0 => Sea::Moderate,
            Some(kn) if kn < 34.0 => Sea::Rough,
            Some(_) => Sea::VeryRough,
        };
        let by_roll = match self.seen.heel.roll_deg {
            Some(roll) if roll >= 14.0 => Sea::Rough,
            Some(roll) if roll >= 8.0 => Sea::Moderate,
            _ => Sea::Smooth,
        };
        by_wind.max(by_roll)
    }

    /// The ONE setting, taken lower while limits or wind are unconfirmed.
    pub(super) fn setting(&self) -> f64 {
        let mut setting = self.boat.calling.odds;
        for vouched in [self.deck.limits, self.deck.wind] {
            if vouched == Confirmation::Unconfirmed {
                setting *= UNCONFIRMED;
            }
        }
        setting
    }

    fn plan(&self) -> Option<&Plan> {
        self.boat.ladder.plan(self.deck.plan.id)
    }

    fn heel_limit(&self) -> Option<f64> {
        self.plan()?.heel_limit.map(|limit| limit.get())
    }

    /// The next plan for these hands. While a call stands it may only become
    /// a deeper one: the crew is already getting it ready. Once the change is
    /// begun it stays.
    fn choose(&mut self, now: &Circumstances) -> Option<Choice> {
        let lasts = self.lasting(now);
        let lasts_min = |plan: PlanId| lasts.get(plan.0 as usize).copied().unwrap_or(0.0);
        let (ladder, crew) = (&self.boat.ladder, &self.boat.crew);
        let from = self.deck.plan.id;
        let fresh = choose(ladder, crew, from, now, lasts_min);
        let old = self.assessment.choice.as_ref();
        let is_begun = self.deck.manoeuvre.is_some();
        let keeps = |old: &Choice, new: &Choice| {
            is_begun || (self.life.call().is_threat() && new.to < old.to)
        };
        match (old.filter(|old| old.from == from), fresh) {
            (Some(old), Some(new)) if keeps(old, &new) => {
                let only_old = |plan: PlanId| if plan == old.to { f64::INFINITY } else { 0.0 };
                choose(ladder, crew, from, now, only_old)
                    .filter(|kept| kept.to == old.to)
                    .or(Some(new))
            }
            (_, fresh) => fresh,
        }
    }

    /// Minutes that each plan would last, by its wind limit.
    fn lasting(&mut self, now: &Circumstances) -> Vec<f64, MAX_PLANS> {
        let gust_factor = self.gust_factor();
        let mut lasting = Vec::new();
        for plan in &self.boat.ladder.plans {
            let minutes = wind_limit(effective_limit(plan, now.point), gust_factor)
                .and_then(|limit| self.wind_ahead.time_to_s(limit, Line::Likely))
                .map_or(f64::INFINITY, |seconds| seconds / 60.0);
            // As many as there are plans.
            let _ = lasting.push(minutes);
        }
        lasting
    }

    pub(super) fn gust_factor(&self) -> f64 {
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

    fn wind_threat(&mut self, now: &Circumstances, call_time_s: f64) -> Option<(Threat, f64)> {
        let limit = self.limit_kn(now);
        self.assessment.limit_kn = limit;
        let limit = limit?;
        if self.assessment.sight != Sight::Clear {
            self.assessment.wind_over = Since::default();
            self.assessment.onset = Since::default();
            return None;
        }
        let wind = &self.seen.wind;
        let level = wind.mean_1min_kn.or(wind.tws_kn)?;
        self.assessment.wind_over.track(level >= limit, self.now);
        let smooth = wind.tws_kn.unwrap_or(level);
        let before = wind.mean_10min_kn.unwrap_or(level);
        self.assessment.onset.track(
            smooth >= limit * ONSET_SHARE && before <= limit * ONSET_FROM_SHARE,
            self.now,
        );
        let setting = self.setting();
        let mut threat = threat_of(
            Cause::Wind,
            (level, limit),
            self.assessment.wind_over.has_held(HELD, self.now),
            Times::of(&mut self.wind_ahead, limit, setting, call_time_s),
        );
        if self.assessment.onset.has_held(ONSET_HELD, self.now) && threat.passed == Passed::NotYet {
            threat.cause = Cause::Squall;
            threat.time_to_limit_s = Some(0.0);
            threat.time_to_let_go_s = Some(0.0);
        }
        Some((threat, level))
    }

    /// The plan's wind limit now: by mean or by gust, brought forward where
    /// the next change could not be made at it.
    fn limit_kn(&self, now: &Circumstances) -> Option<f64> {
        let limit = effective_limit(self.plan()?, now.point);
        let below = self
            .assessment
            .choice
            .as_ref()
            .and_then(|choice| choice.must_be_done_below);
        wind_limit(brought_forward(limit, below), self.gust_factor())
    }

    fn heel_threat(&mut self, call_time_s: f64) -> Option<(Threat, f64)> {
        let limit = self.heel_limit()?;
        let level = self.seen.heel.mean_deg?.abs();
        let setting = self.setting();
        self.assessment.heel_over.track(level >= limit, self.now);
        let threat = threat_of(
            Cause::Heel,
            (level, limit),
            self.assessment.heel_over.has_held(HELD, self.now),
            Times::of(&mut self.heel_ahead, HEEL_LIMIT_KN, setting, call_time_s),
        );
        Some((threat, level))
    }

    fn squall_threat(&self) -> Option<(Threat, f64)> {
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

    /// Finds the threat that leads and takes its figures.
    fn lead(&mut self, threats: &[(Threat, f64)], call_time_s: f64, change_s: f64) {
        let time = |threat: &Threat| match threat.passed {
            Passed::Held => 0.0,
            Passed::NotYet => threat.time_to_limit_s.unwrap_or(f64::INFINITY),
        };
        let leading = threats.iter().max_by(|(a, _), (b, _)| {
            let call = |t: &Threat| asked(t, call_time_s, change_s).raise;
            call(a)
                .cmp(&call(b))
                .then(time(b).total_cmp(&time(a)))
                .then(a.load.total_cmp(&b.load))
        });
        let plan = self.plan().map_or("the plan", |plan| plan.short.as_str());
        let why = match leading {
            Some((threat, level)) => why::threat(threat, *level, plan, call_time_s / 60.0),
            None => Text::new(),
        };
        self.assessment.why = match self.assessment.sight {
            Sight::Blind(missing)
                if leading
                    .is_none_or(|(t, _)| asked(t, call_time_s, change_s).raise == Call::None) =>
            {
                why::blind(missing)
            }
            _ => why,
        };
        self.assessment.leading = leading.map(|(threat, _)| *threat);
        self.assessment.time_to_limit_s = leading.map(|(t, _)| time(t)).filter(|t| t.is_finite());
        self.assessment.odds = threats
            .iter()
            .filter_map(|(threat, _)| threat.odds)
            .fold(None, |most: Option<f64>, odds| {
                Some(most.map_or(odds, |most| most.max(odds)))
            });
    }

    /// The parts of the call time, for the screen.
    pub(super) fn call_time(&self) -> Option<CallTime> {
        self.assessment
            .choice
            .as_ref()
            .map(|choice| choice.call_time)
    }

    /// Where the wind meets the boat, if that is known.
    pub(super) fn point(&self) -> Option<PointOfSail> {
        self.seen.wind.point
    }
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
    fn of(ahead: &mut Ahead, limit: f64, setting: f64, call_time_s: f64) -> Self {
        let horizon_s = (call_time_s as u32).min(HORIZON_S);
        Times {
            to_limit_s: ahead.time_to_s(limit, Line::Raise(setting)),
            to_let_go_s: ahead.time_to_s(limit, Line::LetGo(let_go_odds(setting))),
            odds: ahead.odds(limit, horizon_s),
        }
    }
}

fn threat_of(cause: Cause, (level, limit): (f64, f64), has_held: bool, times: Times) -> Threat {
    Threat {
        cause,
        load: if limit > 0.0 { level / limit } else { 0.0 },
        limit,
        passed: if has_held {
            Passed::Held
        } else {
            Passed::NotYet
        },
        time_to_limit_s: times.to_limit_s,
        time_to_let_go_s: times.to_let_go_s,
        odds: times.odds,
    }
}
