//! A TOML document that is walked rather than deserialised, so that one wrong
//! key does not hide the next.
//!
//! A [`Section`] is a table with its place in the file. Each question asked of
//! it ("a number from 0 to 100 called `area_m2`") notes the key as known, gives
//! the value if it is right, and writes down a [`Problem`] if it is not.
//! [`Section::finish`] then names the keys that nobody asked for.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::fmt::Display;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::problem::{Problem, Problems};

/// The file being read, what was found wrong, and where its keys are.
pub(crate) struct Document<'a> {
    file: &'a str,
    /// Where each line ends.
    ends: Vec<usize>,
    broken: Cell<bool>,
    problems: RefCell<Vec<Problem>>,
    places: RefCell<Places>,
}

/// The line of each key by its path, for remarks on a file that is in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Places(BTreeMap<String, usize>);

impl Places {
    /// The line of a key; of the nearest table around it where the key is
    /// not written; 1 if all else fails.
    pub(crate) fn line(&self, path: &str) -> usize {
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

impl<'a> Document<'a> {
    pub(crate) fn new(file: &'a str, text: &'a str) -> Self {
        Document {
            file,
            ends: text.match_indices('\n').map(|(at, _)| at).collect(),
            broken: Cell::default(),
            problems: RefCell::default(),
            places: RefCell::default(),
        }
    }

    /// Writes down what is wrong.
    pub(crate) fn wrong(
        &self,
        at: Range<usize>,
        key: impl Into<String>,
        what: impl Into<String>,
        mend: impl Into<String>,
    ) {
        self.problems.borrow_mut().push(Problem {
            file: self.file.to_owned(),
            line: self.line(at.start),
            key: on_one_line(key.into()),
            what: on_one_line(what.into()),
            mend: on_one_line(mend.into()),
        });
    }

    /// What was found wrong, or where everything is.
    pub(crate) fn close(self) -> Result<Places, Problems> {
        let mut problems = self.problems.into_inner();
        if problems.is_empty() {
            return Ok(self.places.into_inner());
        }
        problems.sort_by_key(|problem| problem.line);
        Err(Problems(problems))
    }

    /// Some lines could not be read, so what seems missing may stand there.
    pub(crate) fn mark_broken(&self) {
        self.broken.set(true);
    }

    pub(crate) fn is_broken(&self) -> bool {
        self.broken.get()
    }

    fn line(&self, offset: usize) -> usize {
        1 + self.ends.partition_point(|end| *end < offset)
    }

    fn note(&self, path: &str, at: &Range<usize>) {
        let line = self.line(at.start);
        self.places.borrow_mut().0.insert(path.to_owned(), line);
    }
}

/// One value with where it stands.
pub(crate) struct Found<'d, 'i> {
    pub(crate) value: &'d DeValue<'i>,
    pub(crate) at: Range<usize>,
    pub(crate) path: String,
}

/// One table of the file.
pub(crate) struct Section<'d, 'i> {
    pub(crate) document: &'d Document<'d>,
    table: &'d DeTable<'i>,
    pub(crate) path: String,
    pub(crate) at: Range<usize>,
    known: RefCell<Vec<&'static str>>,
}

impl<'d, 'i> Section<'d, 'i> {
    pub(crate) fn new(
        document: &'d Document<'d>,
        table: &'d DeTable<'i>,
        path: String,
        at: Range<usize>,
    ) -> Self {
        document.note(&path, &at);
        Section {
            document,
            table,
            path,
            at,
            known: RefCell::default(),
        }
    }

    /// The value of a key, if it is there.
    pub(crate) fn find(&self, key: &'static str) -> Option<Found<'d, 'i>> {
        self.known.borrow_mut().push(key);
        let (spanned, value) = self.table.get_key_value(key)?;
        let path = self.path_of(key);
        self.document.note(&path, &spanned.span());
        Some(Found {
            value: value.get_ref(),
            at: value.span(),
            path,
        })
    }

    /// Whether a key is there, right or wrong.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Every key with its value, for tables whose keys are the crew's own.
    pub(crate) fn entries(&self) -> Vec<(String, Found<'d, 'i>)> {
        let mut entries: Vec<_> = self
            .table
            .iter()
            .map(|(key, value)| {
                let name = key.get_ref().to_string();
                let path = self.path_of(&name);
                self.document.note(&path, &key.span());
                let found = Found {
                    value: value.get_ref(),
                    at: value.span(),
                    path,
                };
                (name, found)
            })
            .collect();
        entries.sort_by_key(|(_, found)| found.at.start);
        entries
    }

    pub(crate) fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// Says that a key must be there and is not.
    pub(crate) fn missing(&self, key: &str, mend: impl Display) {
        if self.document.is_broken() {
            return;
        }
        let (at, path) = (self.at.clone(), self.path_of(key));
        self.document
            .wrong(at, path, "is missing", format!("add {mend}"));
    }

    /// A number in a range; the unit is named in the advice.
    pub(crate) fn number(&self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let found = self.find(key)?;
        self.document.number(&found, range)
    }

    /// A whole number in a range.
    pub(crate) fn whole(&self, key: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        let found = self.find(key)?;
        self.document.whole(&found, range)
    }

    /// Text of at most so many bytes, not empty.
    pub(crate) fn words(&self, key: &'static str, most: usize) -> Option<&'d str> {
        let found = self.find(key)?;
        self.document.words(&found, most)
    }

    /// `true` or `false`.
    pub(crate) fn flag(&self, key: &'static str) -> Option<bool> {
        let found = self.find(key)?;
        let flag = found.value.as_bool();
        if flag.is_none() {
            self.document
                .wrong_kind(&found, "true or false, without quotes");
        }
        flag
    }

    /// One of a few words.
    pub(crate) fn choice<T: Copy>(
        &self,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<T> {
        let found = self.find(key)?;
        self.document.choice(&found, words)
    }

    /// A list of texts.
    pub(crate) fn list(&self, key: &'static str) -> Vec<Found<'d, 'i>> {
        let Some(found) = self.find(key) else {
            return Vec::new();
        };
        self.document.list(&found)
    }

    /// A table under a key.
    pub(crate) fn section(&self, key: &'static str) -> Option<Section<'d, 'i>> {
        let found = self.find(key)?;
        self.document
            .section(found, &format!("a table: [{}]", self.path_of(key)))
    }

    /// An array of tables under a key.
    pub(crate) fn sections(&self, key: &'static str) -> Vec<Section<'d, 'i>> {
        let Some(found) = self.find(key) else {
            return Vec::new();
        };
        let wanted = format!("one or more tables: [[{}]]", self.path_of(key));
        if found.value.as_array().is_none() {
            self.document.wrong_kind(&found, &wanted);
            return Vec::new();
        }
        let entries = self.document.list(&found).into_iter();
        entries
            .filter_map(|entry| self.document.section(entry, &wanted))
            .collect()
    }

    /// Names every key that nobody asked for, with the known one it is like.
    pub(crate) fn finish(self) {
        let known = self.known.borrow();
        for (key, _) in self.table.iter() {
            let name = key.get_ref().as_ref();
            if known.contains(&name) {
                continue;
            }
            let mend = match nearest(name, &known) {
                Some(like) => format!("did you mean `{like}`?"),
                None => format!("known here: {}", known.join(", ")),
            };
            self.document
                .wrong(key.span(), self.path_of(name), "is not a known key", mend);
        }
    }
}

impl<'a> Document<'a> {
    pub(crate) fn wrong_kind(&self, found: &Found<'_, '_>, wanted: &str) {
        let what = format!("is {}", kind(found.value));
        self.wrong(
            found.at.clone(),
            found.path.clone(),
            what,
            format!("give {wanted}"),
        );
    }

    pub(crate) fn number(&self, found: &Found<'_, '_>, range: RangeInclusive<f64>) -> Option<f64> {
        let span = format!("a number from {} to {}", range.start(), range.end());
        let Some(number) = number(found.value) else {
            self.wrong_kind(found, &span);
            return None;
        };
        if range.contains(&number) {
            return Some(number);
        }
        let what = format!("is {number}, which cannot be");
        self.wrong(
            found.at.clone(),
            found.path.clone(),
            what,
            format!("give {span}"),
        );
        None
    }

    pub(crate) fn whole(&self, found: &Found<'_, '_>, range: RangeInclusive<u32>) -> Option<u32> {
        let span = format!("a whole number from {} to {}", range.start(), range.end());
        let whole = found.value.as_integer().and_then(|integer| {
            let digits = integer.as_str();
            i64::from_str_radix(digits, integer.radix()).ok()
        });
        let in_range = whole
            .and_then(|whole| u32::try_from(whole).ok())
            .filter(|whole| range.contains(whole));
        match (whole, in_range) {
            (_, Some(whole)) => return Some(whole),
            (Some(whole), None) => self.wrong(
                found.at.clone(),
                found.path.clone(),
                format!("is {whole}, which cannot be"),
                format!("give {span}"),
            ),
            (None, None) => self.wrong_kind(found, &span),
        }
        None
    }

    pub(crate) fn words<'d>(&self, found: &Found<'d, '_>, most: usize) -> Option<&'d str> {
        let Some(words) = found.value.as_str() else {
            self.wrong_kind(found, "text in quotes");
            return None;
        };
        let wrong = |what: String, mend: String| {
            self.wrong(found.at.clone(), found.path.clone(), what, mend);
        };
        if words.trim().is_empty() {
            wrong("is empty".into(), "write a word or two".into());
            return None;
        }
        if words.chars().any(char::is_control) {
            wrong(
                "holds a line break or control character".into(),
                "write it on one line".into(),
            );
            return None;
        }
        if words.len() > most {
            wrong(
                format!("is {} letters long", words.len()),
                format!("shorten it to {most}"),
            );
            return None;
        }
        Some(words)
    }

    pub(crate) fn choice<T: Copy>(
        &self,
        found: &Found<'_, '_>,
        words: &[(&'static str, T)],
    ) -> Option<T> {
        let names: Vec<&'static str> = words.iter().map(|(word, _)| *word).collect();
        let wanted = format!("one of {}", quoted(&names));
        let Some(word) = found.value.as_str() else {
            self.wrong_kind(found, &wanted);
            return None;
        };
        let hit = words.iter().find(|(name, _)| *name == word);
        if hit.is_none() {
            let mend = match nearest(word, &names) {
                Some(like) => format!("did you mean \"{like}\"? It is {wanted}"),
                None => format!("give {wanted}"),
            };
            let what = format!("is \"{}\", which is not known", shortened(word));
            self.wrong(found.at.clone(), found.path.clone(), what, mend);
        }
        hit.map(|(_, value)| *value)
    }

    pub(crate) fn list<'d, 'i>(&self, found: &Found<'d, 'i>) -> Vec<Found<'d, 'i>> {
        let Some(array) = found.value.as_array() else {
            self.wrong_kind(found, "a list in square brackets");
            return Vec::new();
        };
        array
            .iter()
            .enumerate()
            .map(|(place, entry): (usize, &'d Spanned<DeValue<'i>>)| Found {
                value: entry.get_ref(),
                at: entry.span(),
                path: format!("{}[{}]", found.path, place + 1),
            })
            .collect()
    }

    pub(crate) fn section<'d, 'i>(
        &'d self,
        found: Found<'d, 'i>,
        wanted: &str,
    ) -> Option<Section<'d, 'i>>
    where
        'a: 'd,
    {
        let Some(table) = found.value.as_table() else {
            self.wrong_kind(&found, wanted);
            return None;
        };
        Some(Section::new(self, table, found.path, found.at))
    }
}

/// A finite number, whole or not.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
            .ok()
            .map(|whole| whole as f64),
        DeValue::Float(float) => float.as_str().parse().ok().filter(|n: &f64| n.is_finite()),
        _ => None,
    }
}

/// What a file holds may break lines and steer terminals; what is said of it
/// must not.
fn on_one_line(words: String) -> String {
    words.replace(char::is_control, " ")
}

/// As much of a text as is needed to know it again.
fn shortened(words: &str) -> String {
    const MOST: usize = 40;
    if words.chars().count() <= MOST {
        return words.to_owned();
    }
    words.chars().take(MOST).chain("...".chars()).collect()
}

fn kind(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(words) => format!("the text \"{}\"", shortened(words)),
        DeValue::Integer(integer) => format!("the whole number {}", integer.as_str()),
        DeValue::Float(float) => format!("the number {}", float.as_str()),
        DeValue::Boolean(flag) => format!("{flag}"),
        DeValue::Datetime(_) => "a date or time".into(),
        DeValue::Array(_) => "a list".into(),
        DeValue::Table(_) => "a table".into(),
    }
}

pub(crate) fn quoted(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    quoted.join(", ")
}

/// The name that a slip of the fingers would have made into `word`.
pub(crate) fn nearest<'n>(word: &str, names: &[&'n str]) -> Option<&'n str> {
    let close = names.iter().map(|name| (distance(word, name), *name));
    let (slips, name) = close.min_by_key(|(slips, _)| *slips)?;
    (slips <= 1 + word.chars().count() / 4).then_some(name)
}

/// Letters to add, drop or change to make one word of the other (Levenshtein).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut corner = i;
        let mut left = i + 1;
        for (j, other) in b.iter().enumerate() {
            let above = row[j + 1];
            let changed = corner + usize::from(letter != *other);
            row[j] = left;
            left = changed.min(above + 1).min(left + 1);
            corner = above;
        }
        row[b.len()] = left;
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_finds_its_word_and_nonsense_does_not() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", "abc"), 0);
        assert_eq!(
            nearest("gust_knn", &["mean_kn", "gust_kn"]),
            Some("gust_kn")
        );
        assert_eq!(nearest("xyzzy", &["mean_kn", "gust_kn"]), None);
    }
}
