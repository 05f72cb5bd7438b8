//! `cringle` alone: the built-in demo passage.

use std::cell::RefCell;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::rc::Rc;

use clap::Args;
use cringle_core::event::{Call, Event, EventKind};
use cringle_core::view::View;
use cringle_screen::aboard::DataOrigin;
use cringle_screen::ui::Ui;
use tokio::sync::mpsc;

use super::watch::{Front, forward, head, stop_signal};
use crate::aboard::Aboard;
use crate::answer::{Failure, Verdict, aside, check_pace, say, wait_for};
use crate::demo::{self, Cables, Sea};
use crate::engine::Engine;
use crate::events::event_words;
use crate::picture::{Picture, Size};
use crate::ports;
use crate::recorder::{Recorder, Settings, WhenBehind};
use crate::watch::{Finished, Parts, Watcher};
use crate::{terminal, wiring};
use cringle_core::time::Timestamp;

/// Times as fast as life where somebody looks on: the story in a minute.
const PACE: f64 = 60.0;

/// The arguments of the demo.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// One JSON object for each event on standard output.
    #[arg(long)]
    json: bool,
    /// So many times as fast as life; else 60 on a terminal, and without one
    /// as fast as it goes.
    #[arg(long, value_name = "N")]
    pace: Option<f64>,
    /// Another story: a file, or one of the simulator's by name.
    #[arg(long, value_name = "STORY")]
    story: Option<String>,
    /// Tells the story again, differently.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Where the picture of the screen goes at the end.
    #[arg(long, value_name = "FILE")]
    png: Option<PathBuf>,
    /// Bring the instruments aboard over UDP on the loopback instead of
    /// serial lines, where pseudo-terminals cannot be had.
    #[arg(long)]
    udp: bool,
    /// Records the passage into this directory.
    #[arg(long, value_name = "DIR")]
    record: Option<PathBuf>,
    /// Serves the page here, to be looked at; the demo's crew acts by itself.
    #[arg(long, value_name = "ADDRESS:PORT")]
    page: Option<SocketAddr>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    check_pace(arguments.pace)?;
    let (finished, calls) = wait_for(sail(arguments))??;
    sum_up(arguments, &finished, &calls).map_err(Failure::Environment)?;
    Ok(Verdict::Well)
}

/// The calls of the passage, in words.
type Calls = Rc<RefCell<Vec<(Call, String)>>>;

async fn sail(arguments: &Arguments) -> Result<(Finished, Calls), Failure> {
    let boat_file = demo::boat_file()?;
    let story = demo::story(arguments.story.as_deref()).map_err(Failure::Usage)?;
    let cables = cables(arguments).map_err(Failure::Environment)?;
    let mut front = Front::open(arguments.json)?;
    let nobody_looks = front.faces.is_empty() && arguments.page.is_none();
    let pace = match (arguments.pace, nobody_looks) {
        (Some(pace), _) => Some(pace),
        (None, false) => Some(PACE),
        (None, true) => None,
    };
    let (inputs, coming) = mpsc::channel(16);
    let keys = inputs.clone();
    let (sea, ashore) = Sea::new(&cables, &boat_file, inputs, story, arguments.seed)
        .map_err(Failure::Environment)?;
    let names: Vec<_> = ashore.ports.iter().map(|port| port.name.clone()).collect();
    let decoders = wiring::decoders(&boat_file, &names);
    let names = wiring::names(&boat_file, &names);
    let page = front.serve(&boat_file, arguments.page, &names);
    forward(front.inputs, keys);
    let calls = Calls::default();
    let told = Rc::clone(&calls);
    let orders = ashore.orders;
    front.tellers.push(Box::new(move |event: &Event, names| {
        if matches!(event.kind, EventKind::Call) {
            let line = (event.call, event_words(event, names));
            told.borrow_mut().push(line);
        }
        if let Some(order) = demo::order(event) {
            // Once the sea has ended nobody needs orders.
            let _ = orders.send(order);
        }
    }));
    let recorder = arguments.record.clone().map(|directory| {
        let mut settings = Settings::new(directory);
        settings.when_behind = WhenBehind::Wait;
        Recorder::start(settings, head(&boat_file, &ashore.ports))
    });
    let times = pace.unwrap_or(0.0) as f32;
    let mut watcher = Watcher::new(Parts {
        engine: Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO),
        aboard: Aboard::new(&ashore.ports, DataOrigin::Demo { times }),
        clock: ashore.clock.clone(),
        recorder,
        store: None,
        outputs: None,
        tellers: front.tellers,
        faces: front.faces,
        unsure: Vec::new(),
        progress: ashore.progress,
        names,
        boat_file,
    });
    let (news, heard) = mpsc::channel(1024);
    let running: Vec<_> = ashore
        .ports
        .into_iter()
        .map(|port| ports::run(port, ashore.clock.clone(), news.clone()))
        .collect();
    let stop = stop_signal();
    demo::run(sea, pace, std::sync::Arc::clone(&stop));
    watcher.run(&running, heard, coming, stop).await;
    drop(running);
    if let Some(page) = page {
        page.end().await;
    }
    let finished = watcher.finish();
    if let Cables::Terminals(directory) = cables {
        // What is left of it is empty.
        let _ = std::fs::remove_dir_all(directory);
    }
    Ok((finished, calls))
}

/// Serial lines need a directory of this process for their ends.
fn cables(arguments: &Arguments) -> anyhow::Result<Cables> {
    if arguments.udp {
        return Ok(Cables::Datagrams);
    }
    let name = format!("cringle-demo-{}", std::process::id());
    let directory = std::env::temp_dir().join(name);
    std::fs::create_dir_all(&directory)?;
    Ok(Cables::Terminals(directory))
}

fn sum_up(arguments: &Arguments, finished: &Finished, calls: &Calls) -> anyhow::Result<()> {
    let view = &finished.view;
    let words = |line: &str| match arguments.json {
        true => aside(line),
        false => say(line),
    };
    words("The passage of an invented boat has ended. Her calls were:");
    for (_, line) in calls.borrow().iter() {
        words(&format!("  {line}"));
    }
    words(&format!("Set now: {}.", plan_words(view)));
    let open = view.setup.iter().filter(|item| {
        item.wanted == cringle_core::view::Wanted::Now
            && item.ready == cringle_core::act::Readiness::Open
    });
    for item in open {
        words(&format!(
            "To be made ready for the next reduction: {}.",
            item.name
        ));
    }
    let path = match &arguments.png {
        Some(path) => path.clone(),
        None if terminal::is_terminal() && !arguments.json => return Ok(()),
        None => std::env::temp_dir().join("cringle-demo.png"),
    };
    let picture = Picture::draw(Size::Colour, view, &finished.aboard, &Ui::new());
    picture.save_png(&path, 2)?;
    words(&format!("The screen: {}", path.display()));
    Ok(())
}

fn plan_words(view: &View) -> String {
    let rung = view.ladder.iter().find(|rung| rung.id == view.plan.id);
    rung.map_or("unknown".into(), |rung| rung.name.as_str().into())
}
