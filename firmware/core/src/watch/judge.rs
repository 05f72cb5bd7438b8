//! Holds what is measured against what the plan stands, every second, and
//! gives it to the standing call.

use super::Watch;
use super::limits::Levels;
use crate::act::Doing;
use crate::call::blind::{BlindReason, Turn};
use crate::call::standing::{Judgeability, Moment, Way};
use crate::call::threat::{Against, Sums, Threat};
use crate::event::{Call, EventKind};
use crate::ladder::{Choice, Circumstances};
use crate::outlook::Summary;
use crate::picture::WindHealth;
use crate::stats::minute::Minute;
use crate::view::{AtOnceView, CallTime, HeelView, Preparation, TrendMinute, WindView};

/// Booked times hold three times in four: this many standard deviations.
const THREE_IN_FOUR: f64 = 0.674;
/// A change that takes so many times what was booked is not being made any
/// more, and the call sounds again. Common practice, no source.
const TOO_LONG: f64 = 1.5;
/// The outlook is stepped by whole minutes.
const MINUTE_S: u32 = 60;

/// What is measured, taken once for each judgement.
#[derive(Clone, Debug, Default)]
pub(super) struct Measured {
    pub(super) wind: WindView,
    pub(super) heel: HeelView,
}

/// What the watch is able to judge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Watching {
    /// Not under sail: nothing is judged.
    #[default]
    NotUnderSail,
    /// Wind cannot be judged.
    Blind(BlindReason),
    /// Wind is judged.
    Wind,
}

/// The figures of the moment.
#[derive(Clone, Debug, Default)]
pub(super) struct Assessment {
    pub(super) watching: Watching,
    pub(super) choice: Option<Choice>,
    /// The lowest wind by 1-minute mean at which a limit is met.
    pub(super) limit_kn: Option<f64>,
    pub(super) odds: Option<f64>,
    pub(super) levels: Levels,
}

impl Assessment {
    /// Whole work, with its margin, seconds.
    pub(super) fn work_s(&self) -> Option<f64> {
        self.choice.as_ref().map(|choice| sums(choice, 0.0).work_s)
    }

    /// A new plan has its own limits: what was held against the old is gone.
    pub(super) fn forget_plan(&mut self) {
        self.levels = Levels::default();
        self.choice = None;
    }
}

/// What a change takes, with its margin and, where a better way is out of
/// reach, what that way would have taken.
pub(super) fn sums(choice: &Choice, lead_s: f64) -> Sums {
    let time = &choice.call_time;
    let margin = 1.0 + time.spread_s * THREE_IN_FOUR / time.total_s().max(1.0);
    Sums {
        work_s: time.total_s() * margin + choice.sooner_s,
        change_s: time.change_s * margin,
        lead_s,
    }
}

impl Watch {
    /// Judges, raises or rests the call, and tells what changed.
    pub(super) fn assess(&mut self) {
        self.deck.expire(self.now);
        let moment = self.look();
        if self.assessment.watching == Watching::NotUnderSail {
            self.stop_watching();
        } else {
            self.raise_or_rest(&moment);
        }
        self.ask();
        self.tell_turns();
        self.look_for_hints();
        self.tell_summary();
    }

    fn raise_or_rest(&mut self, moment: &Moment) {
        let was_still = !self.standing.alert().is_unacknowledged();
        let mut turn = self.standing.update(moment, &mut self.ids, self.now);
        self.note_squall(moment);
        // What sounds anew is another warning than the one put off.
        self.end_put_off(was_still && self.standing.alert().is_unacknowledged());
        let is_handled = self.is_handled();
        if is_handled {
            self.standing.mark_handled(self.now);
        } else if self.was_handled && self.standing.sound_again(self.now) {
            turn = Turn::Turned;
        }
        self.was_handled = is_handled;
        let is_blind = matches!(self.assessment.watching, Watching::Blind(_));
        let bunk_after = self.bunk_after();
        let blind = self
            .blindness
            .update(is_blind, &mut self.ids, bunk_after, self.now);
        if turn == Turn::Turned || blind == Turn::Turned {
            self.tell(EventKind::Call);
        }
    }

    fn stop_watching(&mut self) {
        let stood = self.shown_call();
        self.standing.drop(self.now);
        self.blindness.drop(self.now);
        self.was_handled = false;
        if stood != Call::None {
            self.tell(EventKind::Call);
        }
    }

    /// The word that is shown: blindness, unless what leads can be judged
    /// without wind.
    pub(super) fn shown_call(&self) -> Call {
        let call = self.standing.call();
        let leads = self.standing.lead().map(|lead| lead.against);
        let is_judged = call.is_threat() && leads.is_some_and(|it| !it.needs_wind());
        match self.blindness.since() {
            Some(_) if !is_judged => Call::Blind,
            _ => call,
        }
    }

    /// Brings the figures up to date, so that an event told now has them.
    pub(super) fn assess_quietly(&mut self) {
        let _ = self.look();
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
                limit_kn: self.entered_limit_kn().map(|kn| kn as f32),
                call: self.shown_call(),
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
            mean_kn: super::limits::HEEL_LIMIT_KN * libm::sqrt(f64::from(heel).abs() / limit),
            interval_s: MINUTE_S,
            ..Summary::default()
        };
        self.heel_ahead.step(start_s(minute), &summary);
    }

    /// All figures anew.
    pub(super) fn look(&mut self) -> Moment {
        self.measured = Measured {
            wind: self.picture.wind(self.now),
            heel: self.picture.heel(self.now, self.heel_limit()),
        };
        let wind = &mut self.measured.wind;
        if wind.by_hand.is_none() || wind.twa_deg.is_some() {
            wind.point = self.point.take(wind.point, wind.twa_deg, self.now);
        }
        self.assessment.watching = self.watching();
        let mut moment = Moment {
            threats: heapless::Vec::new(),
            sums: Sums {
                lead_s: f64::from(self.boat.calling.lead_s),
                ..Sums::default()
            },
            judged: Judgeability::NoWind,
            target: None,
            way: Way::None,
            at_once: None,
            preparation: Preparation::Open,
        };
        if self.assessment.watching == Watching::NotUnderSail {
            self.assessment = Assessment::default();
            return moment;
        }
        let circumstances = self.circumstances();
        let choice = self.choose(&circumstances);
        moment.target = choice.as_ref().map(|choice| choice.to);
        moment.way = self.way(choice.as_ref());
        let at_once = self.at_once(&circumstances);
        // Where nothing is left to take in, that is all the work there is.
        moment.sums.change_s = at_once.minutes * 60.0;
        moment.sums.work_s = moment.sums.change_s;
        moment.at_once = Some(at_once);
        if let Some(choice) = &choice {
            moment.sums = sums(choice, moment.sums.lead_s);
            if choice.call_time.setup_s == 0.0
                && choice.feasibility.job().is_some_and(|job| job.called == 0)
            {
                moment.preparation = Preparation::Ready;
            }
        }
        self.assessment.choice = choice;
        moment.threats = self.threats(&circumstances, &moment.sums);
        moment.judged = match self.assessment.watching {
            Watching::Wind if self.has_outlook(&moment.threats) => Judgeability::Full,
            Watching::Wind => Judgeability::NoOutlook,
            Watching::Blind(_) | Watching::NotUnderSail => Judgeability::NoWind,
        };
        self.assessment.odds = most(moment.threats.iter().filter_map(|it| it.odds));
        moment
    }

    /// Whether these hands can make the change, or are making it.
    fn way(&self, choice: Option<&Choice>) -> Way {
        match choice.and_then(|choice| choice.feasibility.job()) {
            None => Way::None,
            Some(_) if self.deck.manoeuvre.is_some() => Way::UnderWay,
            Some(_) => Way::Open,
        }
    }

    /// What would unload her at once. Hove-to she is not steered: what turns
    /// her is no help.
    fn at_once(&self, now: &Circumstances) -> AtOnceView {
        let point = now.point.filter(|_| self.deck.doing != Doing::HoveTo);
        let ladder = &self.boat.ladder;
        ladder.at_once(ladder.choose_at_once(self.deck.plan.id, point, now.hands))
    }

    /// No odds are no good odds, and those of heel say nothing of the wind's.
    fn has_outlook(&self, threats: &[Threat]) -> bool {
        let tells = |it: &Threat| it.odds.is_some();
        match self.assessment.limit_kn {
            Some(_) => threats
                .iter()
                .any(|it| it.against.needs_wind() && tells(it)),
            None => threats.iter().any(tells),
        }
    }

    /// A squall that has come and gone is over before its clock is.
    fn note_squall(&mut self, moment: &Moment) {
        let load = most(
            moment
                .threats
                .iter()
                .filter(|it| it.against != Against::Squall && it.against.needs_wind())
                .map(Threat::load),
        );
        self.deck.note_wind(load, self.now);
    }

    /// Whether nothing needs to sound: a change is being made within its
    /// time and no worse has come, or a warning was put off.
    fn is_handled(&mut self) -> bool {
        let call = self.standing.call();
        if let Some(manoeuvre) = &mut self.deck.manoeuvre {
            manoeuvre.worst = manoeuvre.worst.max(call);
            let booked_s = manoeuvre.booked_s.max(60.0) * TOO_LONG;
            let is_worse = call == Call::Past && self.deck.begun_at < Call::Past;
            return !is_worse && self.now.secs_since(manoeuvre.since) <= booked_s;
        }
        call == Call::Prepare && self.deck.not_now.is_some()
    }

    /// A put-off holds for the warning that was put off. It ends for good
    /// with an alarm, with the call, or when the warning sounds anew.
    fn end_put_off(&mut self, sounds_anew: bool) {
        if self.standing.call() != Call::Prepare || sounds_anew {
            self.deck.not_now = None;
        }
    }

    fn watching(&self) -> Watching {
        if !self.deck.doing.is_under_sail() {
            return Watching::NotUnderSail;
        }
        match self.picture.needs(self.now) {
            WindHealth::Lost { what } => Watching::Blind(BlindReason::Lost(what)),
            WindHealth::Doubted(fault) => Watching::Blind(BlindReason::Doubted(fault)),
            WindHealth::Good | WindHealth::Degraded(_) | WindHealth::ByHand => Watching::Wind,
        }
    }

    /// The parts of the work, for the screen.
    pub(super) fn call_time(&self) -> Option<CallTime> {
        let choice = self.assessment.choice.as_ref();
        choice.map(|choice| choice.call_time)
    }
}

fn start_s(minute: &Minute) -> u64 {
    minute.start.as_millis() / 1000
}

fn most(figures: impl Iterator<Item = f64>) -> Option<f64> {
    figures.reduce(f64::max)
}
