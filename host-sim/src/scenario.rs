//! Scenarios: one story each, as a TOML file, many of them built in.

use anyhow::{Context, Result, bail, ensure};
use serde::Deserialize;

use crate::boat::{BoatPlan, Course, Steering};
use crate::calendar;
use crate::crew::{CrewPlan, Order};
use crate::faults::Fault;
use crate::instruments::{DeviceKind, DevicePlan, LinePlan, Says};
use crate::maths::rad;
use crate::weather;

/// Newest format of scenario files this program reads.
const FORMAT: u32 = 1;

/// Scenario files shipped inside the program, by name.
const BUILTIN: [(&str, &str); 18] = [
    (
        "rising-breeze",
        include_str!("../scenarios/rising-breeze.toml"),
    ),
    (
        "building-gale",
        include_str!("../scenarios/building-gale.toml"),
    ),
    ("cold-front", include_str!("../scenarios/cold-front.toml")),
    ("squall-line", include_str!("../scenarios/squall-line.toml")),
    ("sea-breeze", include_str!("../scenarios/sea-breeze.toml")),
    ("lull", include_str!("../scenarios/lull.toml")),
    ("false-alarm", include_str!("../scenarios/false-alarm.toml")),
    (
        "capful-gusts",
        include_str!("../scenarios/capful-gusts.toml"),
    ),
    ("night-watch", include_str!("../scenarios/night-watch.toml")),
    (
        "running-fast",
        include_str!("../scenarios/running-fast.toml"),
    ),
    (
        "steady-trade",
        include_str!("../scenarios/steady-trade.toml"),
    ),
    ("lost-wind", include_str!("../scenarios/lost-wind.toml")),
    ("stuck-vane", include_str!("../scenarios/stuck-vane.toml")),
    ("frozen-cup", include_str!("../scenarios/frozen-cup.toml")),
    ("noisy-wire", include_str!("../scenarios/noisy-wire.toml")),
    ("pulled-plug", include_str!("../scenarios/pulled-plug.toml")),
    ("two-talkers", include_str!("../scenarios/two-talkers.toml")),
    ("clock-step", include_str!("../scenarios/clock-step.toml")),
];

/// A story to sail through.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// Format of the file.
    pub format: u32,
    /// Its name.
    pub name: String,
    /// What happens, in a sentence or two.
    pub story: String,
    /// How long it lasts.
    pub minutes: f64,
    /// When it starts, UTC.
    pub start: toml::value::Datetime,
    /// Where it starts.
    #[serde(default)]
    pub position: Position,
    /// The current she sails in.
    #[serde(default)]
    pub current: Current,
    /// Wind, pressure and sea.
    pub weather: weather::Plan,
    /// The boat; the invented cutter Teasel if not given.
    #[serde(default)]
    pub boat: BoatPlan,
    /// Rung set at the start.
    #[serde(default)]
    pub rung: usize,
    /// Who steers.
    #[serde(default)]
    pub steering: Steering,
    /// Courses, in order of time.
    pub leg: Vec<Leg>,
    /// The crew.
    #[serde(default)]
    pub crew: CrewPlan,
    /// Orders the skipper gives at fixed times, whatever any adviser says.
    #[serde(default)]
    pub order: Vec<TimedOrder>,
    /// Lines; the usual three if none is given.
    #[serde(default)]
    pub line: Vec<LinePlan>,
    /// Talkers; the usual suite if none is given.
    #[serde(default)]
    pub device: Vec<DevicePlan>,
    /// What goes wrong.
    #[serde(default)]
    pub fault: Vec<Fault>,
    /// How differently each seed tells the story; 0 as written.
    #[serde(default)]
    pub vary: f64,
}

/// A place on the sea.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
    /// Magnetic variation, east positive.
    pub variation_deg: f64,
}

impl Default for Position {
    /// Open water west of the Channel.
    fn default() -> Self {
        Self {
            latitude_deg: 48.6,
            longitude_deg: -7.2,
            variation_deg: -1.5,
        }
    }
}

/// A current.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Current {
    /// Where it sets, true degrees.
    pub towards_deg: f64,
    /// How fast, knots.
    pub drift_kn: f64,
}

/// A course from some time on: exactly one of the two.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Leg {
    /// Minutes from the start.
    #[serde(default)]
    pub at_min: f64,
    /// True heading.
    pub heading_deg: Option<f64>,
    /// Angle to the true wind, starboard positive.
    pub wind_angle_deg: Option<f64>,
}

/// An order given at a fixed time.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimedOrder {
    /// Minutes from the start.
    pub at_min: f64,
    /// The order.
    pub order: Order,
}

impl Scenario {
    /// Names of the built-in scenarios.
    pub fn names() -> impl Iterator<Item = &'static str> {
        BUILTIN.iter().map(|(name, _)| *name)
    }

    /// Names of the built-in scenarios that are about weather and have no fault.
    pub fn weather_names() -> impl Iterator<Item = &'static str> {
        let is_sound = |text: &str| !text.contains("[[fault]]");
        BUILTIN
            .iter()
            .filter(move |(_, text)| is_sound(text))
            .map(|(name, _)| *name)
    }

    /// A built-in scenario.
    pub fn builtin(name: &str) -> Result<Self> {
        let Some((_, text)) = BUILTIN.iter().find(|(known, _)| *known == name) else {
            let names: Vec<_> = Self::names().collect();
            bail!(
                "unknown scenario {name:?}, expected one of {}",
                names.join(", ")
            );
        };
        Self::parse(text).with_context(|| format!("built-in scenario {name}"))
    }

    /// A scenario from a file.
    pub fn load(path: &std::path::Path) -> Result<Self> {
        let text = std::fs::read_to_string(path)
            .with_context(|| format!("{}: cannot read scenario", path.display()))?;
        Self::parse(&text).with_context(|| path.display().to_string())
    }

    /// A scenario from the text of its file.
    pub fn parse(text: &str) -> Result<Self> {
        let mut scenario: Self = toml::from_str(text)?;
        ensure!(
            scenario.format == FORMAT,
            "format {} is not known, expected {FORMAT}",
            scenario.format
        );
        if scenario.line.is_empty() {
            scenario.line = usual_lines();
        }
        if scenario.device.is_empty() {
            scenario.device = usual_devices();
        }
        scenario.check()?;
        Ok(scenario)
    }

    /// The same story told a little differently by each seed.
    pub fn with_vary(mut self, vary: f64) -> Self {
        self.vary = vary;
        self
    }

    /// The same story with other hands aboard.
    pub fn with_hands(mut self, hands: u8) -> Self {
        self.crew.hands = hands;
        self
    }

    /// Unix seconds at the start.
    pub fn start_unix_s(&self) -> f64 {
        let day = self.start.date.map_or(0, |date| {
            calendar::days(i64::from(date.year), date.month, date.day)
        });
        let seconds = self.start.time.map_or(0, |time| {
            i64::from(time.hour) * 3600
                + i64::from(time.minute) * 60
                + i64::from(time.second.unwrap_or(0))
        });
        (day * 86_400 + seconds) as f64
    }

    /// The course at this time.
    pub fn course(&self, now_s: f64) -> Course {
        let passed = self.leg.partition_point(|leg| leg.at_min * 60.0 <= now_s);
        let leg = self.leg.get(passed.saturating_sub(1));
        match leg.map(|leg| (leg.heading_deg, leg.wind_angle_deg)) {
            Some((Some(heading), _)) => Course::Heading(rad(heading)),
            Some((None, Some(angle))) => Course::WindAngle(rad(angle)),
            Some((None, None)) | None => Course::Heading(0.0),
        }
    }

    fn check(&self) -> Result<()> {
        let weather = &self.weather;
        ensure!(
            weather.climate.is_some() == weather.mean.is_empty(),
            "weather wants either turning points (mean) or a climate"
        );
        ensure!(
            weather.mean.is_sorted_by(|a, b| a.at_min < b.at_min),
            "turning points of the wind are not in order of time"
        );
        ensure!(!self.leg.is_empty(), "a scenario wants at least one leg");
        for leg in &self.leg {
            ensure!(
                leg.heading_deg.is_some() != leg.wind_angle_deg.is_some(),
                "leg at {} min wants either heading_deg or wind_angle_deg",
                leg.at_min
            );
        }
        ensure!(
            self.rung < self.boat.rung.len(),
            "rung {} is not on a ladder of {}",
            self.rung,
            self.boat.rung.len()
        );
        ensure!(self.start.date.is_some(), "start wants a date and a time");
        self.check_names()
    }

    fn check_names(&self) -> Result<()> {
        let is_line = |name: &str| self.line.iter().any(|line| line.name == name);
        let is_device = |name: &str| self.device.iter().any(|device| device.name == name);
        for device in &self.device {
            ensure!(
                is_line(&device.line),
                "device {:?} talks on unknown line {:?}",
                device.name,
                device.line
            );
        }
        for line in &self.line {
            ensure!(line.baud >= 300, "line {:?}: {} baud", line.name, line.baud);
        }
        for fault in &self.fault {
            let known = if fault.is_on_the_line() {
                is_line(&fault.target)
            } else {
                is_device(&fault.target)
            };
            ensure!(
                known || fault.target == "all",
                "fault {:?} strikes unknown {:?}",
                fault.kind,
                fault.target
            );
        }
        Ok(())
    }
}

/// A masthead line and a navigation line at 4800, a fast line for attitude.
fn usual_lines() -> Vec<LinePlan> {
    [("mast", 4800), ("nav", 4800), ("motion", 38_400)]
        .map(|(name, baud)| LinePlan {
            name: name.to_owned(),
            baud,
        })
        .to_vec()
}

/// What a cruising boat of some age carries.
fn usual_devices() -> Vec<DevicePlan> {
    let device = |name: &str, kind, line: &str, talker: &str, hz, says: &[Says]| DevicePlan {
        name: name.to_owned(),
        kind,
        line: line.to_owned(),
        talker: talker.to_owned(),
        hz,
        says: says.to_vec(),
        offset_deg: 0.0,
        speed_factor: 1.0,
        upwash_deg: 0.0,
        damping_s: 0.0,
        noise: 1.0,
        decimals: 1,
        label: None,
    };
    let mut masthead = device(
        "masthead",
        DeviceKind::Masthead,
        "mast",
        "WI",
        2.0,
        &[Says::MwvR],
    );
    // A small upwash and damping that every real unit has.
    masthead.upwash_deg = 2.0;
    masthead.damping_s = 0.5;
    vec![
        masthead,
        device(
            "wind-computer",
            DeviceKind::WindComputer,
            "nav",
            "II",
            0.5,
            &[Says::MwvT],
        ),
        device("log", DeviceKind::Log, "nav", "VW", 1.0, &[Says::Vhw]),
        device("receiver", DeviceKind::Gnss, "nav", "GP", 1.0, &[Says::Rmc]),
        device("clock", DeviceKind::Gnss, "nav", "GP", 0.1, &[Says::Zda]),
        device(
            "barometer",
            DeviceKind::Barometer,
            "nav",
            "YX",
            0.1,
            &[Says::Xdr],
        ),
        device(
            "compass",
            DeviceKind::Compass,
            "motion",
            "HC",
            10.0,
            &[Says::Hdg],
        ),
        device(
            "attitude",
            DeviceKind::Attitude,
            "motion",
            "YX",
            10.0,
            &[Says::Xdr],
        ),
        device("turn", DeviceKind::Gyro, "motion", "TI", 2.0, &[Says::Rot]),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_in_the_folder_is_built_in_under_its_name_and_right() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios");
        let mut files = 0;
        for entry in std::fs::read_dir(folder).expect("the folder is there") {
            let path = entry.expect("readable").path();
            let name = path
                .file_stem()
                .and_then(|stem| stem.to_str())
                .expect("plain name");
            let scenario = Scenario::load(&path).unwrap_or_else(|error| panic!("{error:#}"));
            assert_eq!(scenario.name, name);
            assert!(Scenario::builtin(name).is_ok(), "{name} is not built in");
            files += 1;
        }
        assert_eq!(files, Scenario::names().count());
    }

    #[test]
    fn an_unknown_key_or_a_missing_target_is_an_error_that_names_it() {
        let (_, good) = BUILTIN[0];
        let error = |text: String| format!("{:#}", Scenario::parse(&text).expect_err("refused"));
        assert!(error(format!("wether = 1\n{good}")).contains("wether"));
        let fault = "\n[[fault]]\nkind = \"silence\"\ntarget = \"sonar\"\n";
        assert!(error(format!("{good}{fault}")).contains("sonar"));
        assert!(error(good.replace("format = 1", "format = 2")).contains("format 2"));
    }

    #[test]
    fn a_start_becomes_unix_seconds() {
        let mut scenario = Scenario::builtin("rising-breeze").expect("built in");
        scenario.start = "2026-06-21T00:00:00Z".parse().expect("a date");
        assert_eq!(scenario.start_unix_s(), 1_782_000_000.0);
    }
}
