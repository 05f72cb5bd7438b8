//! The program as a person meets it: arguments, exit codes, the demo, and a
//! watch on a real pseudo-terminal.

mod fitting;
mod stage;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use stage::{Says, Watch, words};

fn cringle(arguments: &[&str]) -> Output {
    program().args(arguments).output().unwrap()
}

fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_cringle"));
    program.env_remove("CRINGLE_BOAT").env_remove("RUST_LOG");
    program
}

fn events(lines: &str) -> Vec<Value> {
    let parse = |line| serde_json::from_str(line).unwrap();
    lines.lines().map(parse).collect()
}

fn files_in(directory: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(directory).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    // The number of the newest run is hidden beside them.
    let mut files: Vec<_> = paths.filter(|path| path.extension().is_some()).collect();
    files.sort();
    files
}

fn boat_file(directory: &Path, text: &str) -> String {
    let path = directory.join("boat.toml");
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn watch_without_a_boat_file_refuses_and_says_how_to_give_one() {
    if Path::new("/etc/cringle/boat.toml").exists() {
        println!("skipped: this computer has a boat file of its own");
        return;
    }
    let output = cringle(&["watch", "--port", "-"]);
    assert_eq!(output.status.code(), Some(2));
    let told = words(&output.stderr);
    assert!(
        told.contains("--boat") && told.contains("CRINGLE_BOAT"),
        "{told}"
    );
}

#[test]
fn every_error_of_a_boat_file_is_named_at_once() {
    let directory = tempfile::tempdir().unwrap();
    let wrong = cringle_boat::example_text()
        .replacen("area_m2 = 71", "area_m2 = -71", 1)
        .replacen("short = \"3 reefs\"", "shrt = \"3 reefs\"", 1);
    let path = boat_file(directory.path(), &wrong);
    for command in [vec!["check", &path], vec!["watch", "--boat", &path]] {
        let output = cringle(&command);
        assert_eq!(output.status.code(), Some(2), "{command:?}");
        let told = words(&output.stderr);
        for key in ["area_m2", "shrt"] {
            let named = |line: &str| line.contains("boat.toml:") && line.contains(key);
            assert!(told.lines().any(named), "{key} is not named: {told}");
        }
    }
}

#[test]
fn check_finds_the_boat_file_as_other_commands_do_and_tells_call_times() {
    let directory = tempfile::tempdir().unwrap();
    let path = boat_file(directory.path(), cringle_boat::example_text());
    let bare = cringle(&["check", &path]);
    let table = words(&bare.stdout);
    for word in ["by day", "by night", "alone", "->"] {
        assert!(table.contains(word), "{table}");
    }
    let named = cringle(&["check", "--boat", &path]);
    let by_variable = program()
        .env("CRINGLE_BOAT", &path)
        .arg("check")
        .output()
        .unwrap();
    for output in [named, by_variable] {
        assert_eq!(output.status.code(), bare.status.code());
        assert_eq!(words(&output.stdout), table);
    }
    let json = words(&cringle(&["check", "--json", &path]).stdout);
    let times: Vec<_> = events(&json)
        .into_iter()
        .filter(|line| line["kind"] == "call_time")
        .collect();
    let known = times.iter().filter(|time| time["by_day_min"].is_f64());
    assert!(known.count() > 3, "{json}");
    for time in times {
        let [day, night] = ["by_day_min", "by_night_min"].map(|key| time[key].as_f64());
        assert!(night.is_none() || night >= day, "{time}");
    }
}

/// A watch once started without a word on a file that `check` faulted.
#[test]
fn every_command_gives_the_same_verdict_on_a_boat_file() {
    let directory = tempfile::tempdir().unwrap();
    let spoilt = cringle_boat::example_text().replacen("mean_kn = 14", "mean_kn = 0", 1);
    let path = boat_file(directory.path(), &spoilt);
    let state = directory.path().join("state");
    let state = state.to_str().unwrap();
    let fault = "plan[1].close_hauled: a limit of 0.0 kn is passed in any wind";
    for (command, code) in [
        (vec!["check", &path], 1),
        (
            vec!["watch", "--boat", &path, "--port", "-", "--state", state],
            0,
        ),
        (vec!["census", "--boat", &path, "--port", "-"], 0),
    ] {
        let output = cringle(&command);
        let told = words(&output.stderr);
        assert!(told.contains(fault), "{command:?}: {told}");
        assert_eq!(output.status.code(), Some(code), "{command:?}: {told}");
    }
    let boardless = spoilt.replacen("format = 1", "format = 1\nboard = \"nowhere\"", 1);
    let path = boat_file(directory.path(), &boardless);
    let output = cringle(&["check", &path]);
    let told = words(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains(": fault: board: cannot be used"), "{told}");
}

#[test]
fn a_wrong_port_or_argument_is_a_matter_of_usage() {
    for wrong in [
        vec!["watch", "--port", "usb:/dev/ttyUSB0"],
        vec!["replay"],
        vec!["hoist"],
        vec!["screen", "--moment", "nonsense"],
    ] {
        assert_eq!(cringle(&wrong).status.code(), Some(2), "{wrong:?}");
    }
}

#[test]
fn the_demo_calls_and_its_recording_replays_to_the_very_same_lines() {
    let directory = tempfile::tempdir().unwrap();
    let png = directory.path().join("screen.png");
    let recordings = directory.path().join("recordings");
    let output = program()
        .arg("--json")
        .arg("--png")
        .arg(&png)
        .arg("--record")
        .arg(&recordings)
        .output()
        .unwrap();
    let told = words(&output.stderr);
    assert!(output.status.success(), "{told}");
    assert!(told.contains(png.to_str().unwrap()));
    assert!(std::fs::read(&png).unwrap().starts_with(b"\x89PNG"));

    let live = words(&output.stdout);
    let events = events(&live);
    let changed = events.iter().position(|event| event["event"] == "plan");
    let changed = changed.expect("no plan was ever changed");
    let called = ["prepare", "reduce"].map(|call| {
        let is_it = |event: &Value| event["event"] == "call" && event["call"] == call;
        let place = events.iter().position(is_it);
        place.unwrap_or_else(|| panic!("never {call}: {live}"))
    });
    assert!(called.is_sorted() && called[1] < changed, "{live}");
    assert!(events[called[0]]["minutes_in_hand"].as_f64() > Some(0.0));
    let next_set_up = events.iter().skip(changed).find(|it| it["event"] == "hint");
    assert_eq!(
        next_set_up.expect("no set-up is listed")["hint"],
        "open_setup"
    );

    let mut replay = program();
    replay
        .arg("replay")
        .arg("--json")
        .args(files_in(&recordings));
    let replay = replay.output().unwrap();
    assert!(replay.status.success(), "{}", words(&replay.stderr));
    assert_eq!(words(&replay.stdout), live);
}

#[test]
fn the_demo_over_udp_tells_the_same_story_as_over_serial_lines() {
    let directory = tempfile::tempdir().unwrap();
    let png = directory.path().join("screen.png");
    let tell = |more: &[&str]| {
        let mut program = program();
        program.arg("--json").arg("--png").arg(&png).args(more);
        let output = program.output().unwrap();
        assert!(output.status.success(), "{}", words(&output.stderr));
        words(&output.stdout)
    };
    let serial = tell(&[]);
    assert!(events(&serial).iter().any(|it| it["event"] == "plan"));
    assert_eq!(tell(&["--udp"]), serial);
}

#[test]
fn a_watch_survives_a_pulled_plug_and_its_recording_tells_the_same() {
    let stage = stage::Stage::new();
    let mut plug = stage.plug_in();
    let mut watch = Watch::start(program(), &stage);
    watch.told_about("port mast is open");
    // Refused again and again, while the other port goes on.
    watch.told_about("port gone: ");

    plug.say(Says::Wind);
    let heard = watch.event(|event| event["event"] == "source");
    assert_eq!(heard["quantity"], "apparent wind");
    assert_eq!(heard["source"], "WIMWV on mast");
    drop(plug);
    watch.told_about("port mast: hung up");
    let mut plug = stage.plug_in();
    watch.told_about("port mast is open");
    plug.say(Says::Heel);
    let heard = watch.event(|event| event["event"] == "source" && event["quantity"] == "heel");
    assert_eq!(heard["source"], "YXXDR on mast");

    let live = watch.end();
    let recordings = files_in(&stage.state().join("recordings"));
    let mut replay = program();
    replay.arg("replay").arg("--json").args(recordings);
    assert_eq!(words(&replay.output().unwrap().stdout), live);
    let log = std::fs::read_to_string(stage.state().join("events.jsonl")).unwrap();
    assert_eq!(log, live);
}

#[test]
fn garbage_and_absurd_values_never_reach_the_wind() {
    let directory = tempfile::tempdir().unwrap();
    let log = directory.path().join("garbage.nmea");
    let mut bytes = Vec::new();
    for second in 0..60 {
        bytes.extend_from_slice(stage::rmc(second).as_bytes());
        for body in [
            "WIMWV,214.8,R,999.9,N,A",
            "WIMWV,400.0,R,15.6,N,A",
            "WIMWV,nan,R,inf,N,A",
        ] {
            bytes.extend_from_slice(stage::seal(body).as_bytes());
        }
        // Wrong checksum, none, cut, high bits, too long.
        bytes.extend_from_slice(b"$WIMWV,214.8,R,15.6,N,A*1F\r\n$WIMWV,214.8,R,15.6,N,A\r\n");
        bytes.extend_from_slice(b"$WIMWV,214.8,R,\r\n\xff\xfe$WIM\xffWV,214.8,R,15.6,N,A*1E\r\n");
        bytes.extend_from_slice(&[b'$'; 3000]);
    }
    std::fs::write(&log, bytes).unwrap();
    let output = cringle(&["replay", "--json", log.to_str().unwrap()]);
    assert!(output.status.success());
    for event in events(&words(&output.stdout)) {
        assert_ne!(event["quantity"], "apparent wind", "{event}");
        assert!(event["tws_mean_1min_kn"].is_null(), "{event}");
    }
    // And the census finds it wanting.
    let census = cringle(&["census", "--json", log.to_str().unwrap()]);
    assert_eq!(census.status.code(), Some(1));
    let rows = events(&words(&census.stdout));
    let wind = rows.iter().find(|row| row["sentence"] == "MWV").unwrap();
    assert_eq!(wind["feeds"], serde_json::json!([]));
    assert!(
        wind["out_of_range"].as_u64() > Some(0) && wind["checksum_failures"].as_u64() > Some(0)
    );
    assert!(rows.iter().any(|row| row["hint"].is_string()));
}
