//! What `check` says of a boat file that is in order: will this ladder lead
//! this crew down in time?

mod changes;
mod crew;
mod plans;
mod settings;

use crate::file::BoatFile;
use crate::toml_file::{Problem, Weight};

/// Judges a boat file; remarks in the order of its lines.
pub fn judge(file: &BoatFile) -> Vec<Problem> {
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

impl BoatFile {
    /// Something found wrong with a key of this file from outside it.
    pub fn fault(&self, key: &str, what: String, mend: &str) -> Problem {
        let mut remarks = Remarks {
            file: self,
            list: Vec::new(),
        };
        remarks.fault(key.to_owned(), what, mend);
        remarks.list.remove(0)
    }
}

/// Remarks so far, with the file that they are on.
struct Remarks<'f> {
    file: &'f BoatFile,
    list: Vec<Problem>,
}

impl Remarks<'_> {
    fn fault(&mut self, key: String, what: String, mend: &str) {
        self.remark(Weight::Fault, key, what, mend);
    }

    fn note(&mut self, key: String, what: String, mend: &str) {
        self.remark(Weight::Note, key, what, mend);
    }

    fn remark(&mut self, weight: Weight, key: String, what: String, mend: &str) {
        self.list.push(Problem {
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
