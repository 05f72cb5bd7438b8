//! The bench with the real daemon under it, where it is built: screens, keys,
//! the strip chart, a recording, and what its screens showed.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use cringle_sim::bench::client::{Answer, get, post};
use cringle_sim::bench::{Ahead, Bench, Daemon, Film, Options, routes, start};
use cringle_sim::scenario::Scenario;
use serde_json::Value;

/// Longer than any of this takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(120);

const PANELS: [(&str, u32, u32); 4] = [
    ("128x64", 128, 64),
    ("296x128", 296, 128),
    ("320x240", 320, 240),
    ("240x320", 240, 320),
];

/// The daemon of the same build, which is not this package's own.
fn daemon() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_BIN_EXE_cringle-sim")).with_file_name("cringle");
    if beside.is_file() {
        return Some(beside);
    }
    println!("skipped: {} is not built", beside.display());
    None
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

/// Leaves no daemon behind, whatever the test comes to.
struct Ends(Arc<Daemon>);

impl Drop for Ends {
    fn drop(&mut self) {
        self.0.end();
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
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// Width and height that a PNG states, by its first chunk.
fn size(png: &[u8]) -> (u32, u32) {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| {
        let four = png[at..at + 4].try_into().expect("four bytes");
        u32::from_be_bytes(four)
    };
    (number(16), number(20))
}

#[test]
fn the_real_daemon_sails_on_the_bench_and_its_recording_is_shown() {
    let Some(program) = daemon() else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let recordings = folder.path().join("recordings");
    let options = Options {
        listen: SocketAddr::from(([127, 0, 0, 1], 0)),
        program: Some(program.clone()),
        recordings: recordings.clone(),
        seed: 1,
    };
    let scenario = Scenario::builtin("steady-trade").expect("built in");
    let bench = start(scenario, &options, folder.path()).expect("a bench");
    let _ends = Ends(Arc::clone(&bench.daemon));
    let page = serve(bench);
    let asked = |path: &str| -> Answer { get(page, path).expect("an answer") };

    let answer = post(page, "/record", r#"{"state":"on"}"#).expect("an answer");
    assert_eq!(answer.status, 204);
    for (panel, width, height) in PANELS {
        let path = format!("/screen.png?panel={panel}");
        let png = wait(|| Some(asked(&path)).filter(|answer| answer.status == 200));
        assert_eq!(size(&png.body), (width, height), "{panel}");
    }
    let pressed = post(page, "/press", r#"{"button":"left","press":"short"}"#);
    assert_eq!(pressed.expect("an answer").status, 204);
    let foreign = post(page, "/press", r#"{"button":"none","press":"short"}"#);
    assert_eq!(foreign.expect("an answer").status, 400);

    // Heard over the ports, worked out by the daemon, and soon near the truth;
    // long enough for a film.
    wait(|| {
        let strip: Value = serde_json::from_slice(&asked("/strip?since=0").body).expect("JSON");
        let samples = strip["samples"].as_array()?;
        let last = samples.get(5..)?.last()?.clone();
        let off = last["says"]["tws_kn"].as_f64()? - last["mean_tws_kn"].as_f64()?;
        Some(()).filter(|()| off.abs() < 3.0)
    });

    let answer = post(page, "/record", r#"{"state":"off"}"#).expect("an answer");
    assert_eq!(answer.status, 204);
    let files: Vec<PathBuf> = std::fs::read_dir(&recordings)
        .expect("recordings")
        .map(|entry| entry.expect("readable").path())
        // Beside it lies the number of the newest run.
        .filter(|path| path.extension().is_some())
        .collect();
    assert_eq!(files.len(), 1, "{files:?}");
    assert_film(&program, &files, folder.path());
}

fn assert_film(program: &Path, files: &[PathBuf], folder: &Path) {
    let pictures = folder.join("pictures");
    let film = Film::open(program.to_owned(), files, &pictures).expect("a film");
    let state = film.state();
    assert!(state["end_s"].as_f64() > Some(2.0), "{state}");
    let known = |moment: &&Value| moment["tws_kn"].is_number();
    let moments = state["moments"].as_array().expect("moments");
    assert!(moments.iter().filter(known).count() > 0);
    let ahead = Ahead {
        step_s: 1,
        moments: 3,
    };
    for (panel, width, height) in PANELS {
        let early = film.frame(panel, "", 1, ahead).expect("a picture");
        assert_eq!(size(&early), (width, height), "{panel}");
        // So short a recording may show the same picture to its end.
        let late = film.frame(panel, "", u64::MAX, ahead).expect("the last");
        assert_eq!(size(&late), (width, height), "{panel}");
    }
    assert!(film.frame("64x64", "", 1, ahead).is_err());
}
