//! Whether the page goes on, and waiting for its end.

use tokio::sync::watch;

/// Whether the page goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Going {
    On,
    Ending,
}

/// Comes back when the page is to end.
pub(super) async fn ending(mut stopped: watch::Receiver<Going>) {
    // An error means that nobody serves it any more: that is the end too.
    let _ = stopped.wait_for(|going| *going == Going::Ending).await;
}
