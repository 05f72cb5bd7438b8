//! The bench with a stand-in for the daemon: a script that says what it was
//! started with, tells one call over and over, and serves no page.

use std::fs;
use std::net::SocketAddr;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use cringle_sim::bench::client::{Answer, get, post};
use cringle_sim::bench::{Bench, Daemon, Options, routes, start};
use cringle_sim::faults::{Fault, FaultKind};
use cringle_sim::scenario::Scenario;
use serde_json::{Value, json};
use tempfile::TempDir;

/// Longer than any of this takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

const TELLS: &str = r#"#!/bin/sh
echo "$@" >> "$(dirname "$0")/started"
trap 'echo in good order >> "$(dirname "$0")/ended"; exit 0' TERM
echo "nobody serves a page here" >&2
while :; do
    echo '{"v":1,"event":"call","call":"prepare","plan":"full","up_s":1.0}'
    sleep 0.2
done
"#;

const FALLS: &str = "#!/bin/sh\necho 'no such boat' >&2\nexit 2\n";

struct Stage {
    folder: TempDir,
    page: SocketAddr,
    daemon: Arc<Daemon>,
}

impl Drop for Stage {
    fn drop(&mut self) {
        self.daemon.end();
    }
}

impl Stage {
    fn with(script: &str) -> Self {
        let scenario = Scenario::builtin("rising-breeze").expect("built in");
        Self::sailing(script, scenario)
    }

    fn sailing(script: &str, scenario: Scenario) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let program = folder.path().join("stand-in");
        fs::write(&program, script).expect("written");
        fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).expect("may be run");
        let options = Options {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            program: Some(program),
            recordings: folder.path().join("recordings"),
            seed: 1,
        };
        let bench = start(scenario, &options, folder.path()).expect("a bench");
        let daemon = Arc::clone(&bench.daemon);
        let page = serve(bench);
        Self {
            folder,
            page,
            daemon,
        }
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.folder.path().join(name)).unwrap_or_default()
    }

    fn get(&self, path: &str) -> Answer {
        get(self.page, path).expect("an answer")
    }

    fn json(&self, path: &str) -> Value {
        serde_json::from_slice(&self.get(path).body).expect("JSON")
    }

    #[track_caller]
    fn turn(&self, turn: &Value) {
        let answer = post(self.page, "/turn", &turn.to_string()).expect("an answer");
        assert_eq!(answer.status, 204, "{turn}");
    }

    /// Waits until the state of the bench is as wanted.
    #[track_caller]
    fn wait(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        wait(|| Some(self.json("/state")).filter(|state| wanted(state)))
    }
}

#[track_caller]
fn wait<T>(mut look: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + PATIENCE;
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(Instant::now() < until, "waited in vain");
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn serve(bench: Bench) -> SocketAddr {
    let (tell, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .expect("a runtime");
        runtime.block_on(async move {
            let listener = tokio::net::TcpListener::bind("127.0.0.1:0")
                .await
                .expect("bound");
            let _ = tell.send(listener.local_addr().expect("an address"));
            let _ = axum::serve(listener, routes(bench)).await;
        });
    });
    told.recv().expect("served")
}

fn exists(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

#[test]
fn the_daemon_is_started_as_aboard_and_started_again_to_record() {
    let stage = Stage::with(TELLS);
    let started = wait(|| Some(stage.read("started")).filter(|text| text.ends_with('\n')));
    assert!(started.contains("watch --json --boat"), "{started}");
    let mast = stage.folder.path().join("lines/mast");
    let port = format!("--port mast=serial:{}?baud=4800", mast.display());
    assert!(started.contains(&port) && exists(&mast), "{started}");
    assert!(started.contains("--no-record"), "{started}");

    let text = stage.read("boat.toml");
    let file = cringle_boat::parse("boat.toml", &text).expect("a sound boat file");
    assert!(file.page.listen.is_some_and(|page| page.ip().is_loopback()));
    assert!(file.page.key.is_some_and(|key| key.len() == 32));

    // The stand-in has its trap set once it talks.
    wait(|| Some(()).filter(|()| stage.json("/events")["next"] != 0));
    let answer = post(stage.page, "/record", r#"{"state":"on"}"#).expect("an answer");
    assert_eq!(answer.status, 204);
    let started = wait(|| Some(stage.read("started")).filter(|text| text.lines().count() == 2));
    assert_eq!(stage.read("ended"), "in good order\n");
    let last = started.lines().last().unwrap_or_default();
    assert!(
        last.contains("--record") && last.contains("recordings"),
        "{last}"
    );
    assert!(stage.json("/state")["recording"].as_bool() == Some(true));

    // A full disk is played by a demand for more room than there is.
    stage.turn(&json!({"turn": "fault", "kind": "disk-full", "target": "all", "state": "on"}));
    let started = wait(|| Some(stage.read("started")).filter(|text| text.lines().count() == 3));
    let last = started.lines().last().unwrap_or_default();
    assert!(
        last.contains("--record") && last.contains("--keep-free"),
        "{last}"
    );
}

#[test]
fn a_story_that_fills_the_disk_fills_the_daemons() {
    let mut scenario = Scenario::builtin("pulled-plug").expect("built in");
    let is_disk = |fault: &&mut Fault| fault.kind == FaultKind::DiskFull;
    let mut faults = scenario.fault.iter_mut();
    let fault = faults.find(is_disk).expect("it fills the disk");
    // A few seconds from its start.
    (fault.from_min, fault.to_min) = (0.02, 0.08);
    let stage = Stage::sailing(TELLS, scenario);
    let started = |lines| {
        let so_many = |text: &String| text.lines().count() == lines;
        wait(|| Some(stage.read("started")).filter(so_many))
    };
    assert!(!started(1).contains("--keep-free"));
    let full = started(2);
    assert!(
        full.lines()
            .last()
            .unwrap_or_default()
            .contains("--keep-free")
    );
    let room = started(3);
    assert!(
        !room
            .lines()
            .last()
            .unwrap_or_default()
            .contains("--keep-free")
    );
}

#[test]
fn what_is_turned_on_the_page_happens_at_sea() {
    let stage = Stage::with(TELLS);
    stage.turn(&json!({"turn": "wind", "added_kn": 12, "turned_deg": 0}));
    stage.turn(&json!({"turn": "heel", "leaned_deg": -9}));
    stage.turn(&json!({"turn": "course", "by": "wind", "angle_deg": -100}));
    stage.turn(&json!({"turn": "hour", "hour": 23.5}));
    let fault = json!({"turn": "fault", "kind": "stuck-vane", "target": "masthead", "state": "on"});
    stage.turn(&fault);
    // Turns are taken in their order: the fault is the last of them.
    let state = stage.wait(|state| {
        let is_faulty = !state["turned"]["faults"][0].is_null();
        is_faulty && state["truth"]["mean_tws_kn"].as_f64() > Some(20.0)
    });
    assert_eq!(state["turned"]["leaned_deg"], -9.0);
    assert_eq!(state["turned"]["course"]["angle_deg"], -100.0);
    assert_eq!(state["turned"]["faults"][0][0], "stuck-vane");
    assert_eq!(state["dark"], true);
    assert!(
        state["utc"]
            .as_str()
            .is_some_and(|utc| utc.contains(" 23:3"))
    );

    let bad = post(stage.page, "/turn", r#"{"turn":"tide"}"#).expect("an answer");
    assert!((400..500).contains(&bad.status), "{}", bad.status);
    let strip = wait(|| {
        let strip = stage.json("/strip?since=0");
        Some(strip).filter(|strip| strip["next"].as_u64() > Some(1))
    });
    // A daemon that says nothing leaves gaps, and no zero.
    assert!(strip["samples"][0]["says"]["tws_kn"].is_null());
}

#[test]
fn a_crew_that_obeys_does_what_the_daemon_calls() {
    let stage = Stage::with(TELLS);
    stage.turn(&json!({"turn": "crew", "obeys": "on"}));
    let state = stage.wait(|state| state["deeds"].to_string().contains("heard: prepare"));
    assert_eq!(state["turned"]["obeys"], "on");
    // Its key presses find nobody, and that is told.
    stage.wait(|state| state["deeds"].to_string().contains("was not taken"));
}

#[test]
fn a_daemon_that_ends_or_does_not_answer_is_told_and_shows_nothing() {
    let stage = Stage::with(FALLS);
    let state = stage.wait(|state| !state["trouble"].is_null());
    assert!(state["trouble"].to_string().contains("ended by itself"));
    stage.wait(|state| state["log"].to_string().contains("no such boat"));
    assert_eq!(stage.get("/screen.png?panel=128x64").status, 502);
}

#[test]
fn the_page_needs_nothing_from_elsewhere() {
    let stage = Stage::with(TELLS);
    let page = stage.get("/");
    assert!(page.content_type.starts_with("text/html"));
    let text = String::from_utf8(page.body).expect("text");
    for outside in ["http:", "https:", "src=\"//", "@import", "url("] {
        assert!(!text.contains(outside), "{outside}");
    }
}
