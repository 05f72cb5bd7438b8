//! A whole boat file: read, checked, and kept with its text, so that a
//! recording can carry it.

use std::path::Path;

use cringle_core::boat::Boat;

use crate::read;
use crate::settings::{Hulls, Outputs, Page, PortSettings, Preference, Recorder, Transducer};
use crate::toml_file::{self, LoadError, Places, Problems};

/// A boat file in order.
#[derive(Clone, Debug, PartialEq)]
pub struct BoatFile {
    /// What the core is to know.
    pub boat: Boat,
    /// One hull or several.
    pub hulls: Hulls,
    /// Ports to open.
    pub ports: Vec<PortSettings>,
    /// Sources that go before or after others.
    pub preferences: Vec<Preference>,
    /// Meaning of transducer names.
    pub transducers: Vec<Transducer>,
    /// What is sent on.
    pub outputs: Outputs,
    /// The recorder.
    pub recorder: Recorder,
    /// The page.
    pub page: Page,
    /// Name of a board that is known, or path of a board file.
    pub board: Option<String>,
    /// The file as the person named it.
    pub file: String,
    /// Its text, as read.
    pub text: String,
    pub(crate) places: Places,
}

/// Reads a boat file from disk.
pub fn load(path: &Path) -> Result<BoatFile, LoadError> {
    let (name, text) = toml_file::load(path)?;
    parse(&name, &text).map_err(LoadError::Wrong)
}

/// Reads a boat file's bytes, which may not even be text.
pub fn parse_bytes(file: &str, bytes: &[u8]) -> Result<BoatFile, Problems> {
    parse(file, toml_file::text(file, bytes)?)
}

/// Reads a boat file's text; `file` is what its problems call it.
pub fn parse(file: &str, text: &str) -> Result<BoatFile, Problems> {
    let (contents, places) = toml_file::read(file, text, |root| {
        root.has_known_format().then(|| read::all(root))
    })?;
    Ok(BoatFile {
        boat: contents.boat,
        hulls: contents.hulls,
        ports: contents.ports,
        preferences: contents.preferences,
        transducers: contents.transducers,
        outputs: contents.outputs,
        recorder: contents.recorder,
        page: contents.page,
        board: contents.board,
        file: file.to_owned(),
        text: text.to_owned(),
        places,
    })
}
