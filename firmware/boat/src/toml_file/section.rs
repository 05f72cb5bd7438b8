//! One table of a file: its keys are asked for, and what nobody asked for is
//! named when the table has been read.

use std::cell::{Cell, RefCell};
use std::fmt::Display;
use std::ops::RangeInclusive;

use toml::de::DeTable;

use super::entry::{Entry, Place};
use super::spelling;

/// The format of boat and board files that this version reads.
const FORMAT: u32 = 1;

/// One table of the file. When it goes out of scope, every key that was not
/// asked for is told as unknown.
pub struct Section<'d> {
    table: &'d DeTable<'d>,
    place: Place<'d>,
    known: RefCell<Vec<&'static str>>,
    /// Its keys are the crew's own, or not all of them are read here.
    any_key: Cell<bool>,
}

impl<'d> Section<'d> {
    pub(super) fn new(table: &'d DeTable<'d>, place: Place<'d>) -> Self {
        Section {
            table,
            place: place.note(),
            known: RefCell::default(),
            any_key: Cell::default(),
        }
    }

    /// The value of a key, if it is there.
    pub fn find(&self, key: &'static str) -> Option<Entry<'d>> {
        let mut known = self.known.borrow_mut();
        if !known.contains(&key) {
            known.push(key);
        }
        drop(known);
        let (written, value) = self.table.get_key_value(key)?;
        let path = self.path_of(key);
        self.place.within(written.span(), path.clone()).note();
        Some(Entry {
            value: value.get_ref(),
            place: self.place.within(value.span(), path),
        })
    }

    /// Whether a key is there, right or wrong.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Other keys may stand here, and are passed over.
    pub(crate) fn allow_other_keys(&self) {
        self.any_key.set(true);
    }

    /// Every key with its value, for tables whose keys are the crew's own.
    pub(crate) fn entries(&self) -> Vec<(String, Entry<'d>)> {
        self.allow_other_keys();
        let mut entries: Vec<_> = self
            .table
            .iter()
            .map(|(key, value)| {
                let name = key.get_ref().to_string();
                let path = self.path_of(&name);
                self.place.within(key.span(), path.clone()).note();
                let entry = Entry {
                    value: value.get_ref(),
                    place: self.place.within(value.span(), path),
                };
                (name, entry)
            })
            .collect();
        entries.sort_by_key(|(_, entry)| entry.place.at.start);
        entries
    }

    fn path_of(&self, key: &str) -> String {
        match self.place.path.as_str() {
            "" => key.to_owned(),
            path => format!("{path}.{key}"),
        }
    }

    /// Writes down what is wrong with the whole table.
    pub(crate) fn wrong(&self, what: impl Into<String>, mend: impl Into<String>) {
        self.place.wrong(what, mend);
    }

    /// Writes down what is wrong with a key that may not even be written.
    pub(crate) fn wrong_at(&self, key: &str, what: impl Into<String>, mend: impl Into<String>) {
        let place = self.place.within(self.place.at.clone(), self.path_of(key));
        place.wrong(what, mend);
    }

    /// Says that a key must be there and is not.
    pub(crate) fn missing(&self, key: &str, mend: impl Display) {
        if !self.place.document.broken.get() {
            self.wrong_at(key, "is missing", format!("add {mend}"));
        }
    }

    /// Says so if a key is not there.
    pub fn must_have(&self, key: &str, mend: impl Display) {
        if !self.has(key) {
            self.missing(key, mend);
        }
    }

    /// Whether the file is of a format that can be read on with. One that is
    /// missing is an error, but no reason to leave the others unsaid.
    pub fn has_known_format(&self) -> bool {
        self.must_have("format", "`format = 1` as the first line");
        let Some(entry) = self.find("format") else {
            return true;
        };
        match entry.whole(0..=u32::MAX) {
            Some(FORMAT) => return true,
            None => {}
            Some(0) => entry.wrong("is 0, which never was", "write format = 1"),
            Some(newer) => entry.wrong(
                format!("is {newer}, newer than this program, which reads {FORMAT}"),
                "take a newer program, or a file of format 1",
            ),
        }
        self.allow_other_keys();
        false
    }

    /// A number in a range.
    pub fn number(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        self.find(key)?.number(range)
    }

    /// A whole number in a range.
    pub fn whole(&self, key: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        self.find(key)?.whole(range)
    }

    /// Text of at most so many letters, not empty.
    pub fn words(&self, key: &'static str, most: usize) -> Option<&'d str> {
        self.find(key)?.words(most)
    }

    /// Text that must be there.
    pub fn required_words(&self, key: &'static str, most: usize, mend: &str) -> Option<&'d str> {
        self.must_have(key, mend);
        self.words(key, most)
    }

    /// `true` or `false`.
    pub fn flag(&self, key: &'static str) -> Option<bool> {
        self.find(key)?.flag()
    }

    /// One of a few words, with what each stands for.
    pub fn choice<T: Copy>(&self, key: &'static str, words: &[(&'static str, T)]) -> Option<T> {
        self.find(key)?.choice(words)
    }

    /// A list.
    pub(crate) fn list(&self, key: &'static str) -> Vec<Entry<'d>> {
        let entry = self.find(key);
        entry.and_then(|entry| entry.list()).unwrap_or_default()
    }

    /// A table under a key.
    pub fn section(&self, key: &'static str) -> Option<Section<'d>> {
        let wanted = format!("a table: [{}]", self.path_of(key));
        self.find(key)?.section(&wanted)
    }

    /// An array of tables under a key.
    pub fn sections(&self, key: &'static str) -> Vec<Section<'d>> {
        let Some(entry) = self.find(key) else {
            return Vec::new();
        };
        let wanted = format!("one or more tables: [[{}]]", self.path_of(key));
        if entry.value.as_array().is_none() {
            entry.wrong_kind(&wanted);
            return Vec::new();
        }
        let entries = entry.list().into_iter().flatten();
        entries.filter_map(|entry| entry.section(&wanted)).collect()
    }
}

/// Names every key that nobody asked for, with the known one it is like.
impl Drop for Section<'_> {
    fn drop(&mut self) {
        if self.any_key.get() {
            return;
        }
        let known = self.known.borrow();
        for (key, _) in self.table.iter() {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let place = self.place.within(key.span(), self.path_of(name));
                let mend = spelling::mend_for_unknown_key(name, &known);
                place.wrong("is not a known key", mend);
            }
        }
    }
}
