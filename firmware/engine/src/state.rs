//! What the crew has said, as one line of JSON: for the state file that
//! outlives a restart, and for the start of a recording.
//!
//! Plans and items stand by name, so that a boat file in which they have
//! moved does not make one into another; a name that is gone is left out.
//!
//! The call that stood is kept with its acknowledgement, and a change under way
//! with what is left of its time; older than their own work they are asked
//! for, not believed. When the plan was last confirmed is not kept: the time
//! since the start begins anew, so the plan stands with a "?" until somebody
//! vouches for it.

use std::time::Duration;

use cringle_boat::{read_forecast, write_forecast};
use cringle_core::act::{Act, Condition, Doing, Hands, Helm, Readiness, Rigging, Sea};
use cringle_core::boat::Boat;
use cringle_core::event::Call;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::PlanId;
use cringle_core::sense::health::sail::LearntHeel;
use cringle_core::watch::{Met, Saved, SavedCall, SavedChange, SavedForecast, SavedSquall, TooOld};
use serde::{Deserialize, Serialize};

use crate::words::Word;

/// The newest format this program writes and reads.
const FORMAT: u32 = 1;

/// The line. Unknown keys are passed over: an older program can read on.
#[derive(Debug, Serialize, Deserialize)]
struct StateLine {
    format: u32,
    /// When it was saved, if the computer knew.
    saved_unix_ms: Option<i64>,
    plan: String,
    ready: Vec<String>,
    rigged: Vec<String>,
    on_deck: u8,
    below: u8,
    condition: String,
    helm: String,
    doing: String,
    sea: Option<String>,
    limits_confirmed: bool,
    wind_confirmed: bool,
    /// Not in lines of before.
    #[serde(default)]
    call: Option<CallLine>,
    /// Not in lines of before.
    #[serde(default)]
    change: Option<ChangeLine>,
    /// What of this was too old to be believed already; not in lines of before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    too_old: Vec<String>,
    /// Not in lines of before.
    #[serde(default)]
    squall: Option<SquallLine>,
    /// One that was entered on the way; not in lines of before.
    #[serde(default)]
    forecast: Option<ForecastLine>,
    /// What was learnt of heel; not in lines of before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    heel: Vec<HeelLine>,
}

/// Heel as it usually is with one plan on one point of sail.
#[derive(Debug, Serialize, Deserialize)]
struct HeelLine {
    plan: String,
    /// 0 on the wind, 1 reaching.
    point: usize,
    /// Degrees a kn^2 of apparent wind.
    stiffness: f32,
    minutes: u16,
    /// Not in lines of before.
    #[serde(default)]
    spread: f32,
}

/// The call that stood.
#[derive(Debug, Serialize, Deserialize)]
struct CallLine {
    call: String,
    id: u32,
    acknowledged: bool,
    target: Option<String>,
    soonest_s: u32,
    work_s: u32,
}

/// A change under way.
#[derive(Debug, Serialize, Deserialize)]
struct ChangeLine {
    to: String,
    left_s: u32,
}

/// A squall in sight.
#[derive(Debug, Serialize, Deserialize)]
struct SquallLine {
    /// Fewer than none where it was due already.
    due_min: i16,
    shortened: bool,
    /// Not in lines of before.
    #[serde(default)]
    strength_kn: Option<u16>,
}

/// The forecast that was entered instead of the boat's.
#[derive(Debug, Serialize, Deserialize)]
struct ForecastLine {
    /// Rows in one line; none where it was taken away.
    table: Option<String>,
}

/// A state with the time it was saved.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// What was saved.
    pub saved: Saved,
    /// When, if the computer knew.
    pub saved_unix_ms: Option<i64>,
}

impl State {
    /// The state as it is now, by the computer's clock: a squall has come
    /// nearer while the power was off. Left as it is where no clock tells.
    pub fn aged(self, unix_ms: Option<i64>) -> State {
        let off_ms = unix_ms
            .zip(self.saved_unix_ms)
            .and_then(|(now, then)| u64::try_from(now.checked_sub(then)?).ok());
        let off = Duration::from_millis(off_ms.unwrap_or(0));
        State {
            saved: self.saved.aged(off),
            ..self
        }
    }

    /// As one line, without line end.
    pub fn write(&self, boat: &Boat) -> String {
        let saved = &self.saved;
        let ladder = &boat.ladder;
        let ready = named(
            ladder.setup.iter().map(|item| item.name.as_str()),
            &saved.readiness,
            Readiness::Ready,
        );
        let rigged = named(
            ladder.rigged.iter().map(|item| item.name.as_str()),
            &saved.rigging,
            Rigging::Rigged,
        );
        let plan = ladder.plan(saved.plan).map(|plan| plan.name.as_str());
        let name_of = |id: PlanId| {
            let plan = ladder.plan(id).map(|plan| plan.name.as_str());
            plan.unwrap_or_default().to_owned()
        };
        let line = StateLine {
            format: FORMAT,
            saved_unix_ms: self.saved_unix_ms,
            plan: plan.unwrap_or_default().into(),
            ready,
            rigged,
            on_deck: saved.hands.on_deck,
            below: saved.hands.below,
            condition: saved.condition.word().into(),
            helm: saved.helm.word().into(),
            doing: saved.doing.word().into(),
            sea: saved.sea.map(|sea| sea.word().into()),
            limits_confirmed: saved.limits == Confirmation::Confirmed,
            wind_confirmed: saved.wind == Confirmation::Confirmed,
            call: saved.call.map(|call| CallLine {
                call: call.call.word().into(),
                id: call.id,
                acknowledged: call.acknowledged,
                target: call.target.map(name_of),
                soonest_s: call.soonest_s,
                work_s: call.work_s,
            }),
            change: saved.change.map(|change| ChangeLine {
                to: name_of(change.to),
                left_s: change.left_s,
            }),
            too_old: OLD_PARTS
                .into_iter()
                .zip(old_flags(&saved.too_old))
                .filter(|(_, is_old)| *is_old)
                .map(|(name, _)| name.into())
                .collect(),
            squall: saved.squall.map(|squall| SquallLine {
                due_min: squall.due_min,
                shortened: squall.met == Met::Shortened,
                strength_kn: squall.strength_kn,
            }),
            forecast: match &saved.forecast {
                SavedForecast::OfTheBoat => None,
                SavedForecast::Entered(table) => Some(ForecastLine {
                    table: table.as_ref().map(write_forecast),
                }),
            },
            heel: heel_lines(boat, &saved.heel),
        };
        // A plain struct of numbers and words always serialises.
        serde_json::to_string(&line).unwrap_or_default()
    }

    /// Reads the state file, which has a seal beneath the line. Where that is
    /// missing nothing of it is sure; where it is wrong nothing is believed.
    pub fn read_sealed(
        contents: &str,
        boat: &Boat,
        cold: &Saved,
    ) -> Result<(State, Vec<Unsure>), String> {
        let (line, seal) = contents.split_once('\n').unwrap_or((contents, ""));
        let is_sealed = !seal.is_empty();
        if is_sealed && sealed(line) != contents {
            return Err("is damaged: its checksum is another".into());
        }
        let (state, mut unsure) = State::read_unsure(line, boat, cold)?;
        if !is_sealed {
            unsure = Unsure::ALL.to_vec();
        }
        Ok((state, unsure))
    }

    /// Reads a line for this boat. What it says that the boat does not know
    /// falls back to `cold`, the state of a cold start.
    pub fn read(line: &str, boat: &Boat, cold: &Saved) -> Result<State, String> {
        State::read_unsure(line, boat, cold).map(|(state, _)| state)
    }

    /// The same, with what of it is not sure and must be asked for.
    fn read_unsure(line: &str, boat: &Boat, cold: &Saved) -> Result<(State, Vec<Unsure>), String> {
        let line: StateLine = serde_json::from_str(line).map_err(|error| error.to_string())?;
        if line.format > FORMAT {
            return Err(format!(
                "is of format {}, this program reads up to {FORMAT}",
                line.format
            ));
        }
        let unsure = unsure(&line, boat);
        let mut saved = cold.clone();
        let ladder = &boat.ladder;
        let place = ladder.plans.iter().position(|plan| plan.name == *line.plan);
        if let Some(place) = place.and_then(|place| u8::try_from(place).ok()) {
            saved.plan = cringle_core::ladder::PlanId(place);
        }
        for (item, readiness) in ladder.setup.iter().zip(&mut saved.readiness) {
            *readiness = match line.ready.iter().any(|name| item.name == **name) {
                true => Readiness::Ready,
                false => Readiness::Open,
            };
        }
        for (item, rigging) in ladder.rigged.iter().zip(&mut saved.rigging) {
            *rigging = match line.rigged.iter().any(|name| item.name == **name) {
                true => Rigging::Rigged,
                false => Rigging::Cleared,
            };
        }
        if !unsure.contains(&Unsure::Hands) {
            saved.hands = Hands {
                on_deck: line.on_deck,
                below: line.below,
            };
        }
        saved.condition = Word::from_word(&line.condition).unwrap_or(saved.condition);
        saved.helm = Word::from_word(&line.helm).unwrap_or(saved.helm);
        saved.doing = Word::from_word(&line.doing).unwrap_or(saved.doing);
        saved.sea = line.sea.as_deref().and_then(Word::from_word);
        saved.limits = confirmation(line.limits_confirmed);
        saved.wind = confirmation(line.wind_confirmed);
        let plan = |name: &str| {
            let place = ladder.plans.iter().position(|plan| plan.name == *name)?;
            u8::try_from(place).ok().map(PlanId)
        };
        saved.call = line.call.and_then(|call| {
            let words = [Call::Prepare, Call::Reduce, Call::Past];
            Some(SavedCall {
                call: words.into_iter().find(|it| it.word() == call.call)?,
                id: call.id,
                acknowledged: call.acknowledged,
                target: call.target.as_deref().and_then(plan),
                soonest_s: call.soonest_s,
                work_s: call.work_s,
            })
        });
        saved.change = line.change.and_then(|change| {
            Some(SavedChange {
                to: plan(&change.to)?,
                left_s: change.left_s,
            })
        });
        let is_old = |part: &str| line.too_old.iter().any(|it| it == part);
        let [call, change, hands] = OLD_PARTS.map(is_old);
        saved.too_old = TooOld {
            call,
            change,
            hands,
        };
        saved.squall = line.squall.map(|squall| SavedSquall {
            due_min: squall.due_min,
            met: match squall.shortened {
                true => Met::Shortened,
                false => Met::NotYet,
            },
            strength_kn: squall.strength_kn,
        });
        saved.forecast = line.forecast.map_or(SavedForecast::OfTheBoat, entered);
        saved.heel = learnt_heel(boat, &line.heel);
        let state = State {
            saved,
            saved_unix_ms: line.saved_unix_ms,
        };
        Ok((state, unsure))
    }
}

/// Most people that a yacht of this kind has in one place.
pub const MOST_HANDS: u8 = 20;

/// What of a saved state cannot be believed, and is asked for by key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsure {
    /// Which plan is set.
    Plan,
    /// Who is on deck and below, and how they are.
    Hands,
    /// What she does and who steers.
    Doing,
    /// The forecast that was entered.
    Forecast,
    /// What was rigged or set up.
    Setup,
    /// Whether the wind rises: the hours before a restart are not kept.
    Trend,
}

impl Unsure {
    /// All that the crew can say.
    pub const ALL: [Unsure; 5] = [
        Unsure::Plan,
        Unsure::Hands,
        Unsure::Doing,
        Unsure::Forecast,
        Unsure::Setup,
    ];

    /// Whether the crew says it by this act.
    pub fn is_answered_by(self, act: Act) -> bool {
        match self {
            Unsure::Plan => matches!(act, Act::Plan(_) | Act::PlanDown | Act::PlanUp),
            Unsure::Hands => matches!(act, Act::Hands(_)),
            Unsure::Doing => matches!(act, Act::Doing(_)),
            Unsure::Setup => matches!(act, Act::Setup { .. } | Act::Rigged { .. }),
            // It comes with an input of its own.
            Unsure::Forecast | Unsure::Trend => false,
        }
    }

    /// As it is asked.
    pub fn question(self) -> &'static str {
        match self {
            Unsure::Plan => "which plan is set?",
            Unsure::Hands => "how many are on deck and below?",
            Unsure::Doing => "what does she do, and who steers?",
            Unsure::Forecast => "is there a forecast?",
            Unsure::Setup => "what is rigged and set up?",
            Unsure::Trend => "does the wind rise? for 20 min calls may come late",
        }
    }
}

/// A line of state as it stands in the file: with its length and checksum
/// beneath, so that neither a cut nor a changed letter is believed.
pub fn sealed(line: &str) -> String {
    let mut sum = flate2::Crc::new();
    sum.update(line.as_bytes());
    format!("{line}\ncrc32 {:08x} bytes {}\n", sum.sum(), line.len())
}

/// What the boat does not know, or what cannot be.
fn unsure(line: &StateLine, boat: &Boat) -> Vec<Unsure> {
    let ladder = &boat.ladder;
    let has_plan = |name: &str| ladder.plans.iter().any(|plan| plan.name == *name);
    let is_within = |count: u8| count <= MOST_HANDS;
    let change = line.change.as_ref();
    let is_sure = |what: Unsure| match what {
        Unsure::Plan => has_plan(&line.plan) && change.is_none_or(|it| has_plan(&it.to)),
        Unsure::Hands => {
            is_within(line.on_deck)
                && is_within(line.below)
                && Condition::from_word(&line.condition).is_some()
        }
        Unsure::Doing => {
            Doing::from_word(&line.doing).is_some()
                && Helm::from_word(&line.helm).is_some()
                && line
                    .sea
                    .as_deref()
                    .is_none_or(|it| Sea::from_word(it).is_some())
        }
        Unsure::Forecast => {
            let table = line.forecast.as_ref().and_then(|it| it.table.as_deref());
            table.is_none_or(|table| read_forecast(table).is_ok())
        }
        Unsure::Setup => {
            let known = |name: &String| ladder.setup.iter().any(|item| item.name == **name);
            let rigged = |name: &String| ladder.rigged.iter().any(|item| item.name == **name);
            line.ready.iter().all(known) && line.rigged.iter().all(rigged)
        }
        Unsure::Trend => true,
    };
    Unsure::ALL.into_iter().filter(|it| !is_sure(*it)).collect()
}

/// The parts that may be too old, by name.
const OLD_PARTS: [&str; 3] = ["call", "change", "hands"];

fn old_flags(too_old: &TooOld) -> [bool; 3] {
    [too_old.call, too_old.change, too_old.hands]
}

fn heel_lines(boat: &Boat, heel: &LearntHeel) -> Vec<HeelLine> {
    let mut lines = Vec::new();
    for (plan, points) in boat.ladder.plans.iter().zip(heel) {
        for (point, usual) in points.iter().enumerate() {
            if usual.minutes > 0 {
                lines.push(HeelLine {
                    plan: plan.name.as_str().into(),
                    point,
                    stiffness: usual.stiffness,
                    minutes: usual.minutes,
                    spread: usual.spread,
                });
            }
        }
    }
    lines
}

/// What of it belongs to a plan that the boat still has.
fn learnt_heel(boat: &Boat, lines: &[HeelLine]) -> LearntHeel {
    let mut heel = LearntHeel::default();
    for line in lines {
        let plans = &mut boat.ladder.plans.iter();
        let Some(place) = plans.position(|plan| plan.name == *line.plan) else {
            continue;
        };
        let points = heel.get_mut(place);
        let is_sound = line.stiffness.is_finite() && line.stiffness > 0.0;
        let usual = points.and_then(|points| points.get_mut(line.point));
        if let Some(usual) = usual.filter(|_| is_sound) {
            usual.stiffness = line.stiffness;
            usual.minutes = line.minutes;
            usual.spread = line.spread;
        }
    }
    heel
}

/// A table that cannot be read any more is as good as none entered.
fn entered(line: ForecastLine) -> SavedForecast {
    match line.table.as_deref().map(read_forecast) {
        None => SavedForecast::Entered(None),
        Some(Ok(table)) => SavedForecast::Entered(Some(table)),
        Some(Err(_)) => SavedForecast::OfTheBoat,
    }
}

fn named<'a, T: PartialEq>(
    names: impl Iterator<Item = &'a str>,
    states: &[T],
    wanted: T,
) -> Vec<String> {
    names
        .zip(states)
        .filter(|(_, state)| **state == wanted)
        .map(|(name, _)| name.to_owned())
        .collect()
}

fn confirmation(confirmed: bool) -> Confirmation {
    match confirmed {
        true => Confirmation::Confirmed,
        false => Confirmation::Unconfirmed,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Engine;
    use cringle_core::ladder::{ItemId, PlanId};
    use cringle_core::sense::health::sail::Usual;
    use cringle_core::time::Timestamp;
    use cringle_core::units::Knots;

    fn example() -> Boat {
        cringle_boat::example().unwrap().boat
    }

    /// What a crew had said before the power went.
    fn said(boat: &Boat) -> Saved {
        let mut engine = Engine::new(boat, Vec::new(), None, Timestamp::ZERO);
        let acts = [
            Act::Plan(PlanId(2)),
            Act::Setup {
                item: ItemId(1),
                readiness: Readiness::Ready,
            },
            Act::Condition(Condition::WornOut),
            Act::Hands(Hands {
                on_deck: 1,
                below: 3,
            }),
        ];
        for act in acts {
            engine.act(act, Timestamp::from_secs(1));
        }
        engine.saved()
    }

    #[test]
    fn what_the_crew_had_said_is_there_after_a_restart() {
        let boat = example();
        let cold = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO).saved();
        let state = State {
            saved: said(&boat),
            saved_unix_ms: Some(1_764_050_000_000),
        };
        assert_ne!(state.saved, cold);
        let read = State::read(&state.write(&boat), &boat, &cold).unwrap();
        assert_eq!(read, state);
        // Taken up, it is believed but not vouched for.
        let engine = Engine::new(&boat, Vec::new(), Some(&read.saved), Timestamp::ZERO);
        assert_eq!(engine.view().plan.id, PlanId(2));
        assert_eq!(engine.view().plan.confirmed, None);
    }

    #[test]
    fn what_was_learnt_of_heel_is_there_after_a_restart() {
        let boat = example();
        let cold = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO).saved();
        let mut saved = cold.clone();
        saved.heel[1][0] = Usual {
            stiffness: 0.046,
            minutes: 90,
            spread: 0.03,
        };
        let state = State {
            saved,
            saved_unix_ms: None,
        };
        let line = state.write(&boat);
        let read = State::read(&line, &boat, &cold).unwrap();
        assert_eq!(read.saved.heel, state.saved.heel);
        let engine = Engine::new(&boat, Vec::new(), Some(&read.saved), Timestamp::ZERO);
        assert_eq!(engine.saved().heel, state.saved.heel);
        // A line of before the spread was kept still reads.
        let start = line.find(",\"spread\"").unwrap();
        let end = start + line[start..].find('}').unwrap();
        let before = format!("{}{}", &line[..start], &line[end..]);
        let read = State::read(&before, &boat, &cold).unwrap();
        assert_eq!(
            (read.saved.heel[1][0].minutes, read.saved.heel[1][0].spread),
            (90, 0.0)
        );
    }

    #[test]
    fn plans_are_known_by_name_though_the_ladder_has_changed() {
        let mut boat = example();
        let cold = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO).saved();
        let state = State {
            saved: said(&boat),
            saved_unix_ms: None,
        };
        let line = state.write(&boat);
        boat.ladder.plans.remove(0);
        let read = State::read(&line, &boat, &cold).unwrap();
        assert_eq!(read.saved.plan, PlanId(1));
        assert!(State::read("{\"format\":", &boat, &cold).is_err());
        let newer = line.replace("\"format\":1", "\"format\":2");
        assert!(State::read(&newer, &boat, &cold).is_err());
    }

    #[test]
    fn a_squall_and_a_forecast_are_kept_and_a_line_of_before_still_reads() {
        let boat = example();
        let engine = || Engine::new(&boat, Vec::new(), None, Timestamp::ZERO);
        let cold = engine().saved();
        let table = read_forecast("2026-11-08T12:00Z 18 gust 25 from 210 sure 0.8").unwrap();
        for forecast in [Some(table), None] {
            let mut engine = engine();
            engine.act(
                Act::SquallSeen {
                    minutes: 20,
                    strength: Knots::new(35.0).ok(),
                },
                Timestamp::from_secs(1),
            );
            engine.forecast(forecast.clone(), Timestamp::from_secs(2));
            let state = State {
                saved: engine.saved(),
                saved_unix_ms: Some(1_764_050_000_000),
            };
            let read = State::read(&state.write(&boat), &boat, &cold).unwrap();
            assert_eq!(read, state);
            assert_eq!(read.saved.forecast, SavedForecast::Entered(forecast));
            let due = |state: State| state.saved.squall.map(|squall| squall.due_min);
            let now = |minutes: i64| Some(1_764_050_000_000 + minutes * 60_000);
            assert_eq!(due(read.clone()), Some(19));
            assert_eq!(due(read.clone().aged(now(5))), Some(14));
            assert_eq!(due(read.clone().aged(now(120))), None);
            // A clock that went back tells nothing.
            assert_eq!(due(read.clone().aged(now(-5))), Some(19));
            assert_eq!(due(read.aged(None)), Some(19));
        }
        let state = State {
            saved: cold.clone(),
            saved_unix_ms: None,
        };
        let line = state.write(&boat);
        let before = line.replace(
            ",\"call\":null,\"change\":null,\"squall\":null,\"forecast\":null",
            "",
        );
        assert_ne!(before, line);
        assert_eq!(State::read(&before, &boat, &cold).unwrap(), state);
    }

    #[test]
    fn a_damaged_or_outdated_state_is_asked_for_and_not_half_believed() {
        let boat = example();
        let cold = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO).saved();
        let state = State {
            saved: said(&boat),
            saved_unix_ms: None,
        };
        let line = state.write(&boat);
        let read = |line: &str| State::read_sealed(&sealed(line), &boat, &cold);
        assert_eq!(read(&line), Ok((state.clone(), Vec::new())));
        let named = boat.ladder.plans[2].name.as_str();
        let other = line.replace(&format!("\"plan\":\"{named}\""), "\"plan\":\"kite\"");
        assert_ne!(other, line);
        assert_eq!(read(&other).unwrap().1, [Unsure::Plan]);
        let (crowd, unsure) = read(&line.replace("\"on_deck\":1", "\"on_deck\":127")).unwrap();
        assert_eq!(
            (crowd.saved.hands, unsure),
            (cold.hands, vec![Unsure::Hands])
        );
        let bad = "\"forecast\":{\"table\":\"tomorrow: wind\"}";
        let bad = line.replace("\"forecast\":null", bad);
        assert_eq!(read(&bad).unwrap().1, [Unsure::Forecast]);
        // A file without a seal, of before or cut off, is sure of nothing.
        let bare = State::read_sealed(&line, &boat, &cold).unwrap();
        assert_eq!(bare.1, Unsure::ALL);
        // Whatever single bit was changed, it is not believed.
        let whole = sealed(&line);
        for place in 0..whole.len() {
            let mut bytes = whole.clone().into_bytes();
            bytes[place] ^= 1;
            let Ok(words) = String::from_utf8(bytes) else {
                continue;
            };
            let read = State::read_sealed(&words, &boat, &cold);
            assert!(read.is_err() || read.unwrap().1 == Unsure::ALL, "{place}");
        }
    }
}
