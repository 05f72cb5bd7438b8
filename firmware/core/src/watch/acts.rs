//! What each act of the crew changes.

use super::Watch;
use super::deck::Asking;
use super::judge::sums;
use crate::act::{Act, Readiness};
use crate::event::{Call, EventKind, Saying};
use crate::instruments::Confirmation;
use crate::ladder::{ItemId, PlanId};
use crate::view::Manoeuvre;

impl Watch {
    /// Takes one act, whole, and tells of it.
    pub(super) fn take_act(&mut self, act: Act) {
        match act {
            Act::Acknowledge => self.acknowledge(),
            Act::Silence => self.silence(),
            Act::Started => self.start(),
            Act::GivenUp => self.give_up(),
            Act::Plan(plan) => self.enter_plan(plan),
            Act::PlanDown => self.step_plan(1),
            Act::PlanUp => self.step_plan(-1),
            Act::NotNow { minutes, because } => {
                // Only a warning that stands can be put off: no alarm, and
                // nothing that has not been called yet.
                if self.shown_call() == Call::Prepare {
                    self.deck.put_off(minutes, because, self.now);
                    self.acknowledge();
                    self.tell(EventKind::Said(Saying::NotNow(minutes, because)));
                }
            }
            Act::SquallSeen { minutes, strength } => {
                self.deck.see_squall(minutes, strength, self.now);
                self.standing.target_mut().renew();
                self.tell(EventKind::Said(Saying::SquallSeen(minutes, strength)));
            }
            Act::Setup { item, readiness } => self.set_up(item, readiness),
            Act::Rigged { item, rigging } => {
                if let Some(was) = self.deck.rigging.get_mut(item.0 as usize) {
                    *was = rigging;
                    self.tell(EventKind::Said(Saying::Rigged(item, rigging)));
                }
            }
            Act::Hands(hands) => self.say_hands(hands),
            Act::WatchChanged => {
                if let Some(hands) = self.change_watch() {
                    self.say_hands(hands);
                }
            }
            Act::Condition(condition) => {
                self.deck.condition = condition;
                self.tell_hands();
            }
            Act::Helm(helm) => {
                self.deck.helm = helm;
                self.tell(EventKind::Helm(helm));
            }
            Act::Doing(doing) => {
                self.deck.doing = doing;
                self.doing_doubt.doing_said();
                if !doing.is_under_sail() {
                    self.deck.manoeuvre = None;
                    self.deck.not_now = None;
                }
                self.tell(EventKind::State(doing));
            }
            Act::Sea(sea) => {
                self.deck.sea = sea;
                self.tell(EventKind::Said(Saying::Sea(sea)));
            }
            Act::WindByHand { speed, side } => {
                self.picture.wind_by_hand(speed, side, self.now);
                self.hand_ahead.read(speed.get());
                self.tell(EventKind::Said(Saying::WindByHand(speed)));
            }
            Act::Wake => self.wake(),
            Act::UpAtBunk => self.up_at_bunk(),
            Act::OnDeck => self.on_deck(),
            Act::Answer { to, reply } => self.take_answer(to, reply),
            Act::ConfirmLimits => {
                self.deck.limits = Confirmation::Confirmed;
                self.tell(EventKind::Said(Saying::LimitsConfirmed));
            }
            Act::ConfirmWind => {
                self.deck.wind = Confirmation::Confirmed;
                self.tell(EventKind::Said(Saying::WindConfirmed));
            }
            Act::DeclineBeforeDark => {
                self.deck.dark_declined_day = self.day();
                self.moment.forget_answer();
                self.tell(EventKind::Said(Saying::DarkDeclined));
            }
        }
    }

    /// One key for all that sounds.
    fn acknowledge(&mut self) {
        let call = self.standing.acknowledge(self.now);
        let blind = self.blindness.acknowledge(self.now);
        let asked = self.questions.acknowledge();
        let hinted = core::mem::take(&mut self.moment.sound) == Asking::Aloud;
        if call || blind || asked || hinted {
            self.tell(EventKind::Acknowledge);
        }
    }

    fn silence(&mut self) {
        self.standing.silence(self.now);
        self.blindness.silence(self.now);
    }

    pub(super) fn start(&mut self) {
        // Begun already: pressed again, it buys no more time.
        if self.deck.manoeuvre.is_some() {
            return;
        }
        let Some(choice) = &self.assessment.choice else {
            return;
        };
        self.deck.restored.change = None;
        self.deck.manoeuvre = Some(Manoeuvre {
            to: choice.to,
            since: self.now,
            booked_s: sums(choice, 0.0).work_s,
            worst: self.standing.call(),
        });
        self.deck.begun_at = self.standing.call();
        self.deck.not_now = None;
        self.standing.mark_handled(self.now);
        self.standing.freeze_target();
        self.tell(EventKind::Start);
    }

    fn give_up(&mut self) {
        if self.deck.manoeuvre.take().is_some() {
            self.standing.sound_again(self.now);
            self.tell(EventKind::GivenUp);
        }
    }

    pub(super) fn enter_plan(&mut self, plan: PlanId) {
        if self.boat.ladder.plan(plan).is_none() {
            return;
        }
        if plan == self.deck.plan.id {
            self.confirm_plan();
            return;
        }
        let area = |id| self.boat.ladder.plan(id).map(|plan| plan.area_m2);
        let ratio = area(plan).zip(area(self.deck.plan.id));
        let ratio = ratio
            .map(|(new, old)| new / old)
            .filter(|ratio| ratio.is_finite() && *ratio > 0.0);
        self.picture.plan_changed(usize::from(plan.0), ratio);
        self.plan_doubt.plan_said(ratio);
        self.deck.set_plan(&self.boat.ladder, plan, self.now);
        self.assessment.forget_plan();
        self.standing.plan_entered(self.now);
        self.heel_ahead.reset();
        self.hinted.forget_plan();
        self.moment.forget_plan();
        self.assess_quietly();
        self.tell(EventKind::Plan);
    }

    /// The crew says that the plan believed set is set: nothing is judged
    /// anew, and a change that was begun has not been made.
    fn confirm_plan(&mut self) {
        self.deck.plan.confirmed = Some(self.now);
        self.plan_doubt.plan_confirmed();
        if self.deck.manoeuvre.take().is_some() {
            self.standing.sound_again(self.now);
        }
        self.tell(EventKind::Plan);
    }

    fn step_plan(&mut self, step: i8) {
        let planned = match (step > 0, &self.assessment.choice) {
            // Down goes where the call points, which may skip a rung.
            (true, Some(choice)) => Some(choice.to),
            _ => self.deck.plan.id.0.checked_add_signed(step).map(PlanId),
        };
        if let Some(plan) = planned {
            self.enter_plan(plan);
        }
    }

    fn set_up(&mut self, item: ItemId, readiness: Readiness) {
        if let Some(was) = self.deck.readiness.get_mut(item.0 as usize)
            && *was != readiness
        {
            *was = readiness;
            let target = self.assessment.choice.as_ref();
            if target.is_some_and(|choice| choice.needs(&self.boat.ladder, item)) {
                // They are getting this plan ready: it stays the order.
                self.standing.freeze_target();
            }
            self.assess_quietly();
            self.tell(EventKind::Setup(item, readiness));
        }
    }

    pub(super) fn tell_hands(&mut self) {
        self.assess_quietly();
        self.tell(EventKind::Hands(self.deck.hands, self.deck.condition));
    }
}
