//! `cringle watch`: the monitor aboard.

use std::fs::File;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use clap::Args;
use cringle_boards::board::BoardFile;
use cringle_boat::BoatFile;
use cringle_boat::ports::PortSpec;
use cringle_core::time::Timestamp;
use cringle_core::watch::SavedForecast;
use cringle_screen::aboard::DataOrigin;
use rustix::fs::{FlockOperation, flock};
use rustix::io::Errno;
use rustix::process::{Resource, getrlimit, setrlimit};
use tokio::sync::{Notify, mpsc};

use crate::aboard::Aboard;
use crate::answer::{Failure, Verdict, say, wait_for};
use crate::before::state_before;
use crate::board_io::{self, BoardIo, Devices};
use crate::boatfile::{self, Otherwise};
use crate::clock::{self, Clock};
use crate::disk::RealDisk;
use crate::engine::Engine;
use crate::events::{event_line, event_words};
use crate::face::{Face, Input};
use crate::forecast;
use crate::names::Names;
use crate::outputs::Outputs;
use crate::page::{self, Page};
use crate::ports::{self, Port};
use crate::progress::Progress;
use crate::recorder::lines::Entry;
use crate::recorder::{Recorder, Settings};
use crate::state::State;
use crate::store::Store;
use crate::terminal::{self, Lines, Terminal};
use crate::voice::Voice;
use crate::watch::{Parts, Teller, Watcher};
use crate::wiring;

/// Where things are kept when nobody says else.
const USUAL_STATE: &str = "/var/lib/cringle";

/// What the service manager calls the directory it made.
const STATE_VARIABLE: &str = "STATE_DIRECTORY";

/// News that may wait for the loop: a busy second of several ports.
const MOST_NEWS: usize = 1024;

/// The arguments of `watch`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The boat file; else $CRINGLE_BOAT, else /etc/cringle/boat.toml.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// A port to listen to instead of those in the boat file, such as
    /// 'mast=serial:/dev/ttyUSB0?baud=4800'. May be given several times.
    #[arg(long, value_name = "PORT")]
    port: Vec<PortSpec>,
    /// The board, by name or file, instead of the one the boat file names:
    /// panel, keys and sounders.
    #[arg(long, value_name = "FILE")]
    board: Option<PathBuf>,
    /// One JSON object for each event on standard output.
    #[arg(long)]
    json: bool,
    /// Where event log and state are kept; else $STATE_DIRECTORY, else
    /// /var/lib/cringle.
    #[arg(long, value_name = "DIR")]
    state: Option<PathBuf>,
    /// Where recordings go, instead of where the boat file says.
    #[arg(long, value_name = "DIR", conflicts_with = "no_record")]
    record: Option<PathBuf>,
    /// Record nothing.
    #[arg(long)]
    no_record: bool,
    /// Stop recording when the disk has less room than this many megabytes.
    #[arg(long, value_name = "MB", default_value_t = 100)]
    keep_free: u64,
    /// The skipper's forecast instead of the boat file's: a file with
    /// [[forecast]], or rows in one line such as
    /// '2026-11-08T12:00Z 18 gust 25 from 210 sure 0.8; ...', or 'none'.
    #[arg(long, value_name = "FILE|TABLE")]
    forecast: Option<String>,
    /// Serves the page here instead of where the boat file says. Nothing is
    /// encrypted: on 0.0.0.0 everybody on that network can read the page and
    /// overhear the key that acts from it, and with that key acknowledge calls or
    /// stop the watch. Use it on the boat's own network with a password.
    #[arg(long, value_name = "ADDRESS:PORT")]
    page: Option<SocketAddr>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let mut boat_file = boatfile::find(arguments.boat.as_deref(), Otherwise::Refuse)?;
    if let Some(given) = &arguments.forecast {
        boat_file.boat.forecast = forecast::given(given)?;
    }
    if boat_file.ports.is_empty() && arguments.port.is_empty() {
        let words = "no port: give --port, or a [[port]] in the boat file";
        return Err(Failure::Usage(anyhow::anyhow!(words)));
    }
    let board = board_io::named(arguments.board.as_deref(), &boat_file).map_err(Failure::Usage)?;
    raise_descriptors();
    wait_for(watch(arguments, boat_file, board))?
}

/// As many descriptors as the system allows: ports and store must find one whoever
/// else connects.
fn raise_descriptors() {
    let mut limit = getrlimit(Resource::Nofile);
    if limit.current == limit.maximum {
        return;
    }
    limit.current = limit.maximum;
    if let Err(error) = setrlimit(Resource::Nofile, limit) {
        tracing::warn!("the limit of open files cannot be raised: {error}");
    }
}

async fn watch(
    arguments: &Arguments,
    boat_file: BoatFile,
    board: Option<BoardFile>,
) -> Result<Verdict, Failure> {
    let settings = wiring::ports(&boat_file, &arguments.port);
    let openings = wiring::openings(&settings);
    let port_names: Vec<String> = openings.iter().map(|port| port.name.clone()).collect();
    let names = wiring::names(&boat_file, &port_names);
    let directory = state_directory(arguments.state.as_deref());
    let held = alone_in(&directory)?;
    let clock = Clock::real();
    let (mut state, unsure) =
        state_before(&RealDisk, &boat_file, &directory, clock::system_unix_ms());
    if let (Some(state), Some(_)) = (&mut state, &arguments.forecast) {
        // What is given now stands for what was entered before.
        state.saved.forecast = SavedForecast::OfTheBoat;
    }
    let engine = Engine::new(
        &boat_file.boat,
        wiring::decoders(&boat_file, &port_names),
        state.as_ref().map(|state| &state.saved),
        Timestamp::ZERO,
    );
    let recorder = recorder(arguments, &boat_file, &openings, state.as_ref());
    let outputs = Outputs::new(
        wiring::wanted(&boat_file, &settings),
        names.clone(),
        clock.now(),
    );
    let mut front = Front::aboard(arguments.json)?;
    if let Some(board) = board {
        front.add_board(&board);
    }
    let page = front.serve(&boat_file, arguments.page, &names);
    let mut watcher = Watcher::new(Parts {
        engine,
        aboard: Aboard::new(&openings, DataOrigin::Live),
        clock: clock.clone(),
        recorder,
        store: Some(Store::start(directory, held)),
        outputs,
        tellers: front.tellers,
        faces: front.faces,
        progress: Progress::default(),
        unsure,
        names,
        boat_file,
    });
    let (news, coming) = mpsc::channel(MOST_NEWS);
    let running: Vec<_> = openings
        .into_iter()
        .map(|port| ports::run(port, clock.clone(), news.clone()))
        .collect();
    drop(news);
    watcher
        .run(&running, coming, front.inputs, stop_signal())
        .await;
    if let Some(page) = page {
        page.end().await;
    }
    let finished = watcher.finish();
    for fault in finished.aboard.faults(finished.view.now) {
        tracing::info!("at the end: {fault}");
    }
    Ok(Verdict::Well)
}

fn state_directory(given: Option<&Path>) -> PathBuf {
    match given {
        Some(given) => given.to_owned(),
        None => std::env::var_os(STATE_VARIABLE)
            .unwrap_or(USUAL_STATE.into())
            .into(),
    }
}

fn recorder(
    arguments: &Arguments,
    boat_file: &BoatFile,
    openings: &[Port],
    state: Option<&State>,
) -> Option<Recorder> {
    let by_file = boat_file.recorder.directory.as_ref().map(PathBuf::from);
    let by_state = arguments
        .state
        .as_ref()
        .map(|state| state.join("recordings"));
    let directory = match (&arguments.record, arguments.no_record) {
        (_, true) => None,
        (Some(given), _) => Some(given.clone()),
        (None, _) => by_file.map(|by_file| by_state.unwrap_or(by_file)),
    };
    let settings = Settings {
        keep_free_bytes: arguments.keep_free << 20,
        most_bytes: u64::from(boat_file.recorder.most_mb) << 20,
        ..Settings::new(directory?)
    };
    let recorder = Recorder::start(settings, head(boat_file, openings));
    if let Some(state) = state {
        let line = state.write(&boat_file.boat);
        recorder.record(Timestamp::ZERO, &Entry::State(Timestamp::ZERO, line));
    }
    Some(recorder)
}

/// Two watches would overwrite what each other keeps: the directory is held
/// for as long as this is. Where it cannot be, the store tells what is wrong.
fn alone_in(directory: &Path) -> Result<Option<File>, Failure> {
    // Made by the store as well, which tells what it meets.
    let _ = std::fs::create_dir_all(directory);
    let Ok(held) = File::open(directory) else {
        return Ok(None);
    };
    match flock(&held, FlockOperation::NonBlockingLockExclusive) {
        Err(Errno::WOULDBLOCK) => Err(Failure::Environment(anyhow::anyhow!(
            "{}: another watch keeps its state here: end that one first, or give this one \
             another directory with --state",
            directory.display()
        ))),
        Err(_) => Ok(None),
        Ok(()) => Ok(Some(held)),
    }
}

/// What every part of a recording begins with.
pub(super) fn head(boat_file: &BoatFile, openings: &[Port]) -> Vec<Entry> {
    let ports = openings
        .iter()
        .map(|port| Entry::Port(port.id, port.name.clone()));
    let key = boat_file.page.key.as_deref();
    let boat = boat_file
        .text
        .lines()
        .map(|line| Entry::Boat(page::without_key(line, key)));
    // The boat file's text tells its own, but not one given by hand.
    let forecast = Entry::Forecast(Timestamp::ZERO, Box::new(boat_file.boat.forecast.clone()));
    ports
        .chain(boat)
        .chain([forecast])
        .chain([Entry::Start(Timestamp::ZERO)])
        .collect()
}

/// Who is told, and by what.
pub(super) struct Front {
    pub(super) tellers: Vec<Teller>,
    pub(super) faces: Vec<Box<dyn Face>>,
    pub(super) inputs: mpsc::Receiver<Input>,
}

impl Front {
    /// Lines only, on standard output either way.
    pub(super) fn without_screen(json: bool) -> Front {
        let (_, nobody) = mpsc::channel(1);
        let teller: Teller = match json {
            true => Box::new(|event, names| say(&event_line(event, names))),
            false => Box::new(|event, names| say(&event_words(event, names))),
        };
        Front {
            tellers: vec![teller],
            faces: Vec::new(),
            inputs: nobody,
        }
    }

    /// The same for a watch, which goes on though nobody reads what it says.
    fn aboard(json: bool) -> Result<Front, Failure> {
        if !json && terminal::is_terminal() {
            return Front::open(json);
        }
        let voice = Rc::new(match json {
            true => Voice::start("standard output", std::io::stdout()),
            false => Voice::start("standard error", std::io::stderr()),
        });
        let speaker = Rc::clone(&voice);
        let (_, nobody) = mpsc::channel(1);
        Ok(Front {
            tellers: vec![Box::new(move |event, names| {
                speaker.say(match json {
                    true => event_line(event, names),
                    false => event_words(event, names),
                });
            })],
            faces: vec![Box::new(voice)],
            inputs: nobody,
        })
    }

    /// A board's panel, keys and sounders beside the rest.
    fn add_board(&mut self, board: &BoardFile) {
        let (sender, both) = mpsc::channel(16);
        let before = std::mem::replace(&mut self.inputs, both);
        forward(before, sender.clone());
        let board_io = BoardIo::start(Devices::of(board), sender);
        self.faces.push(Box::new(board_io));
    }

    /// JSON lines where they are asked for; else the screen where there is a
    /// terminal; else words.
    pub(super) fn open(json: bool) -> Result<Front, Failure> {
        if json || !terminal::is_terminal() {
            return Ok(Front::without_screen(json));
        }
        let lines = Lines::default();
        let terminal = Terminal::open(lines.clone()).map_err(Failure::Environment)?;
        Ok(Front {
            tellers: vec![Box::new(move |event, names| {
                lines.add(event_words(event, names));
            })],
            faces: vec![Box::new(terminal)],
            inputs: terminal::keys(),
        })
    }
}

impl Front {
    /// Serves the page where it is asked for, beside what there is: it hears
    /// the same keys and may give acts of its own.
    pub(super) fn serve(
        &mut self,
        boat_file: &BoatFile,
        by_hand: Option<SocketAddr>,
        names: &Names,
    ) -> Option<page::Serving> {
        let listen = by_hand.or(boat_file.page.listen)?;
        let page = Page::new(names.clone(), &boat_file.page);
        self.tellers.push(page.teller());
        self.faces.insert(0, page.face());
        let (inputs, both) = mpsc::channel(16);
        let keys = std::mem::replace(&mut self.inputs, both);
        forward(keys, inputs.clone());
        Some(page.serve(listen, inputs))
    }
}

/// Keys go the same way as whatever else people do.
pub(super) fn forward(mut keys: mpsc::Receiver<Input>, inputs: mpsc::Sender<Input>) {
    tokio::spawn(async move {
        while let Some(key) = keys.recv().await {
            if inputs.send(key).await.is_err() {
                return;
            }
        }
    });
}

/// Told once the program is asked to end.
pub(super) fn stop_signal() -> Arc<Notify> {
    let stop = Arc::new(Notify::new());
    let told = Arc::clone(&stop);
    tokio::spawn(async move {
        use tokio::signal::unix::{SignalKind, signal};
        let signals = (
            signal(SignalKind::terminate()),
            signal(SignalKind::interrupt()),
            signal(SignalKind::hangup()),
        );
        if let (Ok(mut terminate), Ok(mut interrupt), Ok(mut hangup)) = signals {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = interrupt.recv() => {}
                _ = hangup.recv() => {}
            }
            told.notify_one();
        }
    });
    stop
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_watches_do_not_keep_their_state_in_one_directory() {
        let place = tempfile::tempdir().unwrap();
        let first = alone_in(place.path()).unwrap();
        assert!(first.is_some());
        match alone_in(place.path()) {
            Err(Failure::Environment(error)) => {
                assert!(error.to_string().contains("--state"), "{error}");
            }
            other => panic!("{other:?}"),
        }
        drop(first);
        assert!(alone_in(place.path()).unwrap().is_some());
    }
}
