//! The crew's acts as words and back, for recordings.

use cringle_core::act::{Act, Hands};
use cringle_core::ladder::{ItemId, PlanId, RiggedId};
use cringle_core::units::Knots;

use crate::words::Word;

/// An act as one line of words.
pub fn write(act: &Act) -> String {
    match act {
        Act::Acknowledge => "acknowledge".into(),
        Act::Silence => "silence".into(),
        Act::Started => "started".into(),
        Act::GivenUp => "given_up".into(),
        Act::Plan(plan) => format!("plan {}", plan.0),
        Act::PlanDown => "plan_down".into(),
        Act::PlanUp => "plan_up".into(),
        Act::NotNow { minutes, because } => format!("not_now {minutes} {}", because.word()),
        Act::SquallSeen {
            minutes,
            strength: None,
        } => format!("squall_seen {minutes}"),
        Act::SquallSeen {
            minutes,
            strength: Some(kn),
        } => format!("squall_seen {minutes} {}", kn.get()),
        Act::Setup { item, readiness } => format!("setup {} {}", item.0, readiness.word()),
        Act::Rigged { item, rigging } => format!("rigged {} {}", item.0, rigging.word()),
        Act::Hands(hands) => format!("hands {} {}", hands.on_deck, hands.below),
        Act::Condition(condition) => format!("condition {}", condition.word()),
        Act::Helm(helm) => format!("helm {}", helm.word()),
        Act::Doing(doing) => format!("doing {}", doing.word()),
        Act::Sea(Some(sea)) => format!("sea {}", sea.word()),
        Act::Sea(None) => "sea measured".into(),
        // Rust writes a float so that it reads back the same.
        Act::WindByHand { speed, side } => {
            format!("wind_by_hand {} {}", speed.get(), side.word())
        }
        Act::Wake => "wake".into(),
        Act::UpAtBunk => "up_at_bunk".into(),
        Act::OnDeck => "on_deck".into(),
        Act::Answer { to, reply } => format!("answer {} {}", to.word(), reply.word()),
        Act::ConfirmLimits => "confirm_limits".into(),
        Act::ConfirmWind => "confirm_wind".into(),
        Act::WatchChanged => "watch_changed".into(),
        Act::DeclineBeforeDark => "decline_before_dark".into(),
    }
}

/// The act that these words stand for.
pub fn read(words: &str) -> Option<Act> {
    let mut words = words.split_ascii_whitespace();
    let act = verb(words.next()?, &mut words)?;
    words.next().is_none().then_some(act)
}

fn verb<'a>(verb: &str, rest: &mut impl Iterator<Item = &'a str>) -> Option<Act> {
    Some(match verb {
        "acknowledge" => Act::Acknowledge,
        "silence" => Act::Silence,
        "started" => Act::Started,
        "given_up" => Act::GivenUp,
        "plan" => Act::Plan(PlanId(number(rest)?)),
        "plan_down" => Act::PlanDown,
        "plan_up" => Act::PlanUp,
        "not_now" => Act::NotNow {
            minutes: number(rest)?,
            because: word(rest)?,
        },
        "squall_seen" => Act::SquallSeen {
            minutes: number(rest)?,
            strength: match rest.next() {
                Some(kn) => Some(Knots::new(kn.parse().ok()?).ok()?),
                None => None,
            },
        },
        "setup" => Act::Setup {
            item: ItemId(number(rest)?),
            readiness: word(rest)?,
        },
        "rigged" => Act::Rigged {
            item: RiggedId(number(rest)?),
            rigging: word(rest)?,
        },
        "hands" => Act::Hands(Hands {
            on_deck: number(rest)?,
            below: number(rest)?,
        }),
        "condition" => Act::Condition(word(rest)?),
        "helm" => Act::Helm(word(rest)?),
        "doing" => Act::Doing(word(rest)?),
        "sea" => Act::Sea(match rest.next()? {
            "measured" => None,
            sea => Some(Word::from_word(sea)?),
        }),
        "wind_by_hand" => Act::WindByHand {
            speed: Knots::new(number(rest)?).ok()?,
            side: word(rest)?,
        },
        "wake" => Act::Wake,
        "up_at_bunk" => Act::UpAtBunk,
        "on_deck" => Act::OnDeck,
        "answer" => Act::Answer {
            to: word(rest)?,
            reply: word(rest)?,
        },
        "confirm_limits" => Act::ConfirmLimits,
        "confirm_wind" => Act::ConfirmWind,
        "watch_changed" => Act::WatchChanged,
        "decline_before_dark" => Act::DeclineBeforeDark,
        _ => return None,
    })
}

fn number<'a, N: std::str::FromStr>(rest: &mut impl Iterator<Item = &'a str>) -> Option<N> {
    rest.next()?.parse().ok()
}

fn word<'a, W: Word>(rest: &mut impl Iterator<Item = &'a str>) -> Option<W> {
    W::from_word(rest.next()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_core::act::{
        Condition, Doing, Helm, NotNow, PointOfSail, Question, Readiness, Reply, Rigging, Sea,
    };

    #[test]
    fn every_act_comes_back_from_its_words() {
        let acts = [
            Act::Acknowledge,
            Act::Silence,
            Act::Started,
            Act::GivenUp,
            Act::Plan(PlanId(3)),
            Act::PlanDown,
            Act::PlanUp,
            Act::NotNow {
                minutes: 40,
                because: NotNow::Traffic,
            },
            Act::SquallSeen {
                minutes: 15,
                strength: None,
            },
            Act::SquallSeen {
                minutes: 15,
                strength: Knots::new(35.0).ok(),
            },
            Act::Setup {
                item: ItemId(2),
                readiness: Readiness::Ready,
            },
            Act::Rigged {
                item: RiggedId(1),
                rigging: Rigging::Cleared,
            },
            Act::Hands(Hands {
                on_deck: 1,
                below: 3,
            }),
            Act::Condition(Condition::WornOut),
            Act::Helm(Helm::Hand),
            Act::Doing(Doing::HoveTo),
            Act::Sea(Some(Sea::VeryRough)),
            Act::Sea(None),
            Act::WindByHand {
                speed: Knots::new(17.3).unwrap(),
                side: PointOfSail::Reaching,
            },
            Act::Wake,
            Act::UpAtBunk,
            Act::OnDeck,
            Act::Answer {
                to: Question::OldHands,
                reply: Reply::No,
            },
            Act::ConfirmLimits,
            Act::ConfirmWind,
            Act::WatchChanged,
            Act::DeclineBeforeDark,
        ];
        for act in acts {
            assert_eq!(read(&write(&act)), Some(act), "{}", write(&act));
        }
    }

    #[test]
    fn words_that_are_no_act_are_none() {
        for words in ["", "plan", "plan 400", "plan 1 2", "sea calm", "hoist"] {
            assert_eq!(read(words), None, "{words}");
        }
    }
}
