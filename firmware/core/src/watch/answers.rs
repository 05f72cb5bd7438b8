//! The watch asks, and takes the answers: at the bunk and in the cockpit.

use super::Watch;
use super::bunk::Bunk;
use crate::act::{Hands, Question, Reply};
use crate::event::{Call, EventKind, Saying};
use crate::ladder::{PlanId, muster_s};
use crate::text::{Text, format, text};
use crate::view::Manoeuvre;

/// It goes on asking this often, seconds: the longest that a warning may wait
/// to be repeated (MSC.302(87) 7.4, from memory).
const ASKS_EVERY_S: f64 = 300.0;

impl Watch {
    /// Calls those below.
    pub(super) fn wake(&mut self) {
        self.bunk = Bunk::Called;
        self.tell(EventKind::Said(Saying::Woken));
    }

    /// Somebody answers at the bunk: whatever sounds there is acknowledged,
    /// and whoever can come is on the way. Where nothing sounds it is an elbow.
    pub(super) fn up_at_bunk(&mut self) {
        if self.sounds().bunk.is_none() {
            return;
        }
        let call = self.standing.alert().is_at_bunk() && self.standing.acknowledge(self.now);
        let blind = self.blindness.alert().is_at_bunk() && self.blindness.acknowledge(self.now);
        if call || blind {
            self.tell(EventKind::Acknowledge);
        }
        let muster_s = self.muster();
        self.assess_quietly();
        self.tell(EventKind::Said(Saying::UpAtBunk(muster_s as u32)));
    }

    /// Begins the time to muster, unless it runs already; gives what is left.
    fn muster(&mut self) -> f64 {
        if let Some(left_s) = self.bunk.left_s(self.now) {
            return left_s.max(0.0);
        }
        let choice = self.assessment.choice.as_ref();
        let job = choice.and_then(|choice| choice.feasibility.job());
        let people = job.map_or(1, |job| job.called.max(1));
        let people = people.min(self.deck.hands.below);
        if people == 0 {
            self.bunk = Bunk::Quiet;
            return 0.0;
        }
        let booked_s = muster_s(&self.boat.crew, &self.circumstances());
        self.bunk = Bunk::Mustering {
            people,
            since: self.now,
            booked_s,
        };
        booked_s
    }

    /// Those who were called are on deck.
    pub(super) fn on_deck(&mut self) {
        let Bunk::Mustering { people, .. } = self.bunk else {
            return;
        };
        let hands = self.deck.hands;
        let come = people.min(hands.below);
        self.say_hands(Hands {
            on_deck: hands.on_deck.saturating_add(come),
            below: hands.below - come,
        });
    }

    /// Who is where: whoever was on the way has been counted.
    pub(super) fn say_hands(&mut self, hands: Hands) {
        self.deck.hands = hands;
        self.deck.restored.hands = None;
        self.moment.forget_answer();
        if self.bunk != Bunk::Called {
            self.bunk = Bunk::Quiet;
        }
        self.tell_hands();
    }
}

impl Watch {
    /// Asks what is to be asked now, and drops what has answered itself.
    pub(super) fn ask(&mut self) {
        if self.standing.call().is_threat() || !self.deck.doing.is_under_sail() {
            // What stands now is known better than what stood.
            self.deck.restored.call = None;
        }
        if !self.deck.doing.is_under_sail() {
            self.deck.restored.change = None;
        }
        for question in Question::ALL {
            let due = self.due(question);
            if self.questions.look(question, due) {
                self.tell(EventKind::Ask(question));
            }
        }
        if !self.standing.is_ready(self.now) {
            self.questions.close(Question::CarryOn);
        }
    }

    /// How often a question is to have been asked by now.
    fn due(&self, question: Question) -> Option<u32> {
        let restored = &self.deck.restored;
        match question {
            Question::OldChange => restored.change.map(|_| 1),
            Question::OldCall => restored.call.map(|_| 1),
            Question::OldHands => {
                let asks = restored.hands.is_some() && self.deck.doing.is_under_sail();
                asks.then_some(1)
            }
            Question::IsItSet => self.deck.manoeuvre.map(|it| self.set_due(&it)),
            Question::OnDeck => self.bunk.left_s(self.now).map(|left_s| match left_s {
                left if left > 0.0 => 0,
                left => 1 + (-left / ASKS_EVERY_S) as u32,
            }),
            Question::CarryOn => self.standing.asks_whether_to_go_on().then_some(1),
        }
    }

    /// At the booked time, at one and a half times, and on from there.
    fn set_due(&self, manoeuvre: &Manoeuvre) -> u32 {
        let booked_s = manoeuvre.booked_s;
        match self.now.secs_since(manoeuvre.since) - booked_s {
            late if late < 0.0 => 0,
            late if late < booked_s * 0.5 => 1,
            late => 2 + ((late - booked_s * 0.5) / ASKS_EVERY_S) as u32,
        }
    }

    /// Takes an answer; one to what is not asked any more does nothing.
    pub(super) fn take_answer(&mut self, to: Question, reply: Reply) {
        if !self.questions.is_open(to) {
            return;
        }
        self.questions.close(to);
        self.tell(EventKind::Said(Saying::Answered(to, reply)));
        match (to, reply) {
            (Question::IsItSet, Reply::Yes) => {
                if let Some(manoeuvre) = self.deck.manoeuvre {
                    self.enter_plan(manoeuvre.to);
                }
            }
            (Question::OnDeck, Reply::Yes) => self.on_deck(),
            (Question::CarryOn, Reply::Yes) => self.start(),
            (Question::IsItSet | Question::OnDeck | Question::CarryOn, Reply::No) => {}
            (Question::OldChange | Question::OldCall | Question::OldHands, _) => {
                self.answer_of_old(to, reply);
            }
        }
    }

    /// What was saved is taken up, or dropped.
    fn answer_of_old(&mut self, to: Question, reply: Reply) {
        let restored = &mut self.deck.restored;
        match to {
            Question::OldChange => {
                let change = restored.change.take().filter(|_| reply == Reply::Yes);
                if let Some(change) = change {
                    self.enter_plan(change.to);
                }
            }
            Question::OldCall => {
                let call = restored.call.take().filter(|_| reply == Reply::Yes);
                if let Some(call) = call {
                    self.standing.restore(&call, self.now);
                    // Whoever says that it stands has heard it.
                    self.standing.mark_handled(self.now);
                    self.tell(EventKind::Call);
                }
            }
            _ => {
                let hands = restored.hands.take().filter(|_| reply == Reply::Yes);
                if let Some(hands) = hands {
                    self.say_hands(hands);
                }
            }
        }
    }

    /// A question as a sentence.
    pub(super) fn question_words(&self, question: Question) -> Text<96> {
        let restored = &self.deck.restored;
        let minutes_since = |at| (self.now.secs_since(at) / 60.0) as u32;
        match question {
            Question::OldChange => {
                let plan = self.short(restored.change.map(|it| it.to));
                format(format_args!("{plan} was begun before the stop: is it set?"))
            }
            Question::OldCall => {
                let call = restored.call.map_or(Call::None, |it| it.call).word();
                format(format_args!("{call} stood before the stop: does it still?"))
            }
            Question::OldHands => match restored.hands {
                Some(hands) => format(format_args!(
                    "{} on deck, {} below before the stop: still so?",
                    hands.on_deck, hands.below
                )),
                None => Text::new(),
            },
            Question::IsItSet => match self.deck.manoeuvre {
                Some(it) => format(format_args!(
                    "is {} set? begun {} min ago, booked {:.0}",
                    self.short(Some(it.to)),
                    minutes_since(it.since),
                    libm::ceil(it.booked_s / 60.0)
                )),
                None => Text::new(),
            },
            Question::OnDeck => text("whoever was called: on deck?"),
            Question::CarryOn => {
                let plan = self.short(self.standing.target().plan());
                format(format_args!(
                    "wind hovers, {plan} is ready: reduce and rest, or carry on?"
                ))
            }
        }
    }

    fn short(&self, plan: Option<PlanId>) -> &str {
        plan.and_then(|plan| self.boat.ladder.plan(plan))
            .map_or("?", |plan| plan.short.as_str())
    }
}
