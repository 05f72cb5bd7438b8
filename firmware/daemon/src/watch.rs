//! The watch loop: wait for bytes, a key or the next deadline, give it to the
//! engine, act on the events.

use std::sync::Arc;
use std::time::Duration;

use cringle_boat::BoatFile;
use cringle_core::act::Act;
use cringle_core::event::{Event, EventKind, FaultTurn};
use cringle_core::forecast::Table;
use cringle_core::time::{Timestamp, UtcQuality};
use cringle_core::view::View;
use cringle_core::watch::{Saved, SavedForecast};
use cringle_screen::aboard::DataOrigin;
use cringle_wire::tally::Tally;
use tokio::sync::{Notify, mpsc};

use crate::aboard::Aboard;
use crate::clock::{self, Clock};
use crate::engine::Engine;
use crate::events::device::{device_line, turns};
use crate::events::event_line;
use crate::face::{Face, Input, Stroke};
use crate::names::Names;
use crate::notify::Manager;
use crate::outputs::{Outputs, Sending};
use crate::ports::{News, PortId, Running, What};
use crate::progress::{Progress, Taken};
use crate::pulse::Pulse;
use crate::recorder::Recorder;
use crate::recorder::lines::Entry;
use crate::state::{State, Unsure};
use crate::store::{Store, Urgency};

/// By the wall: how often faces are drawn and the small chores are done.
const BEAT: Duration = Duration::from_millis(250);
/// In the watch's own time: a recording says at least so often that time
/// goes on.
const TICK_RECORDED: Duration = Duration::from_secs(10);
/// How often the computer's own clock is asked again.
const SYSTEM_UTC: Duration = Duration::from_secs(60);

/// For so long a watch judges the level of the wind alone: `near` needs twenty
/// minutes, see `DEVELOPERS.md`.
const TREND_KNOWN: Timestamp = Timestamp::from_secs(1200);

/// Takes each event as it comes.
pub type Teller = Box<dyn FnMut(&Event, &Names)>;

/// What a watch is made of.
pub struct Parts {
    /// The boat file.
    pub boat_file: BoatFile,
    /// Names of plans, items and ports.
    pub names: Names,
    /// Decoders and core.
    pub engine: Engine,
    /// The daemon's own part of the picture.
    pub aboard: Aboard,
    /// What time it is.
    pub clock: Clock,
    /// The recorder, if it records.
    pub recorder: Option<Recorder>,
    /// Event log and state file, if they are kept.
    pub store: Option<Store>,
    /// What is told to other instruments.
    pub outputs: Option<Outputs>,
    /// Who is told of events.
    pub tellers: Vec<Teller>,
    /// Screens with their keys.
    pub faces: Vec<Box<dyn Face>>,
    /// Where it is told how far the loop has come.
    pub progress: Progress,
    /// What of the state before the start is asked for until the crew has said it.
    pub unsure: Vec<Unsure>,
}

/// A watch under way.
pub struct Watcher {
    parts: Parts,
    /// The newest moment the engine has seen: it never goes back.
    now: Timestamp,
    recorded: Timestamp,
    asked_system: Option<Timestamp>,
    saved: Saved,
    /// By the wall, for what must not run at a demo's pace.
    wall: Clock,
    pulse: Pulse,
    manager: Manager,
}

/// How a watch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// It was asked to.
    Stopped,
    /// Every port came to its end.
    InputsEnded,
}

impl Watcher {
    /// Begins.
    pub fn new(parts: Parts) -> Watcher {
        let wall = Clock::real();
        let mut watcher = Watcher {
            now: Timestamp::ZERO,
            recorded: Timestamp::ZERO,
            asked_system: None,
            saved: parts.engine.saved(),
            pulse: Pulse::new(wall.now()),
            wall,
            manager: Manager::new(),
            parts,
        };
        let forecast = match &watcher.saved.forecast {
            SavedForecast::OfTheBoat => watcher.parts.boat_file.boat.forecast.clone(),
            SavedForecast::Entered(table) => table.clone(),
        };
        watcher.parts.aboard.forecast = forecast.map(Arc::new);
        watcher.carry(watcher.saved.clone());
        watcher.ask_system_utc();
        watcher.settle(&[]);
        watcher
    }

    /// Runs until it is stopped or all its ports have come to their end.
    pub async fn run(
        &mut self,
        ports: &[Running],
        mut news: mpsc::Receiver<News>,
        mut inputs: mpsc::Receiver<Input>,
        stop: Arc<Notify>,
    ) -> Ended {
        self.manager.ready();
        let clock = self.parts.clock.clone();
        let mut beat = tokio::time::interval(BEAT);
        beat.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        let mut keys_there = true;
        loop {
            let deadline = self.next_deadline();
            let mut taken = Taken::default();
            tokio::select! {
                heard = news.recv() => match heard {
                    Some(heard) => {
                        count(&heard.what, &mut taken);
                        self.hear(&heard);
                    }
                    None => return Ended::InputsEnded,
                },
                input = inputs.recv(), if keys_there => match input {
                    Some(input) => {
                        // A key is a person's own affair; the sea waits for
                        // the rest.
                        taken.inputs = u64::from(matches!(input, Input::Act(_) | Input::Wound));
                        if self.input(input) == Stroke::Quit {
                            return Ended::Stopped;
                        }
                    }
                    None => keys_there = false,
                },
                () = clock.sleep_until(deadline) => self.tick(),
                _ = beat.tick() => {
                    self.tick();
                    self.beat();
                }
                () = stop.notified() => return Ended::Stopped,
            }
            self.settle(ports);
            self.parts.progress.add(taken);
            if self.parts.aboard.has_ended() {
                return Ended::InputsEnded;
            }
        }
    }

    /// Ends in good order: what is to be kept is on the disk when it returns.
    pub fn finish(mut self) -> Finished {
        self.tick();
        self.settle(&[]);
        self.measure_pace(self.wall.now());
        self.manager.stopping();
        self.save();
        self.count_refused();
        let view = self.parts.engine.view();
        if let Some(recorder) = self.parts.recorder.take() {
            self.parts.aboard.recorder = Some(recorder.end(self.now));
        }
        // What the event log met at its last write is told too.
        if let Some(store) = self.parts.store.take() {
            self.parts.aboard.storage = store.end();
        }
        Finished {
            view,
            aboard: self.parts.aboard,
        }
    }

    /// Takes what a port says.
    pub fn hear(&mut self, news: &News) {
        self.parts.aboard.hear(news);
        match &news.what {
            What::Line(line) => {
                let at = self.forward(news.at);
                if self.is_own(line, at) {
                    self.parts.aboard.own_lines += 1;
                    return;
                }
                self.record(
                    at,
                    &Entry::Heard {
                        port: news.port,
                        at,
                        unix_ms: self.parts.engine.unix_ms(at),
                        line: line.to_vec(),
                    },
                );
                self.parts.engine.line(news.port, line, at);
            }
            What::Closed(why) => {
                let name = self.parts.names.port(news.port.0);
                tracing::warn!("port {name}: {why}");
            }
            What::Open => {
                let name = self.parts.names.port(news.port.0);
                tracing::info!("port {name} is open");
            }
            What::Bytes { .. } | What::Ended => {}
        }
    }

    /// Takes an act of the crew.
    pub fn act(&mut self, act: Act) {
        let at = self.forward(self.parts.clock.now());
        self.record(at, &Entry::Act(at, act));
        self.parts.engine.act(act, at);
        self.parts
            .unsure
            .retain(|unsure| !unsure.is_answered_by(act));
        // Not every act makes an event; the power may fail before the next.
        self.save();
    }

    /// Takes another forecast of the skipper, or none any more.
    pub fn forecast(&mut self, table: Option<Table>) {
        let at = self.forward(self.parts.clock.now());
        self.record(at, &Entry::Forecast(at, Box::new(table.clone())));
        self.parts.aboard.forecast = table.clone().map(Arc::new);
        self.parts.unsure.retain(|it| *it != Unsure::Forecast);
        self.parts.engine.forecast(table, at);
        self.save();
    }

    /// Lets time go on.
    pub fn tick(&mut self) {
        let now = self.forward(self.parts.clock.now());
        self.parts.engine.tick(now);
        if now.since(self.recorded) >= TICK_RECORDED {
            self.record(now, &Entry::Tick(now));
        }
    }

    /// Acts on what came of it, and sends what is due.
    pub fn settle(&mut self, ports: &[Running]) {
        let events = self.parts.engine.events();
        for event in &events {
            self.tell(event);
        }
        if !events.is_empty() {
            self.save();
        }
        self.send(ports, &events);
        // Half a second counts: what a person waits for does not wait for the
        // next beat.
        if events.iter().any(is_seen_at_once) {
            self.show();
        }
    }

    fn input(&mut self, input: Input) -> Stroke {
        match input {
            Input::Act(act) => {
                self.act(act);
                return Stroke::Act(act);
            }
            Input::Wound => {
                self.tick();
                return Stroke::Nothing;
            }
            Input::Kept(receipt) => {
                match &self.parts.store {
                    Some(store) => store.receipt(receipt),
                    // Nothing is kept: nothing is owed.
                    None => receipt.give(),
                }
                return Stroke::Nothing;
            }
            Input::Forecast(table) => {
                self.forecast(table.map(|table| *table));
                self.show();
                return Stroke::Nothing;
            }
            Input::Character(_) | Input::Key(..) => {}
        }
        let view = self.parts.engine.view();
        let mut last = Stroke::Nothing;
        for face in &mut self.parts.faces {
            match face.take(input.clone(), &view) {
                Stroke::Nothing => {}
                other => last = other,
            }
        }
        if let Stroke::Act(act) = last {
            self.act(act);
        }
        self.show();
        last
    }

    /// Does what is due four times a second by the wall.
    pub fn beat(&mut self) {
        let wall = self.wall.now();
        if let Some(recorder) = &self.parts.recorder {
            self.parts.aboard.recorder = Some(recorder.state());
        }
        self.parts.aboard.storage = self.parts.store.as_ref().and_then(Store::fault);
        self.ask_system_utc();
        self.measure_pace(wall);
        self.note_devices();
        self.show();
        // The core has moved on to this very moment, in `tick` before.
        self.manager.turned(wall);
    }

    /// A demo runs as fast as it is heard: its pace is measured, not set.
    fn measure_pace(&mut self, wall: Timestamp) {
        if let DataOrigin::Demo { times } = &mut self.parts.aboard.pace
            && wall > Timestamp::ZERO
        {
            *times = (self.now.as_secs_f64() / wall.as_secs_f64()) as f32;
        }
    }

    fn show(&mut self) {
        if self.parts.faces.is_empty() {
            return;
        }
        self.count_refused();
        let view = self.parts.engine.view();
        let wall = self.wall.now();
        self.pulse.take(self.parts.engine.heard(), wall);
        self.parts.aboard.beats = self.pulse.beats();
        self.parts.aboard.still_s = self.pulse.still_s(wall);
        self.parts.aboard.hung_s = 0.0;
        for face in &mut self.parts.faces {
            face.show(&view, &self.parts.aboard);
        }
    }

    /// A device that fails or is mended is told once, to the log and to all
    /// screens. The core knows nothing of it, so no replay does.
    fn note_devices(&mut self) {
        let mut faults: Vec<String> = self.parts.faces.iter().flat_map(|it| it.faults()).collect();
        if self.now >= TREND_KNOWN {
            self.parts.unsure.retain(|it| *it != Unsure::Trend);
        }
        let asked = self.parts.unsure.iter().map(|it| it.question());
        faults.extend(asked.map(|question| format!("after the restart: {question}")));
        if faults == self.parts.aboard.devices {
            return;
        }
        let known = std::mem::replace(&mut self.parts.aboard.devices, faults);
        let view = self.parts.engine.view();
        for (turn, why) in turns(&known, &self.parts.aboard.devices) {
            match turn {
                FaultTurn::Began => tracing::warn!("{why}"),
                FaultTurn::Ended => tracing::warn!("{why}: no longer so"),
            }
            if let Some(store) = &self.parts.store {
                let line = device_line(turn, why, &view, &self.parts.names);
                store.event(line, Urgency::Later);
            }
        }
    }

    fn count_refused(&mut self) {
        for (port, number) in self.parts.aboard.ports.iter_mut().zip(0..) {
            port.count_refused(refused(&self.parts.engine.tally(PortId(number))));
        }
    }

    fn tell(&mut self, event: &Event) {
        for teller in &mut self.parts.tellers {
            teller(event, &self.parts.names);
        }
        let is_call = matches!(event.kind, EventKind::Call);
        if let Some(store) = &self.parts.store {
            let line = event_line(event, &self.parts.names);
            let urgency = match is_call {
                true => Urgency::Now,
                false => Urgency::Later,
            };
            store.event(line, urgency);
        }
        if let (true, Some(recorder)) = (is_call, &self.parts.recorder) {
            recorder.sync();
        }
    }

    fn send(&mut self, ports: &[Running], events: &[Event]) {
        let now = self.now;
        let refused = self.parts.engine.refused();
        let Some(outputs) = &mut self.parts.outputs else {
            return;
        };
        let due = outputs.next_deadline().is_some_and(|due| due <= now);
        if !due && events.is_empty() && refused.is_empty() {
            return;
        }
        let view = self.parts.engine.view();
        let mut sending = outputs.refuse(&refused, &view, now);
        sending.extend(outputs.due(&view, now));
        for sending in sending {
            pass_on(ports, sending);
        }
    }

    /// Keeps what the crew has said, when it has changed.
    fn save(&mut self) {
        let saved = self.parts.engine.saved();
        if saved == self.saved {
            return;
        }
        self.saved = saved.clone();
        let line = self.carry(saved);
        if let Some(store) = &self.parts.store {
            store.state(line);
        }
    }

    /// Tells the recorder what a later part is to begin with; gives the line.
    fn carry(&self, saved: Saved) -> String {
        let state = State {
            saved,
            saved_unix_ms: self.parts.engine.unix_ms(self.now),
        };
        let line = state.write(&self.parts.boat_file.boat);
        if let Some(recorder) = &self.parts.recorder {
            recorder.set_crew_state(Entry::Carried(self.now, line.clone()));
        }
        line
    }

    /// Until a better clock is heard the computer's own will do.
    fn ask_system_utc(&mut self) {
        let known = self.parts.engine.utc_fix();
        if known.is_some_and(|fix| fix.quality > UtcQuality::System) {
            return;
        }
        let wall = self.wall.now();
        if self
            .asked_system
            .is_some_and(|at| wall.since(at) < SYSTEM_UTC)
        {
            return;
        }
        self.asked_system = Some(wall);
        if let Some(mut fix) = self.parts.clock.system_utc() {
            fix.at = self.forward(fix.at);
            self.record(fix.at, &Entry::Utc(fix));
            self.parts.engine.utc(fix);
        }
    }

    fn is_own(&mut self, line: &[u8], at: Timestamp) -> bool {
        let outputs = self.parts.outputs.as_mut();
        outputs.is_some_and(|outputs| outputs.is_own(line, at))
    }

    fn record(&mut self, at: Timestamp, entry: &Entry) {
        self.recorded = at;
        if let Some(recorder) = &self.parts.recorder {
            recorder.record(at, entry);
        }
    }

    /// Ports stamp on their own: a line may come behind a later one. For the
    /// core, and so for the recording, time only grows.
    fn forward(&mut self, at: Timestamp) -> Timestamp {
        self.now = self.now.max(at);
        self.now
    }

    fn next_deadline(&self) -> Timestamp {
        let sending = self.parts.outputs.as_ref().and_then(Outputs::next_deadline);
        let core = self.parts.engine.next_deadline();
        let far = self.now.after(Duration::from_secs(3600));
        core.into_iter().chain(sending).min().unwrap_or(far)
    }
}

/// What is left of a watch.
pub struct Finished {
    /// The last picture.
    pub view: View,
    /// And the daemon's part of it.
    pub aboard: Aboard,
}

/// Whether it is drawn at once: calls, and what people do. Sources and faults
/// may come in heaps and wait for the beat.
fn is_seen_at_once(event: &Event) -> bool {
    match event.kind {
        EventKind::Call
        | EventKind::Hint(_)
        | EventKind::Acknowledge
        | EventKind::Start
        | EventKind::GivenUp
        | EventKind::Ask(_)
        | EventKind::Plan
        | EventKind::Setup(..)
        | EventKind::Hands(..)
        | EventKind::Helm(_)
        | EventKind::State(_)
        | EventKind::Said(_) => true,
        EventKind::Source(..)
        | EventKind::Fault(..)
        | EventKind::Clock(..)
        | EventKind::Summary => false,
    }
}

fn count(what: &What, taken: &mut Taken) {
    match what {
        What::Line(_) => taken.lines = 1,
        What::Open => taken.opened = 1,
        What::Bytes { .. } | What::Closed(_) | What::Ended => {}
    }
}

fn refused(tally: &Tally) -> u64 {
    let kinds = [
        tally.no_sentence,
        tally.checksum_missing,
        tally.checksum_wrong,
        tally.garbled,
        tally.layout,
        tally.out_of_range,
        tally.tag,
    ];
    kinds.into_iter().map(u64::from).sum()
}

fn pass_on(ports: &[Running], (id, sentence): Sending) {
    if let Some(port) = ports.iter().find(|port| port.id == id) {
        port.send(sentence);
    }
}

/// How old a state is that was saved before a restart, in words.
pub fn age_in_words(state: &State) -> String {
    match (clock::system_unix_ms(), state.saved_unix_ms) {
        (Some(now), Some(then)) if now >= then => match (now - then) / 60_000 {
            minutes @ 0..120 => format!("{minutes} min old"),
            minutes => format!("{} h old", minutes / 60),
        },
        _ => "of unknown age".into(),
    }
}

#[cfg(test)]
mod tests;
