//! The one check command.
fn main() {}
