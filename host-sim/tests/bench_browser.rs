//! The bench in a headless browser, with the real daemon under it: keys by
//! mouse and by keyboard, every slider, every fault, the recording, and a
//! recording looked through. Skips aloud without a browser or a daemon.

#[path = "../../firmware/daemon/tests/page/devtools.rs"]
#[allow(dead_code)] // The daemon's own page is photographed, this one is not.
mod devtools;

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use devtools::Browser;
use serde_json::{Value, json};

/// A bench as a person starts it.
struct Bench {
    child: Child,
    at: String,
}

impl Bench {
    fn start(daemon: &Path, folder: &Path, what: &[&str]) -> Bench {
        let mut child = Command::new(env!("CARGO_BIN_EXE_cringle-sim"))
            .args(["bench", "--listen", "127.0.0.1:0", "--cringle"])
            .arg(daemon)
            .arg("--recordings")
            .arg(folder.join("recordings"))
            .args(what)
            .stdin(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let told = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut told = told.map(Result::unwrap);
        let at = told.find_map(|line| Some(line.split_once("http://")?.1.to_owned()));
        // Whatever else it tells must not hold it up.
        std::thread::spawn(move || told.for_each(drop));
        Bench {
            child,
            at: at.expect("no page"),
        }
    }
}

impl Drop for Bench {
    /// As by Ctrl-C, so that it ends its daemon too.
    fn drop(&mut self) {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::TERM).ok();
        self.child.wait().ok();
    }
}

fn daemon() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_BIN_EXE_cringle-sim")).with_file_name("cringle");
    if !beside.is_file() {
        println!("skipped: {} is not built", beside.display());
        return None;
    }
    Some(beside)
}

fn browser() -> Option<Browser> {
    let browser = Browser::start();
    if browser.is_none() {
        println!("skipped: no browser is installed");
    }
    browser
}

/// Keeps what the page sends, with how it was answered.
const LISTEN: &str = "(() => {
    window.sent = []
    const real = window.fetch
    window.fetch = async (path, how) => {
        const answer = await real(path, how)
        if (how && how.method === 'POST') sent.push([path, JSON.parse(how.body), answer.status])
        return answer
    }
})()";

/// What was sent last, once it has been answered; it must have been taken.
#[track_caller]
fn taken(browser: &mut Browser) -> Value {
    browser.wait_for("sent.length > 0");
    let sent = browser.tell("sent.shift()");
    assert_eq!(sent[2], 204, "{sent}");
    sent[1].clone()
}

/// A press of the mouse on the middle of something, for so long.
fn press(browser: &mut Browser, selector: &str, milliseconds: u64) {
    let middle = browser.tell(&format!(
        "(() => {{
            const it = document.querySelector(`{selector}`)
            it.scrollIntoView({{ block: 'center' }})
            const box = it.getBoundingClientRect()
            return [box.x + box.width / 2, box.y + box.height / 2]
        }})()"
    ));
    for kind in ["mousePressed", "mouseReleased"] {
        let at = json!({"type": kind, "x": middle[0], "y": middle[1], "button": "left",
            "clickCount": 1});
        browser.ask("Input.dispatchMouseEvent", at);
        if kind == "mousePressed" {
            std::thread::sleep(std::time::Duration::from_millis(milliseconds));
        }
    }
}

fn focus(browser: &mut Browser, id: &str) {
    browser.tell(&format!("document.getElementById('{id}').focus()"));
}

fn keys(browser: &mut Browser) {
    press(browser, "[data-button=left]", 0);
    assert_eq!(taken(browser), json!({"button": "left", "press": "short"}));
    press(browser, "[data-button=middle]", 900);
    assert_eq!(taken(browser), json!({"button": "middle", "press": "long"}));
    browser.tell("document.activeElement.blur()");
    browser.key("3", 51);
    assert_eq!(taken(browser), json!({"button": "right", "press": "short"}));
    browser.tell("document.querySelector('[data-button=left]').focus()");
    browser.key("Enter", 13);
    assert_eq!(taken(browser), json!({"button": "left", "press": "short"}));
    // Nothing was sent twice, as by the key and by the click that it makes.
    assert_eq!(browser.tell("sent.length"), 0);
}

fn sliders(browser: &mut Browser) {
    browser.tell("document.getElementById('by').value = 'wind'");
    browser.tell("document.getElementById('by').dispatchEvent(new Event('change'))");
    assert_eq!(taken(browser)["by"], "wind");
    browser.wait_for("!document.getElementById('angle').disabled");
    for (id, field, state) in [
        ("added", "added_kn", "turned.added_kn"),
        ("turned", "turned_deg", "turned.turned_deg"),
        ("angle", "angle_deg", "turned.course.angle_deg"),
        ("lean", "leaned_deg", "turned.leaned_deg"),
        ("hands", "hands", "turned.hands"),
    ] {
        focus(browser, id);
        browser.key("ArrowRight", 39);
        let value = taken(browser)[field].clone();
        // At sea too, and shown so.
        browser.wait_for(&format!("seen.{state} === {value}"));
        browser.wait_for(&format!(
            "+document.getElementById('{id}').value === {value}"
        ));
    }
    focus(browser, "hour");
    browser.key("ArrowRight", 39);
    let hour = taken(browser)["hour"].clone();
    browser.wait_for(&format!("Math.abs(seen.hour - {hour}) < 0.1"));
    assert_eq!(
        browser.tell("document.getElementById('trouble').textContent"),
        ""
    );
}

fn faults(browser: &mut Browser) {
    let kinds = browser.tell("Object.keys(rows)");
    let kinds: Vec<_> = kinds.as_array().unwrap().iter().collect();
    assert!(kinds.len() > 8, "{kinds:?}");
    for switch in ["on", "off"] {
        for kind in &kinds {
            browser.tell(&format!("rows[{kind}].box.click()"));
            let sent = taken(browser);
            assert_eq!((&sent["kind"], &sent["state"]), (*kind, &json!(switch)));
        }
        for kind in &kinds {
            let is_on = match *kind == "disk-full" {
                true => "seen.disk_full".to_owned(),
                false => format!("seen.turned.faults.some(it => it[0] === {kind})"),
            };
            browser.wait_for(&format!("{is_on} === {}", switch == "on"));
        }
    }
}

fn recording(browser: &mut Browser) {
    press(browser, "#record", 0);
    assert_eq!(taken(browser)["state"], "on");
    browser.wait_for("seen.recording && document.getElementById('record').textContent === 'stop'");
    // A disk that fills up stops it, and the daemon says so.
    browser.tell("rows['disk-full'].box.click()");
    taken(browser);
    browser.wait_for("document.getElementById('log').textContent.includes('recording stopped')");
    browser.tell("rows['disk-full'].box.click()");
    taken(browser);
    browser.wait_for("!seen.disk_full");
    // Some seconds of it, with wind, for a recording that shows something.
    browser.tell("window.roomFrom = seen.now_s");
    browser.wait_for("seen.now_s > roomFrom + 8 && samples.at(-1).says.tws_kn !== null");
    press(browser, "#record", 0);
    assert_eq!(taken(browser)["state"], "off");
    browser.wait_for("!seen.recording");
}

fn all_screens_are_there(browser: &mut Browser) {
    browser.wait_for("screens.every(it => it.img.naturalWidth > 0)");
    browser.wait_for("screens.every(it => !it.bezel.classList.contains('lost'))");
}

#[test]
fn everything_on_the_bench_does_what_it_says() {
    let (Some(daemon), Some(mut browser)) = (daemon(), browser()) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(&daemon, folder.path(), &["steady-trade"]);
    browser.go(&format!("http://{}", bench.at));
    browser.wait_for("seen !== null");
    browser.tell(LISTEN);
    all_screens_are_there(&mut browser);
    keys(&mut browser);
    sliders(&mut browser);
    faults(&mut browser);
    recording(&mut browser);
    drop(bench);
    browser.wait_for("document.getElementById('trouble').textContent.includes('does not answer')");
    browser.wait_for("screens.every(it => it.bezel.classList.contains('lost'))");

    look_through(&mut browser, &daemon, folder.path());
}

fn look_through(browser: &mut Browser, daemon: &Path, folder: &Path) {
    let recordings = folder.join("recordings");
    let files = std::fs::read_dir(&recordings).unwrap();
    // The newest run is the one after the disk had room again.
    let newest = files.map(|file| file.unwrap().path()).max().unwrap();
    let bench = Bench::start(daemon, folder, &["--replay", newest.to_str().unwrap()]);
    browser.go(&format!("http://{}", bench.at));
    browser.wait_for("film !== null && !busy");
    all_screens_are_there(browser);
    let end = browser.tell("Math.floor(film.end_s)").as_u64().unwrap();
    assert!(end > 2, "{end}");
    focus(browser, "seek");
    browser.key("End", 35);
    browser.wait_for(&format!("!busy && Math.floor(at) === {end}"));
    // In the middle of the strip is the middle of the recording.
    press(browser, "#line", 0);
    browser.wait_for(&format!("!busy && Math.abs(at - {end} / 2) < 2"));
    press(browser, "#play", 0);
    browser.wait_for(&format!("!playing && !busy && Math.floor(at) === {end}"));
    let words = browser.tell("document.getElementById('at').textContent");
    let both = words.as_str().unwrap().split_once(" of ").unwrap();
    assert_eq!(both.0, both.1);
}
