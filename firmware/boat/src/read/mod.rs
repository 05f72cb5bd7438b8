//! The sections of a boat file, each read in its own file.

mod bill;
mod changes;
mod costs;
mod forecast;
mod instruments;
mod people;
mod plans;
mod settings;

use cringle_core::boat::Boat;
use cringle_core::forecast::Table;
use cringle_core::text::{Name, text};
use cringle_core::units::Knots;

use crate::settings::{Hulls, Outputs, Page, PortSettings, Preference, Recorder, Transducer};
use crate::toml_file::Section;

/// The longest name of anything, in bytes.
const NAME: usize = 32;
/// Minutes that any piece of work may take at most.
const MOST_MINUTES: f64 = 240.0;
/// The highest wind a limit may name.
const MOST_KN: f64 = 120.0;
/// The most people a boat file may speak of.
const MOST_HANDS: u32 = 30;

/// Everything read, whether right or not: only worth anything if the document
/// is in order afterwards.
pub(crate) struct Contents {
    pub(crate) boat: Boat,
    pub(crate) hulls: Hulls,
    pub(crate) ports: Vec<PortSettings>,
    pub(crate) preferences: Vec<Preference>,
    pub(crate) transducers: Vec<Transducer>,
    pub(crate) outputs: Outputs,
    pub(crate) recorder: Recorder,
    pub(crate) page: Page,
    pub(crate) board: Option<String>,
}

/// Reads all sections.
pub(crate) fn all(root: &Section<'_>) -> Contents {
    let board = root.words("board", 200).map(str::to_owned);
    let (name, hulls) = name_and_hulls(root);
    let ladder = plans::ladder(root, hulls);
    let boat = Boat {
        name,
        instruments: instruments::instruments(root),
        crew: people::crew(root),
        calling: people::calling(root),
        start: people::start(root, &ladder),
        ladder,
        forecast: forecast::forecast(root),
        bill: bill::bill(root),
        costs: costs::costs(root),
    };
    let ports = settings::ports(root);
    Contents {
        boat,
        preferences: settings::preferences(root, &ports),
        ports,
        hulls,
        transducers: settings::transducers(root),
        outputs: settings::outputs(root),
        recorder: settings::recorder(root),
        page: settings::page(root),
        board,
    }
}

/// The forecast alone.
pub(crate) fn forecast_of(root: &Section<'_>) -> Option<Table> {
    forecast::forecast(root)
}

fn name_and_hulls(root: &Section<'_>) -> (Name, Hulls) {
    let Some(boat) = root.section("boat") else {
        root.missing("boat", "[boat] with a name");
        return (Name::new(), Hulls::One);
    };
    let name = boat.words("name", NAME);
    boat.must_have("name", "her name, such as name = \"Dunlin\"");
    let hulls = match boat.whole("hulls", 1..=5) {
        Some(2..) => Hulls::Several,
        Some(_) | None => Hulls::One,
    };
    (text(name.unwrap_or_default()), hulls)
}

/// A wind speed in knots under a key.
fn knots(section: &Section<'_>, key: &'static str) -> Option<Knots> {
    let speed = section.number(key, 0.0..=MOST_KN)?;
    Knots::new(speed).ok()
}
