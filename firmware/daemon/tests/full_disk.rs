//! A disk that is really full: what cannot be written is counted and told,
//! the watch goes on, and so does the writing once there is room.

mod stage;

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use cringle::ports::PortId;
use cringle::recorder::lines::Entry;
use cringle::recorder::read::Recording;
use cringle::recorder::{Recorder, Settings};
use cringle::store::{EVENT_LOG, Store, Urgency};
use cringle_core::time::Timestamp;
use stage::{Says, Stage, Watch, words};

/// A small file system in memory, for as long as the test needs it.
struct Small {
    place: PathBuf,
}

impl Small {
    /// Only the system's owner may make one.
    fn at(place: &Path) -> Option<Small> {
        if !rustix::process::geteuid().is_root() {
            println!("skipped: only root can make a small file system");
            return None;
        }
        std::fs::create_dir_all(place).unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=128k", "small"])
            .arg(place)
            .output();
        match mount {
            Ok(output) if output.status.success() => Some(Small {
                place: place.to_owned(),
            }),
            Ok(output) => {
                println!("skipped: no mount: {}", words(&output.stderr));
                None
            }
            Err(error) => {
                println!("skipped: no mount: {error}");
                None
            }
        }
    }

    fn filler(&self) -> PathBuf {
        self.place.join("filler")
    }

    /// Leaves no byte.
    fn fill(&self) {
        let mut filler = File::create(self.filler()).unwrap();
        while filler.write_all(&[0; 512]).is_ok() {}
    }

    fn make_room(&self) {
        std::fs::remove_file(self.filler()).unwrap();
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        // Lazily: whatever a failed test left open must not keep it.
        Command::new("umount")
            .arg("-l")
            .arg(&self.place)
            .status()
            .ok();
    }
}

/// Waits, but not for ever.
#[track_caller]
fn until(mut is_so: impl FnMut() -> bool) {
    for _ in 0..3000 {
        if is_so() {
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    panic!("it never came to that");
}

fn heard(number: u64) -> Entry {
    Entry::Heard {
        port: PortId(0),
        at: Timestamp::from_millis(number),
        unix_ms: None,
        line: b"$WIMWV,214.8,R,15.6,N,A*1E".to_vec(),
    }
}

/// The parts of recordings in a directory, in order.
fn parts_in(directory: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(directory).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    // The number of the newest run stands beside them, hidden.
    let mut parts: Vec<_> = paths.filter(|path| path.extension().is_some()).collect();
    parts.sort();
    parts
}

/// Records so many more.
fn record(recorder: &Recorder, number: &mut u64, count: u64) {
    for _ in 0..count {
        *number += 1;
        recorder.record(Timestamp::from_millis(*number), &heard(*number));
    }
}

#[test]
fn a_recording_stops_on_a_full_disk_goes_on_with_room_and_counts_what_is_lost() {
    let directory = tempfile::tempdir().unwrap();
    let Some(small) = Small::at(directory.path()) else {
        return;
    };
    let recordings = directory.path().join("recordings");
    let recorder = Recorder::start(
        Settings {
            keep_free_bytes: 0,
            retry: Duration::from_millis(20),
            ..Settings::new(recordings.clone())
        },
        vec![
            Entry::Port(PortId(0), "mast".into()),
            Entry::Start(Timestamp::ZERO),
        ],
    );
    let mut number = 0;
    record(&recorder, &mut number, 10);
    recorder.sync();
    until(|| recorder.state().path.is_some());
    small.fill();
    until(|| {
        record(&recorder, &mut number, 50);
        recorder.state().fault.is_some()
    });
    let fault = recorder.state().fault.unwrap();
    assert!(fault.contains("No space left"), "{fault}");
    // Tried again and again, and no empty part is left of it.
    let lost = recorder.state().lost;
    until(|| {
        record(&recorder, &mut number, 1);
        recorder.state().lost > lost + 20
    });
    assert_eq!(parts_in(&recordings).len(), 1);

    small.make_room();
    until(|| {
        record(&recorder, &mut number, 1);
        recorder.state().fault.is_none()
    });
    record(&recorder, &mut number, 10);
    let state = recorder.end(Timestamp::from_millis(number));
    assert_eq!(state.fault, None);

    let files = parts_in(&recordings);
    assert_eq!(files.len(), 2, "{files:?}");
    let mut recording = Recording::open(&files).unwrap();
    recording.head().unwrap();
    let mut read = Vec::new();
    while let Some(entry) = recording.input().unwrap() {
        if let Entry::Heard { at, .. } = entry {
            read.push(at.as_millis());
        }
    }
    assert!(read.is_sorted() && read.last() == Some(&number));
    let kept = read.len() as u64;
    let damage = recording.damage();
    // What was half written may be counted as lost and be there all the same.
    assert!(kept < number && kept + damage.lost >= number, "{damage:?}");
    assert_eq!((damage.lost, damage.parts), (state.lost, 0));
}

#[test]
fn the_event_log_goes_on_once_there_is_room() {
    let directory = tempfile::tempdir().unwrap();
    let Some(small) = Small::at(directory.path()) else {
        return;
    };
    let store = Store::start(directory.path().to_owned(), None);
    store.event("{\"seq\":1}".into(), Urgency::Now);
    let log = directory.path().join(EVENT_LOG);
    until(|| log.exists());
    small.fill();
    let mut written = 1;
    until(|| {
        written += 1;
        store.event(format!("{{\"seq\":{written}}}"), Urgency::Now);
        store.fault().is_some()
    });
    assert!(store.fault().unwrap().contains("No space left"));
    small.make_room();
    until(|| {
        written += 1;
        store.event(format!("{{\"seq\":{written}}}"), Urgency::Now);
        store.fault().is_none()
    });
    drop(store);
    let words = std::fs::read_to_string(log).unwrap();
    assert_eq!(words.lines().next(), Some("{\"seq\":1}"));
    let last = format!("{{\"seq\":{written}}}");
    assert_eq!(words.lines().last(), Some(last.as_str()));
}

#[test]
fn a_watch_goes_on_though_nothing_can_be_kept_and_says_so() {
    let stage = Stage::new();
    let Some(small) = Small::at(&stage.state()) else {
        return;
    };
    small.fill();
    let mut plug = stage.plug_in();
    let mut watch = Watch::start(Command::new(env!("CARGO_BIN_EXE_cringle")), &stage);
    watch.told_about_all(&["recording stopped: No space left", "port mast is open"]);
    plug.say(Says::Wind);
    let heard = watch.event(|event| event["event"] == "source");
    assert_eq!(heard["quantity"], "apparent wind");
    let (_, told) = watch.end_told();
    for fault in ["recordings: No space left", "cannot be written: No space"] {
        assert!(
            told.iter()
                .any(|line| line.contains("at the end") && line.contains(fault)),
            "{fault}: {told:?}"
        );
    }
}
