//! The example boat and the templates from which a first boat file is made.

use crate::file::{BoatFile, parse};
use crate::toml_file::Problems;

/// What the example boat's file calls itself in errors and headers.
pub const EXAMPLE_NAME: &str = "the built-in example boat";

/// A first boat file for one kind of boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Template {
    /// The kind: `sloop`, `cutter`, `ketch`, `multihull`.
    pub kind: &'static str,
    /// In one line, for the one who chooses.
    pub about: &'static str,
    /// The boat file.
    pub text: &'static str,
}

/// One for each kind of boat.
pub const TEMPLATES: &[Template] = &[
    Template {
        kind: "sloop",
        about: "one mast, three reefs, rolled genoa, storm jib on an inner stay",
        text: include_str!("../boats/templates/sloop.toml"),
    },
    Template {
        kind: "cutter",
        about: "one mast, three reefs, genoa and staysail, trysail",
        text: include_str!("../boats/templates/cutter.toml"),
    },
    Template {
        kind: "ketch",
        about: "two masts, main rolled into the mast, mizzen, genoa, storm jib",
        text: include_str!("../boats/templates/ketch.toml"),
    },
    Template {
        kind: "multihull",
        about: "two or three hulls: judged by gusts and trim, never by heel",
        text: include_str!("../boats/templates/multihull.toml"),
    },
];

/// The text of the example boat's file.
pub fn example_text() -> &'static str {
    include_str!("../boats/example.toml")
}

/// The example boat: an invented 12 m cutter with a fourth reef and a
/// permanently rigged staysail built as a storm jib. The error is never
/// there in a program whose tests have passed.
pub fn example() -> Result<BoatFile, Problems> {
    parse(EXAMPLE_NAME, example_text())
}
