//! The event line: a stable contract. Fields may be added, never renamed; a
//! number that is not known is null, never 0.

use cringle_core::act::{Readiness, Rigging};
use cringle_core::event::{ClockJump, ClockTurn, Event, EventKind, FaultTurn, Hint, Saying};
use cringle_core::reading::Quantity;
use serde::Serialize;

use crate::names::Names;
use crate::words::Word;

/// The version of the contract.
pub(super) const VERSION: u32 = 1;

/// An event as one line of JSON, without line end.
pub fn event_line(event: &Event, names: &Names) -> String {
    let line = EventLine {
        v: VERSION,
        seq: Some(event.seq),
        id: event.id,
        t: event.unix_ms.map(|ms| ms as f64 / 1000.0),
        up_s: event.at.as_secs_f64(),
        event: kind_word(&event.kind),
        call: event.call.word(),
        priority: event.priority.map(|priority| priority.word()),
        cause: event.cause.map(|cause| cause.word()),
        why: event.why.as_str(),
        plan: names.plan(event.plan),
        next: event.next.map(|next| names.plan(next)),
        at_once: event.at_once.map(|id| names.at_once(id)),
        minutes_in_hand: rounded(event.minutes_in_hand, 10.0),
        slack_s: rounded(event.slack_s, 1.0),
        soonest_min: event.soonest_s.map(|s| s / 60.0),
        promise: event.promise,
        call_time_s: rounded(event.call_time_s, 1.0),
        odds: rounded(event.odds, 1000.0),
        tws_mean_1min_kn: rounded(event.tws_mean_1min_kn, 10.0),
        gust_3s_kn: rounded(event.gust_3s_kn, 10.0),
        heel_mean_deg: rounded(event.heel_mean_deg, 10.0),
        more: more(&event.kind, names),
    };
    line.write()
}

/// The fields in the order of the contract.
#[derive(Serialize)]
pub(super) struct EventLine<'a> {
    pub(super) v: u32,
    /// None for a line that the core did not tell.
    pub(super) seq: Option<u64>,
    pub(super) id: u32,
    pub(super) t: Option<f64>,
    pub(super) up_s: f64,
    pub(super) event: &'static str,
    pub(super) call: &'static str,
    pub(super) priority: Option<&'static str>,
    pub(super) cause: Option<&'static str>,
    pub(super) why: &'a str,
    pub(super) plan: String,
    pub(super) next: Option<String>,
    /// What can be done at once, where that is the order; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) at_once: Option<String>,
    pub(super) minutes_in_hand: Option<f64>,
    pub(super) slack_s: Option<f64>,
    /// Not rounded: the sum of all the others is made from it.
    pub(super) soonest_min: Option<f64>,
    pub(super) promise: Option<f64>,
    pub(super) call_time_s: Option<f64>,
    pub(super) odds: Option<f64>,
    pub(super) tws_mean_1min_kn: Option<f64>,
    pub(super) gust_3s_kn: Option<f64>,
    pub(super) heel_mean_deg: Option<f64>,
    #[serde(flatten)]
    pub(super) more: More,
}

impl EventLine<'_> {
    /// As JSON, without line end.
    pub(super) fn write(&self) -> String {
        // A plain struct of numbers and words always serialises.
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// What only some events tell.
#[derive(Default, Serialize)]
pub(super) struct More {
    #[serde(skip_serializing_if = "Option::is_none")]
    hint: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    item: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ready: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    to: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    on_deck: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    below: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    condition: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    doing: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    not_now_min: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    because: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    helm: Option<&'static str>,
    /// Null when it is judged by wind and motion.
    #[serde(skip_serializing_if = "Option::is_none")]
    sea: Option<Option<&'static str>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rigged: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wind_by_hand_kn: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    squall_in_min: Option<u8>,
    /// Left out where nobody could tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    squall_kn: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    confirmed: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    quantity: Option<&'static str>,
    /// Null when the quantity has no source any more.
    #[serde(skip_serializing_if = "Option::is_none")]
    source: Option<Option<String>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fault: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    turn: Option<&'static str>,
    /// Whether another time is followed from here on.
    #[serde(skip_serializing_if = "Option::is_none")]
    followed: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    t_held: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    t_told: Option<f64>,
    /// What the crew is asked, or has answered.
    #[serde(skip_serializing_if = "Option::is_none")]
    ask: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reply: Option<&'static str>,
    /// "called", or "up".
    #[serde(skip_serializing_if = "Option::is_none")]
    bunk: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    muster_s: Option<u32>,
}

impl More {
    /// Of a fault without a quantity.
    pub(super) fn of_fault(fault: &'static str, turn: &'static str) -> More {
        More {
            fault: Some(fault),
            turn: Some(turn),
            ..More::default()
        }
    }
}

fn more(kind: &EventKind, names: &Names) -> More {
    match kind {
        EventKind::Call
        | EventKind::Acknowledge
        | EventKind::Start
        | EventKind::GivenUp
        | EventKind::Plan
        | EventKind::Summary => More::default(),
        EventKind::Hint(hint) => hint_fields(*hint, names),
        EventKind::Ask(question) => More {
            ask: Some(question.word()),
            ..More::default()
        },
        EventKind::Setup(item, readiness) => More {
            item: Some(names.item(*item)),
            ready: Some(*readiness == Readiness::Ready),
            ..More::default()
        },
        EventKind::Hands(hands, condition) => More {
            on_deck: Some(hands.on_deck),
            below: Some(hands.below),
            condition: Some(condition.word()),
            ..More::default()
        },
        EventKind::Helm(helm) => More {
            helm: Some(helm.word()),
            ..More::default()
        },
        EventKind::State(doing) => More {
            doing: Some(doing.word()),
            ..More::default()
        },
        EventKind::Said(saying) => said_fields(*saying, names),
        EventKind::Source(quantity, source) => More {
            quantity: Some(quantity.name()),
            source: Some(source.map(|source| names.source(source))),
            ..More::default()
        },
        EventKind::Fault(fault, turn) => More {
            fault: Some(fault.word()),
            quantity: fault.quantity().map(Quantity::name),
            turn: Some(turn.word()),
            ..More::default()
        },
        EventKind::Clock(turn, jump) => clock_fields(*turn, jump),
    }
}

fn clock_fields(turn: ClockTurn, jump: &ClockJump) -> More {
    More {
        fault: Some("clock"),
        turn: Some(match turn {
            ClockTurn::Contradicted => FaultTurn::Began.word(),
            ClockTurn::Followed | ClockTurn::Withdrawn => FaultTurn::Ended.word(),
        }),
        followed: Some(turn == ClockTurn::Followed),
        t_held: Some(jump.held_ms as f64 / 1000.0),
        t_told: Some(jump.told_ms as f64 / 1000.0),
        ..More::default()
    }
}

fn said_fields(saying: Saying, names: &Names) -> More {
    let none = More::default();
    match saying {
        Saying::NotNow(minutes, because) => More {
            not_now_min: Some(minutes),
            because: Some(because.word()),
            ..none
        },
        Saying::Sea(sea) => More {
            sea: Some(sea.map(Word::word)),
            ..none
        },
        Saying::Rigged(item, rigging) => More {
            item: Some(names.rigged(item)),
            rigged: Some(rigging == Rigging::Rigged),
            ..none
        },
        Saying::WindByHand(kn) => More {
            wind_by_hand_kn: rounded(Some(kn.get()), 10.0),
            ..none
        },
        Saying::SquallSeen(minutes, strength) => More {
            squall_in_min: Some(minutes),
            squall_kn: strength.map(|kn| kn.get()),
            ..none
        },
        Saying::LimitsConfirmed => More {
            confirmed: Some("limits"),
            ..none
        },
        Saying::WindConfirmed => More {
            confirmed: Some("wind"),
            ..none
        },
        Saying::Woken => More {
            bunk: Some("called"),
            ..none
        },
        Saying::UpAtBunk(muster_s) => More {
            bunk: Some("up"),
            muster_s: Some(muster_s),
            ..none
        },
        Saying::Answered(question, reply) => More {
            ask: Some(question.word()),
            reply: Some(reply.word()),
            ..none
        },
        Saying::DarkDeclined => none,
    }
}

/// Each saying stands under the contract's word nearest to it.
fn said_word(saying: Saying) -> &'static str {
    match saying {
        Saying::NotNow(..) | Saying::DarkDeclined | Saying::Answered(..) => "acknowledge",
        Saying::Woken | Saying::UpAtBunk(_) => "hands",
        Saying::Rigged(..) => "setup",
        Saying::Sea(_)
        | Saying::WindByHand(_)
        | Saying::SquallSeen(..)
        | Saying::LimitsConfirmed
        | Saying::WindConfirmed => "state",
    }
}

fn hint_fields(hint: Hint, names: &Names) -> More {
    let (word, item, to) = match hint {
        Hint::OpenSetup(item) => ("open_setup", Some(names.item(item)), None),
        Hint::ShakeOut(plan) => ("shake_out", None, Some(names.plan(plan))),
        Hint::ReduceNow(plan) => ("reduce_now", None, Some(names.plan(plan))),
        Hint::CanWait(plan) => ("can_wait", None, Some(names.plan(plan))),
        Hint::WatchDue => ("watch_due", None, None),
        Hint::PlanDoubted => ("plan_doubted", None, None),
        Hint::DoingDoubted => ("doing_doubted", None, None),
    };
    More {
        hint: Some(word),
        item,
        to,
        ..More::default()
    }
}

fn kind_word(kind: &EventKind) -> &'static str {
    match kind {
        EventKind::Call => "call",
        EventKind::Hint(_) => "hint",
        EventKind::Ask(_) => "ask",
        EventKind::Acknowledge => "acknowledge",
        EventKind::Start => "start",
        EventKind::GivenUp => "given_up",
        EventKind::Plan => "plan",
        EventKind::Setup(..) => "setup",
        EventKind::Hands(..) => "hands",
        EventKind::Helm(_) => "helm",
        EventKind::State(_) => "state",
        EventKind::Said(saying) => said_word(*saying),
        EventKind::Source(..) => "source",
        EventKind::Fault(..) | EventKind::Clock(..) => "fault",
        EventKind::Summary => "summary",
    }
}

/// To one part in `parts`; what is not finite is not known.
fn rounded(number: Option<f64>, parts: f64) -> Option<f64> {
    let number = number.filter(|number| number.is_finite())?;
    // Adding zero turns -0 into 0.
    Some((number * parts).round() / parts + 0.0)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use cringle_core::act::{Helm, NotNow, Question, Reply};
    use cringle_core::event::{Call, Cause, Priority};
    use cringle_core::fault::Fault;
    use cringle_core::ladder::PlanId;
    use cringle_core::reading::SourceId;
    use cringle_core::text::text;
    use cringle_core::time::Timestamp;

    pub(in super::super) fn event(kind: EventKind) -> Event {
        Event {
            seq: 17,
            id: 4,
            at: Timestamp::from_millis(5_400_200),
            unix_ms: Some(1_764_050_000_123),
            kind,
            call: Call::Prepare,
            priority: Some(Priority::Warning),
            cause: Some(Cause::Wind),
            why: text("gusts 29 kn, limit 30 kn"),
            plan: PlanId(1),
            next: None,
            at_once: None,
            minutes_in_hand: Some(8.04),
            slack_s: Some(-0.2),
            soonest_s: Some(895.5),
            promise: Some(0.04),
            call_time_s: Some(900.0),
            odds: Some(f64::NAN),
            tws_mean_1min_kn: Some(24.14),
            gust_3s_kn: None,
            heel_mean_deg: Some(19.5),
        }
    }

    fn line(kind: EventKind) -> serde_json::Value {
        serde_json::from_str(&event_line(&event(kind), &Names::default())).unwrap()
    }

    #[test]
    fn the_contract_stands_field_by_field() {
        assert_eq!(
            event_line(&event(EventKind::Call), &Names::default()),
            r#"{"v":1,"seq":17,"id":4,"t":1764050000.123,"up_s":5400.2,"event":"call","#.to_owned()
                + r#""call":"prepare","priority":"warning","cause":"wind","#
                + r#""why":"gusts 29 kn, limit 30 kn","plan":"plan 1","next":null,"#
                + r#""minutes_in_hand":8.0,"slack_s":0.0,"soonest_min":14.925,"promise":0.04,"call_time_s":900.0,"odds":null,"#
                + r#""tws_mean_1min_kn":24.1,"gust_3s_kn":null,"heel_mean_deg":19.5}"#
        );
    }

    #[test]
    fn utc_that_is_not_known_is_null_and_the_running_time_is_there() {
        let mut unknown = event(EventKind::Summary);
        unknown.unix_ms = None;
        let line = event_line(&unknown, &Names::default());
        assert!(line.contains(r#""t":null,"up_s":5400.2,"event":"summary""#));
    }

    #[test]
    fn a_lost_source_is_told_as_null() {
        let lost = line(EventKind::Source(Quantity::Heel, None));
        assert_eq!(lost["quantity"], "heel");
        assert!(lost.as_object().unwrap().contains_key("source"));
        assert!(lost["source"].is_null());
        let other = line(EventKind::Source(Quantity::Heel, Some(SourceId(u32::MAX))));
        assert_eq!(other["source"], "source 4294967295");
    }

    #[test]
    fn what_the_crew_said_is_told_with_its_figures() {
        let put_off = line(EventKind::Said(Saying::NotNow(30, NotNow::Lull)));
        assert_eq!(put_off["event"], "acknowledge");
        assert_eq!(put_off["not_now_min"], 30);
        assert_eq!(put_off["because"], "lull");
        let sea = line(EventKind::Said(Saying::Sea(None)));
        assert!(sea.as_object().unwrap().contains_key("sea") && sea["sea"].is_null());
        let steered = line(EventKind::Helm(Helm::Hand));
        assert_eq!(
            (&steered["event"], &steered["helm"]),
            (&"helm".into(), &"hand".into())
        );
        assert_eq!(line(EventKind::GivenUp)["event"], "given_up");
    }

    #[test]
    fn a_question_its_answer_and_the_bunk_are_told() {
        let ask = line(EventKind::Ask(Question::IsItSet));
        assert_eq!((&ask["event"], &ask["ask"]), (&"ask".into(), &"set".into()));
        let said = |saying| line(EventKind::Said(saying));
        let answered = said(Saying::Answered(Question::OnDeck, Reply::No));
        assert_eq!(answered["event"], "acknowledge");
        assert_eq!(
            (&answered["ask"], &answered["reply"]),
            (&"on_deck".into(), &"no".into())
        );
        assert_eq!(said(Saying::Woken)["bunk"], "called");
        let up = said(Saying::UpAtBunk(420));
        assert_eq!((&up["event"], &up["bunk"]), (&"hands".into(), &"up".into()));
        assert_eq!(up["muster_s"], 420);
    }

    #[test]
    fn a_fault_tells_its_quantity_and_its_turn() {
        let fault = Fault::Lost(Quantity::ApparentWind);
        let began = line(EventKind::Fault(fault, FaultTurn::Began));
        assert_eq!(began["event"], "fault");
        assert_eq!(began["fault"], "lost");
        assert_eq!(began["quantity"], "apparent wind");
        assert_eq!(began["turn"], "began");
    }
}
