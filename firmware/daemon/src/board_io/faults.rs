//! What is wrong with the devices, from all their threads.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// At most one fault a device, in words.
#[derive(Clone, Debug, Default)]
pub(super) struct Faults(Arc<Mutex<BTreeMap<&'static str, String>>>);

impl Faults {
    /// Notes how a device fares now.
    pub(super) fn set(&self, device: &'static str, fault: Option<String>) {
        let mut faults = self.lock();
        match fault {
            Some(fault) => faults.insert(device, fault),
            None => faults.remove(device),
        };
    }

    /// All that is wrong now.
    pub(super) fn all(&self) -> Vec<String> {
        self.lock().values().cloned().collect()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<&'static str, String>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
