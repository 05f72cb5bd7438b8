//! What is wrong with a file, so that a person can mend it.

use std::fmt;
use std::path::PathBuf;

/// How much a problem matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Worth knowing.
    Note,
    /// Makes calls wrong, late or impossible: the file is found wanting.
    Fault,
    /// The file cannot be used.
    Error,
}

impl Weight {
    /// In one word.
    pub const fn word(self) -> &'static str {
        match self {
            Weight::Note => "note",
            Weight::Fault => "fault",
            Weight::Error => "error",
        }
    }
}

/// One thing wrong in one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// How much it matters.
    pub weight: Weight,
    /// The file, as the person named it.
    pub file: String,
    /// Counted from 1.
    pub line: usize,
    /// Where in the file's own terms: `plan[2].area_m2`.
    pub key: String,
    /// What was found.
    pub what: String,
    /// What to do about it.
    pub mend: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: ", self.file, self.line)?;
        match self.weight {
            Weight::Error => {}
            weight => write!(f, "{}: ", weight.word())?,
        }
        if !self.key.is_empty() {
            write!(f, "{}: ", self.key)?;
        }
        write!(f, "{}; {}", self.what, self.mend)
    }
}

/// Everything wrong with a file, in the order of its lines. Never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problems(pub(super) Vec<Problem>);

impl Problems {
    /// One by one.
    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.0.iter()
    }

    /// How many; at least 1.
    pub fn count(&self) -> usize {
        self.0.len()
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, problem) in self.0.iter().enumerate() {
            if place > 0 {
                writeln!(f)?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}

/// Why a file could not be had.
#[derive(Debug)]
pub enum LoadError {
    /// It could not be read at all.
    Io {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
    /// It was read and is wrong.
    Wrong(Problems),
}

impl fmt::Display for LoadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LoadError::Io { path, error } => {
                write!(f, "cannot read {}: {error}", path.display())
            }
            LoadError::Wrong(problems) => problems.fmt(f),
        }
    }
}

impl std::error::Error for LoadError {}
