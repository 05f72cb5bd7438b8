//! The `cringle-sim` program: a boat on the desk.

use std::fs::File;
use std::io::{BufWriter, Write, stdout};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result};
use clap::{Parser, Subcommand};

use cringle_sim::bench;
use cringle_sim::closed_loop::{Adviser, Cringle, FixedAlarm, Follows, Nobody, markdown, table};
use cringle_sim::passage::Passage;
use cringle_sim::sail::{TimeScale, sail};
use cringle_sim::scenario::Scenario;
use cringle_sim::series::{Series, write_csv};
use cringle_sim::sink::{Sinks, Target};
use cringle_sim::weather::{Climate, Plan};

/// Makes up weather, sea, boat, crew and instruments.
#[derive(Parser)]
#[command(version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// List the built-in scenarios.
    List,
    /// Sail a scenario onto ports.
    Sail(SailArguments),
    /// Write a long wind series as comma-separated values.
    Weather(WeatherArguments),
    /// Serve the bench: a page on which the real daemon sails a made-up boat in
    /// real time, or shows what its screens showed in a recording.
    Bench(BenchArguments),
    /// Sail every weather with crews that follow different advisers, and print
    /// what each costs. All of it is simulation.
    Table {
        /// Tellings of each story; one alone has no bounds.
        #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u64).range(2..))]
        seeds: u64,
        /// Hands aboard; may be given again.
        #[arg(long, default_values_t = [2, 6])]
        hands: Vec<u8>,
        /// Knots under the limit at which the fixed alarm goes.
        #[arg(long, default_value_t = 3.0)]
        margin: f64,
    },
}

#[derive(clap::Args)]
struct SailArguments {
    /// Name of a built-in scenario, or path of a file.
    scenario: String,
    /// Tells the story again, differently.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Simulated seconds in a real one, or max.
    #[arg(long, default_value = "1")]
    pace: TimeScale,
    /// Where sentences go: [LINE=]pty:DIR/, pty:PATH, tcp:HOST:PORT,
    /// udp:HOST:PORT, file:PATH or -; may be given again.
    #[arg(long = "to", default_value = "-")]
    to: Vec<Target>,
    /// Write what really happens, once a second, to this file.
    #[arg(long)]
    truth: Option<PathBuf>,
    /// Sail so many minutes instead of the scenario's own length.
    #[arg(long)]
    minutes: Option<f64>,
}

#[derive(clap::Args)]
struct WeatherArguments {
    /// Length of the series.
    #[arg(long)]
    hours: f64,
    /// Tells other weather.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Length of an interval: 1s, 60s, 600s or any number of seconds.
    #[arg(long, default_value = "60s", value_parser = seconds)]
    interval: u32,
    /// Height over the sea, m.
    #[arg(long, default_value_t = 10.0)]
    height: f64,
    /// Weather of this scenario instead of a climate without end.
    #[arg(long)]
    scenario: Option<String>,
    /// Unix seconds of the start of a climate.
    #[arg(long, default_value_t = 1_767_225_600)]
    start: i64,
    /// File to write; standard output if not given.
    #[arg(long)]
    to: Option<PathBuf>,
}

#[derive(clap::Args)]
struct BenchArguments {
    /// Name of a built-in scenario, or path of a file.
    #[arg(default_value = "rising-breeze", conflicts_with = "replay")]
    scenario: String,
    /// Show a recording instead: one file, or all parts of a run in order.
    #[arg(long, value_name = "RECORDING", num_args = 1..)]
    replay: Vec<PathBuf>,
    /// Where the page is served.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8050")]
    listen: SocketAddr,
    /// The cringle program; else the one beside this program, else on the path.
    #[arg(long, value_name = "PATH")]
    cringle: Option<PathBuf>,
    /// Where recordings go.
    #[arg(long, value_name = "DIR", default_value = "recordings")]
    recordings: PathBuf,
    /// Tells the story again, differently.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

/// Usage or input is wrong.
const EXIT_INPUT: u8 = 2;
/// A device or disk is not as it should be.
const EXIT_ENVIRONMENT: u8 = 3;

fn main() -> ExitCode {
    match run(Arguments::parse().command) {
        Ok(()) => ExitCode::SUCCESS,
        Err((error, _)) if is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err((error, code)) => {
            eprintln!("cringle-sim: {error:#}");
            ExitCode::from(code)
        }
    }
}

fn run(command: Command) -> Result<(), (anyhow::Error, u8)> {
    let input = |error| (error, EXIT_INPUT);
    let environment = |error| (error, EXIT_ENVIRONMENT);
    match command {
        Command::List => list().map_err(environment),
        Command::Sail(arguments) => {
            let mut scenario = find(&arguments.scenario).map_err(input)?;
            scenario.minutes = arguments.minutes.unwrap_or(scenario.minutes);
            sail_to_targets(scenario, &arguments).map_err(environment)
        }
        Command::Weather(arguments) => {
            let (plan, start) = weather_of(&arguments).map_err(input)?;
            write_weather(&plan, start, &arguments).map_err(environment)
        }
        Command::Bench(arguments) => {
            let options = bench::Options {
                listen: arguments.listen,
                program: arguments.cringle,
                recordings: arguments.recordings,
                seed: arguments.seed,
            };
            if arguments.replay.is_empty() {
                let scenario = find(&arguments.scenario).map_err(input)?;
                bench::sail(scenario, options).map_err(environment)
            } else {
                bench::replay(&arguments.replay, options).map_err(environment)
            }
        }
        Command::Table {
            seeds,
            hands,
            margin,
        } => print_table(seeds, &hands, margin).map_err(environment),
    }
}

fn find(name: &str) -> Result<Scenario> {
    if name.contains('/') || name.ends_with(".toml") {
        Scenario::load(Path::new(name))
    } else {
        Scenario::builtin(name)
    }
}

fn list() -> Result<()> {
    let mut out = stdout().lock();
    for name in Scenario::names() {
        let scenario = Scenario::builtin(name)?;
        writeln!(
            out,
            "{name:14} {:4.0} min  {}",
            scenario.minutes,
            scenario.story.trim().replace('\n', " ")
        )?;
    }
    Ok(())
}

fn sail_to_targets(scenario: Scenario, arguments: &SailArguments) -> Result<()> {
    let mut sinks = Sinks::open(&arguments.to, &scenario.line)?;
    for target in sinks.describe(&scenario.line) {
        eprintln!("{target}");
    }
    let mut truth = match &arguments.truth {
        Some(path) => Some(create(path)?),
        None => None,
    };
    let mut passage = Passage::new(scenario, arguments.seed);
    sail(&mut passage, &mut sinks, arguments.pace, &mut truth)
}

fn weather_of(arguments: &WeatherArguments) -> Result<(Plan, f64)> {
    match &arguments.scenario {
        Some(name) => {
            let scenario = find(name)?;
            let start = scenario.start_unix_s();
            Ok((scenario.weather, start))
        }
        None => {
            let plan = Plan {
                climate: Some(Climate::default()),
                ..Plan::default()
            };
            Ok((plan, arguments.start as f64))
        }
    }
}

fn write_weather(plan: &Plan, start: f64, arguments: &WeatherArguments) -> Result<()> {
    let mut into: Box<dyn Write> = match &arguments.to {
        Some(path) => create(path)?,
        None => Box::new(BufWriter::new(stdout())),
    };
    let rows = (arguments.hours * 3600.0 / f64::from(arguments.interval)) as usize;
    let series = Series::new(
        plan,
        arguments.height,
        start,
        arguments.interval,
        arguments.seed,
    );
    write_csv(series.take(rows), &mut into)
}

fn print_table(seeds: u64, hands: &[u8], margin_kn: f64) -> Result<()> {
    let scenarios: Vec<_> = Scenario::weather_names().collect();
    let fixed = |scenario: &Scenario| -> Result<Box<dyn Adviser>> {
        Ok(Box::new(FixedAlarm::new(scenario, margin_kn)))
    };
    let nobody = |_: &Scenario| -> Result<Box<dyn Adviser>> { Ok(Box::new(Nobody)) };
    let cringle =
        |scenario: &Scenario| -> Result<Box<dyn Adviser>> { Ok(Box::new(Cringle::new(scenario)?)) };
    let follows = [
        Follows {
            name: "Cringle",
            adviser: &cringle,
        },
        Follows {
            name: "a fixed alarm",
            adviser: &fixed,
        },
        Follows {
            name: "nothing",
            adviser: &nobody,
        },
    ];
    let entries = table(&scenarios, &follows, hands, seeds)?;
    stdout().write_all(markdown(&entries).as_bytes())?;
    Ok(())
}

fn create(path: &Path) -> Result<Box<dyn Write>> {
    let file = File::create(path).with_context(|| format!("{}: cannot create", path.display()))?;
    Ok(Box::new(BufWriter::new(file)))
}

fn seconds(text: &str) -> Result<u32, String> {
    match text.strip_suffix('s').unwrap_or(text).parse() {
        Ok(seconds) if seconds > 0 => Ok(seconds),
        _ => Err("expected whole seconds over 0, as in 60s".to_owned()),
    }
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<std::io::Error>())
        .any(|error| error.kind() == std::io::ErrorKind::BrokenPipe)
}
