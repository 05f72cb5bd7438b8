//! Walks a spanned TOML document and collects everything that is wrong.
//!
//! A derived reader stops at the first error; a fitter with one file and no
//! network wants them all.

use std::collections::HashSet;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One thing wrong with a board file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// Line in the file, from 1.
    pub line: usize,
    /// The key, with its tables, such as `panel.bus`; empty for the whole file.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub mend: String,
}

impl core::fmt::Display for Complaint {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "line {}: ", self.line)?;
        if !self.key.is_empty() {
            write!(f, "{}: ", self.key)?;
        }
        write!(f, "{}, {}", self.what, self.mend)
    }
}

/// The text of the file and what was found wrong so far.
pub(super) struct Findings<'a> {
    text: &'a str,
    complaints: Vec<Complaint>,
}

impl<'a> Findings<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Findings {
            text,
            complaints: Vec::new(),
        }
    }

    pub(super) fn add(
        &mut self,
        span: &Range<usize>,
        key: impl Into<String>,
        what: impl Into<String>,
        mend: impl Into<String>,
    ) {
        let before = self.text.get(..span.start).unwrap_or(self.text);
        self.complaints.push(Complaint {
            line: before.matches('\n').count() + 1,
            key: key.into(),
            what: what.into(),
            mend: mend.into(),
        });
    }

    pub(super) fn into_sorted(mut self) -> Vec<Complaint> {
        self.complaints.sort_by_key(|complaint| complaint.line);
        self.complaints
    }
}

/// A table being read: keys are taken, what is left over is unknown.
pub(super) struct Walk<'t, 'f, 'a> {
    table: &'t DeTable<'a>,
    span: Range<usize>,
    path: String,
    taken: HashSet<&'static str>,
    findings: &'f mut Findings<'a>,
}

/// A value and where it stands.
pub(super) struct Found<T> {
    pub(super) value: T,
    pub(super) span: Range<usize>,
}

impl<'t, 'f, 'a> Walk<'t, 'f, 'a> {
    pub(super) fn new(
        table: &'t DeTable<'a>,
        span: Range<usize>,
        path: impl Into<String>,
        findings: &'f mut Findings<'a>,
    ) -> Self {
        Walk {
            table,
            span,
            path: path.into(),
            taken: HashSet::new(),
            findings,
        }
    }

    /// Reports a key that is missing or wrong.
    pub(super) fn complain(
        &mut self,
        span: &Range<usize>,
        key: &str,
        what: impl Into<String>,
        mend: impl Into<String>,
    ) {
        let key = self.full(key);
        self.findings.add(span, key, what, mend);
    }

    /// A text, which must be there.
    pub(super) fn text(&mut self, key: &'static str, mend: &str) -> Option<Found<String>> {
        let found = self.text_if_any(key, mend);
        self.must_be_there(key, mend);
        found
    }

    /// A text that may be left out.
    pub(super) fn text_if_any(&mut self, key: &'static str, mend: &str) -> Option<Found<String>> {
        let value = self.take(key)?;
        match value.get_ref().as_str() {
            Some(text) => Some(Found {
                value: text.to_string(),
                span: value.span(),
            }),
            None => self.wrong_type(key, value, "text in quotes", mend),
        }
    }

    /// One of a few words, with what each stands for.
    pub(super) fn word<T: Clone>(
        &mut self,
        key: &'static str,
        words: &[(&str, T)],
        mend: &str,
    ) -> Option<Found<T>> {
        let found = self.word_if_any(key, words, mend);
        self.must_be_there(key, mend);
        found
    }

    /// One of a few words that may be left out.
    pub(super) fn word_if_any<T: Clone>(
        &mut self,
        key: &'static str,
        words: &[(&str, T)],
        mend: &str,
    ) -> Option<Found<T>> {
        let Found { value: text, span } = self.text_if_any(key, mend)?;
        let value = words.iter().find(|(word, _)| *word == text);
        if let Some((_, value)) = value {
            let value = value.clone();
            return Some(Found { value, span });
        }
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        self.complain(
            &span,
            key,
            format!("unknown \"{text}\""),
            format!("expected one of {}", known.join(", ")),
        );
        None
    }

    /// A whole number in a range that may be left out.
    pub(super) fn whole_if_any(
        &mut self,
        key: &'static str,
        range: std::ops::RangeInclusive<i64>,
        mend: &str,
    ) -> Option<Found<i64>> {
        let value = self.take(key)?;
        let number = value.get_ref().as_integer().and_then(|number| {
            let digits = number.as_str();
            i64::from_str_radix(digits, number.radix()).ok()
        });
        match number {
            Some(number) if range.contains(&number) => Some(Found {
                value: number,
                span: value.span(),
            }),
            Some(number) => {
                let what = format!("{number} is outside {} to {}", range.start(), range.end());
                self.complain(&value.span(), key, what, mend);
                None
            }
            None => self.wrong_type(key, value, "a whole number", mend),
        }
    }

    /// A number in a range, which must be there.
    pub(super) fn number(
        &mut self,
        key: &'static str,
        range: std::ops::RangeInclusive<f64>,
        mend: &str,
    ) -> Option<f64> {
        let value = self.take(key);
        self.must_be_there(key, mend);
        let value = value?;
        let written = match value.get_ref() {
            DeValue::Float(number) => number.as_str().parse().ok(),
            DeValue::Integer(number) => number.as_str().parse().ok(),
            _ => return self.wrong_type(key, value, "a number", mend),
        };
        match written {
            Some(number) if range.contains(&number) => Some(number),
            _ => {
                let what = format!("is outside {} to {}", range.start(), range.end());
                self.complain(&value.span(), key, what, mend);
                None
            }
        }
    }

    /// A yes or no that may be left out.
    pub(super) fn yes_no_if_any(&mut self, key: &'static str, mend: &str) -> Option<bool> {
        let value = self.take(key)?;
        match value.get_ref().as_bool() {
            Some(answer) => Some(answer),
            None => self.wrong_type(key, value, "true or false", mend),
        }
    }

    /// A table that may be left out, walked by `read`.
    pub(super) fn table_if_any<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Walk<'_, '_, 'a>) -> Option<T>,
    ) -> Option<T> {
        let value = self.take(key)?;
        let Some(table) = value.get_ref().as_table() else {
            return self.wrong_type(key, value, "a table", &format!("write [{key}]"));
        };
        let path = self.full(key);
        Walk::new(table, value.span(), path, self.findings).finish(read)
    }

    /// An array of tables, each walked by `read`.
    pub(super) fn tables<T>(
        &mut self,
        key: &'static str,
        mut read: impl FnMut(&mut Walk<'_, '_, 'a>) -> Option<T>,
    ) -> Vec<T> {
        let Some(value) = self.take(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            let none: Option<T> =
                self.wrong_type(key, value, "a list of tables", &format!("write [[{key}]]"));
            return none.into_iter().collect();
        };
        let path = self.full(key);
        let mut all = Vec::new();
        for (number, item) in items.iter().enumerate() {
            let path = format!("{path}[{}]", number + 1);
            match item.get_ref().as_table() {
                Some(table) => {
                    let walk = Walk::new(table, item.span(), path, self.findings);
                    all.extend(walk.finish(&mut read));
                }
                None => self.findings.add(
                    &item.span(),
                    path,
                    "is not a table",
                    format!("write [[{key}]]"),
                ),
            }
        }
        all
    }

    /// Reads with `read`, then reports every key it did not ask for.
    pub(super) fn finish<T>(mut self, read: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let result = read(&mut self);
        let mut known: Vec<&str> = self.taken.iter().copied().collect();
        known.sort_unstable();
        let known = known.join(", ");
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if !self.taken.contains(name) {
                let path = self.full(name);
                self.findings.add(
                    &key.span(),
                    path,
                    "unknown key",
                    format!("expected one of {known}"),
                );
            }
        }
        result
    }

    pub(super) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    fn take(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'a>>> {
        self.taken.insert(key);
        self.table.get(key)
    }

    fn must_be_there(&mut self, key: &'static str, mend: &str) {
        if !self.table.contains_key(key) {
            let span = self.span.clone();
            self.complain(&span, key, "is missing", mend);
        }
    }

    fn wrong_type<T>(
        &mut self,
        key: &str,
        value: &Spanned<DeValue<'a>>,
        wanted: &str,
        mend: &str,
    ) -> Option<T> {
        let what = format!("is a {}, not {wanted}", value.get_ref().type_str());
        self.complain(&value.span(), key, what, mend);
        None
    }

    fn full(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_string()
        } else {
            format!("{}.{key}", self.path)
        }
    }
}
