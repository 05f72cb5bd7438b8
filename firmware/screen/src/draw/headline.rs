//! What the home page and a call say: one word, one number, and how hard.

use cringle_core::event::Call;
use cringle_core::text::{Text, format, text};
use cringle_core::view::{AlertState, MinutesInHand, View};

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
    if let Some(manoeuvre) = view.manoeuvre
        && view.call.alert != AlertState::Unacknowledged
    {
        let gone = (view.now.secs_since(manoeuvre.since) / 60.0) as u32;
        let booked = (manoeuvre.booked_s / 60.0 + 0.5) as u32;
        return Headline {
            word: action.changing,
            tone: Tone::Working,
            // Never a lone number: it would be read as minutes in hand.
            number: match gone {
                0..=99 => format(format_args!("{gone}/{}", booked.min(99))),
                _ => text(">99"),
            },
            trust: Trust::Good,
            unit: format(format_args!(
                "{}, {} {}",
                words.home.minutes_gone, words.home.work, booked
            )),
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

/// Minutes are rounded down: never more than there is.
fn minutes(view: &View, words: &Words) -> (Text<6>, Text<24>) {
    let home = &words.home;
    match view.call.minutes_in_hand {
        // The wind is at the limit before there is an outlook to count to it.
        MinutesInHand::Unknown if view.call.call >= Call::Reduce => {
            (text(home.now), text(home.no_number))
        }
        MinutesInHand::Beyond => (text(home.beyond), text(home.minutes_in_hand)),
        MinutesInHand::Unknown if is_last_plan(view) => (text(home.unknown), text(home.last_plan)),
        MinutesInHand::Unknown => (text(home.unknown), text(home.minutes_in_hand)),
        MinutesInHand::Minutes(minutes) if minutes.is_nan() => {
            (text(home.unknown), text(home.minutes_in_hand))
        }
        MinutesInHand::Minutes(minutes) if minutes > 90.0 => {
            (text(home.beyond), text(home.minutes_in_hand))
        }
        MinutesInHand::Minutes(minutes) if minutes >= 1.0 => (
            format(format_args!("{}", minutes as u32)),
            text(home.minutes_in_hand),
        ),
        MinutesInHand::Minutes(minutes) => {
            let late = (-minutes).max(0.0) as u32;
            let number = match view.call.call {
                Call::Reduce | Call::Past => text(home.now),
                Call::None | Call::Blind | Call::Prepare => text("0"),
            };
            let unit = match late {
                0 => text(home.minutes_in_hand),
                late => format(format_args!("{} {}", late, home.minutes_late)),
            };
            (number, unit)
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
        assert_eq!(shown(12.99).as_str(), "12");
        assert_eq!(shown(0.99).as_str(), "0");
        assert_eq!(shown(90.0).as_str(), "90");
        assert_eq!(shown(90.1).as_str(), ">90");
        assert_eq!(shown(4_000.0).as_str(), ">90");
        assert_eq!(shown(f64::INFINITY).as_str(), ">90");
        assert_eq!(shown(f64::NAN).as_str(), "--");
        assert_eq!(number(Call::None, MinutesInHand::Beyond).as_str(), ">90");
    }

    #[test]
    fn what_is_due_says_now_and_how_late() {
        let view = samples::past();
        assert_eq!(head(&view).number.as_str(), "NOW");
        assert_eq!(head(&view).unit.as_str(), "9 min late");
        // A reduce that is held through a lull has minutes again.
        assert_eq!(
            number(Call::Reduce, MinutesInHand::Minutes(3.2)).as_str(),
            "3"
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
    fn a_call_beats_a_change_only_while_nobody_has_answered() {
        let mut view = samples::changing();
        assert_eq!(head(&view).word, ENGLISH.action.changing);
        assert_eq!(head(&view).number.as_str(), "7/12");
        view.call.alert = AlertState::Unacknowledged;
        view.call.call = Call::Past;
        assert_eq!(head(&view).word, ENGLISH.action.past);
        view.call.alert = AlertState::Acknowledged;
        view.now = Timestamp::from_secs(18_000 + 7_000);
        assert_eq!(head(&view).number.as_str(), ">99");
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
