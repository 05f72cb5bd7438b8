//! Holds what is measured against what the plan stands, every second: which
//! limit threatens, when, and what that asks of these hands.

use core::time::Duration;

use heapless::Vec;

use super::Watch;
use super::threats::{HEEL_LIMIT_KN, Over};
use super::why;
use crate::alert::judge::{Asked, Passed, Threat, asked};
use crate::alert::life::{Severity, Turn};
use crate::event::{Call, EventKind};
use crate::fault::Fault;
use crate::ladder::Choice;
use crate::outlook::Summary;
use crate::picture::WindStanding;
use crate::reading::Quantity;
use crate::stats::minute::Minute;
use crate::text::Text;
use crate::time::Timestamp;
use crate::view::{CallTime, HeelView, TrendMinute, WindView};

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
    /// The wind's own part of them.
    pub(super) wind_odds: Option<f64>,
    pub(super) why: Text<96>,
    pub(super) wind: Over,
    pub(super) heel: Over,
    pub(super) trim: Over,
    pub(super) onset: Since,
    /// How bad it is as measured, for raising an answered call again.
    pub(super) severity: Severity,
    /// What the forecast asks for.
    pub(super) foretold: Asked,
}

impl Assessment {
    /// Whether the outlook could tell of a limit ahead at all: no odds are no
    /// good odds, and those of heel say nothing of the wind's.
    pub(super) fn sees_ahead(&self) -> bool {
        match self.limit_kn {
            Some(_) => self.wind_odds.is_some(),
            None => self.odds.is_some(),
        }
    }

    /// Whole call time, with its margin, seconds.
    pub(super) fn call_time_s(&self) -> Option<f64> {
        self.choice.as_ref().map(booked_s)
    }

    /// Seconds until only the change itself fits; where no change leads
    /// further down, until the limit.
    pub(super) fn in_hand_s(&self) -> Option<f64> {
        let change_s = self
            .choice
            .as_ref()
            .map_or(0.0, |choice| choice.call_time.change_s);
        Some(self.time_to_limit_s? - change_s)
    }

    /// A new plan has its own limits: what was held against the old is gone.
    pub(super) fn forget_plan(&mut self) {
        self.wind = Over::default();
        self.heel = Over::default();
        self.trim = Over::default();
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
pub(super) struct Since(Option<Timestamp>);

impl Since {
    pub(super) fn track(&mut self, is_so: bool, now: Timestamp) {
        self.0 = if is_so { self.0.or(Some(now)) } else { None };
    }

    pub(super) fn has_held(self, span: Duration, now: Timestamp) -> bool {
        self.0.is_some_and(|since| now.since(since) >= span)
    }
}

impl Watch {
    /// Judges, raises or rests the call, and tells what changed.
    pub(super) fn assess(&mut self) {
        self.deck.expire(self.now);
        let asked = self.reckon();
        let measured = self.held(asked);
        let call = self.with_forecast(measured);
        let confirmed = self.wind_confirms(measured);
        self.measured = measured;
        self.sound(call, confirmed);
        self.tell_turns();
        self.look_for_hints();
        self.tell_summary();
    }

    /// Gives the alert the call that stands, and tells where that changes it.
    pub(super) fn sound(&mut self, call: Call, confirmed: bool) {
        self.end_put_off(call);
        let severity = self.assessment.severity;
        let answered = self.seen_to(call);
        let mut turn = self.life.update(call, severity, self.now);
        if answered {
            self.life.still(severity, self.now);
        } else if (self.was_seen_to || confirmed) && self.life.raise_again(self.now) == Turn::Told {
            turn = Turn::Told;
        }
        self.was_seen_to = answered;
        if turn == Turn::Told {
            self.tell(EventKind::Call);
        }
    }

    /// Brings the figures up to date, so that an event told now has them.
    pub(super) fn assess_quietly(&mut self) {
        let _ = self.reckon();
    }

    /// Feeds each closed minute to the outlooks and the trend.
    pub(super) fn take_minutes(&mut self) {
        while let Some(minute) = self.picture.next_minute() {
            self.doubt_plan(&minute);
            self.feed_wind(&minute);
            self.feed_forecast(&minute);
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
        let mut threats: Vec<(Threat, f64), 4> = Vec::new();
        let wind = self.wind_threat(&circumstances, call_time_s);
        let heel = self.heel_threat(call_time_s);
        let trim = self.trim_threat();
        for threat in [wind, heel, trim, self.squall_threat()]
            .into_iter()
            .flatten()
        {
            let _ = threats.push(threat);
        }
        self.assessment.wind_odds = wind.and_then(|(threat, _)| threat.odds);
        self.lead(&threats, call_time_s, change_s);
        let limit = self.limit(&circumstances);
        self.lead_by_forecast(limit, call_time_s, change_s);
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
                self.blind_hold.set(Call::None, self.now);
                Call::None
            }
            Sight::Clear => {
                self.blind_hold.set(Call::None, self.now);
                self.hold.update(asked, self.now)
            }
            // The hold is left as it was, for when the wind is back; heel
            // about its limit must not chatter meanwhile either.
            Sight::Blind(_) => self.blind_hold.update(asked, self.now).max(Call::Blind),
        }
    }

    /// Whether nothing needs to sound: a change is being made within its
    /// time, the call was put off, or blindness has only just begun.
    fn seen_to(&mut self, call: Call) -> bool {
        if let Some(manoeuvre) = &mut self.deck.manoeuvre {
            manoeuvre.worst = manoeuvre.worst.max(call);
            let booked = manoeuvre.booked_s.max(60.0) * 1.5;
            return self.now.secs_since(manoeuvre.since) <= booked;
        }
        if call == Call::Blind {
            // Gateways fall silent for a while and come back: it is shown at
            // once, and sounds when it lasts; but a call that nobody has
            // answered is not stilled by losing sight of it.
            if self.life.call() != Call::Blind {
                return !(self.life.call().is_threat() && self.life.is_unanswered());
            }
            return self.was_seen_to && self.now.since(self.life.since()) < super::LISTENING;
        }
        call == Call::Prepare && self.deck.not_now.is_some()
    }

    /// A put-off holds for the warning that was put off. It ends for good
    /// with worse: an alarm, or a set worsening.
    fn end_put_off(&mut self, call: Call) {
        let worse = call == Call::Prepare
            && self.life.call() == Call::Prepare
            && self.assessment.severity.is_worse_than(self.life.answered());
        if call > Call::Prepare || call == Call::None || worse {
            self.deck.not_now = None;
        }
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
        self.assessment.severity = Severity {
            odds: self.assessment.odds.unwrap_or(0.0),
            load: leading.map_or(0.0, |(threat, _)| threat.load),
        };
    }

    /// The parts of the call time, for the screen.
    pub(super) fn call_time(&self) -> Option<CallTime> {
        self.assessment
            .choice
            .as_ref()
            .map(|choice| choice.call_time)
    }
}
