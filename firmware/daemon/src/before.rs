//! What a start finds of the run before.

use std::path::Path;

use cringle_boat::BoatFile;
use cringle_core::time::Timestamp;
use cringle_core::watch::Watch;

use crate::disk::Disk;
use crate::state::{State, Unsure};
use crate::store::{EVENT_LOG, STATE_FILE};
use crate::watch::age_in_words;

/// What was saved before a restart, and what of it must be asked for. A state
/// file that is damaged is passed over: the crew then says what is set.
pub fn state_before(
    disk: &dyn Disk,
    boat_file: &BoatFile,
    directory: &Path,
    unix_ms: Option<i64>,
) -> (Option<State>, Vec<Unsure>) {
    let path = directory.join(STATE_FILE);
    let anew = "beginning as the boat file says: enter plan and hands anew";
    let lost = |why: &str| {
        tracing::warn!("state file {} {why}; {anew}", path.display());
        (None, Unsure::ALL.to_vec())
    };
    let contents = match disk.read(&path) {
        Ok(contents) => contents,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            // Where a log is, a watch has kept its state before.
            if disk.is_there(&directory.join(EVENT_LOG)) {
                return lost("is gone");
            }
            tracing::info!("no state from before: {} is not there", path.display());
            return (None, Vec::new());
        }
        Err(why) => return lost(&format!("cannot be read: {why}")),
    };
    let cold = Watch::new(&boat_file.boat, None, Timestamp::ZERO).saved();
    let contents = String::from_utf8_lossy(&contents);
    match State::read_sealed(&contents, &boat_file.boat, &cold) {
        Ok((state, mut unsure)) => {
            let age = age_in_words(&state);
            tracing::info!("state from before taken up, {age}");
            for question in unsure.iter().map(|it| it.question()) {
                tracing::warn!("state file {}: not sure: {question}", path.display());
            }
            // The wind of before is not kept.
            unsure.push(Unsure::Trend);
            (Some(state.aged(unix_ms)), unsure)
        }
        Err(why) => lost(&why),
    }
}
