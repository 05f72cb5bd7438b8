//! The demo: a simulated passage on real pseudo-terminals, heard by the real
//! serial reader, or over UDP where there are none.
//!
//! The sea runs on a thread of its own and winds the watch's clock. It goes
//! on only when every line so far has been heard and acted on, so that on a
//! slow machine the story takes longer and is still the same story. The
//! simulated crew does as it is called, and what it does comes back as its
//! key presses; a person at the keyboard may be quicker.

mod cable;

use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc;
use std::time::Duration;

use anyhow::Context;
use cringle_boat::BoatFile;
use cringle_core::act::{Act, Hands, Readiness};
use cringle_core::event::{Call, Event, EventKind};
use cringle_core::ladder::{Ladder, PlanId};
use cringle_core::time::Timestamp;
use cringle_sim::crew::{CrewEvent, Order};
use cringle_sim::passage::Passage;
use cringle_sim::scenario::Scenario;
use tokio::sync::Notify;

pub use cable::Cables;

use self::cable::Cable;
use crate::answer::Failure;
use crate::clock::{Clock, Winder};
use crate::face::Input;
use crate::ports::{Port, PortId};
use crate::progress::{Progress, Taken};

/// The story that is told where no other is asked for.
fn own_story() -> anyhow::Result<Scenario> {
    Scenario::parse(include_str!("passage.toml"))
}

/// A story by its file, by its name among the simulator's, or the demo's own.
pub fn story(named: Option<&str>) -> anyhow::Result<Scenario> {
    match named {
        None => own_story(),
        Some(path) if Path::new(path).exists() => Scenario::load(Path::new(path)),
        Some(name) => Scenario::builtin(name),
    }
}

/// One step of the sea, seconds: the simulator's own.
const STEP_S: f64 = 0.1;

/// How long the sea waits for a line to be heard before it says that the
/// line was lost, and goes on.
const PATIENCE: Duration = Duration::from_secs(20);

/// The boat file of the demo's invented boat.
pub fn boat_file() -> Result<BoatFile, Failure> {
    crate::boatfile::parse("the demo's boat file", include_str!("teasel.toml"))
}

/// A sea that is about to run.
pub struct Sea {
    passage: Passage,
    cables: Vec<Cable>,
    winder: Winder,
    progress: Progress,
    inputs: tokio::sync::mpsc::Sender<Input>,
    orders: mpsc::Receiver<Order>,
    ladder: Ladder,
    sent: u64,
    put_in: u64,
}

/// What the watch needs to hear the sea.
pub struct Ashore {
    /// The ports, one for each of the boat's lines.
    pub ports: Vec<Port>,
    /// The clock that the sea winds.
    pub clock: Clock,
    /// Where the watch tells how far it has come.
    pub progress: Progress,
    /// Orders to the crew.
    pub orders: mpsc::Sender<Order>,
}

impl Sea {
    /// Lays the boat's lines and puts her at the beginning of her story.
    pub fn new(
        kind: &Cables,
        boat_file: &BoatFile,
        inputs: tokio::sync::mpsc::Sender<Input>,
        story: Scenario,
        seed: u64,
    ) -> anyhow::Result<(Sea, Ashore)> {
        let passage = Passage::new(story, seed);
        let lines = passage.scenario().line.clone();
        let mut cables = Vec::new();
        let mut ports = Vec::new();
        for (line, number) in lines.iter().zip(0..) {
            let (cable, place) = kind.lay(line)?;
            cables.push(cable);
            ports.push(Port {
                id: PortId(number),
                name: line.name.clone(),
                place,
            });
        }
        let (winder, clock) = Clock::by_hand();
        let (orders, coming) = mpsc::channel();
        let progress = Progress::default();
        let sea = Sea {
            passage,
            cables,
            winder,
            progress: progress.clone(),
            inputs,
            orders: coming,
            ladder: boat_file.boat.ladder.clone(),
            sent: 0,
            put_in: 0,
        };
        let ashore = Ashore {
            ports,
            clock,
            progress,
            orders,
        };
        Ok((sea, ashore))
    }

    /// Sails the story to its end, `pace` times as fast as life or as fast as
    /// it is heard, and then ends the watch.
    pub fn sail(mut self, pace: Option<f64>, stop: &Notify) {
        let wall = Clock::real();
        let lines = self.cables.len() as u64;
        if self
            .progress
            .wait_for(PATIENCE, |taken| taken.opened >= lines)
        {
            while !self.passage.is_over() {
                if self.step().is_err() {
                    break;
                }
                if let Some(pace) = pace {
                    wait_until(&wall, self.passage.now_s() / pace);
                }
            }
        } else {
            tracing::error!("the demo's lines were not opened");
        }
        stop.notify_one();
    }

    fn step(&mut self) -> anyhow::Result<()> {
        while let Ok(order) = self.orders.try_recv() {
            self.passage.order(order);
        }
        let mut sentences = self.passage.step(STEP_S).to_vec();
        sentences.sort_by(|one, other| one.due_s.total_cmp(&other.due_s));
        for sentence in sentences {
            self.wind_to(sentence.due_s)?;
            if let Some(cable) = self.cables.get_mut(sentence.line) {
                cable.write(&sentence.bytes)?;
                self.sent += 1;
            }
            self.wait_for_lines();
        }
        self.wind_to(self.passage.now_s())?;
        for (_, event) in self.passage.crew_events() {
            for act in self.acts(event) {
                self.put_in(Input::Act(act))?;
            }
        }
        Ok(())
    }

    /// Winds the clock and waits until the watch has seen it: what it tells at
    /// a deadline reaches the crew in this step, however busy the computer is.
    fn wind_to(&mut self, seconds: f64) -> anyhow::Result<()> {
        self.winder.wind_to(at(seconds));
        self.put_in(Input::Wound)
    }

    fn wait_for_lines(&mut self) {
        let sent = self.sent;
        if !self
            .progress
            .wait_for(PATIENCE, |taken| taken.lines >= sent)
        {
            tracing::warn!("a line of the demo was lost");
            self.progress.add(Taken {
                lines: 1,
                ..Taken::default()
            });
        }
    }

    fn put_in(&mut self, input: Input) -> anyhow::Result<()> {
        self.inputs
            .blocking_send(input)
            .context("the watch has ended")?;
        self.put_in += 1;
        let put_in = self.put_in;
        self.progress
            .wait_for(PATIENCE, |taken| taken.inputs >= put_in);
        Ok(())
    }

    /// The key presses with which a crew tells what it has done.
    fn acts(&self, event: CrewEvent) -> Vec<Act> {
        match event {
            CrewEvent::Heard(_) => vec![Act::Acknowledge],
            CrewEvent::Missed(_) => Vec::new(),
            CrewEvent::OnDeck => vec![Act::Hands(Hands {
                on_deck: 2,
                below: 0,
            })],
            CrewEvent::SetUp(rung) => self.made_ready(rung),
            CrewEvent::Begun(_) => vec![Act::Started],
            CrewEvent::Changed(rung) => vec![Act::Plan(plan(rung))],
        }
    }

    fn made_ready(&self, rung: usize) -> Vec<Act> {
        let change = self.ladder.changes.iter().find(|c| c.to == plan(rung));
        let items = change.into_iter().flat_map(|change| change.setup.iter());
        items
            .map(|item| Act::Setup {
                item: *item,
                readiness: Readiness::Ready,
            })
            .collect()
    }
}

/// What the crew is told by an event.
pub fn order(event: &Event) -> Option<Order> {
    match (&event.kind, event.call) {
        (EventKind::Call, Call::Prepare) => Some(Order::Prepare),
        (EventKind::Call, Call::Reduce | Call::Past) => Some(Order::Reduce),
        _ => None,
    }
}

fn at(seconds: f64) -> Timestamp {
    Timestamp::from_millis((seconds * 1000.0).round().max(0.0) as u64)
}

fn plan(rung: usize) -> PlanId {
    PlanId(u8::try_from(rung).unwrap_or(u8::MAX))
}

fn wait_until(wall: &Clock, seconds: f64) {
    let ahead = at(seconds).since(wall.now());
    if !ahead.is_zero() {
        std::thread::sleep(ahead);
    }
}

/// Runs a sea on a thread of its own.
pub fn run(sea: Sea, pace: Option<f64>, stop: Arc<Notify>) {
    std::thread::spawn(move || sea.sail(pace, &stop));
}
