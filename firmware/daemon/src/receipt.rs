//! The word that something is on the disk.

use std::sync::Arc;

/// Told when what was done before it is on the disk.
#[derive(Clone, Debug)]
pub struct Receipt(Arc<tokio::sync::watch::Sender<bool>>);

impl Receipt {
    /// One to hand on, and the end that waits for it.
    pub fn new() -> (Receipt, tokio::sync::watch::Receiver<bool>) {
        let (sender, waiting) = tokio::sync::watch::channel(false);
        (Receipt(Arc::new(sender)), waiting)
    }

    /// It is on the disk.
    pub fn give(&self) {
        self.0.send_replace(true);
    }
}

impl PartialEq for Receipt {
    fn eq(&self, other: &Receipt) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}
