//! Reads a TOML file so that everything wrong with it is told at once: file,
//! line, key, what is wrong and how to mend it.
//!
//! The file is walked rather than deserialised, so that one wrong key does not
//! hide the next. A [`Section`] is a table, an [`Entry`] a value, each with its
//! place; each question asked of them ("a number from 0 to 100 called
//! `area_m2`") gives the value if it is right and writes down a [`Problem`] if
//! it is not. Boat files, board files and forecasts are read this way.

mod entry;
mod problem;
mod repair;
mod section;
mod spelling;

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use toml::de::DeTable;

pub use entry::{Entry, Place};
pub use problem::{LoadError, Problem, Problems, Weight};
pub use section::Section;
pub(crate) use spelling::{nearest, quoted};

/// Most bytes a file may have: far more than any needs.
const MOST_BYTES: usize = 1 << 20;

/// The text of a file on disk, and the name that its problems go by.
pub fn load(path: &Path) -> Result<(String, String), LoadError> {
    let bytes = std::fs::read(path).map_err(|error| LoadError::Io {
        path: path.to_owned(),
        error,
    })?;
    let name = path.display().to_string();
    let text = text(&name, &bytes).map_err(LoadError::Wrong)?.to_owned();
    Ok((name, text))
}

/// The text that bytes stand for, if they do.
pub fn text<'b>(file: &str, bytes: &'b [u8]) -> Result<&'b str, Problems> {
    std::str::from_utf8(bytes).map_err(|error| {
        let (good, _) = bytes.split_at(error.valid_up_to());
        let before = String::from_utf8_lossy(good);
        let document = Document::new(file, &before);
        let at = document.place(good.len()..good.len(), String::new());
        let what = "holds a byte that is not UTF-8 text";
        at.wrong(what, "save the file as UTF-8");
        document.problems()
    })
}

/// Walks a text with `walk`, which gives none where a part is missing or
/// wrong. Whatever was wrong comes back in place of what was read; else where
/// each key stands comes with it.
pub fn read<T>(
    file: &str,
    text: &str,
    walk: impl FnOnce(&Section<'_>) -> Option<T>,
) -> Result<(T, Places), Problems> {
    let document = Document::new(file, text);
    if text.len() > MOST_BYTES {
        let what = format!("has {} bytes", text.len());
        let start = document.place(0..0, String::new());
        start.wrong(what, "give a file of settings, not a recording");
        return Err(document.problems());
    }
    let repaired = repair::repaired(text);
    for (at, what, mend) in repaired.iter().flat_map(|it| &it.broken) {
        document.broken.set(true);
        let line = document.place(at.clone(), String::new());
        line.wrong(what.as_str(), mend.as_str());
    }
    let readable = repaired.as_ref().map_or(text, |it| &it.text);
    // What is still broken has been told: it is read as far as it goes.
    let (table, _) = DeTable::parse_recoverable(readable);
    let root = Section::new(table.get_ref(), document.place(0..0, String::new()));
    let contents = walk(&root);
    // Names the keys that nobody asked for.
    drop(root);
    let in_order = document.problems.borrow().is_empty();
    match contents.filter(|_| in_order) {
        Some(contents) => Ok((contents, document.places.into_inner())),
        None => Err(document.problems()),
    }
}

/// The file being read, what was found wrong, and where its keys are.
pub(crate) struct Document<'a> {
    file: &'a str,
    /// Where each line ends.
    ends: Vec<usize>,
    /// Some lines could not be read, so what seems missing may stand there.
    broken: Cell<bool>,
    problems: RefCell<Vec<Problem>>,
    places: RefCell<Places>,
}

impl<'a> Document<'a> {
    fn new(file: &'a str, text: &str) -> Self {
        Document {
            file,
            ends: text.match_indices('\n').map(|(at, _)| at).collect(),
            broken: Cell::default(),
            problems: RefCell::default(),
            places: RefCell::default(),
        }
    }

    fn place(&'a self, at: Range<usize>, path: String) -> Place<'a> {
        Place {
            document: self,
            at,
            path,
        }
    }

    fn line(&self, offset: usize) -> usize {
        1 + self.ends.partition_point(|end| *end < offset)
    }

    /// What was found wrong so far, in the order of the lines.
    fn problems(&self) -> Problems {
        let mut problems = self.problems.take();
        problems.sort_by_key(|problem| problem.line);
        Problems(problems)
    }
}

/// The line of each key by its path, for remarks on a file that is in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places(BTreeMap<String, usize>);

impl Places {
    /// The line of a key; of the nearest table around it where the key is
    /// not written; 1 if all else fails.
    pub fn line(&self, path: &str) -> usize {
        let mut path = path;
        loop {
            if let Some(line) = self.0.get(path) {
                return *line;
            }
            match path.rfind('.') {
                Some(dot) => path = &path[..dot],
                None => return 1,
            }
        }
    }
}
