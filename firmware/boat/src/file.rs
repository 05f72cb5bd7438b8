//! A whole boat file: read, checked, and kept with its text, so that a
//! recording can carry it.

use std::path::Path;

use cringle_core::boat::Boat;
use toml::de::DeTable;

use crate::document::{Document, Places, Section};
use crate::problem::{LoadError, Problems};
use crate::read;
use crate::settings::{Hulls, Outputs, Page, PortSettings, Preference, Recorder, Transducer};
use crate::syntax::repaired;

/// The format this version reads and writes.
pub const FORMAT: u32 = 1;

/// Most bytes a boat file may have: far more than any needs.
const MOST_BYTES: usize = 1 << 20;

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
    let bytes = std::fs::read(path).map_err(|error| LoadError::Io {
        path: path.to_owned(),
        error,
    })?;
    parse_bytes(&path.display().to_string(), &bytes).map_err(LoadError::Wrong)
}

/// Reads a boat file's bytes, which may not even be text.
pub fn parse_bytes(file: &str, bytes: &[u8]) -> Result<BoatFile, Problems> {
    match std::str::from_utf8(bytes) {
        Ok(text) => parse(file, text),
        Err(error) => {
            let (good, _) = bytes.split_at(error.valid_up_to());
            let before = String::from_utf8_lossy(good);
            let document = Document::new(file, &before);
            let what = "holds a byte that is not UTF-8 text";
            let at = error.valid_up_to()..error.valid_up_to();
            document.wrong(at, "", what, "save the file as UTF-8");
            Err(only_problems(document))
        }
    }
}

/// Reads a boat file's text; `file` is what its errors call it.
pub fn parse(file: &str, text: &str) -> Result<BoatFile, Problems> {
    let document = Document::new(file, text);
    if text.len() > MOST_BYTES {
        let what = format!("has {} bytes", text.len());
        document.wrong(0..0, "", what, "give a boat file, not a recording");
        return Err(only_problems(document));
    }
    let mended = repaired(text);
    for (at, what) in mended.iter().flat_map(|mended| &mended.broken) {
        document.mark_broken();
        let mend = "correct the TOML on this line";
        document.wrong(at.clone(), "", what.as_str(), mend);
    }
    let readable = mended.as_ref().map_or(text, |mended| &mended.text);
    // What is still broken has been told: it is read as far as it goes.
    let (table, _) = DeTable::parse_recoverable(readable);
    let root = Section::new(&document, table.get_ref(), String::new(), 0..0);
    if !is_readable(&root, &document) {
        return Err(only_problems(document));
    }
    let contents = read::all(&root);
    root.finish();
    let places = document.close()?;
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

/// Whether the format is one that can be read on with. One that is missing
/// is an error, but no reason to leave the others unsaid.
fn is_readable(root: &Section<'_, '_>, document: &Document<'_>) -> bool {
    let Some(found) = root.find("format") else {
        root.missing("format", "`format = 1` as the first line");
        return true;
    };
    let wrong = |what: String, mend: &str| {
        document.wrong(found.at.clone(), "format", what, mend);
        false
    };
    match document.whole(&found, 0..=u32::MAX) {
        Some(FORMAT) => true,
        None => false,
        Some(0) => wrong("is 0, which never was".into(), "write format = 1"),
        Some(newer) => wrong(
            format!("is {newer}, newer than this program, which reads {FORMAT}"),
            "take a newer program, or a file of format 1",
        ),
    }
}

/// Errors found so far, where it is known that there are some.
fn only_problems(document: Document<'_>) -> Problems {
    match document.close() {
        Err(problems) => problems,
        Ok(_) => Problems(Vec::new()),
    }
}

/// What came of bringing a boat file up to the present format.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Migrated {
    /// It is of the present format: nothing to do.
    Current,
    /// The text in the present format.
    Text(String),
}

/// Brings an older boat file up to the present format. There is only one
/// format as yet, so a file is either current or wrong.
pub fn migrate(file: &str, text: &str) -> Result<Migrated, Problems> {
    parse(file, text).map(|_| Migrated::Current)
}
