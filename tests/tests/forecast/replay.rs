//! A forecast is an input like any other: replay needs nothing beside the
//! recording, and may be asked what would have been with another one.

use std::path::{Path, PathBuf};

use cringle::ports::PortId;
use cringle::recorder::lines::{Entry, FORMAT};
use cringle::replay::Replay;
use cringle_core::event::{Cause, Event, EventKind};
use cringle_core::forecast::Table;
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};

use crate::watch::{NOON_S, at, front};

const END_S: u64 = 6600;

fn seal(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

fn head(part: u32, forecast: Option<Table>) -> Vec<Entry> {
    let mut entries = vec![
        Entry::Format(FORMAT),
        Entry::Part { run: 1, part },
        Entry::Port(PortId(0), "mast".into()),
    ];
    let boat = cringle_boat::example_text().lines();
    entries.extend(boat.map(|line| Entry::Boat(line.into())));
    entries.push(Entry::Forecast(Timestamp::ZERO, Box::new(forecast)));
    entries.push(Entry::Start(Timestamp::ZERO));
    entries
}

/// Nearly two hours of 9 kn, each two seconds, lying still.
fn inputs(forecast: Option<Table>) -> Vec<Entry> {
    let mut entries = vec![Entry::Utc(UtcFix {
        unix_ms: NOON_S * 1000,
        at: at(0),
        quality: UtcQuality::Gnss,
    })];
    entries.extend(forecast.map(|table| Entry::Forecast(at(0), Box::new(Some(table)))));
    for second in (0..END_S).step_by(2) {
        let angle = 40.0 + 4.0 * (second as f64 / 7.0).sin();
        for body in [
            format!("WIMWV,{angle:.1},R,9.0,N,A"),
            "VWVHW,,T,,M,0.00,N,0.00,K".to_owned(),
        ] {
            entries.push(Entry::Heard {
                port: PortId(0),
                at: at(second),
                unix_ms: None,
                line: seal(&body).into_bytes(),
            });
        }
    }
    entries.push(Entry::End(at(END_S)));
    entries
}

fn write(path: &Path, entries: &[Entry]) {
    let bytes: Vec<u8> = entries.iter().flat_map(Entry::write).collect();
    std::fs::write(path, bytes).expect("written");
}

/// The calls that a forecast brought, with another forecast if one is given.
fn replayed(paths: &[PathBuf], other: Option<Option<Table>>) -> Vec<(Timestamp, String)> {
    let example = || cringle::boatfile::example();
    let mut replay = Replay::open(paths, None, example, 4800).expect("opened");
    if let Some(other) = other {
        replay.use_forecast(other);
    }
    let mut engine = replay.engine();
    let mut events: Vec<Event> = Vec::new();
    while let Some((at, input)) = replay.next_input().expect("read") {
        engine.take(at, &input);
        events.extend(engine.events());
    }
    let calls = events
        .into_iter()
        .filter(|it| it.kind == EventKind::Call && it.cause == Some(Cause::Forecast));
    calls.map(|it| (it.at, it.why.to_string())).collect()
}

#[test]
fn a_recording_replays_with_its_forecast_and_with_another() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = |name: &str| directory.path().join(name);
    let whole = path("whole.log");
    write(&whole, &[head(1, Some(front())), inputs(None)].concat());
    let called = replayed(std::slice::from_ref(&whole), None);
    assert!(!called.is_empty());

    // Entered on the way: an input, not in the head.
    let entered = path("entered.log");
    write(&entered, &[head(1, None), inputs(Some(front()))].concat());
    assert_eq!(replayed(std::slice::from_ref(&entered), None), called);

    // What would have been without, and with it where there was none.
    assert_eq!(replayed(&[whole], Some(None)), []);
    let none = path("none.log");
    write(&none, &[head(1, None), inputs(None)].concat());
    assert_eq!(replayed(std::slice::from_ref(&none), None), []);
    assert_eq!(replayed(&[none], Some(Some(front()))), called);
}

#[test]
fn the_head_of_a_later_part_does_not_begin_the_forecast_anew() {
    let directory = tempfile::tempdir().expect("a directory");
    let path = |name: &str| directory.path().join(name);
    let inputs = inputs(None);
    let whole = path("whole.log");
    write(&whole, &[head(1, Some(front())), inputs.clone()].concat());
    let (first, second) = inputs.split_at(inputs.len() / 2);
    let parts = [path("run-1-part-1.log"), path("run-1-part-2.log")];
    write(&parts[0], &[&head(1, Some(front())), first].concat());
    write(&parts[1], &[&head(2, Some(front())), second].concat());
    assert_eq!(replayed(&parts, None), replayed(&[whole], None));
}
