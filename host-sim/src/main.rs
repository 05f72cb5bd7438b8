//! The `cringle-sim` program.
fn main() {}
