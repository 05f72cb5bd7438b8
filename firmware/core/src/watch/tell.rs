//! Writes events, each with the figures that stand when it comes.

use core::time::Duration;

use super::Watch;
use super::judge::{Measured, Watching};
use crate::act::{Helm, Question, Reply, Rigging};
use crate::call::blind::BlindReason;
use crate::call::sentence::sentence;
use crate::event::{
    Call, Cause, ClockJump, ClockTurn, Event, EventKind, FaultTurn, Hint, Priority, Saying,
};
use crate::picture::Turn;
use crate::text::{Text, format, text};
use crate::view::{AtOnceView, MinutesInHand};

/// The figures of the moment are told this often while under sail.
pub(super) const SUMMARY_EVERY: Duration = Duration::from_secs(600);

impl Watch {
    /// Tells one event.
    pub(super) fn tell(&mut self, kind: EventKind) {
        self.seq += 1;
        let event = self.event(kind);
        if self.events.is_full() {
            self.events.pop_front();
        }
        let _ = self.events.push_back(event);
    }

    /// Tells which sources and faults came and went.
    pub(super) fn tell_turns(&mut self) {
        while let Some(turn) = self.picture.next_turn() {
            match turn {
                Turn::Source(quantity, source) => self.tell(EventKind::Source(quantity, source)),
                Turn::Fault(fault, which) => self.tell(EventKind::Fault(fault, which)),
            }
        }
    }

    /// Tells the figures once in a while, under sail.
    pub(super) fn tell_summary(&mut self) {
        if self.now < self.next_summary {
            return;
        }
        self.next_summary = self.now.after(SUMMARY_EVERY);
        if self.assessment.watching != Watching::NotUnderSail {
            self.tell(EventKind::Summary);
        }
    }

    fn event(&self, kind: EventKind) -> Event {
        let Measured { wind, heel } = &self.measured;
        let call = self.shown_call();
        Event {
            seq: self.seq,
            id: match kind {
                EventKind::Call
                | EventKind::Acknowledge
                | EventKind::Start
                | EventKind::GivenUp
                | EventKind::Said(Saying::NotNow(..)) => self.shown_alert().id,
                _ => 0,
            },
            at: self.now,
            unix_ms: self.unix_ms(),
            call,
            priority: self.priority_of(&kind),
            cause: self.cause_of(&kind),
            why: self.why_of(&kind),
            plan: self.deck.plan.id,
            next: self.assessment.choice.as_ref().map(|choice| choice.to),
            at_once: self.ordered_at_once().map(|it| it.id),
            minutes_in_hand: match self.minutes_in_hand() {
                MinutesInHand::Minutes(minutes) => Some(minutes),
                MinutesInHand::Beyond | MinutesInHand::Unknown => None,
            },
            slack_s: self.slack_s(),
            soonest_s: self.soonest_s(),
            promise: self.soonest_s().map(|_| self.setting()),
            call_time_s: self.assessment.work_s(),
            odds: self.assessment.odds,
            tws_mean_1min_kn: wind.mean_1min_kn,
            gust_3s_kn: wind.gust_kn,
            heel_mean_deg: heel.mean_deg,
            kind,
        }
    }

    /// What can be done at once, where that is the order that is shown.
    pub(super) fn ordered_at_once(&self) -> Option<&AtOnceView> {
        let at_once = self.standing.at_once();
        at_once.filter(|_| self.shown_call().is_threat())
    }

    pub(super) fn slack_s(&self) -> Option<f64> {
        Some(self.soonest_s()? - self.standing.sums().work_s)
    }

    /// Seconds until the limit is passed at the odds of the setting; none where
    /// that is not known or is beyond the outlook.
    pub(super) fn soonest_s(&self) -> Option<f64> {
        match self.shown_call() {
            Call::Blind => None,
            Call::Past => Some(0.0),
            Call::None | Call::Prepare | Call::Reduce => self.standing.soonest_s(),
        }
    }

    fn priority_of(&self, kind: &EventKind) -> Option<Priority> {
        match kind {
            EventKind::Hint(_) | EventKind::Fault(_, FaultTurn::Began) => Some(Priority::Caution),
            EventKind::Clock(ClockTurn::Contradicted | ClockTurn::Followed, _) => {
                Some(Priority::Caution)
            }
            EventKind::Fault(_, FaultTurn::Ended)
            | EventKind::Source(..)
            | EventKind::Clock(ClockTurn::Withdrawn, _) => None,
            EventKind::Ask(_) => Some(Priority::Warning),
            _ => self.shown_call().priority(),
        }
    }

    fn cause_of(&self, kind: &EventKind) -> Option<Cause> {
        match kind {
            EventKind::Call | EventKind::Acknowledge | EventKind::Start | EventKind::GivenUp => {
                self.call_cause()
            }
            EventKind::Fault(..) | EventKind::Source(..) | EventKind::Clock(..) => {
                Some(Cause::Data)
            }
            EventKind::Hint(Hint::ReduceNow(_) | Hint::CanWait(_)) => self.moment_cause(),
            _ => None,
        }
    }

    /// What brought the call that stands.
    pub(super) fn call_cause(&self) -> Option<Cause> {
        match self.shown_call() {
            Call::None => None,
            Call::Blind => Some(Cause::Data),
            _ => self.standing.lead().map(|lead| lead.against.cause()),
        }
    }

    fn why_of(&self, kind: &EventKind) -> Text<96> {
        match kind {
            EventKind::Call | EventKind::Summary => self.sentence(),
            EventKind::Ask(question) => self.question_words(*question),
            EventKind::Plan => format(format_args!("{} is set", self.plan_name())),
            EventKind::Start => text("the crew has begun"),
            EventKind::GivenUp => text("the change was given up"),
            EventKind::Setup(item, readiness) => {
                let name = self
                    .boat
                    .ladder
                    .item(*item)
                    .map_or("?", |i| i.name.as_str());
                format(format_args!("{name}: {}", readiness.word()))
            }
            EventKind::Hint(hint) => self.hint_words(*hint),
            EventKind::Fault(fault, which) => format(format_args!("{fault} {}", which.word())),
            EventKind::Source(quantity, Some(_)) => {
                format(format_args!("{} has a source", quantity.name()))
            }
            EventKind::Source(quantity, None) => {
                format(format_args!("{} has no source", quantity.name()))
            }
            EventKind::Hands(hands, _) => format(format_args!(
                "{} on deck, {} below",
                hands.on_deck, hands.below
            )),
            EventKind::Helm(helm) => text(match helm {
                Helm::Pilot => "steering: pilot",
                Helm::Hand => "steering: by hand",
            }),
            EventKind::State(doing) => text(doing.word()),
            EventKind::Acknowledge => text("acknowledged"),
            EventKind::Said(saying) => saying.words(),
            EventKind::Clock(turn, jump) => clock(*turn, jump),
        }
    }

    /// The one line that says why the call is what it is.
    pub(super) fn sentence(&self) -> Text<96> {
        let short = |id| {
            let plan = self.boat.ladder.plan(id);
            plan.map_or("?", |plan| plan.short.as_str())
        };
        match (self.assessment.watching, self.shown_call()) {
            (Watching::NotUnderSail, _) => text("not under sail: not watching"),
            (Watching::Blind(reason), Call::Blind) => blind(reason),
            (_, Call::None | Call::Blind) => format(format_args!("{} stands", self.plan_name())),
            _ => self.with_both_levels(sentence(&self.standing, short, self.now)),
        }
    }

    /// Two wind units that differ: both levels stand before the sentence, where
    /// they leave it whole.
    fn with_both_levels(&self, sentence: Text<96>) -> Text<96> {
        let wind = &self.measured.wind;
        let Some((one, other)) = wind.mean_1min_kn.zip(wind.other_mean_kn) else {
            return sentence;
        };
        let levels: Text<20> = format(format_args!(
            "{:.0} or {:.0} kn",
            one.min(other),
            one.max(other)
        ));
        // Shorter where there is no room for all of it.
        for between in [", units differ: ", ": "] {
            if levels.len() + between.len() + sentence.len() <= sentence.capacity() {
                return format(format_args!("{levels}{between}{sentence}"));
            }
        }
        sentence
    }

    pub(super) fn plan_name(&self) -> &str {
        self.boat
            .ladder
            .plan(self.deck.plan.id)
            .map_or("?", |plan| plan.name.as_str())
    }
}

/// The line for blindness.
fn blind(why: BlindReason) -> Text<96> {
    match why {
        BlindReason::Lost(quantity) => format(format_args!("cannot judge: no {}", quantity.name())),
        BlindReason::Doubted(fault) => format(format_args!("cannot judge: {fault}")),
    }
}

/// The line for a clock that jumps: how far the told time is from the held.
fn clock(turn: ClockTurn, jump: &ClockJump) -> Text<96> {
    let off_ms = jump.told_ms.saturating_sub(jump.held_ms);
    let off_s = off_ms.unsigned_abs() / 1000;
    let sense = if off_ms < 0 { "behind" } else { "ahead" };
    let (hours, minutes, seconds) = (off_s / 3600, off_s / 60 % 60, off_s % 60);
    let what = match turn {
        ClockTurn::Contradicted => "is told: not followed",
        ClockTurn::Followed => "has been told for minutes: followed",
        ClockTurn::Withdrawn => "is told no more",
    };
    format(format_args!(
        "a time {hours}:{minutes:02}:{seconds:02} {sense} {what}"
    ))
}

const fn answered(question: Question, reply: Reply) -> &'static str {
    match (question, reply) {
        (Question::OldChange, Reply::Yes) => "the change begun before the stop is set",
        (Question::OldChange, Reply::No) => "the change begun before the stop is not being made",
        (Question::OldCall, Reply::Yes) => "the call of before the stop stands",
        (Question::OldCall, Reply::No) => "the call of before the stop is over",
        (Question::OldHands, Reply::Yes) => "the hands are as before the stop",
        (Question::OldHands, Reply::No) => "the hands are not as before the stop",
        (Question::IsItSet, Reply::Yes) => "set",
        (Question::IsItSet, Reply::No) => "not set yet",
        (Question::OnDeck, Reply::Yes) => "on deck",
        (Question::OnDeck, Reply::No) => "not on deck yet",
        (Question::CarryOn, Reply::Yes) => "reduce and rest",
        (Question::CarryOn, Reply::No) => "carry on",
    }
}

impl Saying {
    fn words(self) -> Text<96> {
        match self {
            Saying::NotNow(minutes, _) => format(format_args!("not now, for {minutes} min")),
            Saying::Woken => text("the other hand is called"),
            Saying::UpAtBunk(0) => text("answered at the bunk"),
            Saying::UpAtBunk(muster_s) => format(format_args!(
                "answered at the bunk: on deck in {} min",
                muster_s.div_ceil(60)
            )),
            Saying::Answered(question, reply) => text(answered(question, reply)),
            Saying::Sea(Some(_)) => text("sea state set by hand"),
            Saying::Sea(None) => text("sea state judged by wind and motion"),
            Saying::Rigged(_, Rigging::Rigged) => text("set: in the way of a change"),
            Saying::Rigged(_, Rigging::Cleared) => text("cleared: out of a change's way"),
            Saying::WindByHand(kn) => format(format_args!("read by hand: {:.0} kn", kn.get())),
            Saying::SquallSeen(0, _) => text("no squall, or gone by"),
            Saying::SquallSeen(minutes, Some(kn)) => format(format_args!(
                "squall of {:.0} kn in {minutes} min",
                kn.get()
            )),
            Saying::SquallSeen(minutes, None) => format(format_args!("squall in {minutes} min")),
            Saying::LimitsConfirmed => text("limits confirmed"),
            Saying::WindConfirmed => text("wind confirmed"),
            Saying::DarkDeclined => text("no reef before dark today"),
        }
    }
}
