//! Silence: short ones are lived through second by second, long ones end a
//! run and are not.

use std::path::PathBuf;

use cringle_core::act::Act;
use cringle_core::event::{Call, Event, EventKind};
use cringle_core::ladder::PlanId;
use cringle_core::time::Timestamp;
use cringle_engine::PortId;
use cringle_engine::decoders::decoders;
use cringle_engine::engine::Engine;
use cringle_engine::player::{Player, Reached};
use cringle_engine::recording::lines::Entry;
use cringle_engine::replay::{Replay, Unplayable};

const DAY_S: u64 = 86_400;
const WIND: &[u8] = b"$WIMWV,045.0,T,08.0,N,A*1C";
/// A summary comes every ten minutes: so many tell how much was lived through.
const SUMMARIES_AN_HOUR: usize = 6;

fn sealed(first: char, body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{first}{body}*{sum:02X}")
}

/// Wind once a second at these seconds, as a log behind TAG blocks.
fn log(seconds: impl Iterator<Item = u64>) -> (tempfile::TempDir, PathBuf) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("tagged.log");
    let wind = String::from_utf8(WIND.to_vec()).unwrap();
    let line = |second: u64| {
        let tag = sealed('\\', &format!("c:{}", (1_700_000_000 + second) * 1000));
        format!("{tag}\\{wind}\n")
    };
    std::fs::write(&path, seconds.map(line).collect::<String>()).unwrap();
    (directory, path)
}

fn open(path: PathBuf) -> Replay {
    let nobody = || Err(Unplayable::Input(anyhow::anyhow!("a boat is given")));
    Replay::open(&[path], cringle_boat::example().ok(), nobody, 4800).unwrap()
}

/// All events, and the engine as it was left.
fn played(path: PathBuf) -> (Vec<Event>, Engine) {
    let mut replay = open(path);
    let mut engine = replay.engine();
    let mut events = Vec::new();
    while let Some((at, input)) = replay.next_input().unwrap() {
        engine.take(at, &input);
        events.extend(engine.events());
    }
    (events, engine)
}

fn summaries(events: &[Event]) -> usize {
    let is_one = |event: &&Event| event.kind == EventKind::Summary;
    events.iter().filter(is_one).count()
}

#[test]
fn sixty_days_of_silence_end_a_run_and_are_not_lived_through() {
    let gap = 60 * DAY_S;
    let (_kept, path) = log((0..1200).chain(gap..gap + 1200));
    let (events, engine) = played(path);
    assert_eq!(engine.runs_ended(), 1);
    // Two runs of twenty minutes and ten minutes of the silence.
    assert!(summaries(&events) <= SUMMARIES_AN_HOUR, "{events:?}");
    let of_first = events.iter().filter(|it| it.at < Timestamp::from_secs(gap));
    let blind = of_first.clone().any(|it| it.call == Call::Blind);
    assert!(blind, "the wind that was lost is told before the run ends");
    assert!(of_first.map(|it| it.at).max() <= Some(Timestamp::from_secs(1800)));
    assert_eq!(engine.view().now, Timestamp::from_secs(gap + 1199));
    assert_eq!(engine.view().call.call, Call::None);
    let unix_ms = engine.unix_ms(Timestamp::from_secs(gap));
    assert_eq!(unix_ms, Some((1_700_000_000 + gap as i64) * 1000));
}

#[test]
fn one_damaged_time_costs_one_new_run_and_no_more() {
    let seconds = |second: u64| match second {
        900 => 900 + 60 * DAY_S,
        other => other,
    };
    let (_kept, path) = log((0..1800).map(seconds));
    let (events, engine) = played(path);
    assert_eq!(engine.runs_ended(), 1);
    assert!(summaries(&events) <= SUMMARIES_AN_HOUR, "{events:?}");
    // The log's clock goes back, and time goes on from where it was.
    let unix_ms = engine.unix_ms(engine.view().now).unwrap();
    assert_eq!(unix_ms / 1000, 1_700_000_000 + 1799);
}

#[test]
fn five_hours_of_silence_are_lived_through() {
    let gap = 5 * 3600;
    let (_kept, path) = log((0..1200).chain(gap..gap + 60));
    let (events, engine) = played(path);
    assert_eq!(engine.runs_ended(), 0);
    assert!(summaries(&events) >= 5 * SUMMARIES_AN_HOUR, "{events:?}");
}

#[test]
fn a_new_run_begins_with_what_the_crew_had_said() {
    let boat_file = cringle_boat::example().unwrap();
    let ports = ["log".to_owned()];
    let decoders = decoders(&boat_file, &ports);
    let mut engine = Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO);
    engine.act(Act::Plan(PlanId(2)), Timestamp::from_secs(1));
    assert!(engine.view().plan.confirmed.is_some());
    engine.line(PortId(0), WIND, Timestamp::from_secs(30 * DAY_S));
    let plan = engine.view().plan;
    assert_eq!((plan.id, plan.confirmed), (PlanId(2), None));
    assert_eq!(engine.runs_ended(), 1);
}

#[test]
fn time_at_its_end_does_not_hang_the_engine() {
    let boat = cringle_boat::example().unwrap().boat;
    let mut engine = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO);
    engine.tick(Timestamp::from_secs(60));
    for _ in 0..2 {
        engine.tick(Timestamp::from_millis(u64::MAX));
    }
    assert_eq!(engine.runs_ended(), 1);
}

#[test]
fn a_silent_recording_of_our_own_is_lived_through_by_its_ticks() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("own.log");
    let mut entries = vec![Entry::Format(1), Entry::Part { run: 1, part: 1 }];
    entries.push(Entry::Port(PortId(0), "mast".into()));
    let boat = cringle_boat::example_text();
    entries.extend(boat.lines().map(|line| Entry::Boat(line.into())));
    entries.push(Entry::Start(Timestamp::ZERO));
    let moments = (0..8 * 360).map(|tick| Timestamp::from_secs(10 * tick));
    entries.extend(moments.map(Entry::Tick));
    let bytes: Vec<u8> = entries.iter().flat_map(Entry::write).collect();
    std::fs::write(&path, bytes).unwrap();
    let (events, engine) = played(path);
    assert_eq!(engine.runs_ended(), 0);
    assert!(summaries(&events) >= 7 * SUMMARIES_AN_HOUR, "{events:?}");
}

#[test]
fn a_moment_between_two_runs_is_no_moment_of_either() {
    let gap = 60 * DAY_S;
    let (_kept, path) = log((0..1200).chain(gap..gap + 1200));
    let mut player = Player::new(open(path));
    let mut to = |second| {
        player
            .play_to(Timestamp::from_secs(second), |_, _| {})
            .unwrap()
    };
    assert_eq!(to(600), Reached::Moment);
    assert_eq!(to(DAY_S), Reached::BetweenRuns);
    assert_eq!(to(gap + 600), Reached::Moment);
    assert_eq!(to(gap + 1199), Reached::Moment);
    assert_eq!(to(gap + 1200), Reached::End);
}
