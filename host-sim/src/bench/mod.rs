//! The bench: one page on which the real daemon sails a made-up boat.
//!
//! ```text
//!   page -- turns, faults, orders --> sea --- bytes --> pseudo-terminals
//!    ^  ^                              ^                      |
//!    |  +-- truth, strip chart --------+-- events --+         v
//!    +----- screens, keys ------------------------ cringle watch (a child)
//! ```
//!
//! Nothing of the daemon's insides is in here: it is started as aboard, hears
//! its ports, and its screens are fetched from its own page. With a recording
//! instead of a scenario the same program draws what its screens showed then.

pub mod client;
mod daemon;
mod film;
mod page;
mod sea;
mod strip;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, mpsc};
use std::time::Duration;

use anyhow::{Context, Result};

pub use daemon::{Daemon, Places, Recording};
pub use film::{Ahead, Film};
pub use page::{Bench, routes};
pub use sea::{Control, Sea, Sight, Steered, Switch};
pub use strip::{Estimate, Sample, Strip};

use crate::passage::Passage;
use crate::scenario::Scenario;
use crate::sink::{Sinks, Target, TargetKind};
use daemon::{lock, terminals};

/// How often the daemon is asked what it thinks.
const ASKS_EVERY: Duration = Duration::from_secs(1);

/// What to bring to the bench.
pub struct Options {
    /// Where the page is served.
    pub listen: SocketAddr,
    /// The daemon; beside this program, or on the path, if not given.
    pub program: Option<PathBuf>,
    /// Where recordings go.
    pub recordings: PathBuf,
    /// Tells the story again, differently.
    pub seed: u64,
}

/// Sails a scenario in real time and serves its page until it is told to end.
pub fn sail(scenario: Scenario, options: Options) -> Result<()> {
    let folder = Folder::make()?;
    let bench = start(scenario, &options, &folder.0)?;
    let daemon = Arc::clone(&bench.daemon);
    let served = serve(options.listen, routes(bench));
    daemon.end();
    served
}

/// Everything of a bench but its page: terminals, daemon, sea.
pub fn start(scenario: Scenario, options: &Options, folder: &Path) -> Result<Bench> {
    std::fs::create_dir_all(terminals(folder))?;
    let target = Target {
        line: None,
        kind: TargetKind::PtyFolder(terminals(folder)),
    };
    let sinks = Sinks::open(&[target], &scenario.line)?;
    let places = Places {
        program: program(options.program.as_deref()),
        folder: folder.to_owned(),
        recordings: options.recordings.clone(),
    };
    let daemon = Arc::new(Daemon::start(places, &scenario)?);
    let sight = Arc::new(Mutex::new(Sight::default()));
    let (turns, coming) = mpsc::channel();
    let sea = Sea::new(
        Passage::new(scenario.clone(), options.seed),
        sinks,
        Arc::clone(&daemon),
        Arc::clone(&sight),
        coming,
    );
    std::thread::spawn(move || sea.sail());
    ask_again_and_again(Arc::downgrade(&daemon), Arc::clone(&sight));
    Ok(Bench {
        scenario: Arc::new(scenario),
        seed: options.seed,
        daemon,
        sight,
        turns,
    })
}

/// Shows what was on the screens of a recording until it is told to end.
pub fn replay(recording: &[PathBuf], options: Options) -> Result<()> {
    let folder = Folder::make()?;
    let program = program(options.program.as_deref());
    eprintln!("looking through the recording");
    let film = Film::open(program, recording, &folder.0)?;
    serve(options.listen, page::film_routes(Arc::new(film)))
}

fn ask_again_and_again(daemon: std::sync::Weak<Daemon>, sight: Arc<Mutex<Sight>>) {
    std::thread::spawn(move || {
        while let Some(daemon) = daemon.upgrade() {
            let view = daemon.get("/view").ok().filter(|view| view.status == 200);
            if let Some(view) = view.and_then(|view| serde_json::from_slice(&view.body).ok()) {
                lock(&sight).estimate(Estimate::of(&view));
            }
            let fallen = daemon.fallen();
            drop(daemon);
            lock(&sight).fallen = fallen;
            std::thread::sleep(ASKS_EVERY);
        }
    });
}

fn serve(listen: SocketAddr, routes: axum::Router) -> Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind(listen)
            .await
            .with_context(|| format!("{listen}: cannot serve the page there"))?;
        eprintln!("the bench is at http://{}/", listener.local_addr()?);
        tokio::select! {
            served = async { axum::serve(listener, routes).await } => Ok(served?),
            asked = asked_to_end() => asked,
        }
    })
}

async fn asked_to_end() -> Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut terminate = signal(SignalKind::terminate())?;
    let mut interrupt = signal(SignalKind::interrupt())?;
    tokio::select! {
        _ = terminate.recv() => {}
        _ = interrupt.recv() => {}
    }
    Ok(())
}

/// As given, or the one built beside this program, or the one on the path.
fn program(given: Option<&Path>) -> PathBuf {
    let beside = || {
        let own = std::env::current_exe().ok()?;
        Some(own.with_file_name("cringle")).filter(|path| path.is_file())
    };
    given
        .map(Path::to_owned)
        .or_else(beside)
        .unwrap_or_else(|| "cringle".into())
}

/// A folder for terminals, state and pictures, which goes with the bench.
struct Folder(PathBuf);

impl Folder {
    fn make() -> Result<Self> {
        let name = format!("cringle-bench-{}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path)
            .with_context(|| format!("{}: cannot make the folder", path.display()))?;
        Ok(Self(path))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed is left to whoever cleans up there.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
