//! The short lines beside the headline, what matters most first.

use heapless::Vec;

use cringle_core::event::{Call, Hint};
use cringle_core::fault::Fault;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::NEXT_RUNG;
use cringle_core::text::{Text, format, text};
use cringle_core::view::{AlertState, Doubt, DoubtPhase, View};

use crate::aboard::{Aboard, DataOrigin, Port, PortState, Recorder, Storage};
use crate::ui::lists::rung;
use crate::words::Words;

/// Most notes at a time.
pub const MAX_NOTES: usize = 24;

/// A note.
pub type Note = Text<48>;

/// Whether words may be spelt out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Room {
    /// Yes.
    Ample,
    /// On the smallest panels: four short lines.
    Scant,
}

/// All notes of a moment, what matters most first.
pub fn notes(view: &View, aboard: &Aboard<'_>, words: &Words, room: Room) -> Vec<Note, MAX_NOTES> {
    let home = &words.home;
    let mut all = Vec::new();
    if aboard.alive.is_stopped(view) {
        let is_garbage = |port: &Port<'_>| port.state == PortState::Garbage;
        let words = match aboard.ports.iter().any(is_garbage) {
            true => home.only_garbage_comes_in,
            false => home.nothing_comes_in,
        };
        all.extend([text(words)]);
    }
    if !view.doing.is_under_sail() {
        let doing = (words.name.doing)(view.doing);
        all.extend([text(home.not_watching), text(doing)]);
    }
    if view.hints.contains(&Hint::DoingDoubted) {
        let doing = (words.name.doing)(view.doing);
        all.extend([format(format_args!("{} {doing}?", home.really))]);
    }
    of_the_call(&mut all, view, words);
    all.extend(view.faults.iter().map(|&fault| fault_note(fault, words)));
    if view.other_unix_ms.is_some() {
        all.extend([text(home.other_time)]);
    }
    // A doubt that stands is among the faults; one that is over is not, and
    // the wind is still withheld.
    if let Some(doubt) = view.wind.doubt
        && matches!(doubt.phase, DoubtPhase::Recovering { .. })
    {
        all.extend([doubt_note(doubt, words)]);
    }
    of_the_shell(&mut all, aboard, words);
    of_the_moment(&mut all, view, words);
    of_the_plan(&mut all, view, words, room);
    all
}

fn of_the_call(all: &mut Vec<Note, MAX_NOTES>, view: &View, words: &Words) {
    let home = &words.home;
    if let Some(at_once) = &view.call.at_once {
        all.extend([format(format_args!("{}: {}", home.at_once, at_once.name))]);
    }
    all.extend(view.question.map(|it| text((words.name.question)(it))));
    if view.manoeuvre.is_some_and(|m| m.worst >= Call::Reduce) {
        all.extend([text(home.limit_crossed)]);
    }
    match view.call.alert {
        AlertState::RectifiedUnacknowledged => all.extend([text(home.came_and_went)]),
        AlertState::Silenced => all.extend([text(home.silenced)]),
        AlertState::Normal | AlertState::Unacknowledged | AlertState::Acknowledged => {}
    }
    // Whoever is alone on deck sees that the key was taken.
    if view.sounds.bunk.is_some() {
        all.extend([text(home.bunk_called)]);
    }
    if let Some(left_s) = view.muster_left_s.filter(|left_s| *left_s > 0.0) {
        let left = libm::ceil(left_s / 60.0) as u32;
        all.extend([format(format_args!(
            "{} {left} {}",
            home.on_deck_in, home.minutes
        ))]);
    }
    if let Some(put_off) = view.not_now {
        let left = minutes_to(put_off.until, view);
        let because = (words.name.not_now)(put_off.because);
        all.extend([format(format_args!(
            "{} {left} {}: {because}",
            home.put_off, home.minutes
        ))]);
    }
    if let Some(due) = view.squall_due {
        let left = minutes_to(due, view);
        let (squall_due, minutes) = (home.squall_due, home.minutes);
        all.extend([match view.squall_kn {
            Some(kn) => format(format_args!(
                "{squall_due} {left} {minutes}: {kn:.0} {}",
                words.page.knots
            )),
            None => format(format_args!("{squall_due} {left} {minutes}")),
        }]);
    }
    if view.call.call >= Call::Prepare && view.sounds.bunk.is_none() {
        all.extend(hands_to_call(view, words));
    }
}

/// Who has to come up for the next plan: "wake 1 below", as the key says.
pub(crate) fn hands_to_call(view: &View, words: &Words) -> Option<Note> {
    let (wake, below) = (words.key.wake, words.page.below);
    (view.to_call > 0 && view.next.is_some())
        .then(|| format(format_args!("{wake} {} {below}", view.to_call)))
}

/// Why the next plan is another than the next rung, or what stands in its
/// way; none where there is nothing to explain.
pub(crate) fn why_that_plan(view: &View) -> Option<&str> {
    let because = view.next_because.as_str();
    let is_plain = because.is_empty() || because == NEXT_RUNG;
    (!is_plain && view.next.is_some() && view.doing.is_under_sail()).then_some(because)
}

fn of_the_shell(all: &mut Vec<Note, MAX_NOTES>, aboard: &Aboard<'_>, words: &Words) {
    let home = &words.home;
    if aboard.recorder == Recorder::Failed {
        all.extend([text(home.not_recording)]);
    }
    all.extend(aboard.devices.first().map(|fault| text(fault)));
    match aboard.storage {
        Storage::Failed => {
            all.extend([format(format_args!("{} {}", home.disk, words.page.failed))])
        }
        Storage::Low { .. } => {
            all.extend([format(format_args!("{} {}", home.disk, words.page.low))])
        }
        Storage::Unknown | Storage::Free { .. } => {}
    }
    match aboard.pace {
        DataOrigin::Live => {}
        DataOrigin::Demo { times } => {
            all.extend([format(format_args!("{} x{times:.0}", home.demo))])
        }
        DataOrigin::Replay { times } => {
            all.extend([format(format_args!("{} x{times:.0}", home.replay))])
        }
    }
}

/// What the hours ahead advise, and the watch that is due.
fn of_the_moment(all: &mut Vec<Note, MAX_NOTES>, view: &View, words: &Words) {
    if view.hints.contains(&Hint::WatchDue) {
        all.extend([text(words.home.watch_due)]);
    }
    let lines = view.moment.lines.iter().filter(|line| !line.is_empty());
    all.extend(lines.map(|line| text(line)));
}

fn of_the_plan(all: &mut Vec<Note, MAX_NOTES>, view: &View, words: &Words, room: Room) {
    let home = &words.home;
    if view.hints.contains(&Hint::PlanDoubted) {
        let set = rung(view, view.plan.id).map_or(home.not_said, |rung| &rung.short);
        all.extend([format(format_args!("{} {set}?", home.really))]);
    }
    match (view.limits_confirmed, view.wind_confirmed) {
        (Confirmation::Unconfirmed, Confirmation::Unconfirmed) => {
            all.extend([text(match room {
                Room::Ample => home.both_unconfirmed,
                Room::Scant => home.both_in_short,
            })]);
        }
        (Confirmation::Unconfirmed, Confirmation::Confirmed) => {
            all.extend([text(home.limits_unconfirmed)]);
        }
        (Confirmation::Confirmed, Confirmation::Unconfirmed) => {
            all.extend([text(home.wind_uncalibrated)]);
        }
        (Confirmation::Confirmed, Confirmation::Confirmed) => {}
    }
    if view.plan.confirmed.is_none() {
        all.extend([text(home.plan_unconfirmed)]);
    }
    all.extend(why_that_plan(view).map(text));
    if view.wind.by_hand.is_some() {
        all.extend([format(format_args!("{} {}", words.page.wind, home.by_hand))]);
    }
    for hint in &view.hints {
        match hint {
            Hint::OpenSetup(id) => {
                let item = view.setup.iter().find(|item| item.id == *id);
                let name = item.map_or("", |item| item.name.as_str());
                all.extend([format(format_args!("{}: {name}", home.open_setup))]);
            }
            Hint::ShakeOut(_) => all.extend([text(home.shake_out)]),
            Hint::ReduceNow(_) | Hint::CanWait(_) | Hint::WatchDue => {}
            Hint::PlanDoubted | Hint::DoingDoubted => {}
        }
    }
}

/// What speaks against the wind, and whether it still does.
pub fn doubt_note(doubt: Doubt, words: &Words) -> Note {
    let phase = match doubt.phase {
        DoubtPhase::Stands => words.page.doubted,
        DoubtPhase::Recovering { .. } => words.page.recovering,
    };
    format(format_args!("{phase}: {}", fault_note(doubt.fault, words)))
}

/// What is wrong, in words.
pub fn fault_note(fault: Fault, words: &Words) -> Note {
    let kind = (words.name.fault)(fault);
    match fault.quantity() {
        Some(quantity) => format(format_args!("{} {kind}", (words.name.quantity)(quantity))),
        None => text(kind),
    }
}

/// A span in its largest whole unit: "45s", "12m", "3h", "2d".
pub fn age(seconds: f64) -> Text<8> {
    match seconds {
        s if s.is_nan() || s < 0.0 => text("?"),
        s if s < 60.0 => format(format_args!("{}s", s as u32)),
        s if s < 3600.0 => format(format_args!("{}m", (s / 60.0) as u32)),
        s if s < 48.0 * 3600.0 => format(format_args!("{}h", (s / 3600.0) as u32)),
        s => format(format_args!("{}d", (s / 86400.0).min(999.0) as u32)),
    }
}

fn minutes_to(moment: cringle_core::time::Timestamp, view: &View) -> u32 {
    (moment.secs_since(view.now) / 60.0) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_is_told_in_its_largest_unit() {
        let told: [Text<8>; 5] = [4.0, 60.0, 3599.0, 90_000.0, 200_000.0].map(age);
        assert_eq!(
            told.each_ref().map(|t| t.as_str()),
            ["4s", "1m", "59m", "25h", "2d"]
        );
        assert_eq!(age(f64::NAN).as_str(), "?");
    }

    #[test]
    fn home_says_what_nobody_has_vouched_for() {
        let mut view = crate::samples::unconfirmed();
        let aboard = crate::samples::aboard(&[], &[]);
        let says = |view: &View, words: &str| {
            notes(view, &aboard, &crate::words::ENGLISH, Room::Ample)
                .iter()
                .any(|note| note.replace_soft().contains(words))
        };
        assert!(says(&view, "limits unconfirmed") && says(&view, "wind uncalibrated"));
        view.limits_confirmed = Confirmation::Confirmed;
        assert!(!says(&view, "limits") && says(&view, "wind uncalibrated"));
        view.wind_confirmed = Confirmation::Confirmed;
        assert!(!says(&view, "wind uncalibrated"));
    }

    trait WithoutSoft {
        fn replace_soft(&self) -> Note;
    }

    impl WithoutSoft for Note {
        fn replace_soft(&self) -> Note {
            self.chars().filter(|&letter| letter != '\u{AD}').collect()
        }
    }

    #[test]
    fn what_stops_the_watch_comes_before_what_can_wait() {
        let mut view = crate::samples::blind_acknowledged();
        view.limits_confirmed = Confirmation::Unconfirmed;
        let mut aboard = crate::samples::aboard(&[], &[]);
        aboard.alive.still_s = 60.0;
        aboard.recorder = Recorder::Failed;
        aboard.storage = Storage::Low { megabytes: 3 };
        let all = notes(&view, &aboard, &crate::words::ENGLISH, Room::Ample);
        let place = |words: &str| all.iter().position(|note| note.contains(words)).unwrap();
        assert_eq!(place("nothing comes in"), 0);
        let noisy = [Port {
            state: PortState::Garbage,
            ..crate::samples::PORTS[0]
        }];
        aboard.ports = &noisy;
        let all = notes(&view, &aboard, &crate::words::ENGLISH, Room::Ample);
        assert_eq!(all[0].as_str(), "only garbage comes in");
        assert!(place("apparent wind lost") < place("not recording"));
        assert!(place("disk LOW") < place("limits"));
    }
}
