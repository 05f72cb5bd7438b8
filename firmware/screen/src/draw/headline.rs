//! What the home page and a call say: one word, one number, and how hard.

use cringle_core::event::Call;
use cringle_core::text::{Text, format, text};
use cringle_core::view::{AlertState, Manoeuvre, MinutesInHand, Pace, View};

use crate::aboard::Aboard;
use crate::ui::lists::rung;
use crate::words::Words;

/// How the word is set off from its ground, apart from what it says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Plain.
    Calm,
    /// In a dashed frame: nothing is known, or nobody watches.
    Absent,
    /// Underlined: work is under way.
    Working,
    /// Framed.
    Warning,
    /// On a solid ground.
    Alarm,
    /// On a solid ground with hazard stripes.
    Past,
}

/// The word, the number and what the number is.
#[derive(Clone, Debug, PartialEq)]
pub struct Headline {
    /// At most eight letters.
    pub word: &'static str,
    /// How the word is set.
    pub tone: Tone,
    /// The number, or what stands for it.
    pub number: Text<6>,
    /// Whether the number is to be crossed out.
    pub trust: Trust,
    /// What the number counts.
    pub unit: Text<24>,
}

/// Whether a number may be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trust {
    /// It may.
    Good,
    /// It is crossed out.
    Crossed,
}

/// Tells the headline of a moment.
pub fn headline(view: &View, aboard: &Aboard<'_>, words: &Words) -> Headline {
    let action = &words.action;
    let is_under_sail = view.doing.is_under_sail();
    // At a mooring the instruments may well be off: that is no fault, and she
    // is not watched. A daemon that hangs is a fault anywhere.
    if aboard.alive.is_hung() || (is_under_sail && aboard.alive.is_stopped(view)) {
        return without_number(action.stopped, Tone::Warning, words);
    }
    if !is_under_sail {
        return without_number(action.asleep, Tone::Absent, words);
    }
    let is_past = view.call.call == Call::Past;
    if let Some(manoeuvre) = view.manoeuvre
        && (is_past || view.call.alert != AlertState::Unacknowledged)
    {
        // Past the limit is never hidden behind the work.
        let (word, tone) = match is_past {
            true => (action.past, Tone::Past),
            false => (action.changing, Tone::Working),
        };
        let (number, unit) = work_left(&manoeuvre, view, words);
        return Headline {
            word,
            tone,
            number,
            trust: Trust::Good,
            unit,
        };
    }
    let (word, tone) = match view.call.call {
        Call::None if is_unsure(view) => (action.unsure, Tone::Absent),
        // Over, but nobody has acknowledged: shown as the warning that it was.
        Call::None if view.call.alert == AlertState::RectifiedUnacknowledged => {
            (action.none, Tone::Warning)
        }
        Call::None => (action.none, Tone::Calm),
        Call::Prepare => (action.prepare, Tone::Warning),
        Call::Reduce => (action.reduce, Tone::Alarm),
        Call::Past => (action.past, Tone::Past),
        Call::Blind => return without_number(action.blind, Tone::Warning, words),
    };
    let (number, unit) = minutes(view, words);
    Headline {
        word,
        tone,
        number,
        trust: Trust::Good,
        unit,
    }
}

fn without_number(word: &'static str, tone: Tone, words: &Words) -> Headline {
    Headline {
        word,
        tone,
        number: text(words.home.unknown),
        trust: Trust::Crossed,
        unit: text(words.home.no_number),
    }
}

/// No call, and no minutes though the plan has a limit to count them to.
fn is_unsure(view: &View) -> bool {
    !is_last_plan(view) && view.call.minutes_in_hand == MinutesInHand::Unknown
}

/// What stands for the next plan where there is none: before the first
/// judgement it is not known, which is not the end of the ladder.
pub(crate) fn no_next_plan(view: &View, words: &Words) -> &'static str {
    let last = view.ladder.last().map(|rung| rung.id);
    if last == Some(view.plan.id) || is_last_plan(view) {
        words.home.last_plan
    } else {
        words.home.unknown
    }
}

/// The last plan has no limit to count minutes to.
fn is_last_plan(view: &View) -> bool {
    rung(view, view.plan.id).is_some_and(|rung| rung.limit_kn.is_none())
}

/// Minutes left of what is booked. Never a lone number: it would be read as
/// minutes in hand.
fn work_left(manoeuvre: &Manoeuvre, view: &View, words: &Words) -> (Text<6>, Text<24>) {
    let home = &words.home;
    let left_s = manoeuvre.booked_s - view.now.secs_since(manoeuvre.since);
    let booked = ((manoeuvre.booked_s / 60.0 + 0.5) as u32).min(99);
    let number = match left_s {
        left_s if left_s > 0.0 => {
            let left = (libm::ceil(left_s / 60.0) as u32).min(booked);
            format(format_args!("{left}/{booked}"))
        }
        _ => text(home.is_it_set),
    };
    let unit = format(format_args!(
        "{}, {} {}",
        home.minutes_left, home.work, booked
    ));
    (number, unit)
}

/// Until `reduce`; from there on it is now, and the unit says how it stands
/// with the limit.
fn minutes(view: &View, words: &Words) -> (Text<6>, Text<24>) {
    let home = &words.home;
    match (view.call.call, view.call.minutes_in_hand) {
        (Call::Past, _) => past(view, words),
        (Call::Reduce, _) => match view.call.soonest_s {
            Some(soonest_s) if soonest_s >= 60.0 => {
                let minutes = in_hand(soonest_s / 60.0, view.call.pace, words);
                let unit = format(format_args!("{minutes} {}", home.minutes_to_limit));
                (text(home.now), unit)
            }
            _ => (text(home.now), text(home.at_limit)),
        },
        (_, MinutesInHand::Beyond) => (text(home.beyond), text(home.minutes_in_hand)),
        (_, MinutesInHand::Unknown) if is_last_plan(view) => {
            (text(home.unknown), text(home.last_plan))
        }
        (_, MinutesInHand::Unknown) => (text(home.unknown), text(home.minutes_in_hand)),
        (_, MinutesInHand::Minutes(minutes)) => (
            in_hand(minutes, view.call.pace, words),
            text(home.minutes_in_hand),
        ),
    }
}

/// Counted from when the limit was passed.
fn past(view: &View, words: &Words) -> (Text<6>, Text<24>) {
    let over_s = view.call.passed_at.map(|at| view.now.secs_since(at));
    match over_s.map(|s| (s / 60.0) as u32) {
        Some(minutes @ 1..=99) => (
            format(format_args!("{minutes}")),
            text(words.home.minutes_past_limit),
        ),
        Some(100..) => (text(">99"), text(words.home.minutes_past_limit)),
        Some(0) | None => (text(words.home.now), text(words.home.past_limit)),
    }
}

/// Steps that a figure borne by the wind can keep; one that a clock moves is
/// told by the minute. Rounded down: never more than there is.
fn in_hand(minutes: f64, pace: Pace, words: &Words) -> Text<6> {
    const STEPS: [u32; 5] = [40, 25, 15, 10, 5];
    match (minutes, pace) {
        (minutes, _) if minutes.is_nan() => text(words.home.unknown),
        (minutes, _) if minutes > 90.0 => text(words.home.beyond),
        (minutes, Pace::Clock) => format(format_args!("{}", minutes.max(0.0) as u32)),
        (minutes, Pace::Wind) if minutes >= 60.0 => text(">60"),
        (minutes, Pace::Wind) => {
            let step = STEPS.into_iter().find(|step| minutes >= f64::from(*step));
            step.map_or(text("<5"), |step| format(format_args!("{step}")))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::words::ENGLISH;
    use cringle_core::time::Timestamp;

    fn head(view: &View) -> Headline {
        headline(view, &samples::aboard(&[], &[]), &ENGLISH)
    }

    fn number(call: Call, minutes: MinutesInHand) -> Text<6> {
        let mut view = samples::calm();
        view.call.call = call;
        view.call.minutes_in_hand = minutes;
        head(&view).number
    }

    #[test]
    fn minutes_are_rounded_down_and_never_beyond_the_outlook() {
        let shown = |minutes| number(Call::Prepare, MinutesInHand::Minutes(minutes));
        for (minutes, words) in [
            (0.99, "<5"),
            (5.0, "5"),
            (12.99, "10"),
            (24.9, "15"),
            (39.9, "25"),
            (59.9, "40"),
            (60.0, ">60"),
            (90.0, ">60"),
            (90.1, ">90"),
            (f64::INFINITY, ">90"),
            (f64::NAN, "--"),
        ] {
            assert_eq!(shown(minutes).as_str(), words, "{minutes}");
        }
        assert_eq!(number(Call::None, MinutesInHand::Beyond).as_str(), ">90");
        let mut squall = samples::calm();
        squall.call.call = Call::Prepare;
        squall.call.pace = Pace::Clock;
        squall.call.minutes_in_hand = MinutesInHand::Minutes(12.99);
        assert_eq!(head(&squall).number.as_str(), "12");
    }

    #[test]
    fn wind_borne_minutes_move_in_steps_that_they_can_keep_and_only_a_clock_falls() {
        let mut view = samples::calm();
        let mut shown = |call: Call, pace: Pace, tenths: u32| -> Text<6> {
            view.call.call = call;
            view.call.pace = pace;
            let minutes = f64::from(tenths) / 10.0;
            view.call.minutes_in_hand = MinutesInHand::Minutes(minutes);
            view.call.soonest_s = Some(minutes * 60.0);
            let head = head(&view);
            match call {
                Call::Reduce => text(head.unit.split(' ').next().unwrap_or("")),
                _ => head.number,
            }
        };
        for call in [Call::None, Call::Prepare, Call::Reduce] {
            let mut steps = [">90", ">60", "40", "25", "15", "10", "5", "<5"].into_iter();
            let mut last = text::<6>("");
            for tenths in (10..=1200).rev() {
                let number = shown(call, Pace::Wind, tenths);
                if number != last {
                    assert_eq!(Some(number.as_str()), steps.next(), "{call:?}");
                }
                last = number;
            }
            assert_eq!(steps.next(), None, "{call:?}");
            for minutes in 1..=90 {
                let number = shown(call, Pace::Clock, minutes * 10);
                assert_eq!(number, format::<6>(format_args!("{minutes}")));
            }
        }
    }

    #[test]
    fn past_counts_from_the_passing_and_reduce_is_now() {
        let mut view = samples::past();
        view.call.passed_at = None;
        assert_eq!(head(&view).number.as_str(), "NOW");
        let ago = |s: u64| Some(Timestamp::from_millis(view.now.as_millis() - s * 1000));
        for (seconds, number) in [(30, "NOW"), (60, "1"), (700, "11"), (7000, ">99")] {
            let mut view = view.clone();
            view.call.passed_at = ago(seconds);
            assert_eq!(head(&view).number.as_str(), number);
        }
        // Never minutes in hand under `reduce`, however long it is held.
        assert_eq!(
            number(Call::Reduce, MinutesInHand::Minutes(39.0)).as_str(),
            "NOW"
        );
    }

    #[test]
    fn an_alarm_without_an_outlook_still_says_now() {
        for call in [Call::Reduce, Call::Past] {
            assert_eq!(number(call, MinutesInHand::Unknown).as_str(), "NOW");
        }
        assert_eq!(number(Call::Prepare, MinutesInHand::Unknown).as_str(), "--");
    }

    #[test]
    fn past_is_never_hidden_behind_a_change() {
        let mut view = samples::changing();
        assert_eq!(head(&view).word, ENGLISH.action.changing);
        assert_eq!(head(&view).number.as_str(), "5/12");
        for alert in [AlertState::Unacknowledged, AlertState::Acknowledged] {
            view.call.alert = alert;
            view.call.call = Call::Past;
            assert_eq!(head(&view).word, ENGLISH.action.past);
            assert_eq!(head(&view).number.as_str(), "5/12");
        }
        view.call.call = Call::Reduce;
        view.now = Timestamp::from_secs(18_000 + 7_000);
        assert_eq!(head(&view).number.as_str(), ENGLISH.home.is_it_set);
    }

    #[test]
    fn nothing_calm_is_said_of_what_is_not_known() {
        let calm = ENGLISH.action.none;
        for view in [samples::blind(), samples::cold(), samples::anchored()] {
            assert_ne!(head(&view).word, calm);
            assert_ne!(head(&view).tone, Tone::Calm);
        }
        let mut still = samples::aboard(&[], &[]);
        still.alive.still_s = 5.1;
        let mut hung = samples::aboard(&[], &[]);
        hung.alive.hung_s = 5.1;
        for (name, make) in samples::MOMENTS {
            let silent = headline(&make(), &still, &ENGLISH);
            let word = match make().doing.is_under_sail() {
                true => ENGLISH.action.stopped,
                // Instruments that are off at a mooring are no fault.
                false => ENGLISH.action.asleep,
            };
            assert_eq!(silent.word, word, "{name}");
            assert_eq!(silent.trust, Trust::Crossed, "{name}");
            let frozen = headline(&make(), &hung, &ENGLISH);
            assert_eq!(frozen.word, ENGLISH.action.stopped, "{name}");
            assert_eq!(frozen.trust, Trust::Crossed, "{name}");
        }
    }

    #[test]
    fn a_plan_that_is_not_the_last_is_never_called_so() {
        let mut view = samples::cold();
        view.next = None;
        assert_eq!(no_next_plan(&view, &ENGLISH), ENGLISH.home.unknown);
        assert_eq!(
            no_next_plan(&samples::last_plan(), &ENGLISH),
            ENGLISH.home.last_plan
        );
    }

    #[test]
    fn under_the_last_plan_no_minutes_are_no_doubt() {
        let view = samples::last_plan();
        assert_eq!(head(&view).word, ENGLISH.action.none);
        assert_eq!(head(&view).number.as_str(), ENGLISH.home.unknown);
    }
}
