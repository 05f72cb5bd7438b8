//! `cringle census`: what is on the wire.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use cringle_boat::ports::PortSpec;
use cringle_core::reading::Quantity;
use cringle_core::time::Timestamp;
use cringle_engine::input::Input;
use cringle_engine::replay::Replay;
use cringle_wire::census::{Census, Row};
use cringle_wire::decode::Decoder;
use serde_json::json;
use tokio::sync::mpsc;

use super::watch::stop_signal;
use crate::answer::{Failure, Verdict, aside, say, wait_for};
use crate::boatfile::{self, Otherwise};
use crate::clock::Clock;
use crate::engine::Engine;
use crate::names::Names;
use crate::ports::{self, News, Place, PortId, What};
use crate::{terminal, wiring};

/// The arguments of `census`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// A recording to look through instead of listening.
    #[arg(value_name = "FILE", conflicts_with = "port")]
    recording: Vec<PathBuf>,
    /// A port to listen to instead of those in the boat file.
    #[arg(long, value_name = "PORT")]
    port: Vec<PortSpec>,
    /// The boat file, for names of transducers and preferences.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// Seconds to listen for.
    #[arg(long, value_name = "S", default_value_t = 65, value_parser = clap::value_parser!(u64).range(1..))]
    seconds: u64,
    /// One JSON object a line on standard output.
    #[arg(long)]
    json: bool,
    /// The rate of the line, for a log that says nothing of time.
    #[arg(long, default_value_t = 4800)]
    baud: u32,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let count = match arguments.recording.is_empty() {
        true => wait_for(listen(arguments))??,
        false => look_through(arguments)?,
    };
    count.report(arguments.json);
    Ok(count.found())
}

/// A census with the engine that tells which source is chosen.
struct Count {
    census: Box<Census>,
    engine: Engine,
    names: Names,
    ports: Vec<String>,
    /// What is wrong with each port that is not open.
    closed: BTreeMap<u8, String>,
    now: Timestamp,
}

impl Count {
    fn new(engine: Engine, names: Names, ports: Vec<String>, bauds: &[Option<u32>]) -> Count {
        let mut census = Box::new(Census::new(Timestamp::ZERO));
        for (baud, number) in bauds.iter().zip(0..) {
            census.add_port(number, *baud);
        }
        Count {
            census,
            engine,
            names,
            ports,
            closed: BTreeMap::new(),
            now: Timestamp::ZERO,
        }
    }

    fn hear(&mut self, news: &News) {
        self.now = self.now.max(news.at);
        match &news.what {
            What::Bytes { bytes, .. } => self.census.bytes(news.port.0, bytes),
            What::Line(line) => self.line(news.port, line),
            What::Closed(why) => {
                let name = self.names.port(news.port.0);
                if self.closed.insert(news.port.0, why.clone()).is_none() {
                    aside(&format!("port {name}: {why}"));
                }
            }
            What::Open => {
                self.closed.remove(&news.port.0);
            }
            What::Ended => {}
        }
    }

    fn line(&mut self, port: PortId, line: &[u8]) {
        let census = &mut self.census;
        census.line(port.0, line, self.now);
        let told = |out: &cringle_wire::decode::Out<'_>| census.out(port.0, out);
        self.engine.line_told(port, line, self.now, told);
    }

    /// Two talkers for one quantity want a choice, not a repair.
    fn found(&self) -> Verdict {
        let hints = self.census.hints(self.now);
        match hints.iter().all(|hint| hint.key() == "both") && self.closed.is_empty() {
            true => Verdict::Well,
            false => Verdict::Wanting,
        }
    }

    fn report(&self, json: bool) {
        if json {
            self.rows().for_each(|row| say(&self.row_json(row)));
            for words in self.closed_words() {
                say(&json!({"v": 1, "hint": "closed", "words": words}).to_string());
            }
            for hint in &self.census.hints(self.now) {
                let words = self.named(&hint.to_string());
                let line = json!({"v": 1, "hint": hint.key(), "words": words});
                say(&line.to_string());
            }
            return;
        }
        self.table().iter().for_each(|line| say(line));
    }

    fn rows(&self) -> impl Iterator<Item = &Row> {
        self.census.rows().iter()
    }

    fn row_json(&self, row: &Row) -> String {
        let feeds: Vec<_> = row.feeds.iter().map(Quantity::name).collect();
        let load = self.census.load_percent(row, self.now);
        json!({
            "v": 1,
            "port": self.port(row.port),
            "talker": row.talker.to_string(),
            "sentence": row.formatter.to_string(),
            "lines": row.lines,
            "rate_hz": row.rate_hz().map(|rate| (rate * 100.0).round() / 100.0),
            "load_percent": load.map(|load| (load * 10.0).round() / 10.0),
            "checksum_failures": row.checksum_failures,
            "invalid": row.invalid,
            "out_of_range": row.out_of_range,
            "layout": row.layout,
            "fields": row.fields,
            "fields_seen": fields_seen(row),
            "feeds": feeds,
            "chosen_for": self.chosen_for(row),
            "age_s": self.now.secs_since(row.last),
        })
        .to_string()
    }

    fn table(&self) -> Vec<String> {
        let mut lines = vec![format!(
            "{:<12} {:<9} {:>6} {:>8} {:>7} {:>6} {:>7}  {:<12} {}",
            "port",
            "sentence",
            "lines",
            "a second",
            "load %",
            "bad",
            "invalid",
            "fields seen",
            "feeds (* chosen)"
        )];
        lines.extend(self.rows().map(|row| self.row_words(row)));
        for port in self.census.ports() {
            let load = port.total_load_percent(self.census.span(self.now));
            lines.push(format!(
                "{}: {} bytes, {} lines{}",
                self.port(port.port),
                port.bytes,
                port.lines,
                load.map_or(String::new(), |load| format!(", {load:.0} % of the line"))
            ));
        }
        lines.extend(self.closed_words().map(|words| format!("- {words}")));
        let hints = self.census.hints(self.now);
        lines.extend(
            hints
                .iter()
                .map(|hint| format!("- {}", self.named(&hint.to_string()))),
        );
        lines
    }

    fn closed_words(&self) -> impl Iterator<Item = String> {
        let words = |(port, why): (&u8, &String)| format!("port {}: {why}", self.port(*port));
        self.closed.iter().map(words)
    }

    fn row_words(&self, row: &Row) -> String {
        let chosen = self.chosen_for(row);
        let feeds: Vec<_> = row
            .feeds
            .iter()
            .map(|quantity| match chosen.contains(&quantity.name()) {
                true => format!("{}*", quantity.name()),
                false => quantity.name().to_owned(),
            })
            .collect();
        format!(
            "{:<12} {:<9} {:>6} {:>8} {:>7} {:>6} {:>7}  {:<12} {}",
            self.port(row.port),
            format!("{}{}", row.talker, row.formatter),
            row.lines,
            row.rate_hz()
                .map_or("--".into(), |rate| format!("{rate:.2}")),
            self.census
                .load_percent(row, self.now)
                .map_or("--".into(), |load| format!("{load:.1}")),
            row.checksum_failures + row.out_of_range + row.layout,
            row.invalid,
            fields_in_words(row),
            feeds.join(", ")
        )
    }

    /// The quantities for which the core has chosen this very sentence.
    fn chosen_for(&self, row: &Row) -> Vec<&'static str> {
        let view = self.engine.view();
        let is_row = |id| {
            cringle_wire::source::Source::unpack(id).is_some_and(|source| {
                source.port == row.port
                    && source.talker == row.talker
                    && source.formatter == row.formatter
            })
        };
        view.sources
            .iter()
            .filter(|source| is_row(source.source))
            .map(|source| source.quantity.name())
            .collect()
    }

    fn port(&self, number: u8) -> String {
        self.names.port(number)
    }

    /// Hints number the ports; people know them by name.
    fn named(&self, words: &str) -> String {
        let mut words = words.to_owned();
        for (number, name) in self.ports.iter().enumerate().rev() {
            words = words.replace(&format!("port {number}"), &format!("port {name}"));
        }
        words
    }
}

fn fields_seen(row: &Row) -> Vec<u8> {
    let is_seen = |field: &u8| row.fields_seen >> field & 1 == 1;
    (0..row.fields.min(64)).filter(is_seen).collect()
}

/// The fields that were ever filled, counted from 1 as people do, and how many
/// there are: "1-4,6 of 8".
fn fields_in_words(row: &Row) -> String {
    let mut runs: Vec<(u8, u8)> = Vec::new();
    for field in fields_seen(row).into_iter().map(|field| field + 1) {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == field => *last = field,
            _ => runs.push((field, field)),
        }
    }
    let words: Vec<_> = runs
        .into_iter()
        .map(|(first, last)| match first == last {
            true => first.to_string(),
            false => format!("{first}-{last}"),
        })
        .collect();
    match words.is_empty() {
        true => format!("none of {}", row.fields),
        false => format!("{} of {}", words.join(","), row.fields),
    }
}

async fn listen(arguments: &Arguments) -> Result<Count, Failure> {
    let boat_file = boatfile::find(arguments.boat.as_deref(), Otherwise::Example)?;
    let settings = wiring::ports(&boat_file, &arguments.port);
    let openings = wiring::openings(&settings);
    let bauds: Vec<_> = openings
        .iter()
        .map(|port| match port.place {
            Place::Serial { baud, .. } => Some(baud),
            _ => None,
        })
        .collect();
    let port_names: Vec<_> = openings.iter().map(|port| port.name.clone()).collect();
    let decoders: Vec<Decoder> = wiring::decoders(&boat_file, &port_names);
    let engine = Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO);
    let names = wiring::names(&boat_file, &port_names);
    let mut count = Count::new(engine, names, port_names, &bauds);

    let clock = Clock::real();
    let (news, mut coming) = mpsc::channel(1024);
    let mut running: Vec<_> = openings
        .into_iter()
        .map(|port| ports::run(port, clock.clone(), news.clone()))
        .collect();
    drop(news);
    let stop = stop_signal();
    let end = Timestamp::from_secs(arguments.seconds);
    let live = !arguments.json && terminal::is_terminal();
    let mut beat = tokio::time::interval(Duration::from_secs(1));
    while !running.is_empty() {
        tokio::select! {
            heard = coming.recv() => match heard {
                Some(News { port, what: What::Ended, .. }) => {
                    running.retain(|it| it.id != port);
                }
                Some(heard) => count.hear(&heard),
                None => break,
            },
            () = clock.sleep_until(end) => break,
            () = stop.notified() => break,
            _ = beat.tick() => {
                count.now = count.now.max(clock.now());
                count.engine.tick(count.now);
                if live {
                    say(&format!("\x1b[H\x1b[2J{}", count.table().join("\n")));
                }
            }
        }
    }
    if live {
        say("\x1b[H\x1b[2J");
    }
    Ok(count)
}

fn look_through(arguments: &Arguments) -> Result<Count, Failure> {
    let given = match &arguments.boat {
        Some(path) => Some(boatfile::load(path)?),
        None => None,
    };
    let otherwise = || boatfile::find(None, Otherwise::Example);
    let mut replay = Replay::open(&arguments.recording, given, otherwise, arguments.baud)?;
    let bauds = vec![None; replay.ports.len()];
    let ports = replay.ports.clone();
    let mut count = Count::new(replay.engine(), replay.names(), ports, &bauds);
    while let Some((at, input)) = replay.next_input()? {
        count.now = at;
        match &input {
            Input::Line(port, line) => {
                count.census.bytes(port.0, line);
                count.census.bytes(port.0, b"\r\n");
                count.line(*port, line);
            }
            other => count.engine.take(at, other),
        }
        count.engine.events();
    }
    for remark in replay.last_remarks() {
        aside(&remark.to_string());
    }
    Ok(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields_of(sentence: &str) -> String {
        let mut census = Box::new(Census::new(Timestamp::ZERO));
        census.line(0, sentence.as_bytes(), Timestamp::ZERO);
        fields_in_words(&census.rows()[0])
    }

    #[test]
    fn the_fields_seen_are_told_in_runs() {
        assert_eq!(fields_of("$WIMWV,214.8,R,15.6,N,A"), "1-5 of 5");
        assert_eq!(fields_of("$WIVHW,,T,,M,6.1,N,,K"), "2,4-6,8 of 8");
        assert_eq!(fields_of("$WIMWD,,,,,,,,"), "none of 8");
    }

    #[test]
    fn a_port_that_cannot_be_opened_is_wanting_until_it_opens() {
        let boat_file = cringle_boat::example().unwrap();
        let ports = vec!["mast".to_owned()];
        let engine = Engine::new(&boat_file.boat, Vec::new(), None, Timestamp::ZERO);
        let names = wiring::names(&boat_file, &ports);
        let mut count = Count::new(engine, names, ports, &[Some(4800)]);
        let mut hear = |what| {
            count.hear(&News {
                port: PortId(0),
                at: Timestamp::ZERO,
                what,
            });
            (
                count.found(),
                count.table().last().cloned().unwrap_or_default(),
            )
        };
        let (found, last) = hear(What::Closed("it is not there".into()));
        assert_eq!(found, Verdict::Wanting);
        assert_eq!(last, "- port mast: it is not there");
        assert_eq!(hear(What::Open).0, Verdict::Well);
    }
}
