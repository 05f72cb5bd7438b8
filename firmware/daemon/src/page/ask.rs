//! What a browser asks for: acts and presses, with the key.

use cringle_core::act::{Act, Condition, Doing, Hands, Helm, NotNow, Question, Readiness, Reply};
use cringle_core::event::Call;
use cringle_core::ladder::{ItemId, PlanId};
use cringle_core::units::Knots;
use cringle_core::view::View;
use serde::Deserialize;

use super::foretell;
use crate::face::Input;
use crate::names::Names;
use crate::state::MOST_HANDS;
use crate::words::Word;

/// What the acts are called, for whoever asks for another.
const ACTS: &str = "acknowledge, silence, started, given_up, plan, setup, doing, hands, \
                    condition, helm, squall, not_now, wake, up_at_bunk, \
                    on_deck, answer or forecast";

/// Why something is not done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// Not by whoever asks: 403.
    Forbidden(&'static str),
    /// Not this: 400; what is wrong and how to mend it.
    Wrong(String),
}

/// The body of `POST /act`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Asked {
    #[serde(default, rename = "key")]
    _key: String,
    act: String,
    plan: Option<String>,
    item: Option<String>,
    ready: Option<bool>,
    doing: Option<String>,
    on_deck: Option<u8>,
    below: Option<u8>,
    minutes: Option<u8>,
    knots: Option<u8>,
    because: Option<String>,
    condition: Option<String>,
    helm: Option<String>,
    question: Option<String>,
    reply: Option<String>,
    rows: Option<Vec<foretell::Written>>,
}

/// The body of `POST /press`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Pressed {
    #[serde(default, rename = "key")]
    _key: String,
    button: String,
    press: String,
}

/// Only the key of any body: it is asked for before all else.
#[derive(Default, Deserialize)]
struct Keyed {
    #[serde(default)]
    key: String,
}

/// Reads an act that may be done now.
pub(super) fn act(
    body: &str,
    key: Option<&str>,
    names: &Names,
    view: &View,
) -> Result<Input, Refusal> {
    let asked: Asked = open(body, key)?;
    if asked.act == "forecast" {
        let table = foretell::table(needed("rows", &asked.rows)?).map_err(Refusal::Wrong)?;
        return Ok(Input::Forecast(table.map(Box::new)));
    }
    asked.act(names, view).map(Input::Act)
}

/// Reads a press of one of the screen's keys.
pub(super) fn press(body: &str, key: Option<&str>) -> Result<Input, Refusal> {
    let pressed: Pressed = open(body, key)?;
    // The keyboard's keys that stand in for the three of the screen.
    let character = match (pressed.button.as_str(), pressed.press.as_str()) {
        ("left", "short") => '1',
        ("middle", "short") => '2',
        ("right", "short") => '3',
        ("left", "long") => 'q',
        ("middle", "long") => 'w',
        ("right", "long") => 'e',
        (button, press) => {
            return wrong(format!(
                "no press \"{press}\" of a button \"{button}\": give left, middle or right, \
                 and short or long"
            ));
        }
    };
    Ok(Input::Character(character))
}

fn open<'b, T: Deserialize<'b>>(body: &'b str, key: Option<&str>) -> Result<T, Refusal> {
    permit(body, key)?;
    serde_json::from_str(body).map_err(|error| Refusal::Wrong(error.to_string()))
}

/// Whether whoever sent this may do anything at all.
pub(super) fn permit(body: &str, key: Option<&str>) -> Result<(), Refusal> {
    let given = serde_json::from_str::<Keyed>(body).unwrap_or_default().key;
    match key {
        None => Err(Refusal::Forbidden(
            "this page only shows: to act from it, set key = \"...\" in [page] of the boat file",
        )),
        Some(key) if !is_same(key, &given) => Err(Refusal::Forbidden(
            "that is not the key: it stands in [page] of the boat file",
        )),
        Some(_) => Ok(()),
    }
}

/// Takes as long for a key that is nearly right as for any other.
fn is_same(key: &str, given: &str) -> bool {
    let differing = key
        .bytes()
        .zip(given.bytes())
        .fold(0, |differing, (a, b)| differing | (a ^ b));
    key.len() == given.len() && differing == 0
}

impl Asked {
    fn act(&self, names: &Names, view: &View) -> Result<Act, Refusal> {
        Ok(match self.act.as_str() {
            "acknowledge" => Act::Acknowledge,
            "silence" => Act::Silence,
            "started" if view.next.is_none() => {
                return wrong("nothing to start: no change is next");
            }
            "started" => Act::Started,
            "given_up" if view.manoeuvre.is_none() => {
                return wrong("nothing to give up: no change has been started");
            }
            "given_up" => Act::GivenUp,
            "plan" => Act::Plan(plan(needed("plan", &self.plan)?, names, view)?),
            "setup" => Act::Setup {
                item: item(needed("item", &self.item)?, names, view)?,
                readiness: match needed("ready", &self.ready)? {
                    true => Readiness::Ready,
                    false => Readiness::Open,
                },
            },
            "doing" => Act::Doing(word::<Doing>("doing", &self.doing)?),
            "hands" => Act::Hands(Hands {
                on_deck: within("on_deck", &self.on_deck, 0, MOST_HANDS)?,
                below: within("below", &self.below, 0, MOST_HANDS)?,
            }),
            "condition" => Act::Condition(word::<Condition>("condition", &self.condition)?),
            "helm" => Act::Helm(word::<Helm>("helm", &self.helm)?),
            "squall" => Act::SquallSeen {
                minutes: within("minutes", &self.minutes, 0, 90)?,
                strength: match &self.knots {
                    Some(_) => Knots::new(f64::from(within("knots", &self.knots, 10, 120)?)).ok(),
                    None => None,
                },
            },
            "not_now" if view.call.call > Call::Prepare => {
                return wrong("only a prepare can be put off: acknowledge this call, or start");
            }
            "not_now" => Act::NotNow {
                minutes: within("minutes", &self.minutes, 20, 60)?,
                because: word::<NotNow>("because", &self.because)?,
            },
            "wake" => Act::Wake,
            "up_at_bunk" if view.sounds.bunk.is_none() => {
                return wrong("nobody has been called at the bunk");
            }
            "up_at_bunk" => Act::UpAtBunk,
            "on_deck" if view.muster_left_s.is_none() => {
                return wrong("nobody is on the way: give hands");
            }
            "on_deck" => Act::OnDeck,
            "answer" => {
                let to = word::<Question>("question", &self.question)?;
                if view.question != Some(to) {
                    return wrong(format!("\"{}\" is not being asked", to.word()));
                }
                Act::Answer {
                    to,
                    reply: word::<Reply>("reply", &self.reply)?,
                }
            }
            other => return wrong(format!("no act \"{other}\": give {ACTS}")),
        })
    }
}

fn plan(name: &str, names: &Names, view: &View) -> Result<PlanId, Refusal> {
    let short = view.ladder.iter().find(|rung| rung.short == name);
    let found = short.map(|rung| rung.id).or_else(|| names.plan_named(name));
    found.ok_or_else(|| {
        let known: Vec<_> = view.ladder.iter().map(|rung| rung.short.as_str()).collect();
        Refusal::Wrong(format!(
            "no plan \"{name}\": give one of {}",
            known.join(", ")
        ))
    })
}

fn item(name: &str, names: &Names, view: &View) -> Result<ItemId, Refusal> {
    let seen = view.setup.iter().find(|item| item.name == name);
    let found = seen.map(|item| item.id).or_else(|| names.item_named(name));
    found.ok_or_else(|| {
        let known: Vec<_> = view.setup.iter().map(|item| item.name.as_str()).collect();
        Refusal::Wrong(format!(
            "no set-up item \"{name}\": give one of the boat file's, such as {}",
            known.join(", ")
        ))
    })
}

fn needed<'a, T>(name: &str, field: &'a Option<T>) -> Result<&'a T, Refusal> {
    field
        .as_ref()
        .ok_or_else(|| Refusal::Wrong(format!("\"{name}\" is missing: give it beside \"act\"")))
}

fn within(name: &str, field: &Option<u8>, least: u8, most: u8) -> Result<u8, Refusal> {
    match *needed(name, field)? {
        number if (least..=most).contains(&number) => Ok(number),
        number => wrong(format!("{name} is {number}: give {least} to {most}")),
    }
}

fn word<W: Word>(name: &str, field: &Option<String>) -> Result<W, Refusal> {
    let given = needed(name, field)?;
    W::from_word(given).ok_or_else(|| {
        let known: Vec<_> = W::WORDS.iter().map(|(_, word)| *word).collect();
        Refusal::Wrong(format!("{name} is \"{given}\": give {}", known.join(", ")))
    })
}

fn wrong<T>(words: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal::Wrong(words.into()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_screen::samples;

    const KEY: Option<&str> = Some("tansy-4711");

    fn asked(rest: &str) -> Result<Input, Refusal> {
        let body = format!(r#"{{"key":"tansy-4711",{rest}}}"#);
        act(&body, KEY, &Names::default(), &samples::prepare())
    }

    #[track_caller]
    fn mends(rest: &str, words: &str) {
        match asked(rest) {
            Err(Refusal::Wrong(told)) => assert!(told.contains(words), "{told}"),
            other => panic!("{rest}: {other:?}"),
        }
    }

    #[test]
    fn without_the_right_key_nothing_is_done_and_nothing_more_is_told() {
        let view = samples::prepare();
        for body in [
            r#"{"act":"acknowledge"}"#,
            r#"{"key":"","act":"acknowledge"}"#,
            r#"{"key":"tansy-4712","act":"acknowledge"}"#,
            r#"{"key":"tansy-47111","act":"acknowledge"}"#,
            "hoist",
        ] {
            let refused = act(body, KEY, &Names::default(), &view);
            assert!(matches!(refused, Err(Refusal::Forbidden(_))), "{body}");
        }
        let off = act(
            r#"{"key":"","act":"acknowledge"}"#,
            None,
            &Names::default(),
            &view,
        );
        assert!(matches!(off, Err(Refusal::Forbidden(words)) if words.contains("only shows")));
        assert!(matches!(press("{}", KEY), Err(Refusal::Forbidden(_))));
    }

    #[test]
    fn acts_are_read_by_the_names_that_the_crew_sees() {
        let is = |rest: &str, act: Act| assert_eq!(asked(rest), Ok(Input::Act(act)), "{rest}");
        is(r#""act":"acknowledge""#, Act::Acknowledge);
        let next = samples::prepare().next.unwrap();
        is(r#""act":"plan","plan":"reef 2""#, Act::Plan(next));
        is(r#""act":"started""#, Act::Started);
        let because = NotNow::Lull;
        is(
            r#""act":"not_now","minutes":30,"because":"lull""#,
            Act::NotNow {
                minutes: 30,
                because,
            },
        );
        is(
            r#""act":"squall","minutes":20"#,
            Act::SquallSeen {
                minutes: 20,
                strength: None,
            },
        );
        let strength = Knots::new(35.0).ok();
        is(
            r#""act":"squall","minutes":20,"knots":35"#,
            Act::SquallSeen {
                minutes: 20,
                strength,
            },
        );
        is(
            r#""act":"doing","doing":"hove-to""#,
            Act::Doing(Doing::HoveTo),
        );
        let hands = Hands {
            on_deck: 1,
            below: 3,
        };
        is(r#""act":"hands","on_deck":1,"below":3"#, Act::Hands(hands));
    }

    #[test]
    fn what_is_wrong_is_told_with_how_to_mend_it() {
        mends(r#""act":"hoist""#, "give acknowledge");
        mends(r#""act":"plan","plan":"spinnaker""#, "give one of");
        mends(r#""act":"plan""#, "\"plan\" is missing");
        mends(r#""act":"given_up""#, "nothing to give up");
        mends(
            r#""act":"not_now","minutes":5,"because":"lull""#,
            "give 20 to 60",
        );
        mends(r#""act":"doing","doing":"flying""#, "give sailing");
        mends(r#""act":"on_deck""#, "nobody is on the way");
        mends(
            r#""act":"answer","question":"set","reply":"yes""#,
            "is not being asked",
        );
        mends(r#""act":"acknowledge","loud":true"#, "unknown field");
    }

    #[test]
    fn an_alarm_is_not_put_off() {
        let body = r#"{"key":"tansy-4711","act":"not_now","minutes":30,"because":"rest"}"#;
        let refused = act(body, KEY, &Names::default(), &samples::reduce());
        assert!(matches!(refused, Err(Refusal::Wrong(words)) if words.contains("only a prepare")));
    }
}
