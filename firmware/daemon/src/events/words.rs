//! An event as one line for people.

use cringle_core::event::{Event, EventKind, FaultTurn, Hint, Saying};

use crate::names::Names;
use crate::words::Word;

/// An event as one line of words, without line end.
pub fn event_words(event: &Event, names: &Names) -> String {
    format!("{}  {}", clock(event), what(event, names))
}

/// UTC where it is known, else the time since the start.
fn clock(event: &Event) -> String {
    let (seconds, mark) = match event.unix_ms {
        Some(unix_ms) => (unix_ms.div_euclid(1000).rem_euclid(86_400), "Z"),
        None => (event.at.as_millis() as i64 / 1000, " "),
    };
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    format!("{hours:02}:{minutes:02}:{:02}{mark}", seconds % 60)
}

fn what(event: &Event, names: &Names) -> String {
    match &event.kind {
        EventKind::Call => call(event, names),
        EventKind::Hint(hint) => format!("hint: {}", hint_words(*hint, names)),
        EventKind::Ask(_) => event.why.as_str().into(),
        EventKind::Acknowledge => format!("acknowledged: {}", event.call.word()),
        EventKind::Start => format!("begun: {}", change(event, names)),
        EventKind::GivenUp => format!("given up: {}", change(event, names)),
        EventKind::Plan => format!("plan set: {}", names.plan(event.plan)),
        EventKind::Setup(item, readiness) => {
            format!("set-up: {} {}", names.item(*item), readiness.word())
        }
        EventKind::Hands(hands, condition) => format!(
            "hands: {} on deck, {} below, {}",
            hands.on_deck,
            hands.below,
            plain(condition.word())
        ),
        EventKind::Helm(_) | EventKind::Clock(..) => event.why.as_str().into(),
        EventKind::State(doing) => format!("now {}", plain(doing.word())),
        EventKind::Said(saying) => said(*saying, event, names),
        EventKind::Source(quantity, Some(source)) => {
            format!("{} from {}", quantity.name(), names.source(*source))
        }
        EventKind::Source(quantity, None) => format!("{} from nobody", quantity.name()),
        EventKind::Fault(fault, turn) => fault_words(*fault, *turn),
        EventKind::Summary => format!("{}{}", names.plan(event.plan), figures(event)),
    }
}

fn change(event: &Event, names: &Names) -> String {
    match event.next {
        Some(next) => format!("change to {}", names.plan(next)),
        None => "the change".into(),
    }
}

fn call(event: &Event, names: &Names) -> String {
    let mut words = event.call.word().to_uppercase();
    words += &format!("  {}", names.plan(event.plan));
    if let Some(next) = event.next {
        words += &format!(" -> {}", names.plan(next));
    }
    if let Some(minutes) = event.minutes_in_hand {
        // Rounded as on the screen: never more than there is.
        words += &match minutes {
            0.0.. => format!("  {:.0} min in hand", minutes.floor()),
            late => format!("  {:.0} min late", (-late).floor()),
        };
    }
    words += &figures(event);
    if !event.why.is_empty() {
        words += &format!("  ({})", event.why);
    }
    words
}

fn said(saying: Saying, event: &Event, names: &Names) -> String {
    let what = match saying {
        Saying::NotNow(_, because) => because.word().into(),
        Saying::Sea(Some(sea)) => plain(sea.word()),
        Saying::Rigged(item, _) => names.rigged(item),
        Saying::Woken
        | Saying::UpAtBunk(_)
        | Saying::Answered(..)
        | Saying::Sea(None)
        | Saying::WindByHand(_)
        | Saying::SquallSeen(..)
        | Saying::LimitsConfirmed
        | Saying::WindConfirmed
        | Saying::DarkDeclined => return event.why.as_str().into(),
    };
    format!("{}: {what}", event.why)
}

/// What is not known shows as dashes, never as nothing.
fn figures(event: &Event) -> String {
    format!(
        "  wind {} kn, gust {}, heel {}",
        whole(event.tws_mean_1min_kn),
        whole(event.gust_3s_kn),
        whole(event.heel_mean_deg)
    )
}

fn whole(number: Option<f64>) -> String {
    match number {
        Some(number) => format!("{number:.0}"),
        None => "--".into(),
    }
}

fn hint_words(hint: Hint, names: &Names) -> String {
    match hint {
        Hint::OpenSetup(item) => format!("{} is still open", names.item(item)),
        Hint::ShakeOut(plan) => format!("{} would stand", names.plan(plan)),
        Hint::ReduceNow(plan) => format!("{}: now is the last good moment", names.plan(plan)),
        Hint::CanWait(plan) => format!("{} can wait", names.plan(plan)),
        Hint::WatchDue => "watch changed?".into(),
        Hint::PlanDoubted => "is this plan still set?".into(),
        Hint::DoingDoubted => "is she still doing what was said?".into(),
    }
}

fn fault_words(fault: cringle_core::fault::Fault, turn: FaultTurn) -> String {
    format!("fault {}: {fault}", turn.word())
}

fn plain(word: &str) -> String {
    word.replace(['_', '-'], " ")
}

#[cfg(test)]
mod tests {
    use super::super::json::tests::event;
    use super::*;

    #[test]
    fn a_call_says_what_how_long_and_why() {
        assert_eq!(
            event_words(&event(EventKind::Call), &Names::default()),
            "05:53:20Z  PREPARE  plan 1  8 min in hand  wind 24 kn, gust --, heel 20  \
             (gusts 29 kn, limit 30 kn)"
        );
    }
}
