//! `cringle replay`: a recording through the same core.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_engine::input::Input;
use cringle_engine::player::{Player, Reached};
use cringle_engine::replay::Replay;
use cringle_screen::aboard::DataOrigin;

use super::watch::{Front, stop_signal};
use crate::aboard::Aboard;
use crate::answer::{Failure, Verdict, aside, check_pace, wait_for};
use crate::boatfile::{self, Otherwise};
use crate::clock::Clock;
use crate::face::{self, Face, Stroke};
use crate::forecast;
use crate::names::Names;
use crate::ports::{Line, News, Place, Port, PortId, What};
use crate::watch::Teller;

/// The arguments of `replay`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The recording: one file, all parts of a run, or a log of bare lines;
    /// gzipped or not.
    #[arg(required = true, value_name = "FILE")]
    recording: Vec<PathBuf>,
    /// Another boat file than the recording's own; a log of bare lines has
    /// none.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// So many times as fast as it was; else as fast as it goes.
    #[arg(long, value_name = "N")]
    pace: Option<f64>,
    /// Another forecast than the recording's: a file with [[forecast]], rows in
    /// one line, or 'none'.
    #[arg(long, value_name = "FILE|TABLE")]
    forecast: Option<String>,
    /// One JSON object for each event on standard output.
    #[arg(long)]
    json: bool,
    /// The rate of the line, for a log that says nothing of time.
    #[arg(long, default_value_t = 4800)]
    baud: u32,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    check_pace(arguments.pace)?;
    let given = match &arguments.boat {
        Some(path) => Some(boatfile::load(path)?),
        None => None,
    };
    let otherwise = || boatfile::find(None, Otherwise::Example);
    let mut replay = Replay::open(&arguments.recording, given, otherwise, arguments.baud)?;
    if let Some(given) = &arguments.forecast {
        replay.use_forecast(forecast::given(given)?);
    }
    for remark in &replay.remarks {
        aside(&remark.to_string());
    }
    let damaged = wait_for(play(replay, arguments))??;
    for remark in damaged {
        aside(&remark.to_string());
    }
    Ok(Verdict::Well)
}

/// Plays it and gives what is to be said at the end.
async fn play(replay: Replay, arguments: &Arguments) -> Result<Vec<String>, Failure> {
    let mut front = match arguments.pace {
        // As fast as it goes is too fast to be looked at.
        None => Front::without_screen(arguments.json),
        Some(_) => Front::open(arguments.json)?,
    };
    let start = replay.start;
    let mut stage = Stage::new(replay, arguments.pace.unwrap_or(0.0));
    let stop = stop_signal();
    let clock = arguments.pace.map(Clock::paced);
    // Nobody waits through a silence that ends a run.
    let mut skipped = Duration::ZERO;
    let mut beat = tokio::time::interval(Duration::from_millis(250));
    while let Some((at, input)) = stage.player.replay.next_input()? {
        if let Some(silent) = stage.player.engine.ends_run(at) {
            skipped += silent;
        }
        if let Some(clock) = &clock {
            let due = Timestamp::ZERO.after(at.since(start.after(skipped)));
            let sleep = clock.sleep_until(due);
            tokio::pin!(sleep);
            loop {
                tokio::select! {
                    biased;
                    () = stop.notified() => return Ok(stage.player.replay.last_remarks()),
                    Some(input) = front.inputs.recv() => {
                        if stage.input(input, &mut front.faces) == Stroke::Quit {
                            return Ok(stage.player.replay.last_remarks());
                        }
                    }
                    () = &mut sleep => break,
                    _ = beat.tick() => stage.show(&mut front.faces),
                }
            }
        }
        stage.hear(at, &input);
        stage.aside(&mut front.tellers);
    }
    Ok(stage.player.replay.last_remarks())
}

/// A recording and its engine, with what shows them.
pub(super) struct Stage {
    player: Player,
    pub(super) aboard: Aboard,
    pub(super) names: Names,
}

impl Stage {
    pub(super) fn new(replay: Replay, pace: f64) -> Stage {
        let ports: Vec<Port> = replay
            .ports
            .iter()
            .zip(0..)
            .map(|(name, number)| Port {
                id: PortId(number),
                name: name.clone(),
                place: Place::StandardInput,
            })
            .collect();
        let times = pace as f32;
        let mut aboard = Aboard::new(&ports, DataOrigin::Replay { times });
        for port in ports {
            aboard.hear(&News {
                port: port.id,
                at: replay.start,
                what: What::Open,
            });
        }
        Stage {
            aboard,
            names: replay.names(),
            player: Player::new(replay),
        }
    }

    /// Plays up to a moment; what was called on the way is let go.
    pub(super) fn play_to(&mut self, moment: Timestamp) -> Result<Reached, Failure> {
        let aboard = &mut self.aboard;
        let tell = |at, input: &Input| hear_line(aboard, at, input);
        Ok(self.player.play_to(moment, tell)?)
    }

    /// How far it has been played.
    pub(super) fn played_to(&self) -> Timestamp {
        self.player.replay.played_to()
    }

    pub(super) fn view(&self) -> View {
        self.player.engine.view()
    }

    fn hear(&mut self, at: Timestamp, input: &Input) {
        hear_line(&mut self.aboard, at, input);
        self.player.engine.take(at, input);
    }

    fn aside(&mut self, tellers: &mut [Teller]) {
        for event in self.player.engine.events() {
            for teller in &mut *tellers {
                teller(&event, &self.names);
            }
        }
    }

    fn show(&mut self, faces: &mut [Box<dyn Face>]) {
        if faces.is_empty() {
            return;
        }
        let view = self.player.engine.view();
        for face in faces {
            face.show(&view, &self.aboard);
        }
    }

    /// Keys turn pages; what was done aboard is in the recording already.
    fn input(&mut self, input: face::Input, faces: &mut [Box<dyn Face>]) -> Stroke {
        let view = self.player.engine.view();
        let mut last = Stroke::Nothing;
        for face in &mut *faces {
            last = face.take(input.clone(), &view);
        }
        self.show(faces);
        last
    }
}

fn hear_line(aboard: &mut Aboard, at: Timestamp, input: &Input) {
    if let Input::Line(port, line) = input
        && let Ok(line) = Line::from_slice(line)
    {
        aboard.hear(&News {
            port: *port,
            at,
            what: What::Line(line),
        });
    }
}
