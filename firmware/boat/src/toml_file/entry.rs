//! One value of a file, and what may be asked of it.

use std::fmt::Display;
use std::ops::{Range, RangeInclusive};

use toml::de::DeValue;

use super::section::Section;
use super::{Document, Problem, Weight, nearest, quoted};
use crate::moment;

/// Where in a file something stands.
#[derive(Clone)]
pub struct Place<'d> {
    pub(super) document: &'d Document<'d>,
    pub(super) at: Range<usize>,
    pub(super) path: String,
}

impl<'d> Place<'d> {
    /// Writes down what is wrong here.
    pub(super) fn wrong(&self, what: impl Into<String>, mend: impl Into<String>) {
        self.document.problems.borrow_mut().push(Problem {
            weight: Weight::Error,
            file: self.document.file.to_owned(),
            line: self.document.line(self.at.start),
            key: on_one_line(&self.path),
            what: on_one_line(&what.into()),
            mend: on_one_line(&mend.into()),
        });
    }

    /// Remembers on which line this stands.
    pub(super) fn note(self) -> Self {
        let line = self.document.line(self.at.start);
        let mut places = self.document.places.borrow_mut();
        places.0.insert(self.path.clone(), line);
        drop(places);
        self
    }

    /// What stands there under a key, or at a place of a list.
    pub(super) fn within(&self, at: Range<usize>, path: String) -> Place<'d> {
        self.document.place(at, path)
    }
}

/// One value with where it stands.
#[derive(Clone)]
pub struct Entry<'d> {
    pub(super) value: &'d DeValue<'d>,
    pub(super) place: Place<'d>,
}

impl<'d> Entry<'d> {
    /// Writes down what is wrong with it.
    pub fn wrong(&self, what: impl Into<String>, mend: impl Into<String>) {
        self.place.wrong(what, mend);
    }

    /// It is something else than what is wanted.
    pub(crate) fn wrong_kind(&self, wanted: impl Display) {
        self.wrong(format!("is {}", kind(self.value)), format!("give {wanted}"));
    }

    /// Whether lines of the file could not be read, so that what this names
    /// may stand there.
    pub(crate) fn is_in_broken_file(&self) -> bool {
        self.place.document.broken.get()
    }

    /// A text as it is written, whatever it says.
    pub fn as_text(&self) -> Option<&'d str> {
        self.value.as_str()
    }

    /// A text or a date as it is written.
    fn as_moment(&self) -> Option<String> {
        let words = || self.value.as_str().map(str::to_owned);
        self.value
            .as_datetime()
            .map(ToString::to_string)
            .or_else(words)
    }

    /// A moment of UTC, in Unix seconds.
    pub(crate) fn unix_s(&self) -> Option<i64> {
        let Some(written) = self.as_moment() else {
            self.wrong_kind("a moment of UTC, such as 2026-11-08T12:00:00Z");
            return None;
        };
        let unix_s = moment::read(&written);
        if unix_s.is_none() {
            self.wrong(
                format!("is {written}, no moment of UTC"),
                "give one with a Z, such as 2026-11-08T12:00:00Z",
            );
        }
        unix_s
    }

    /// The text must not stand among those seen before.
    pub fn must_differ(&self, seen: &mut Vec<String>, mend: &str) {
        let Some(text) = self.as_text() else { return };
        if seen.iter().any(|other| other == text) {
            self.wrong(format!("\"{}\" is there twice", shortened(text)), mend);
        }
        seen.push(text.to_owned());
    }

    /// A number in a range.
    pub(crate) fn number(&self, range: RangeInclusive<f64>) -> Option<f64> {
        let wanted = format!("a number from {} to {}", range.start(), range.end());
        let number = number(self.value);
        self.within(number, |number| range.contains(number), &wanted)
    }

    /// A whole number in a range.
    pub(crate) fn whole(&self, range: RangeInclusive<u32>) -> Option<u32> {
        let wanted = format!("a whole number from {} to {}", range.start(), range.end());
        let inside = |whole: &i64| u32::try_from(*whole).is_ok_and(|it| range.contains(&it));
        let whole = self.within(whole(self.value), inside, &wanted)?;
        u32::try_from(whole).ok()
    }

    fn within<N: Display>(
        &self,
        number: Option<N>,
        fits: impl FnOnce(&N) -> bool,
        wanted: &str,
    ) -> Option<N> {
        match number {
            None => self.wrong_kind(wanted),
            Some(number) if fits(&number) => return Some(number),
            Some(number) => self.wrong(
                format!("is {number}, which cannot be"),
                format!("give {wanted}"),
            ),
        }
        None
    }

    /// Text of at most so many letters, not empty, on one line.
    pub fn words(&self, most: usize) -> Option<&'d str> {
        let Some(words) = self.as_text() else {
            self.wrong_kind("text in quotes");
            return None;
        };
        // The core keeps names by their bytes: a letter with an accent is two.
        let bytes = words.len();
        if words.trim().is_empty() {
            self.wrong("is empty", "write a word or two");
        } else if words.chars().any(char::is_control) {
            self.wrong(
                "holds a line break or control character",
                "write it on one line",
            );
        } else if bytes > most && words.is_ascii() {
            self.wrong(
                format!("is {bytes} letters long"),
                format!("shorten it to {most}"),
            );
        } else if bytes > most {
            self.wrong(
                format!("is {bytes} bytes long (a letter with an accent takes 2)"),
                format!("shorten it to {most} bytes"),
            );
        } else {
            return Some(words);
        }
        None
    }

    /// `true` or `false`.
    pub(super) fn flag(&self) -> Option<bool> {
        let flag = self.value.as_bool();
        if flag.is_none() {
            self.wrong_kind("true or false, without quotes");
        }
        flag
    }

    /// One of a few words, with what each stands for.
    pub(crate) fn choice<T: Copy>(&self, words: &[(&'static str, T)]) -> Option<T> {
        let names: Vec<&'static str> = words.iter().map(|(word, _)| *word).collect();
        let wanted = format!("one of {}", quoted(&names));
        let Some(word) = self.as_text() else {
            self.wrong_kind(wanted);
            return None;
        };
        let hit = words.iter().find(|(name, _)| *name == word);
        if hit.is_none() {
            let mend = match nearest(word, &names) {
                Some(like) => format!("did you mean \"{like}\"? It is {wanted}"),
                None => format!("give {wanted}"),
            };
            self.wrong(
                format!("is \"{}\", which is not known", shortened(word)),
                mend,
            );
        }
        hit.map(|(_, value)| *value)
    }

    /// The entries of a list; none, and told, where it is no list.
    pub(crate) fn list(&self) -> Option<Vec<Entry<'d>>> {
        let Some(array) = self.value.as_array() else {
            self.wrong_kind("a list in square brackets");
            return None;
        };
        let entries = array.iter().zip(1..).map(|(entry, place)| Entry {
            value: entry.get_ref(),
            place: self
                .place
                .within(entry.span(), format!("{}[{place}]", self.place.path)),
        });
        Some(entries.collect())
    }

    /// A table; `wanted` says what it should look like.
    pub(crate) fn section(self, wanted: &str) -> Option<Section<'d>> {
        let Some(table) = self.value.as_table() else {
            self.wrong_kind(wanted);
            return None;
        };
        Some(Section::new(table, self.place))
    }
}

/// A finite number, whole or not.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(float) => float.as_str().parse().ok().filter(|n: &f64| n.is_finite()),
        _ => whole(value).map(|whole| whole as f64),
    }
}

fn whole(value: &DeValue<'_>) -> Option<i64> {
    let integer = value.as_integer()?;
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}

/// What a file holds may break lines and steer terminals; what is said of it
/// must not.
fn on_one_line(words: &str) -> String {
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
