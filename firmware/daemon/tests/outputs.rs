//! What other instruments are told, through real ports: wind at its rates on
//! a serial line, to two clients of our server and to one receiver of
//! datagrams; and calls in either form, with the bridge's acknowledgement taken in.
//!
//! The watch's time is wound by hand, so rates are exact however slow the
//! computer is.

mod stage;

use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use cringle::aboard::Aboard;
use cringle::clock::{Clock, Winder};
use cringle::engine::Engine;
use cringle::outputs::Outputs;
use cringle::ports;
use cringle::progress::Progress;
use cringle::watch::{Finished, Parts, Watcher};
use cringle::wiring;
use cringle_boat::BoatFile;
use cringle_core::event::EventKind;
use cringle_core::time::Timestamp;
use cringle_screen::aboard::DataOrigin;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use stage::seal;
use tokio::io::AsyncBufReadExt;
use tokio::net::{TcpListener, TcpStream, UdpSocket};
use tokio::sync::{Notify, mpsc};

/// Only a failure waits so long.
const PATIENCE: Duration = Duration::from_secs(30);
/// More seconds of the watch's time than anything here takes.
const MOST_STEPS: usize = 200;

/// An instrument's end of a serial line.
struct Instrument {
    master: File,
    path: PathBuf,
}

impl Instrument {
    fn new() -> Instrument {
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
        let master = openpt(flags).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap();
        Instrument {
            master: File::from(master),
            path: PathBuf::from(path.to_str().unwrap()),
        }
    }

    fn say(&mut self, line: &str) {
        self.master.write_all(line.as_bytes()).unwrap();
    }

    fn hear(&self) -> Hears {
        let (lines, hears) = Hears::new("serial");
        let master = BufReader::new(self.master.try_clone().unwrap());
        std::thread::spawn(move || {
            for line in master.lines().map_while(Result::ok) {
                if lines.send(line).is_err() {
                    return;
                }
            }
        });
        hears
    }
}

/// What comes out at one far end.
struct Hears {
    who: &'static str,
    lines: mpsc::UnboundedReceiver<String>,
    kept: Vec<String>,
}

impl Hears {
    fn new(who: &'static str) -> (mpsc::UnboundedSender<String>, Hears) {
        let (sender, lines) = mpsc::unbounded_channel();
        let kept = Vec::new();
        (sender, Hears { who, lines, kept })
    }

    async fn client(who: &'static str, port: u16) -> (tokio::net::tcp::OwnedWriteHalf, Hears) {
        let link = loop {
            match TcpStream::connect(("127.0.0.1", port)).await {
                Ok(link) => break link,
                // Not opened yet.
                Err(_) => tokio::time::sleep(Duration::from_millis(10)).await,
            }
        };
        let (read, write) = link.into_split();
        let (lines, hears) = Hears::new(who);
        tokio::spawn(async move {
            let mut reader = tokio::io::BufReader::new(read).lines();
            while let Ok(Some(line)) = reader.next_line().await {
                lines.send(line).ok();
            }
        });
        (write, hears)
    }

    fn datagrams(socket: UdpSocket) -> Hears {
        let (lines, hears) = Hears::new("datagrams");
        tokio::spawn(async move {
            let mut bytes = [0; 256];
            while let Ok(count) = socket.recv(&mut bytes).await {
                let line = String::from_utf8_lossy(&bytes[..count]);
                lines.send(line.trim_end().to_owned()).ok();
            }
        });
        hears
    }

    /// Waits for a line of which this is true.
    async fn until(&mut self, what: &str, mut is_it: impl FnMut(&[String]) -> bool) {
        loop {
            let line = tokio::time::timeout(PATIENCE, self.lines.recv()).await;
            let Ok(Some(line)) = line else {
                panic!("{} never heard {what}: {:?}", self.who, self.kept);
            };
            self.kept.push(line);
            if is_it(&self.kept) {
                return;
            }
        }
    }

    fn take_what_came(&mut self) {
        while let Ok(line) = self.lines.try_recv() {
            self.kept.push(line);
        }
    }

    fn has(&self, words: &str) -> bool {
        self.kept.iter().any(|line| line.contains(words))
    }
}

/// A port of this computer that nobody has.
async fn free_port() -> u16 {
    let free = TcpListener::bind("127.0.0.1:0").await.unwrap();
    free.local_addr().unwrap().port()
}

fn boat_file(ports: &[(&str, String, &str)], alerts: &str) -> BoatFile {
    let example = cringle_boat::example_text();
    let (head, rest) = example.split_once("[[port]]").unwrap();
    let (_, tail) = rest.split_once("[transducers]").unwrap();
    let mut text = head.to_owned();
    for (name, port, send) in ports {
        text += &format!("[[port]]\nname = \"{name}\"\nport = \"{port}\"\nsend = [{send}]\n");
    }
    text += &format!("[transducers]{tail}")
        .replace("alerts = \"ALF\"", &format!("alerts = \"{alerts}\""))
        .replace("MWV = 1.0\nMWD = 1.0\n", "MWV = 1\nMWD = 2\nVWT = 4\n");
    cringle_boat::parse("boat.toml", &text).unwrap_or_else(|problems| panic!("{problems}"))
}

/// A watch as the program makes it, but for its clock.
struct Stand {
    watcher: Watcher,
    running: Vec<ports::Running>,
    news: mpsc::Receiver<ports::News>,
    hand: Hand,
    stop: Arc<Notify>,
}

/// What the test holds of a watch that runs.
struct Hand {
    winder: Winder,
    seconds: u64,
    progress: Progress,
    acknowledged: mpsc::UnboundedReceiver<()>,
    stop: Arc<Notify>,
}

impl Stand {
    fn new(boat_file: BoatFile) -> Stand {
        let settings = wiring::ports(&boat_file, &[]);
        let openings = wiring::openings(&settings);
        let port_names: Vec<String> = openings.iter().map(|port| port.name.clone()).collect();
        let names = wiring::names(&boat_file, &port_names);
        let decoders = wiring::decoders(&boat_file, &port_names);
        let (winder, clock) = Clock::by_hand();
        let wanted = wiring::wanted(&boat_file, &settings);
        let (tell, acknowledged) = mpsc::unbounded_channel();
        let progress = Progress::default();
        let (sender, news) = mpsc::channel(1024);
        let watcher = Watcher::new(Parts {
            engine: Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO),
            aboard: Aboard::new(&openings, DataOrigin::Live),
            clock: clock.clone(),
            recorder: None,
            store: None,
            outputs: Outputs::new(wanted, names.clone(), Timestamp::ZERO),
            tellers: vec![Box::new(move |event, _| {
                if event.kind == EventKind::Acknowledge {
                    tell.send(()).ok();
                }
            })],
            faces: Vec::new(),
            progress: progress.clone(),
            unsure: Vec::new(),
            names,
            boat_file,
        });
        let running = openings
            .into_iter()
            .map(|port| ports::run(port, clock.clone(), sender.clone()))
            .collect();
        let stop = Arc::new(Notify::new());
        Stand {
            watcher,
            running,
            news,
            hand: Hand {
                winder,
                seconds: 0,
                progress,
                acknowledged,
                stop: Arc::clone(&stop),
            },
            stop,
        }
    }

    /// Runs the watch beside the story, to the story's end.
    async fn run(self, story: impl AsyncFnOnce(Hand)) -> Finished {
        let Stand {
            mut watcher,
            running,
            news,
            hand,
            stop,
        } = self;
        let (_keys, inputs) = mpsc::channel(1);
        tokio::join!(watcher.run(&running, news, inputs, stop), story(hand));
        watcher.finish()
    }
}

impl Hand {
    fn wind(&mut self, seconds: u64) {
        self.seconds += seconds;
        self.winder.wind_to(Timestamp::from_secs(self.seconds));
    }

    async fn taken(&self, lines: u64) {
        let step = Duration::from_millis(5);
        for _ in 0..PATIENCE.as_millis() / step.as_millis() {
            if self
                .progress
                .wait_for(Duration::ZERO, |taken| taken.lines >= lines)
            {
                return;
            }
            tokio::time::sleep(step).await;
        }
        panic!("{lines} lines were never taken");
    }
}

fn ends_with(kept: &[String], sentence: &str) -> bool {
    kept.last().is_some_and(|line| line.contains(sentence))
}

/// Which wind sentences came, in their order.
fn order(kept: &[String]) -> String {
    let letter = |line: &String| match line.get(3..6) {
        Some("MWV") => Some('M'),
        Some("MWD") => Some('D'),
        Some("VWT") => Some('T'),
        _ => None,
    };
    kept.iter().filter_map(letter).collect()
}

fn upwind() -> String {
    [
        "WIMWV,041.0,R,15.6,N,A",
        "VWVHW,084.0,T,,M,6.1,N,,K",
        "GPVTG,084.4,T,,M,6.2,N,,K,A",
        "HEHDT,084.0,T",
    ]
    .map(seal)
    .concat()
}

async fn wind_story(mut hand: Hand, mut instrument: Instrument, port: u16, socket: UdpSocket) {
    let mut serial = instrument.hear();
    let mut others = vec![Hears::datagrams(socket)];
    // Kept: a client that hangs up is no client.
    let mut clients = Vec::new();
    for who in ["first client", "second client"] {
        let (write, hears) = Hears::client(who, port).await;
        clients.push(write);
        others.push(hears);
    }
    // Until all are there and the wind is known.
    let mut lines = 0;
    for step in 0.. {
        assert!(step < MOST_STEPS, "no wind: {:?}", serial.kept);
        instrument.say(&upwind());
        lines += 4;
        hand.taken(lines).await;
        hand.wind(1);
        serial.until("MWV", |kept| ends_with(kept, "MWV")).await;
        others.iter_mut().for_each(Hears::take_what_came);
        let all_hear = others.iter().all(|hears| hears.has("MWV"));
        if all_hear && serial.has(",N,A*") {
            break;
        }
    }
    // One at a time: what is due several times is sent but once.
    for _ in 0..12 {
        hand.wind(1);
        serial.until("MWV", |kept| ends_with(kept, "MWV")).await;
    }
    // Each second MWV, each second one MWD too, each fourth VWT.
    for hears in others.iter_mut().chain([&mut serial]) {
        let at_rate = |kept: &[String]| order(kept).contains("TMMDMMDTMMDMMDT");
        if !at_rate(&hears.kept) {
            hears.until("each at its rate", at_rate).await;
        }
        // Nothing that came in goes out again.
        let is_ours = |line: &String| line.starts_with("$II");
        assert!(hears.kept.iter().all(is_ours), "{:?}", hears.kept);
    }
    // A multiplexer brings our own sentence back.
    let own = serial.kept.iter().rfind(|it| it.contains("MWV")).unwrap();
    instrument.say(&format!("{own}\r\n"));
    hand.taken(lines + 1).await;
    hand.stop.notify_one();
}

#[tokio::test]
async fn true_wind_goes_out_at_its_rates_by_every_way_and_nothing_is_echoed() {
    let instrument = Instrument::new();
    let receiver = UdpSocket::bind("127.0.0.1:0").await.unwrap();
    let to = receiver.local_addr().unwrap();
    let (tcp, udp) = (free_port().await, free_port().await);
    let ports = [
        ("mast", serial(&instrument.path), "\"true-wind\""),
        ("net", format!("serve-tcp:127.0.0.1:{tcp}"), "\"true-wind\""),
        (
            "air",
            format!("udp:127.0.0.1:{udp}?to={to}"),
            "\"true-wind\"",
        ),
    ];
    let stand = Stand::new(boat_file(&ports, "none"));
    let finished = stand
        .run(async |hand| wind_story(hand, instrument, tcp, receiver).await)
        .await;
    assert_eq!(finished.aboard.own_lines, 1);
}

fn serial(path: &Path) -> String {
    format!("serial:{}?baud=38400", path.display())
}

/// How a bridge hears of a call and acknowledges it.
struct Form {
    alerts: &'static str,
    /// The call as it comes, and once it is acknowledged.
    called: [&'static str; 2],
    /// What must not be heard.
    other: [&'static str; 2],
    /// The acknowledgement of this line.
    acknowledge: fn(&str) -> String,
}

async fn call_story(mut hand: Hand, form: &Form, port: u16) {
    let (mut bridge, mut hears) = Hears::client("bridge", port).await;
    say(&mut bridge, "BNHBT,60,A,1").await;
    // Now it is known to be heard, and so to hear.
    hand.taken(1).await;
    // Nothing is heard of the wind: blind is called.
    for step in 0.. {
        assert!(step < MOST_STEPS, "no call: {:?}", hears.kept);
        hand.wind(1);
        tokio::time::sleep(Duration::from_millis(20)).await;
        hears.take_what_came();
        if hears.has(form.called[0]) {
            break;
        }
    }
    let called = hears.kept.iter().rfind(|it| it.contains(form.called[0]));
    let answer = (form.acknowledge)(called.unwrap());
    say(&mut bridge, &answer).await;
    let told = tokio::time::timeout(PATIENCE, hand.acknowledged.recv()).await;
    assert_eq!(told.expect("it was never acknowledged"), Some(()));
    let [_, acknowledged] = form.called;
    let is_told = |kept: &[String]| kept.iter().any(|it| it.contains(acknowledged));
    if !is_told(&hears.kept) {
        hears.until("the acknowledgement", is_told).await;
    }
    // And when all is told again.
    let before = hears.kept.len();
    hand.wind(31);
    hears.until("it again", |kept| kept.len() > before).await;
    for other in form.other {
        assert!(!hears.has(other), "{:?}", hears.kept);
    }
    // The bridge's own words do not come back to it.
    assert!(!hears.has("$BN"), "{:?}", hears.kept);
    hand.stop.notify_one();
}

async fn say(bridge: &mut tokio::net::tcp::OwnedWriteHalf, body: &str) {
    let line = seal(body);
    tokio::io::AsyncWriteExt::write_all(bridge, line.as_bytes())
        .await
        .unwrap();
}

#[tokio::test]
async fn a_call_goes_out_in_one_form_and_the_bridges_answer_is_taken() {
    let newer = Form {
        alerts: "ALF",
        called: [",B,W,V,,10101,", ",B,W,A,,10101,"],
        other: ["ALR,", "ACK,"],
        acknowledge: |called| {
            let instance = called.split(',').nth(10).unwrap();
            format!("BNACN,,,10101,{instance},A,C")
        },
    };
    let older = Form {
        alerts: "ALR",
        called: ["ALR,,101,A,V,", "ALR,,101,A,A,"],
        other: ["ALF,", "ALC,"],
        acknowledge: |_| "BNACK,101".into(),
    };
    for form in [newer, older] {
        let port = free_port().await;
        let net = format!("serve-tcp:127.0.0.1:{port}?clients=may-acknowledge");
        let ports = [("net", net, "\"alerts\"")];
        let stand = Stand::new(boat_file(&ports, form.alerts));
        stand
            .run(async |hand| call_story(hand, &form, port).await)
            .await;
    }
}
