//! What a fitter does: asks what a board needs, writes a first boat file, and
//! starts a watch on a computer that has none of it yet.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use serde_json::Value;

use super::stage::{Plug, Says, Stage, Watch, words};
use super::{cringle, program};

/// An instrument that speaks until the test has ended.
fn speaking(stage: &Stage) -> PathBuf {
    let mut plug: Plug = stage.plug_in();
    std::thread::spawn(move || {
        loop {
            plug.say(Says::Wind);
            plug.say(Says::Heel);
            std::thread::sleep(Duration::from_millis(20));
        }
    });
    directory(stage).join("mast")
}

fn directory(stage: &Stage) -> PathBuf {
    stage.state().parent().unwrap().to_owned()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_board_without_its_devices_is_told_what_to_mend() {
    let root = tempfile::tempdir().unwrap();
    let root = text(root.path());
    let output = cringle(&["check", "--board", "cockpit-oled", "--root", root]);
    assert_eq!(output.status.code(), Some(1));
    let told = words(&output.stderr);
    for (what, mend) in [
        ("/dev/i2c-1 for the panel is not there", "i2c"),
        ("/dev/gpiochip0", "gpioinfo"),
        ("/dev/cringle/instruments", "udev"),
    ] {
        let is_told = |line: &str| line.contains(what) && line.contains(mend);
        assert!(told.lines().any(is_told), "{what}: {told}");
    }
    let json = cringle(&["check", "--json", "--board", "cockpit-oled", "--root", root]);
    let lines = words(&json.stdout);
    assert_eq!(lines.lines().count(), 3, "{lines}");
    for line in lines.lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        assert_eq!(line["kind"], "missing");
    }
}

#[test]
fn a_board_that_needs_nothing_is_well_and_a_broken_file_is_a_matter_of_input() {
    let directory = tempfile::tempdir().unwrap();
    let bare = directory.path().join("bare.toml");
    fs::write(&bare, "format = 1\nname = \"bare\"\n").unwrap();
    let output = cringle(&["check", "--board", text(&bare)]);
    assert_eq!(output.status.code(), Some(0), "{}", words(&output.stderr));

    let broken = directory.path().join("broken.toml");
    fs::write(&broken, "format = 1\nname = \"x\"\npanle = 3\n").unwrap();
    let output = cringle(&["check", "--board", text(&broken)]);
    assert_eq!(output.status.code(), Some(2));
    let told = words(&output.stderr);
    assert!(told.contains("broken.toml:3: panle"), "{told}");

    let account = ["check", "--board", text(&bare), "--account", "nobody-here"];
    let root = ["--root", text(directory.path())];
    let output = cringle(&[&account[..], &root[..]].concat());
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(cringle(&["check"]).status.code(), Some(2));
}

#[test]
fn a_watch_goes_on_without_its_board_and_says_what_is_missing() {
    if Path::new("/dev/i2c-1").exists() {
        println!("skipped: this computer has an I2C bus");
        return;
    }
    let stage = Stage::new();
    let boat = directory(&stage).join("boat.toml");
    let with_board = fs::read_to_string(&boat).unwrap().replacen(
        "format = 1",
        "format = 1\nboard = \"cockpit-oled\"",
        1,
    );
    fs::write(&boat, with_board).unwrap();
    speaking(&stage);
    let mut watch = Watch::start(program(), &stage);
    watch.told_about("panel on /dev/i2c-1 cannot be opened");
    watch.event(|event| event["event"] == "source");
    watch.end();
    let log = fs::read_to_string(stage.state().join("events.jsonl")).unwrap();
    let faults: Vec<Value> = log
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .filter(|event: &Value| event["fault"] == "device")
        .collect();
    for device in ["panel", "keys", "sounder buzzer"] {
        let is_of = |event: &Value| event["why"].as_str().unwrap().contains(device);
        assert!(
            faults.iter().any(is_of),
            "{device} is not in the log: {log}"
        );
    }
}

#[test]
fn a_board_that_is_not_known_stops_the_watch_before_it_begins() {
    let output = cringle(&["watch", "--board", "nowhere", "--port", "-"]);
    assert_eq!(output.status.code(), Some(2));
    let stage = Stage::new();
    let boat = directory(&stage).join("boat.toml");
    let boat = [
        "watch",
        "--boat",
        text(&boat),
        "--board",
        "nowhere",
        "--port",
        "-",
    ];
    let told = words(&cringle(&boat).stderr);
    assert!(told.contains("cockpit-oled"), "{told}");
}

#[test]
fn without_a_terminal_setup_names_the_flags_that_are_missing() {
    let directory = tempfile::tempdir().unwrap();
    let boat = directory.path().join("boat.toml");
    let output = silent(&["setup", "--boat", text(&boat), "--name", "Wagtail"]);
    assert_eq!(output.status.code(), Some(2));
    let told = words(&output.stderr);
    for flag in [
        "--port",
        "--ladder",
        "--on-deck",
        "--below",
        "--masthead",
        "--yes",
    ] {
        assert!(told.contains(flag), "{flag}: {told}");
    }
    assert!(!told.contains("--name,"), "it was given: {told}");
    assert!(!boat.exists());
}

#[test]
fn setup_takes_no_deck_without_people() {
    let directory = tempfile::tempdir().unwrap();
    let boat = directory.path().join("boat.toml");
    let output = silent(&["setup", "--yes", "--boat", text(&boat), "--on-deck", "0"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(words(&output.stderr).contains("nobody on deck"));
    assert!(!boat.exists());
}

fn silent(arguments: &[&str]) -> Output {
    program()
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

#[test]
fn setup_by_flags_hears_the_port_and_replaces_nothing_unasked() {
    let stage = Stage::new();
    let port = format!("mast=serial:{}", speaking(&stage).display());
    let boat = directory(&stage).join("first.toml");
    let setup = |name: &str, more: &[&str]| {
        let arguments = ["setup", "--boat", text(&boat), "--yes", "--port", &port];
        let answers = ["--name", name, "--ladder", "ketch", "--listen", "2"];
        silent(&[&arguments[..], &answers[..], more].concat())
    };
    let output = setup("Wagtail", &[]);
    let told = words(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{told}");
    assert!(told.contains("WIMWV") && told.contains("YXXDR"), "{told}");
    assert!(told.contains("baud=4800: "), "{told}");
    let file = cringle_boat::load(&boat).unwrap();
    assert_eq!(file.boat.name.as_str(), "Wagtail");
    assert_eq!(file.ports[0].port.name, "mast");

    let again = setup("Curlew", &[]);
    assert_eq!(again.status.code(), Some(2));
    assert!(words(&again.stderr).contains("--force"));
    assert_eq!(cringle_boat::load(&boat).unwrap(), file);

    assert_eq!(setup("Curlew", &["--force"]).status.code(), Some(0));
    let file = cringle_boat::load(&boat).unwrap();
    assert_eq!(file.boat.name.as_str(), "Curlew");
}

#[test]
fn setup_asks_on_a_terminal_and_writes_the_answers() {
    let stage = Stage::new();
    let port = format!("mast=serial:{}", speaking(&stage).display());
    let boat = directory(&stage).join("asked.toml");
    let (mut keyboard, terminal) = terminal();
    let answers = [
        &port,
        "cutter",
        "Wagtail",
        "2",
        "",
        "tall",
        "18,5",
        "cockpit-oled",
    ];
    keyboard
        .write_all((answers.join("\n") + "\n").as_bytes())
        .unwrap();
    let output = program()
        .args(["setup", "--listen", "2", "--boat", text(&boat)])
        .stdin(terminal)
        .stderr(Stdio::piped())
        .output()
        .unwrap();
    let told = words(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{told}");
    assert!(told.contains("\"tall\" is not a number"), "{told}");
    assert!(told.contains("WIMWV"), "{told}");
    let file = cringle_boat::load(&boat).unwrap();
    assert_eq!(file.boat.name.as_str(), "Wagtail");
    assert_eq!(file.board.as_deref(), Some("cockpit-oled"));
    assert_eq!(file.boat.start.hands.on_deck, 2);
    assert_eq!(file.boat.instruments.masthead_height.unwrap().get(), 18.5);
    assert_eq!(file.boat.ladder.plans.len(), cutter_plans());
}

fn cutter_plans() -> usize {
    let cutter = cringle_boat::TEMPLATES
        .iter()
        .find(|it| it.kind == "cutter");
    let file = cringle_boat::parse("cutter", cutter.unwrap().text).unwrap();
    file.boat.ladder.plans.len()
}

/// The two ends of a terminal.
fn terminal() -> (File, Stdio) {
    let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
    let master = openpt(flags).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let slave = ptsname(&master, Vec::new()).unwrap();
    let mut open = OpenOptions::new();
    let slave = open
        .read(true)
        .write(true)
        .open(slave.to_str().unwrap())
        .unwrap();
    (File::from(master), Stdio::from(slave))
}
