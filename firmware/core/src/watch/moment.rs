//! The last good moment aboard: asks the comparison once a minute what is
//! known of the hours ahead, and puts its answer into two lines.
//!
//! Silent beside a call and while a change is being made: then the call alone
//! speaks. Said at most once for what brought it.

use heapless::Vec;

use super::Watch;
use super::deck::Asking;
use super::dusk::Dusk;
use super::forecast::Covers;
use super::judge::sums;
use super::weighed::{Answer, Said, WatchDue};
use crate::act::Hands;
use crate::event::{Call, Cause, EventKind, Hint};
use crate::ladder::{Choice, Feasibility, Limit, PlanId, effective_limit, route_time};
use crate::moment::{
    Advice, Conditions, Darkness, HORIZON_S, HintSound, MAX_SPANS, Question, Span, Stretch,
    Turning, Turnings, Work, persistence,
};
use crate::outlook;
use crate::sun;
use crate::text::{Text, format};
use crate::view::{Light, MAX_MOMENTS, MomentRow, MomentView, WatchBillKept};

/// It is looked so far beyond dawn, so that daylight is among the moments.
const BEYOND_DAWN_S: f64 = 3600.0;
/// What was said is not said again until so long after the moment it spoke
/// of. Common practice, no source.
const SAID_HOLDS_S: f64 = 3600.0;
/// Waiting is out of the question from this share of the odds of the setting
/// on.
const PRESSING_SHARE: f64 = 0.5;

impl Watch {
    /// Weighs the hours ahead once a minute.
    pub(super) fn look_for_moment(&mut self) {
        if let Some(bill) = &self.boat.bill {
            self.moment.bill.take_utc(bill, self.utc.fix());
        }
        self.ask_for_watch_change();
        let minute = self.now.as_millis() / 60_000;
        if self.moment.looked_minute != Some(minute) {
            self.moment.looked_minute = Some(minute);
            self.moment.answer = self.weigh();
            if self.moment.answer.is_none() {
                self.moment.sound = Asking::Still;
            }
            self.say_moment();
        }
    }

    /// The hands of the bill, the crew having said that the watch changed.
    pub(super) fn change_watch(&mut self) -> Option<Hands> {
        let bill = self.boat.bill.as_ref()?;
        Some(self.moment.bill.changed(bill, self.now))
    }

    /// The hints of this room that stand now.
    pub(super) fn moment_hints(&self) -> impl Iterator<Item = Hint> {
        let due = self.moment.watch_due == WatchDue::Asked;
        let advice = self.moment.answer.as_ref().and_then(Answer::hint);
        advice.into_iter().chain(due.then_some(Hint::WatchDue))
    }

    /// Both lines in one.
    pub(super) fn moment_words(&self) -> Text<96> {
        match &self.moment.answer {
            Some(answer) => {
                let [now, later] = &answer.shown.lines;
                format(format_args!("{now} / {later}"))
            }
            None => Text::new(),
        }
    }

    pub(super) fn moment_cause(&self) -> Option<Cause> {
        match self.moment.answer.as_ref()?.by? {
            Turning::Nightfall | Turning::Daylight => Some(Cause::Dark),
            Turning::Forecast(_) => Some(Cause::Forecast),
            Turning::WatchChanges(_) | Turning::WatchBelow(_) => None,
        }
    }

    pub(super) fn show_moment(&self) -> MomentView {
        let answer = self.moment.answer.as_ref();
        let mut shown = answer.map_or_else(MomentView::default, |answer| answer.shown.clone());
        shown.watch_bill = match self.boat.bill {
            Some(_) => WatchBillKept::Kept,
            None => WatchBillKept::No,
        };
        shown
    }

    fn ask_for_watch_change(&mut self) {
        let bill = self.boat.bill.as_ref();
        let is_due = bill.is_some_and(|bill| self.moment.bill.is_change_due(bill, self.now));
        let was = self.moment.watch_due;
        self.moment.watch_due = match is_due {
            true => WatchDue::Asked,
            false => WatchDue::No,
        };
        if is_due && was == WatchDue::No {
            self.tell(EventKind::Hint(Hint::WatchDue));
        }
    }

    fn say_moment(&mut self) {
        let Some(answer) = &self.moment.answer else {
            return;
        };
        let Some(hint) = answer.hint() else {
            return;
        };
        let said = self.moment.said.filter(|said| self.now < said.until);
        let is_said = said.is_some_and(|said| {
            said.hint == hint && said.by == answer.by && said.hands == answer.hands
        });
        if is_said {
            return;
        }
        let holds = core::time::Duration::from_secs((answer.at_s + SAID_HOLDS_S) as u64);
        self.moment.said = Some(Said {
            hint,
            by: answer.by,
            hands: answer.hands,
            until: self.now.after(holds),
        });
        let is_now = matches!(hint, Hint::ReduceNow(_));
        if is_now && self.boat.costs.hint == HintSound::Sounded {
            self.moment.sound = Asking::Aloud;
        }
        self.tell(EventKind::Hint(hint));
    }

    /// Compares now with the hours ahead; none where nothing can be told of
    /// them, or the call speaks.
    fn weigh(&self) -> Option<Answer> {
        let declined = self.deck.dark_declined_day;
        let is_declined = declined.is_some() && declined == self.day();
        if self.shown_call() != Call::None
            || self.deck.manoeuvre.is_some()
            || is_declined
            || !self.wind_ahead_is_current()
        {
            return None;
        }
        let choice = self.assessment.choice.as_ref()?;
        let limit_kn = self.assessment.limit_kn?;
        let stretches = self.stretches_ahead();
        let mut question = Question {
            undo_cost: self.undo_cost(choice),
            pressing_odds: self.setting() * PRESSING_SHARE,
            ..Question::default()
        };
        let mut odds_by_end = 0.0_f64;
        for stretch in &stretches {
            odds_by_end = odds_by_end.max(self.wanted_by(limit_kn, stretch.to_s)?);
            question.push(Span {
                from_s: stretch.from_s,
                to_s: stretch.to_s,
                work: self.work_in(choice, &stretch.conditions),
                odds_by_end,
            });
        }
        Some(self.answer(choice.to, &question, &stretches))
    }

    fn answer(
        &self,
        to: PlanId,
        question: &Question,
        stretches: &Vec<Stretch, MAX_SPANS>,
    ) -> Answer {
        let advice = question.compare(&self.boat.costs);
        let mut rows: Vec<MomentRow, MAX_MOMENTS> = Vec::new();
        for span in &question.spans {
            let begun = |it: &&Stretch| it.from_s == span.from_s;
            let Some(stretch) = stretches.iter().find(begun) else {
                continue;
            };
            let row = MomentRow {
                in_s: span.from_s,
                begun_by: stretch.begun_by,
                conditions: stretch.conditions,
                work: span.work,
                odds_by_end: span.odds_by_end,
            };
            if rows.push(row).is_err() {
                break;
            }
        }
        let place = match advice {
            Advice::Nothing => 0,
            Advice::Now { before } => before,
            Advice::CanWait { until } => until,
        };
        let other = rows.get(place).copied();
        let plan = self.boat.ladder.plan(to);
        let plan = plan.map_or("?", |plan| plan.short.as_str());
        let lines = match (advice, rows.first(), &other) {
            (Advice::Now { .. }, Some(now), Some(later)) => {
                let odds = question.odds_by_horizon();
                [
                    format(format_args!("{plan} now: {}", state(now))),
                    format(format_args!(
                        "in {}: {}; {:.0} in 10",
                        span_words(later.in_s),
                        state(later),
                        (odds * 10.0).clamp(1.0, 10.0)
                    )),
                ]
            }
            (Advice::CanWait { .. }, _, Some(later)) => [
                format(format_args!(
                    "{plan} can wait: {} in {}",
                    turning_words(later.begun_by),
                    span_words(later.in_s)
                )),
                format(format_args!("then {}{}", state(later), self.not_before())),
            ],
            _ => [Text::new(), Text::new()],
        };
        Answer {
            advice,
            to,
            by: other.and_then(|row| row.begun_by),
            at_s: other.map_or(0.0, |row| row.in_s),
            hands: self.deck.hands,
            shown: MomentView {
                lines,
                rows,
                watch_bill: WatchBillKept::No,
            },
        }
    }

    /// When the limit is passed at the soonest.
    fn not_before(&self) -> Text<24> {
        match self.soonest_s() {
            Some(soonest_s) => format(format_args!("; limit not before {:.0}", soonest_s / 60.0)),
            None => Text::new(),
        }
    }

    /// All that is known to change before the night is over.
    fn stretches_ahead(&self) -> Vec<Stretch, MAX_SPANS> {
        let mut turnings = Turnings::default();
        if let Dusk::InSeconds(dusk_s) = self.dusk() {
            turnings.add(dusk_s, Turning::Nightfall);
        }
        let dawn_s = self.dawn_s();
        if let Some(dawn_s) = dawn_s {
            turnings.add(dawn_s, Turning::Daylight);
        }
        let night_s = dawn_s.map_or(HORIZON_S, |dawn_s| dawn_s + BEYOND_DAWN_S);
        let horizon_s = night_s.min(HORIZON_S);
        self.add_watch_changes(&mut turnings, horizon_s);
        for (in_s, kn) in self.forecast_rows_ahead(horizon_s) {
            turnings.add(in_s, Turning::Forecast(kn));
        }
        let now = Conditions {
            hands: self.deck.hands,
            dark: darkness(self.light()),
            forecast_kn: None,
        };
        turnings.stretches(now, horizon_s)
    }

    fn dawn_s(&self) -> Option<f64> {
        let now = self.unix_ms()?;
        let dawn = sun::next_dawn(self.picture.position(self.now)?, now)?;
        Some(dawn.saturating_sub(now) as f64 / 1000.0)
    }

    fn add_watch_changes(&self, turnings: &mut Turnings, horizon_s: f64) {
        let Some(bill) = &self.boat.bill else {
            return;
        };
        let mut at_s = 0;
        while let Some(here) = self.moment.bill.ahead(bill, self.now, at_s) {
            at_s = at_s.saturating_add(here.left_s);
            if f64::from(at_s) >= horizon_s {
                return;
            }
            let Some(next) = self.moment.bill.ahead(bill, self.now, at_s) else {
                return;
            };
            let overlap_s = bill.overlap_s();
            if overlap_s > 0 {
                let both = bill.hands_at_change(here.turn, next.turn);
                turnings.add(f64::from(at_s), Turning::WatchChanges(both));
            }
            let below_s = at_s.saturating_add(overlap_s);
            turnings.add(f64::from(below_s), Turning::WatchBelow(next.hands));
        }
    }

    /// The change, made under other conditions.
    fn work_in(&self, choice: &Choice, conditions: &Conditions) -> Work {
        let mut then = self.circumstances();
        then.hands = conditions.hands;
        then.light = match conditions.dark {
            Darkness::Light => Light::Day,
            Darkness::Dark => Light::Night,
        };
        if let Some(kn) = conditions.forecast_kn {
            then.tws_kn = Some(then.tws_kn.unwrap_or(0.0).max(kn));
        }
        let route = choice.route(&self.boat.ladder);
        let feasibility = route_time(&self.boat.ladder, &self.boat.crew, &route, &then);
        let Feasibility::Feasible(job) = feasibility else {
            return Work::Impossible;
        };
        let booked = Choice {
            call_time: job.time,
            feasibility,
            sooner_s: 0.0,
            ..choice.clone()
        };
        Work::Possible {
            minutes: sums(&booked, 0.0).work_s / 60.0,
            wakes: job.called,
            dark: conditions.dark,
        }
    }

    /// What it costs to go back up with these hands by day.
    fn undo_cost(&self, choice: &Choice) -> f64 {
        let mut by_day = self.circumstances();
        by_day.light = Light::Day;
        let ladder = &self.boat.ladder;
        let back = ladder.route(choice.to, choice.from);
        let time = back.map(|route| route_time(ladder, &self.boat.crew, &route, &by_day));
        let job = time.as_ref().and_then(|time| time.job());
        job.map_or(0.0, |job| job.time.total_s() / 60.0)
    }

    /// Odds that the limit is passed within so many seconds: by the outlook as
    /// far as it reaches, then by the forecast as far as it has been right,
    /// and else by plain persistence.
    fn wanted_by(&self, limit_kn: f64, by_s: f64) -> Option<f64> {
        use crate::ahead::TellsAhead;
        let reach_s = f64::from(outlook::HORIZON_S);
        let near = self.wind_ahead.odds(limit_kn, by_s.min(reach_s) as u32)?;
        if by_s <= reach_s {
            return Some(near);
        }
        let level = self.measured.wind.mean_10min_kn.or(self.level_kn())?;
        let not_by = |within_s| 1.0 - persistence::odds(level, limit_kn, within_s);
        let plain = match not_by(reach_s) {
            left if left > 0.0 => 1.0 - not_by(by_s) / left,
            _ => 1.0,
        };
        let limit: Option<Limit> = self.plan().map(|it| effective_limit(it, self.point()));
        let told = limit.and_then(|limit| self.forecast_between(limit, reach_s, by_s));
        let later = match told {
            Some(told) if told.covers == Covers::All => {
                told.odds * told.weight + plain * (1.0 - told.weight)
            }
            Some(told) => plain.max(told.odds * told.weight),
            None => plain,
        };
        Some(1.0 - (1.0 - near) * (1.0 - later.clamp(0.0, 1.0)))
    }
}

/// Where it is not known, as in the dark.
fn darkness(light: Light) -> Darkness {
    match light {
        Light::Day => Darkness::Light,
        Light::Night | Light::Unknown => Darkness::Dark,
    }
}

/// Who is up, how light it is, what it takes: "2 up, light, 8 min".
fn state(row: &MomentRow) -> Text<40> {
    let up = row.conditions.hands.on_deck;
    let light = match row.conditions.dark {
        Darkness::Light => "light",
        Darkness::Dark => "dark",
    };
    match row.work {
        Work::Impossible => format(format_args!("{up} up, {light}: cannot be done")),
        Work::Possible {
            minutes, wakes: 0, ..
        } => format(format_args!("{up} up, {light}, {minutes:.0} min")),
        Work::Possible { minutes, wakes, .. } => format(format_args!(
            "{up} up, {light}, {minutes:.0} min, wake {wakes}"
        )),
    }
}

fn span_words(seconds: f64) -> Text<12> {
    match seconds / 60.0 {
        minutes if minutes < 90.0 => format(format_args!("{minutes:.0} min")),
        minutes => format(format_args!("{:.0} h", minutes / 60.0)),
    }
}

fn turning_words(turning: Option<Turning>) -> Text<24> {
    match turning {
        Some(Turning::WatchChanges(_)) => format(format_args!("watch changes")),
        Some(Turning::WatchBelow(_)) => format(format_args!("other hands")),
        Some(Turning::Nightfall) => format(format_args!("dark")),
        Some(Turning::Daylight) => format(format_args!("daylight")),
        Some(Turning::Forecast(kn)) => format(format_args!("wind {kn:.0} kn")),
        None => Text::new(),
    }
}
