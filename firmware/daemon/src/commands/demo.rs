//! `cringle` alone.
use super::{Failure, Found};
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {}
pub(super) fn run(_: &Arguments) -> Result<Found, Failure> { Ok(Found::Well) }
