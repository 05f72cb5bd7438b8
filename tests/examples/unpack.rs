//! Gives back a recording of `tests/data/net`, for `cringle replay`:
//!
//! ```sh
//! cargo run -p cringle-tests --example unpack -- tests/data/net/lull-1.packed > lull.log
//! ```

use std::io::Write;

use anyhow::{Context, Result};
use cringle_tests::packed;

fn main() -> Result<()> {
    let path = std::env::args().nth(1).context("give a packed recording")?;
    let recording = packed::unpack(&std::fs::read(path)?)?;
    std::io::stdout().write_all(&recording)?;
    Ok(())
}
