//! Makes the recorded inputs of `tests/data/net`: sails every story of the
//! simulator with five seeds, and keeps what went into the core.
//!
//! ```sh
//! cargo run -p cringle-tests --example freeze -- rising-breeze tests/data/net
//! ```
//!
//! The files in the tree were made once and stay as they are, so that a later
//! change of the simulator's weather does not move them. Make new ones only
//! for a new story: the crew in them did as the program of that day called.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow};
use cringle::engine::Engine;
use cringle::ports::PortId;
use cringle::recorder::lines::{Entry, FORMAT};
use cringle::{demo, wiring};
use cringle_core::act::{Act, Readiness};
use cringle_core::event::Call;
use cringle_core::ladder::{ItemId, Ladder, PlanId};
use cringle_core::time::Timestamp;
use cringle_sim::boat_file::boat_file;
use cringle_sim::closed_loop::{Advice, Adviser, sail_with};
use cringle_sim::crew::CrewEvent;
use cringle_sim::instruments::Sentence;
use cringle_sim::scenario::Scenario;
use cringle_tests::net::{DEMO, SEEDS, inputs, stories};
use cringle_tests::packed;
use cringle_wire::frame::Liner;

/// How differently each seed tells its story: as in the closed-loop table.
const VARY: f64 = 0.25;

/// What is kept of a story that is longer than what happens in it: from which
/// minute, with which rung set, and for how long.
const KEPT: [(&str, f64, usize, f64); 17] = [
    ("building-gale", 240.0, 1, 240.0),
    ("night-watch", 160.0, 0, 210.0),
    ("sea-breeze", 0.0, 0, 170.0),
    ("steady-trade", 0.0, 0, 60.0),
    ("false-alarm", 0.0, 0, 185.0),
    ("cold-front", 0.0, 1, 225.0),
    ("running-fast", 0.0, 1, 185.0),
    ("lull", 0.0, 2, 130.0),
    ("squall-line", 0.0, 0, 110.0),
    ("capful-gusts", 0.0, 0, 60.0),
    ("clock-step", 0.0, 0, 100.0),
    ("frozen-cup", 0.0, 0, 110.0),
    ("lost-wind", 0.0, 0, 110.0),
    ("noisy-wire", 0.0, 0, 105.0),
    ("pulled-plug", 0.0, 0, 105.0),
    ("stuck-vane", 0.0, 0, 110.0),
    ("two-talkers", 0.0, 0, 95.0),
];

/// The most that an instrument says in a second; all else once in ten.
const MOST_HZ: [(&str, f64); 5] = [
    ("masthead", 1.0),
    ("stern", 1.0),
    ("attitude", 1.0),
    ("log", 0.2),
    ("compass", 0.2),
];
const OTHER_HZ: f64 = 0.1;

/// In these the wind unit itself lies, and speaks as often as it does aboard.
const WIND_LIES: [&str; 4] = ["frozen-cup", "noisy-wire", "stuck-vane", "two-talkers"];
const LYING_WIND_HZ: f64 = 2.0;

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let usage = "give a story, or all, and a folder";
    let wanted = arguments.next().context(usage)?;
    let folder = PathBuf::from(arguments.next().context(usage)?);
    for name in stories() {
        if wanted == "all" || wanted == name {
            freeze(name, &folder)?;
        }
    }
    Ok(())
}

fn freeze(name: &str, folder: &Path) -> Result<()> {
    for seed in 1..=SEEDS {
        let story = thinned(story(name)?);
        let text = match name {
            DEMO => include_str!("../../firmware/daemon/src/demo/teasel.toml").to_owned(),
            _ => boat_file(&story),
        };
        let mut listener = Listener::new(name, &story, &text)?;
        sail_with(story, seed, &mut listener);
        let bytes = packed::pack(&listener.recording());
        let path = inputs(folder, name, seed);
        println!("{}: {} bytes", path.display(), bytes.len());
        std::fs::write(path, bytes)?;
    }
    Ok(())
}

fn story(name: &str) -> Result<Scenario> {
    if name == DEMO {
        return demo::story(None);
    }
    let mut story = Scenario::builtin(name)?.with_vary(VARY);
    if let Some((_, from_min, rung, minutes)) = KEPT.iter().find(|(kept, ..)| *kept == name) {
        story.minutes = *minutes;
        story.rung = *rung;
        for point in &mut story.weather.mean {
            point.at_min -= from_min;
        }
    }
    Ok(story)
}

fn thinned(mut story: Scenario) -> Scenario {
    let wind_lies = WIND_LIES.contains(&story.name.as_str());
    for device in &mut story.device {
        let most = MOST_HZ.iter().find(|(name, _)| *name == device.name);
        let most = match (device.name.as_str(), wind_lies) {
            ("masthead", true) => LYING_WIND_HZ,
            _ => most.map_or(OTHER_HZ, |(_, hz)| *hz),
        };
        device.hz = device.hz.min(most);
    }
    story
}

/// A watch with a crew that does as it is called, and keeps what it hears.
struct Listener {
    engine: Engine,
    liners: BTreeMap<usize, Liner>,
    ladder: Ladder,
    entries: Vec<Entry>,
    call: Call,
    now: Timestamp,
}

impl Listener {
    fn new(name: &str, story: &Scenario, text: &str) -> Result<Listener> {
        let boat_file =
            cringle_boat::parse(name, text).map_err(|problems| anyhow!("{problems}"))?;
        let ports: Vec<String> = story.line.iter().map(|line| line.name.clone()).collect();
        let decoders = wiring::decoders(&boat_file, &ports);
        let mut entries = vec![Entry::Format(FORMAT), Entry::Part { run: 1, part: 1 }];
        let numbered = (0..).zip(&ports);
        entries.extend(numbered.map(|(port, name)| Entry::Port(PortId(port), name.clone())));
        entries.extend(text.lines().map(|line| Entry::Boat(line.into())));
        entries.push(Entry::Start(Timestamp::ZERO));
        Ok(Listener {
            engine: Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO),
            liners: BTreeMap::new(),
            ladder: boat_file.boat.ladder.clone(),
            entries,
            call: Call::None,
            now: Timestamp::ZERO,
        })
    }

    fn act(&mut self, act: Act) {
        self.entries.push(Entry::Act(self.now, act));
        self.engine.act(act, self.now);
    }

    /// What the change down to a plan needs.
    fn setup_for(&self, plan: PlanId) -> Vec<ItemId> {
        let change = self.ladder.changes.iter().find(|it| it.to == plan);
        change.map_or(Vec::new(), |change| change.setup.to_vec())
    }

    fn recording(mut self) -> Vec<u8> {
        self.entries.push(Entry::End(self.now));
        self.entries.iter().flat_map(Entry::write).collect()
    }
}

impl Adviser for Listener {
    fn hear(&mut self, sentence: &Sentence) {
        let at = moment(sentence.due_s);
        self.now = self.now.max(at);
        let Ok(number) = u8::try_from(sentence.line) else {
            return;
        };
        let (engine, entries) = (&mut self.engine, &mut self.entries);
        let liner = self.liners.entry(sentence.line).or_default();
        liner.feed(&sentence.bytes, &mut |line| {
            let port = PortId(number);
            engine.line(port, line, at);
            entries.push(Entry::Heard {
                port,
                at,
                unix_ms: None,
                line: line.to_vec(),
            });
        });
    }

    fn crew_did(&mut self, event: CrewEvent, now_s: f64) {
        self.now = self.now.max(moment(now_s));
        match event {
            CrewEvent::Heard(_) => self.act(Act::Acknowledge),
            CrewEvent::SetUp(rung) => {
                for item in self.setup_for(PlanId(rung as u8)) {
                    let readiness = Readiness::Ready;
                    self.act(Act::Setup { item, readiness });
                }
            }
            CrewEvent::Begun(_) => self.act(Act::Started),
            CrewEvent::Changed(rung) => self.act(Act::Plan(PlanId(rung as u8))),
            CrewEvent::Missed(_) | CrewEvent::OnDeck => {}
        }
    }

    fn advise(&mut self, now_s: f64) -> Option<Advice> {
        self.now = self.now.max(moment(now_s));
        self.engine.tick(self.now);
        if let Some(event) = self.engine.events().last() {
            self.call = event.call;
        }
        match self.call {
            Call::Prepare => Some(Advice::Prepare),
            Call::Reduce | Call::Past => Some(Advice::Reduce),
            Call::None | Call::Blind => None,
        }
    }
}

fn moment(now_s: f64) -> Timestamp {
    Timestamp::from_millis((now_s.max(0.0) * 1000.0).round() as u64)
}
