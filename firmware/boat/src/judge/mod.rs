//! What `check` says of a boat file that is in order: will this ladder lead
//! this crew down in time?

mod changes;
mod crew;
mod plans;
mod settings;

use crate::file::BoatFile;

/// One remark on a boat file that can be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// How much it matters.
    pub weight: Weight,
    /// The file, as the person named it.
    pub file: String,
    /// Counted from 1.
    pub line: usize,
    /// Where in the file's own terms.
    pub key: String,
    /// What was found.
    pub what: String,
    /// What to do about it.
    pub mend: String,
}

/// How much a remark matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Worth knowing.
    Note,
    /// Makes calls wrong, late or impossible: the file is found wanting.
    Fault,
}

impl std::fmt::Display for Remark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let weight = match self.weight {
            Weight::Note => "note",
            Weight::Fault => "fault",
        };
        let Remark {
            file, line, key, ..
        } = self;
        write!(f, "{file}:{line}: {weight}: {key}: ")?;
        write!(f, "{}; {}", self.what, self.mend)
    }
}

/// Judges a boat file; remarks in the order of its lines.
pub fn judge(file: &BoatFile) -> Vec<Remark> {
    let mut remarks = Remarks {
        file,
        list: Vec::new(),
    };
    plans::judge(&mut remarks);
    changes::judge(&mut remarks);
    crew::judge(&mut remarks);
    settings::judge(&mut remarks);
    remarks.list.sort_by_key(|remark| remark.line);
    remarks.list
}

/// Remarks so far, with the file that they are on.
struct Remarks<'f> {
    file: &'f BoatFile,
    list: Vec<Remark>,
}

impl Remarks<'_> {
    fn fault(&mut self, key: String, what: String, mend: &str) {
        self.remark(Weight::Fault, key, what, mend);
    }

    fn note(&mut self, key: String, what: String, mend: &str) {
        self.remark(Weight::Note, key, what, mend);
    }

    fn remark(&mut self, weight: Weight, key: String, what: String, mend: &str) {
        self.list.push(Remark {
            weight,
            file: self.file.file.clone(),
            line: self.file.places.line(&key),
            key,
            what,
            mend: mend.to_owned(),
        });
    }
}

/// The key of the nth entry of an array of tables, counted from 0 here and
/// from 1 there.
fn entry(array: &str, place: usize) -> String {
    format!("{array}[{}]", place + 1)
}
