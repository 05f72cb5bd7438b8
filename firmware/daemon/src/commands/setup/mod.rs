//! `cringle setup`: a few questions, and a first boat file from the answers.

mod ask;
mod found;
mod listen;
mod write;

use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

use anyhow::anyhow;
use clap::Args;
use cringle_boards::board::SHIPPED;
use cringle_boat::ports::{Address, PortSpec};
use cringle_boat::{BoatFile, TEMPLATES, Template};

use crate::answer::{Failure, Verdict, aside, wait_for};
use crate::{board_io, boatfile};
use ask::Asker;
use listen::{Candidate, Rate, listen};
use write::{Answers, Old, boat_file, write};

/// Longest name that the screens can show.
const LONGEST_NAME: usize = 32;

/// The arguments of `setup`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The boat file to write; else $CRINGLE_BOAT, else /etc/cringle/boat.toml.
    #[arg(long, value_name = "FILE")]
    boat: Option<PathBuf>,
    /// Replaces a boat file that is there.
    #[arg(long)]
    force: bool,
    /// Takes what is usual for whatever is not given, and asks nothing.
    #[arg(long)]
    yes: bool,
    /// A port with instruments, such as 'mast=serial:/dev/ttyUSB0'. May be
    /// given several times. Without ?baud= both usual rates are tried.
    #[arg(long, value_name = "PORT")]
    port: Vec<String>,
    /// Seconds to listen to the ports before they are written down.
    #[arg(long, value_name = "S", default_value_t = 30)]
    listen: u64,
    /// Her name.
    #[arg(long)]
    name: Option<String>,
    /// The ladder of sail plans to begin with.
    #[arg(long, value_name = "KIND", value_parser = ladder)]
    ladder: Option<Template>,
    /// People on deck on a usual watch.
    #[arg(long, value_name = "N", value_parser = on_deck)]
    on_deck: Option<u8>,
    /// People below who can be called.
    #[arg(long, value_name = "N", value_parser = people)]
    below: Option<u8>,
    /// Height of the masthead above the water in metres.
    #[arg(long, value_name = "M", value_parser = metres)]
    masthead: Option<f64>,
    /// The board with panel, keys and sounders, by name or file; `none`.
    #[arg(long, value_name = "NAME")]
    board: Option<String>,
}

pub(super) fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let path = boatfile::to_write(arguments.boat.as_deref());
    if path.is_dir() {
        return Err(Failure::Usage(anyhow!(
            "{} is a directory: name the file to be written, such as {}",
            path.display(),
            path.join("boat.toml").display()
        )));
    }
    let old = match arguments.force {
        true => Old::Replace,
        false => Old::Keep,
    };
    if old == Old::Keep && path.exists() {
        return Err(there_already(&path));
    }
    let answers = match std::io::stdin().is_terminal() && !arguments.yes {
        true => {
            let asker = Asker::new(std::io::stdin().lock(), std::io::stderr());
            asked(arguments, asker)?
        }
        false => given(arguments)?,
    };
    let file = boat_file(&answers, &path).map_err(Failure::Usage)?;
    write(&path, &file.text, old).map_err(|error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => there_already(&path),
        _ => Failure::Environment(anyhow!("{} cannot be written: {error}", path.display())),
    })?;
    report(&file, &path);
    Ok(Verdict::Well)
}

fn there_already(path: &Path) -> Failure {
    Failure::Usage(anyhow!(
        "{} is there already: nothing is changed; --force replaces it",
        path.display()
    ))
}

/// What is left to do, in the order of its weight.
fn report(file: &BoatFile, path: &Path) {
    let path = path.display();
    for remark in cringle_boat::judge(file) {
        aside(&remark.to_string());
    }
    eprintln!("{path} is written. Its limits and times are first guesses and the wind is");
    eprintln!("not calibrated: until you confirm them the screen says so. Next:");
    eprintln!("  cringle census --boat {path}    what the instruments say");
    eprintln!("  cringle check {path}            after every change");
    if let Some(board) = &file.board {
        eprintln!("  cringle check --board {board}   what the board still needs");
    }
}

/// Answers by flags alone.
fn given(arguments: &Arguments) -> Result<Answers, Failure> {
    if !arguments.yes {
        let flags = [
            ("--port", arguments.port.is_empty()),
            ("--name", arguments.name.is_none()),
            ("--ladder", arguments.ladder.is_none()),
            ("--on-deck", arguments.on_deck.is_none()),
            ("--below", arguments.below.is_none()),
            ("--masthead", arguments.masthead.is_none()),
        ];
        let missing: Vec<_> = flags
            .iter()
            .filter(|(_, it)| *it)
            .map(|(it, _)| *it)
            .collect();
        if !missing.is_empty() {
            return Err(Failure::Usage(anyhow!(
                "no terminal to ask on: give {} as well, or --yes for what is usual",
                missing.join(", ")
            )));
        }
    }
    let ladder = arguments.ladder.unwrap_or(TEMPLATES[0]);
    let usual = Usual::of(&ladder)?;
    let mut candidates = candidates(&arguments.port).map_err(usage)?;
    if candidates.is_empty() {
        candidates = found_here();
    }
    if candidates.is_empty() {
        eprintln!("no port is there: the boat file names one to be corrected");
    }
    hear(&mut candidates, arguments.listen, aside)?;
    let name = arguments.name.clone().unwrap_or(usual.name);
    let board = arguments.board.as_deref().map(board).transpose();
    Ok(Answers {
        name: boat_name(&name).map_err(usage)?,
        ladder,
        ports: candidates.into_iter().map(|it| it.spec).collect(),
        on_deck: arguments.on_deck.unwrap_or(usual.on_deck),
        below: arguments.below.unwrap_or(usual.below),
        masthead_m: arguments.masthead.unwrap_or(usual.masthead_m),
        board: board.map_err(usage)?.flatten(),
    })
}

/// Answers by flags, and by questions for the rest.
fn asked<R: BufRead, W: Write>(
    arguments: &Arguments,
    mut asker: Asker<R, W>,
) -> Result<Answers, Failure> {
    let mut ports = candidates(&arguments.port).map_err(usage)?;
    if ports.is_empty() {
        ports = ask_ports(&mut asker).map_err(ended)?;
    }
    if !ports.is_empty() && arguments.listen > 0 {
        let words = format!("listening for {} s ...", arguments.listen);
        asker.say(&words).map_err(ended)?;
    }
    hear(&mut ports, arguments.listen, |line| {
        // A terminal that has gone shows at the next question.
        let _ = asker.say(line);
    })?;
    let ladder = match arguments.ladder {
        Some(ladder) => ladder,
        None => ask_ladder(&mut asker).map_err(ended)?,
    };
    let usual = Usual::of(&ladder)?;
    let mut rest = || -> std::io::Result<Answers> {
        Ok(Answers {
            name: or_ask(&arguments.name, || {
                asker.ask("her name", &usual.name, boat_name)
            })?,
            ladder,
            on_deck: or_ask(&arguments.on_deck, || {
                let usual = usual.on_deck.to_string();
                asker.ask("people on deck on a usual watch", &usual, on_deck)
            })?,
            below: or_ask(&arguments.below, || {
                let usual = usual.below.to_string();
                asker.ask("people below who can be called", &usual, people)
            })?,
            masthead_m: or_ask(&arguments.masthead, || {
                let usual = usual.masthead_m.to_string();
                asker.ask("masthead above the water, metres", &usual, metres)
            })?,
            board: match &arguments.board {
                Some(given) => board(given).map_err(std::io::Error::other)?,
                None => asker.ask(&board_question(), "none", board)?,
            },
            ports: ports.iter().map(|it| it.spec.clone()).collect(),
        })
    };
    rest().map_err(ended)
}

fn or_ask<T: Clone>(
    given: &Option<T>,
    ask: impl FnOnce() -> std::io::Result<T>,
) -> std::io::Result<T> {
    given.clone().map_or_else(ask, Ok)
}

fn ask_ports<R: BufRead, W: Write>(asker: &mut Asker<R, W>) -> std::io::Result<Vec<Candidate>> {
    let found = found_here();
    for (candidate, number) in found.iter().zip(1..) {
        asker.say(&format!("  {number}  {}", candidate.spec.address))?;
    }
    let (question, usual) = match found.is_empty() {
        true => (
            "no serial port found; a port such as udp::2000, or none",
            "none",
        ),
        false => (
            "which of them, by number; or ports such as udp::2000",
            "all",
        ),
    };
    asker.ask(question, usual, |answer| chosen(answer, &found))
}

fn chosen(answer: &str, found: &[Candidate]) -> Result<Vec<Candidate>, String> {
    match answer {
        "all" => return Ok(found.to_vec()),
        "none" => return Ok(Vec::new()),
        _ => {}
    }
    let words = answer.split([' ', ',']).filter(|word| !word.is_empty());
    let one = |word: &str| match word.parse::<usize>() {
        Ok(number) => match number.checked_sub(1).and_then(|place| found.get(place)) {
            Some(candidate) => Ok(candidate.clone()),
            None => Err(format!("there is no port {number}")),
        },
        Err(_) => candidate(word),
    };
    words.map(one).collect()
}

fn ask_ladder<R: BufRead, W: Write>(asker: &mut Asker<R, W>) -> std::io::Result<Template> {
    for template in TEMPLATES {
        asker.say(&format!("  {:<10} {}", template.kind, template.about))?;
    }
    asker.ask(
        "which ladder of sail plans comes nearest",
        TEMPLATES[0].kind,
        ladder,
    )
}

fn board_question() -> String {
    let names: Vec<_> = SHIPPED.iter().map(|(name, _)| *name).collect();
    format!("board: {}, a board file, or none", names.join(", "))
}

/// What the template says where nobody says else.
struct Usual {
    name: String,
    on_deck: u8,
    below: u8,
    masthead_m: f64,
}

impl Usual {
    fn of(ladder: &Template) -> Result<Usual, Failure> {
        let file = boatfile::parse(ladder.kind, ladder.text)?;
        let (boat, hands) = (&file.boat, file.boat.start.hands);
        Ok(Usual {
            name: boat.name.as_str().to_owned(),
            on_deck: hands.on_deck,
            below: hands.below,
            masthead_m: boat.instruments.masthead_height.map_or(16.0, |it| it.get()),
        })
    }
}

/// Serial lines that are there, the first one named as in the templates.
fn found_here() -> Vec<Candidate> {
    let lines = found::serial_lines(Path::new("/"));
    let named = |(path, number): (PathBuf, u32)| Candidate {
        spec: PortSpec {
            name: match number {
                1 => "instruments".into(),
                number => format!("instruments-{number}"),
            },
            address: Address::Serial { path, baud: 4800 },
        },
        rate: Rate::Open,
    };
    lines.into_iter().zip(1..).map(named).collect()
}

fn candidates(ports: &[String]) -> Result<Vec<Candidate>, String> {
    ports.iter().map(|words| candidate(words)).collect()
}

fn candidate(words: &str) -> Result<Candidate, String> {
    let spec: PortSpec = words.parse().map_err(|error| format!("{error}"))?;
    let is_open = matches!(spec.address, Address::Serial { .. }) && !words.contains("baud=");
    Ok(Candidate {
        spec,
        rate: if is_open { Rate::Open } else { Rate::Known },
    })
}

fn hear(
    candidates: &mut [Candidate],
    seconds: u64,
    mut say: impl FnMut(&str),
) -> Result<(), Failure> {
    if candidates.is_empty() || seconds == 0 {
        return Ok(());
    }
    let heard = wait_for(listen(candidates, seconds))?;
    for (candidate, heard) in candidates.iter().zip(heard) {
        let PortSpec { name, address } = &candidate.spec;
        say(&format!("{name}, {address}: {}", heard.words()));
    }
    Ok(())
}

fn ladder(words: &str) -> Result<Template, String> {
    let known = TEMPLATES.iter().find(|template| template.kind == words);
    known.copied().ok_or_else(|| {
        let kinds: Vec<_> = TEMPLATES.iter().map(|template| template.kind).collect();
        format!("\"{words}\" is none of {}", kinds.join(", "))
    })
}

fn boat_name(words: &str) -> Result<String, String> {
    match words.chars().count() {
        1..=LONGEST_NAME if !words.chars().any(char::is_control) => Ok(words.to_owned()),
        _ => Err(format!("give 1 to {LONGEST_NAME} letters")),
    }
}

fn people(words: &str) -> Result<u8, String> {
    let number = words.parse().ok().filter(|number| *number <= 20);
    number.ok_or_else(|| format!("\"{words}\" is not a number from 0 to 20"))
}

/// Somebody must be there to be told.
fn on_deck(words: &str) -> Result<u8, String> {
    match people(words)? {
        0 => Err("nobody on deck can shorten sail: 1 or more".into()),
        number => Ok(number),
    }
}

fn metres(words: &str) -> Result<f64, String> {
    let height = words.replace(',', ".").parse().ok();
    let height = height.filter(|height| (1.0..=120.0).contains(height));
    height.ok_or_else(|| format!("\"{words}\" is not a number from 1 to 120"))
}

/// A board that can be read; none.
fn board(words: &str) -> Result<Option<String>, String> {
    if words == "none" {
        return Ok(None);
    }
    board_io::load(words, None).map_err(|error| format!("{error:#}"))?;
    if SHIPPED.iter().any(|(name, _)| *name == words) {
        return Ok(Some(words.to_owned()));
    }
    // The boat file may lie elsewhere than where this was asked.
    let path = std::path::absolute(words).map_err(|error| error.to_string())?;
    Ok(Some(path.display().to_string()))
}

fn usage(words: String) -> Failure {
    Failure::Usage(anyhow!(words))
}

fn ended(error: std::io::Error) -> Failure {
    match error.kind() {
        std::io::ErrorKind::UnexpectedEof => {
            Failure::Usage(anyhow!("the answers ended: nothing is written"))
        }
        _ => Failure::Usage(error.into()),
    }
}
