//! All words on the screens in one table, so that another language is one
//! more constant.
//!
//! Action words have at most eight letters, and none may be read as
//! "finished" or "ease": no "done", "over", "past", "let", "free", "slack".

use cringle_core::act::{Condition, Doing, Helm, NotNow, PointOfSail, Question, Reply, Sea};
use cringle_core::event::{Call, Cause};
use cringle_core::fault::Fault;
use cringle_core::reading::Quantity;

/// The words of one language.
#[derive(Clone, Copy, Debug)]
pub struct Words {
    /// Action words.
    pub action: ActionWords,
    /// The home page and the call.
    pub home: HomeWords,
    /// Titles and labels of the other pages.
    pub page: PageWords,
    /// Key labels.
    pub key: KeyWords,
    /// Menus and questions.
    pub menu: MenuWords,
    /// Names of things the core knows.
    pub name: NameWords,
}

/// Action words: at most eight letters.
#[derive(Clone, Copy, Debug)]
pub struct ActionWords {
    /// No call: this plan stands.
    pub none: &'static str,
    /// Get the next reduction ready.
    pub prepare: &'static str,
    /// Make it.
    pub reduce: &'static str,
    /// Past the limit.
    pub past: &'static str,
    /// Cannot be judged.
    pub blind: &'static str,
    /// No call, but no minutes either: nothing may be concluded.
    pub unsure: &'static str,
    /// Not under sail: not watching.
    pub asleep: &'static str,
    /// A change is being made.
    pub changing: &'static str,
    /// The daemon or everything it hears has stopped.
    pub stopped: &'static str,
}

/// The home page and the call.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)] // each field is its own English
pub struct HomeWords {
    pub beyond: &'static str,
    pub unknown: &'static str,
    pub now: &'static str,
    pub minutes: &'static str,
    pub minutes_in_hand: &'static str,
    pub minutes_left: &'static str,
    pub minutes_to_limit: &'static str,
    pub minutes_past_limit: &'static str,
    pub at_limit: &'static str,
    pub past_limit: &'static str,
    pub is_it_set: &'static str,
    pub work: &'static str,
    pub no_number: &'static str,
    pub next: &'static str,
    pub set: &'static str,
    pub last_plan: &'static str,
    pub not_said: &'static str,
    pub limits_unconfirmed: &'static str,
    pub wind_uncalibrated: &'static str,
    pub both_unconfirmed: &'static str,
    pub both_in_short: &'static str,
    pub plan_unconfirmed: &'static str,
    pub really: &'static str,
    pub bunk_called: &'static str,
    pub on_deck_in: &'static str,
    pub not_watching: &'static str,
    pub put_off: &'static str,
    pub squall_due: &'static str,
    pub at_once: &'static str,
    pub other_time: &'static str,
    pub limit_crossed: &'static str,
    pub shake_out: &'static str,
    pub watch_due: &'static str,
    pub open_setup: &'static str,
    pub came_and_went: &'static str,
    pub nothing_comes_in: &'static str,
    pub only_garbage_comes_in: &'static str,
    pub demo: &'static str,
    pub replay: &'static str,
    pub not_recording: &'static str,
    pub disk: &'static str,
    pub drawn_at: &'static str,
    pub by_hand: &'static str,
    pub silenced: &'static str,
    pub wind_unknown: &'static str,
}

/// Titles and labels of the other pages.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)] // each field is its own English
pub struct PageWords {
    pub ladder: &'static str,
    pub wind: &'static str,
    pub trend: &'static str,
    pub setup: &'static str,
    pub hands: &'static str,
    pub health: &'static str,
    pub bench: &'static str,
    pub true_wind: &'static str,
    pub apparent: &'static str,
    pub ground: &'static str,
    pub gust: &'static str,
    pub likely: &'static str,
    pub odds: &'static str,
    pub heel: &'static str,
    pub round_up: &'static str,
    pub pressure: &'static str,
    pub trend_per_hour: &'static str,
    pub knots: &'static str,
    pub now: &'static str,
    pub not_measured: &'static str,
    pub ready: &'static str,
    pub needed: &'static str,
    pub later: &'static str,
    pub forecast: &'static str,
    pub from: &'static str,
    pub magnetic: &'static str,
    pub corrected: &'static str,
    pub doubted: &'static str,
    pub recovering: &'static str,
    pub old: &'static str,
    pub nothing_to_set_up: &'static str,
    pub in_the_way: &'static str,
    pub on_deck: &'static str,
    pub below: &'static str,
    pub work: &'static str,
    pub sea: &'static str,
    pub helm: &'static str,
    pub daylight: &'static str,
    pub day: &'static str,
    pub night: &'static str,
    pub daylight_unknown: &'static str,
    pub no_faults: &'static str,
    pub no_ports: &'static str,
    pub lines: &'static str,
    pub bad: &'static str,
    pub lost: &'static str,
    pub garbage: &'static str,
    pub silent: &'static str,
    pub dead: &'static str,
    pub recorder: &'static str,
    pub recording: &'static str,
    pub recorder_off: &'static str,
    pub failed: &'static str,
    pub storage: &'static str,
    pub free: &'static str,
    pub low: &'static str,
    pub unknown: &'static str,
    pub nothing_heard: &'static str,
    pub port_side: &'static str,
    pub starboard_side: &'static str,
    pub odds_title: &'static str,
    pub crew: &'static str,
    pub boat: &'static str,
}

/// Key labels. At most eight letters, so that three fit the smallest panel.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)] // each field is its own English
pub struct KeyWords {
    pub hold: &'static str,
    pub page: &'static str,
    pub home: &'static str,
    pub menu: &'static str,
    pub acknowledge: &'static str,
    pub begun: &'static str,
    pub set: &'static str,
    pub wake: &'static str,
    pub lamp: &'static str,
    pub not_now: &'static str,
    pub plan: &'static str,
    pub doing: &'static str,
    pub up: &'static str,
    pub down: &'static str,
    pub choose: &'static str,
    pub tick: &'static str,
    pub close: &'static str,
    pub back: &'static str,
    pub no: &'static str,
    pub yes: &'static str,
}

/// Menus and questions.
#[derive(Clone, Copy, Debug)]
#[allow(missing_docs)] // each field is its own English
pub struct MenuWords {
    pub title: &'static str,
    pub started: &'static str,
    pub plan_set: &'static str,
    pub given_up: &'static str,
    pub not_now: &'static str,
    pub not_now_for: &'static str,
    pub squall: &'static str,
    pub squall_gone: &'static str,
    pub squall_strength: &'static str,
    pub setup: &'static str,
    pub rigged: &'static str,
    pub on_deck: &'static str,
    pub below: &'static str,
    pub worn_out: &'static str,
    pub helm: &'static str,
    pub doing: &'static str,
    pub wind_by_hand: &'static str,
    pub wind_side: &'static str,
    pub sea: &'static str,
    pub wake: &'static str,
    pub decline_moment: &'static str,
    pub watch_changed: &'static str,
    pub up_at_bunk: &'static str,
    pub called_on_deck: &'static str,
    pub confirm_limits: &'static str,
    pub confirm_wind: &'static str,
    pub look: &'static str,
    pub close: &'static str,
    pub minutes: &'static str,
    pub nobody: &'static str,
    pub by_motion: &'static str,
    pub sure: &'static str,
    pub calls_stop: &'static str,
    pub calls_start: &'static str,
    pub look_day: &'static str,
    pub look_night: &'static str,
    pub brighter: &'static str,
    pub dimmer: &'static str,
}

/// Names of things the core knows.
#[derive(Clone, Copy, Debug)]
pub struct NameWords {
    /// By [`Doing`].
    pub doing: fn(Doing) -> &'static str,
    /// By [`NotNow`].
    pub not_now: fn(NotNow) -> &'static str,
    /// A question, as a note.
    pub question: fn(Question) -> &'static str,
    /// The keys that answer it: at most eight letters.
    pub answer: fn(Question, Reply) -> &'static str,
    /// By [`Condition`].
    pub condition: fn(Condition) -> &'static str,
    /// By [`Helm`].
    pub helm: fn(Helm) -> &'static str,
    /// By [`Sea`].
    pub sea: fn(Sea) -> &'static str,
    /// By [`PointOfSail`].
    pub point: fn(PointOfSail) -> &'static str,
    /// By [`Cause`].
    pub cause: fn(Cause) -> &'static str,
    /// By [`Quantity`].
    pub quantity: fn(Quantity) -> &'static str,
    /// What kind of fault, without its quantity.
    pub fault: fn(Fault) -> &'static str,
    /// What stands for a call in a list or trend.
    pub call: fn(Call) -> &'static str,
}

/// English.
pub const ENGLISH: Words = Words {
    action: ActionWords {
        none: "CARRY",
        prepare: "PREPARE",
        reduce: "REDUCE",
        past: "PAST",
        blind: "BLIND",
        unsure: "UNSURE",
        asleep: "ASLEEP",
        changing: "CHANGING",
        stopped: "FROZEN",
    },
    home: HomeWords {
        beyond: ">90",
        unknown: "--",
        now: "NOW",
        minutes: "min",
        minutes_in_hand: "min in hand",
        minutes_left: "min left",
        minutes_to_limit: "min to the limit",
        minutes_past_limit: "min past limit",
        at_limit: "at the limit",
        past_limit: "past the limit",
        is_it_set: "set?",
        work: "work",
        no_number: "unknown",
        next: "next",
        set: "set",
        last_plan: "last plan",
        not_said: "?",
        limits_unconfirmed: "limits uncon\u{AD}firmed",
        wind_uncalibrated: "wind uncali\u{AD}brated",
        both_unconfirmed: "limits uncon\u{AD}firmed, wind uncali\u{AD}brated",
        both_in_short: "limits, wind uncon\u{AD}firmed",
        plan_unconfirmed: "plan uncon\u{AD}firmed",
        really: "really",
        bunk_called: "bunk called",
        on_deck_in: "up: on deck in",
        not_watching: "not watching",
        put_off: "put off",
        squall_due: "squall in",
        at_once: "at once",
        other_time: "clock: another time told",
        limit_crossed: "limit crossed",
        shake_out: "more sail would stand",
        watch_due: "watch changed?",
        open_setup: "set-up open",
        came_and_went: "a call came and went",
        nothing_comes_in: "nothing comes in",
        only_garbage_comes_in: "only garbage comes in",
        demo: "demo",
        replay: "replay",
        not_recording: "not recording",
        disk: "disk",
        drawn_at: "drawn",
        by_hand: "by hand",
        silenced: "silenced",
        wind_unknown: "no wind",
    },
    page: PageWords {
        ladder: "ladder",
        wind: "wind",
        trend: "last 3 hours",
        setup: "set-up",
        hands: "hands",
        health: "health",
        bench: "bench",
        true_wind: "true",
        apparent: "apparent",
        ground: "ground",
        gust: "gust",
        likely: "likely",
        odds: "odds",
        heel: "heel",
        round_up: "rounding up",
        pressure: "pressure",
        trend_per_hour: "kn/h",
        knots: "kn",
        now: "now",
        not_measured: "not measured",
        ready: "ready",
        needed: "needed",
        later: "later",
        forecast: "forecast",
        from: "from",
        magnetic: "mag",
        corrected: "corrected",
        doubted: "doubted",
        recovering: "recovering",
        old: "old",
        nothing_to_set_up: "nothing to set up",
        in_the_way: "in the way",
        on_deck: "on deck",
        below: "below",
        work: "work",
        sea: "sea",
        helm: "helm",
        daylight: "daylight",
        day: "day",
        night: "night",
        daylight_unknown: "unknown, as night",
        no_faults: "no faults",
        no_ports: "no ports",
        lines: "lines",
        bad: "bad",
        lost: "lost",
        garbage: "garbage",
        silent: "silent",
        dead: "dead",
        recorder: "recorder",
        recording: "recording",
        recorder_off: "off",
        failed: "FAILED",
        storage: "disk",
        free: "MB left",
        low: "LOW",
        unknown: "unknown",
        nothing_heard: "nothing heard",
        port_side: "port",
        starboard_side: "stbd",
        odds_title: "odds past limit, minutes ahead",
        crew: "crew",
        boat: "boat",
    },
    key: KeyWords {
        hold: "hold",
        page: "page",
        home: "home",
        menu: "menu",
        acknowledge: "ack",
        begun: "begun",
        set: "plan set",
        wake: "wake",
        lamp: "lamp",
        not_now: "not now",
        plan: "plan?",
        doing: "boat?",
        up: "up",
        down: "down",
        choose: "choose",
        tick: "tick",
        close: "close",
        back: "back",
        no: "no",
        yes: "yes",
    },
    menu: MenuWords {
        title: "menu",
        started: "change begun",
        plan_set: "plan set now",
        given_up: "change given up",
        not_now: "not now, because",
        not_now_for: "not now, for",
        squall: "squall seen",
        squall_gone: "none, or gone by",
        squall_strength: "squall brings",
        setup: "set-up ticks",
        rigged: "rigged now",
        on_deck: "hands on deck",
        below: "hands below",
        worn_out: "crew is",
        helm: "who steers",
        doing: "boat is",
        wind_by_hand: "wind by hand",
        wind_side: "wind from",
        sea: "sea",
        wake: "wake hands below",
        decline_moment: "not today",
        watch_changed: "watch changed",
        up_at_bunk: "bunk: I am up",
        called_on_deck: "called: on deck",
        confirm_limits: "limits confirmed",
        confirm_wind: "wind calibrated",
        look: "screen",
        close: "close",
        minutes: "min",
        nobody: "nobody",
        by_motion: "by motion",
        sure: "sure?",
        calls_stop: "CALLS WILL STOP",
        calls_start: "calls will come",
        look_day: "day",
        look_night: "night",
        brighter: "brighter",
        dimmer: "dimmer",
    },
    name: NameWords {
        doing: english::doing,
        not_now: english::not_now,
        question: english::question,
        answer: english::answer,
        condition: english::condition,
        helm: english::helm,
        sea: english::sea,
        point: english::point,
        cause: english::cause,
        quantity: english::quantity,
        fault: english::fault,
        call: english::call,
    },
};

mod english {
    use super::*;

    pub(super) fn doing(doing: Doing) -> &'static str {
        match doing {
            Doing::Sailing => "sailing",
            Doing::MotorSailing => "motor-sailing",
            Doing::Motoring => "motoring",
            Doing::HoveTo => "hove-to",
            Doing::Anchored => "anchored",
            Doing::Moored => "moored",
        }
    }

    pub(super) fn question(question: Question) -> &'static str {
        match question {
            Question::OldChange => "set since the stop?",
            Question::OldCall => "does the call stand?",
            Question::OldHands => "hands as before?",
            Question::IsItSet => "is it set?",
            Question::OnDeck => "called: on deck?",
            Question::CarryOn => "reduce, or carry on?",
        }
    }

    pub(super) fn answer(question: Question, reply: Reply) -> &'static str {
        match (question, reply) {
            (Question::OldChange | Question::IsItSet, Reply::Yes) => "set",
            (Question::OldCall, Reply::Yes) => "stands",
            (Question::OldCall, Reply::No) => "over",
            (Question::OldHands, Reply::Yes) => "yes",
            (Question::OldChange | Question::OldHands, Reply::No) => "no",
            (Question::IsItSet | Question::OnDeck, Reply::No) => "not yet",
            (Question::OnDeck, Reply::Yes) => "on deck",
            (Question::CarryOn, Reply::Yes) => "reduce",
            (Question::CarryOn, Reply::No) => "carry on",
        }
    }

    pub(super) fn not_now(because: NotNow) -> &'static str {
        match because {
            NotNow::Shelter => "shelter near",
            NotNow::Traffic => "traffic",
            NotNow::Lull => "lull expected",
            NotNow::Rest => "rest or meal",
        }
    }

    pub(super) fn condition(condition: Condition) -> &'static str {
        match condition {
            Condition::Fresh => "fresh",
            Condition::WornOut => "worn out",
        }
    }

    pub(super) fn helm(helm: Helm) -> &'static str {
        match helm {
            Helm::Pilot => "pilot",
            Helm::Hand => "by hand",
        }
    }

    pub(super) fn sea(sea: Sea) -> &'static str {
        match sea {
            Sea::Smooth => "smooth",
            Sea::Slight => "slight",
            Sea::Moderate => "moderate",
            Sea::Rough => "rough",
            Sea::VeryRough => "very rough",
        }
    }

    pub(super) fn point(point: PointOfSail) -> &'static str {
        match point {
            PointOfSail::CloseHauled => "close-hauled",
            PointOfSail::Reaching => "reaching",
            PointOfSail::Running => "running",
        }
    }

    pub(super) fn cause(cause: Cause) -> &'static str {
        match cause {
            Cause::Wind => "wind",
            Cause::Heel => "heel",
            Cause::Squall => "squall",
            Cause::Forecast => "forecast",
            Cause::Dark => "dark",
            Cause::Data => "data",
        }
    }

    pub(super) fn fault(fault: Fault) -> &'static str {
        match fault {
            Fault::Lost(_) => "lost",
            Fault::Invalid(_) => "invalid",
            Fault::Disagree(_) => "sources differ",
            Fault::VaneStuck => "wind vane stuck",
            Fault::CupsSlow => "wind cups slow",
            Fault::Spikes(_) => "spikes",
            Fault::SlowHeel => "heel too slow",
            Fault::NoWaterSpeed => "no log: SOG used",
            Fault::NoHeading => "no heading",
            Fault::TrueWindOnly => "true wind only",
            Fault::NoVariation => "no variation",
            Fault::Frozen(_) => "frozen",
            Fault::AngleUnsigned => "wind angle without side: no TWD",
            Fault::HeadingAgainstCourse => "heading against course",
            Fault::WindLowForHeel => "wind low for this heel",
            Fault::TrueWindDiffers => "other true wind differs",
        }
    }

    pub(super) fn quantity(quantity: Quantity) -> &'static str {
        quantity.name()
    }

    pub(super) fn call(call: Call) -> &'static str {
        match call {
            Call::None => "-",
            Call::Blind => "?",
            Call::Prepare => "P",
            Call::Reduce => "R",
            Call::Past => "!",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ACTIONS: [&str; 9] = [
        ENGLISH.action.none,
        ENGLISH.action.prepare,
        ENGLISH.action.reduce,
        ENGLISH.action.past,
        ENGLISH.action.blind,
        ENGLISH.action.unsure,
        ENGLISH.action.asleep,
        ENGLISH.action.changing,
        ENGLISH.action.stopped,
    ];

    #[test]
    fn action_words_are_short_distinct_and_never_read_as_ease_or_finished() {
        for (index, word) in ACTIONS.iter().enumerate() {
            assert!(word.len() <= 8, "{word}");
            assert!(ACTIONS.iter().skip(index + 1).all(|other| other != word));
            // PAST is the one word of the call in event lines, on the page and
            // here; its striped ground and "limit crossed" keep it from being
            // read as gone by.
            for misread in ["DONE", "OVER ", "EASE", "OK", "FREE", "SLACK", "LET", "END"] {
                assert_ne!(*word, misread.trim());
                assert!(!word.split(' ').any(|part| part == misread.trim()));
            }
        }
    }

    #[test]
    fn key_labels_fit_a_third_of_the_smallest_panel() {
        let k = ENGLISH.key;
        for label in [
            k.hold,
            k.page,
            k.home,
            k.menu,
            k.acknowledge,
            k.begun,
            k.plan,
            k.doing,
            k.set,
            k.wake,
            k.lamp,
            k.not_now,
            k.up,
            k.down,
            k.choose,
            k.tick,
            k.close,
            k.back,
            k.no,
            k.yes,
        ] {
            assert!(label.chars().count() * 5 <= 128 / 3, "{label}");
        }
        for question in Question::ALL {
            for reply in [Reply::No, Reply::Yes] {
                let label = english::answer(question, reply);
                assert!(label.chars().count() * 5 <= 128 / 3, "{label}");
            }
        }
    }
}
