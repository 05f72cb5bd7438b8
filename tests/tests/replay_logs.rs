//! Recordings and foreign logs through the same core: whatever form the same
//! inputs have, the same events come out.

use std::io::Write;
use std::path::{Path, PathBuf};

use cringle::events::event_line;
use cringle::ports::PortId;
use cringle::recorder::lines::{Entry, FORMAT};
use cringle::replay::Replay;
use cringle_core::act::Act;
use cringle_core::time::Timestamp;

/// A sentence with its checksum.
fn seal(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

/// Ten minutes of an instrument: wind, heel and log each second.
fn sentences() -> Vec<(Timestamp, String)> {
    let mut sentences = Vec::new();
    for second in 0..600 {
        let wind = 10.0 + f64::from(second) / 60.0;
        for (place, body) in [
            format!("WIMWV,045.0,R,{wind:.1},N,A"),
            "YXXDR,A,12.4,D,HEEL".to_owned(),
            "VWVHW,,T,,M,6.50,N,12.04,K".to_owned(),
        ]
        .into_iter()
        .enumerate()
        {
            let millis = u64::from(second as u32) * 1000 + place as u64 * 100;
            sentences.push((Timestamp::from_millis(millis), seal(&body)));
        }
    }
    sentences
}

fn recording() -> Vec<Entry> {
    let boat = cringle_boat::example_text().lines();
    let mut entries = vec![
        Entry::Format(FORMAT),
        Entry::Part { run: 1, part: 1 },
        Entry::Port(PortId(0), "mast".into()),
    ];
    entries.extend(boat.map(|line| Entry::Boat(line.into())));
    entries.push(Entry::Start(Timestamp::ZERO));
    for (at, line) in sentences() {
        entries.push(Entry::Heard {
            port: PortId(0),
            at,
            unix_ms: None,
            line: line.into_bytes(),
        });
    }
    let end = Timestamp::from_secs(600);
    entries.push(Entry::Act(end, Act::PlanDown));
    entries.push(Entry::End(end));
    entries
}

fn write(path: &Path, entries: &[Entry]) {
    let bytes: Vec<u8> = entries.iter().flat_map(Entry::write).collect();
    std::fs::write(path, bytes).unwrap();
}

/// All event lines, and what was said at the end.
fn replayed(paths: &[PathBuf]) -> (Vec<String>, Vec<String>) {
    let example = || cringle::boatfile::example();
    let mut replay = Replay::open(paths, None, example, 4800).unwrap();
    let names = replay.names();
    let mut engine = replay.engine();
    let mut lines = Vec::new();
    while let Some((at, input)) = replay.next_input().unwrap() {
        engine.take(at, &input);
        lines.extend(
            engine
                .events()
                .iter()
                .map(|event| event_line(event, &names)),
        );
    }
    (lines, replay.last_remarks())
}

#[test]
fn a_recording_tells_the_same_whole_packed_or_in_parts() {
    let directory = tempfile::tempdir().unwrap();
    let path = |name: &str| directory.path().join(name);
    let entries = recording();
    write(&path("whole.log"), &entries);
    let (whole, remarks) = replayed(&[path("whole.log")]);
    assert!(whole.iter().any(|line| line.contains(r#""event":"plan""#)));
    assert_eq!(remarks, [""; 0]);

    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packed
        .write_all(&std::fs::read(path("whole.log")).unwrap())
        .unwrap();
    std::fs::write(path("whole.log.gz"), packed.finish().unwrap()).unwrap();
    assert_eq!(replayed(&[path("whole.log.gz")]).0, whole);

    let start = entries
        .iter()
        .position(|it| matches!(it, Entry::Start(_)))
        .unwrap();
    let (first, second) = entries.split_at(start + 700);
    let mut head = first[..=start].to_vec();
    head[1] = Entry::Part { run: 1, part: 2 };
    head.extend_from_slice(second);
    write(&path("run-000001-part-0001.log"), first);
    write(&path("run-000001-part-0002.log"), &head);
    // Given in any order.
    let parts = [2, 1].map(|part| path(&format!("run-000001-part-000{part}.log")));
    assert_eq!(replayed(&parts).0, whole);
}

#[test]
fn a_damaged_line_is_counted_and_the_rest_is_heard() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("damaged.log");
    write(&path, &recording());
    let mut bytes = std::fs::read(&path).unwrap();
    let at = bytes.len() - 30;
    // In the act before the end.
    let act = bytes.windows(4).rposition(|word| word == b"#act").unwrap();
    assert!(act < at);
    bytes[act + 6] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let (lines, remarks) = replayed(&[path]);
    assert!(!lines.iter().any(|line| line.contains(r#""event":"plan""#)));
    assert!(!lines.is_empty());
    assert_eq!(remarks, ["1 lines of the recording are damaged"]);
}

#[test]
fn a_log_of_bare_lines_says_where_its_time_came_from() {
    let directory = tempfile::tempdir().unwrap();
    let mut bare = String::new();
    let mut stamped = String::new();
    for (at, line) in sentences() {
        bare += &format!("{line}\r\n");
        stamped += &format!(
            "{}.{:03} {line}\n",
            1_764_050_000 + at.as_millis() / 1000,
            at.as_millis() % 1000
        );
    }
    let write = |name: &str, words: &str| {
        let path = directory.path().join(name);
        std::fs::write(&path, words).unwrap();
        path
    };
    let (lines, remarks) = replayed(&[write("bare.nmea", &bare)]);
    assert!(lines.iter().any(|line| line.contains("apparent wind")));
    assert!(
        remarks.iter().any(|it| it.contains("rate of the line")),
        "{remarks:?}"
    );

    let (lines, remarks) = replayed(&[write("stamped.nmea", &stamped)]);
    assert!(
        remarks.iter().any(|it| it.contains("UNIX seconds")),
        "{remarks:?}"
    );
    // Its time is the events' time.
    assert!(lines[0].contains(r#""t":176405000"#), "{}", lines[0]);
}

#[test]
fn a_newer_recording_is_refused_rather_than_guessed_at() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("newer.log");
    write(&path, &[Entry::Format(FORMAT + 1)]);
    let example = || cringle::boatfile::example();
    assert!(Replay::open(&[path], None, example, 4800).is_err());
}
