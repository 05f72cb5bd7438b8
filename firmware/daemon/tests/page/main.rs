//! The page of a real watch with an instrument on a real pseudo-terminal, as
//! a program asks for it and as a person sees it in a browser.

#[path = "../stage/mod.rs"]
mod stage;

mod acts;
mod ask;
mod browser;
mod devtools;
mod hostile;

use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use stage::{Plug, Says, Stage, Watch};

const KEY: &str = "tansy-4711";

/// A watch with a page, and an instrument that speaks four times a second.
struct Aboard {
    watch: Watch,
    at: String,
    /// Kept for its directory.
    _stage: Stage,
    instrument: Instrument,
}

struct Instrument {
    goes_on: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Aboard {
    fn new(page: &str) -> Aboard {
        let stage = Stage::with(&format!("[page]\nlisten = \"127.0.0.1:0\"\n{page}"));
        let instrument = Instrument::start(stage.plug_in());
        let mut program = Command::new(env!("CARGO_BIN_EXE_cringle"));
        program.env_remove("CRINGLE_BOAT").env_remove("RUST_LOG");
        let watch = Watch::start(program, &stage);
        let told = watch.told_about("page at http://");
        let (_, address) = told.split_once("http://").unwrap();
        let aboard = Aboard {
            at: address.trim_end_matches(['/', '\n']).into(),
            watch,
            _stage: stage,
            instrument,
        };
        aboard.wait_for_the_first_picture();
        aboard
    }

    fn with_key() -> Aboard {
        Aboard::new(&format!("key = \"{KEY}\"\n"))
    }

    fn wait_for_the_first_picture(&self) {
        for _ in 0..300 {
            if self.get("/view").status == 200 {
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("the page never showed anything");
    }

    fn get(&self, path: &str) -> Answer {
        ask(&self.at, "GET", path, "")
    }

    fn post(&self, path: &str, body: &str) -> Answer {
        ask(&self.at, "POST", path, body)
    }
}

impl Instrument {
    fn start(mut plug: Plug) -> Instrument {
        let goes_on = Arc::new(AtomicBool::new(true));
        let speaks = Arc::clone(&goes_on);
        let thread = std::thread::spawn(move || {
            while speaks.load(Ordering::Relaxed) {
                plug.say(Says::Wind);
                plug.say(Says::Heel);
                plug.say(Says::Water);
                std::thread::sleep(Duration::from_millis(250));
            }
        });
        Instrument {
            goes_on,
            thread: Some(thread),
        }
    }

    /// Pulls the plug.
    fn pull(&mut self) {
        self.goes_on.store(false, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

impl Drop for Instrument {
    fn drop(&mut self) {
        self.pull();
    }
}

/// What the page answered.
struct Answer {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Answer {
    fn words(&self) -> String {
        stage::words(&self.body)
    }

    #[track_caller]
    fn json(&self) -> serde_json::Value {
        assert_eq!(self.status, 200, "{}", self.words());
        serde_json::from_slice(&self.body).unwrap()
    }
}

fn open(at: &str, method: &str, path: &str, body: &str) -> TcpStream {
    let mut link = TcpStream::connect(at).unwrap();
    link.set_read_timeout(Some(Duration::from_secs(30)))
        .unwrap();
    write!(
        link,
        "{method} {path} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .unwrap();
    link
}

fn ask(at: &str, method: &str, path: &str, body: &str) -> Answer {
    let mut bytes = Vec::new();
    open(at, method, path, body)
        .read_to_end(&mut bytes)
        .unwrap();
    let end = bytes.windows(4).position(|it| it == b"\r\n\r\n").unwrap();
    let head = stage::words(&bytes[..end]);
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    Answer {
        status,
        head,
        body: bytes.split_off(end + 4),
    }
}
