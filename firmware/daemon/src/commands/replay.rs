//! `cringle replay`: a recording through the same core.

use std::path::PathBuf;

use clap::Args;
use cringle_core::time::Timestamp;
use cringle_screen::aboard::Pace;

use super::watch::{Front, stop_signal};
use super::{Failure, Found, aside, check_pace, wait_for};
use crate::aboard::Aboard;
use crate::boatfile::{self, Otherwise};
use crate::clock::Clock;
use crate::engine::Engine;
use crate::face::{Face, Input, Stroke};
use crate::forecast;
use crate::names::Names;
use crate::ports::{Line, News, Place, Port, PortId, What};
use crate::replay::{Heard, Replay};
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

pub(super) fn run(arguments: &Arguments) -> Result<Found, Failure> {
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
    Ok(Found::Well)
}

/// Plays it and gives what is to be said at the end.
async fn play(mut replay: Replay, arguments: &Arguments) -> Result<Vec<String>, Failure> {
    let mut front = match arguments.pace {
        // As fast as it goes is too fast to be looked at.
        None => Front::without_screen(arguments.json),
        Some(_) => Front::open(arguments.json)?,
    };
    let mut stage = Stage::new(&replay, arguments.pace.unwrap_or(0.0));
    let stop = stop_signal();
    let clock = arguments.pace.map(Clock::paced);
    let mut beat = tokio::time::interval(std::time::Duration::from_millis(250));
    while let Some((at, heard)) = replay.next_heard()? {
        if let Some(clock) = &clock {
            let due = Timestamp::from_millis(at.since(replay.start).as_millis() as u64);
            let sleep = clock.sleep_until(due);
            tokio::pin!(sleep);
            loop {
                tokio::select! {
                    biased;
                    () = stop.notified() => return Ok(replay.last_remarks()),
                    Some(input) = front.inputs.recv() => {
                        if stage.input(input, &mut front.faces) == Stroke::Quit {
                            return Ok(replay.last_remarks());
                        }
                    }
                    () = &mut sleep => break,
                    _ = beat.tick() => stage.show(&mut front.faces),
                }
            }
        }
        stage.hear(&replay, at, &heard)?;
        stage.aside(&mut front.tellers);
    }
    Ok(replay.last_remarks())
}

/// The engine with what shows it.
pub(super) struct Stage {
    pub(super) engine: Engine,
    pub(super) aboard: Aboard,
    pub(super) names: Names,
}

impl Stage {
    pub(super) fn new(replay: &Replay, pace: f64) -> Stage {
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
        let mut aboard = Aboard::new(&ports, Pace::Replay { times });
        for port in ports {
            aboard.hear(&News {
                port: port.id,
                at: replay.start,
                what: What::Open,
            });
        }
        Stage {
            engine: replay.engine(),
            aboard,
            names: replay.names(),
        }
    }

    pub(super) fn hear(
        &mut self,
        replay: &Replay,
        at: Timestamp,
        heard: &Heard,
    ) -> Result<(), Failure> {
        if let Heard::Line(port, line) = heard
            && let Ok(line) = Line::from_slice(line)
        {
            self.aboard.hear(&News {
                port: *port,
                at,
                what: What::Line(line),
            });
        }
        replay
            .feed(&mut self.engine, at, heard)
            .map_err(Failure::Usage)
    }

    fn aside(&mut self, tellers: &mut [Teller]) {
        for event in self.engine.events() {
            for teller in &mut *tellers {
                teller(&event, &self.names);
            }
        }
    }

    fn show(&mut self, faces: &mut [Box<dyn Face>]) {
        if faces.is_empty() {
            return;
        }
        let view = self.engine.view();
        for face in faces {
            face.show(&view, &self.aboard);
        }
    }

    /// Keys turn pages; what was done aboard is in the recording already.
    fn input(&mut self, input: Input, faces: &mut [Box<dyn Face>]) -> Stroke {
        let view = self.engine.view();
        let mut last = Stroke::Nothing;
        for face in &mut *faces {
            last = face.take(input.clone(), &view);
        }
        self.show(faces);
        last
    }
}
