//! The `cringle` program.
fn main() {}
