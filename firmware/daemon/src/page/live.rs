//! The stream of `GET /live`: at most two views a second, but one at once when
//! the call changes; one at least every two seconds as a sign of life; and
//! event lines as they come.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::response::sse::Event;
use cringle_core::view::AlertState;
use futures_util::stream::{self, Stream};
use tokio::sync::watch;

use super::moment::Moment;
use super::{Going, Shared, ending, seen};

/// Between two views.
const APART: Duration = Duration::from_millis(500);
/// A view is sent again after this, older by as much.
const HEARTBEAT: Duration = Duration::from_secs(2);

/// One browser's stream.
struct Live {
    shared: Arc<Shared>,
    newest: watch::Receiver<Option<Arc<Moment>>>,
    stopped: watch::Receiver<Going>,
    /// The newest event line that was sent.
    told: u64,
    /// The newest state of the call that was sent; none before the first view.
    sent: Option<CallState>,
    waiting: VecDeque<Event>,
    begun: bool,
}

/// What is sent at once when it changes: alert, its state's number, its answer.
type CallState = (u32, u32, AlertState);

fn call_state(moment: &Moment) -> CallState {
    let call = &moment.view.call;
    (call.id, call.revision, call.alert)
}

/// Begins after this event line; it ends when the page does.
pub(super) fn stream(
    shared: Arc<Shared>,
    stopped: watch::Receiver<Going>,
    since: u64,
) -> impl Stream<Item = Result<Event, Infallible>> {
    let live = Live {
        newest: shared.newest.clone(),
        told: since,
        sent: None,
        waiting: VecDeque::new(),
        begun: false,
        shared,
        stopped,
    };
    stream::unfold(live, |mut live| async move {
        let event = live.next().await?;
        Some((Ok(event), live))
    })
}

impl Live {
    async fn next(&mut self) -> Option<Event> {
        while self.waiting.is_empty() {
            tokio::select! {
                biased;
                () = ending(self.stopped.clone()) => return None,
                () = pause(&mut self.newest, self.begun, self.sent) => {}
            }
            self.begun = true;
            self.fetch();
        }
        self.waiting.pop_front()
    }

    fn fetch(&mut self) {
        for (seq, line) in self.shared.lines.since(self.told) {
            self.told = seq;
            let event = Event::default().event("told").id(seq.to_string());
            self.waiting.push_back(event.data(line));
        }
        let moment = self.newest.borrow_and_update().clone();
        if let Some(moment) = moment {
            self.sent = Some(call_state(&moment));
            let json = seen::json(&moment, &self.shared);
            self.waiting
                .push_back(Event::default().event("view").data(json));
        }
    }
}

/// At once for a browser that has just come and for a call that has changed;
/// then when there is news, but not too soon, and in any case after a while.
async fn pause(
    newest: &mut watch::Receiver<Option<Arc<Moment>>>,
    begun: bool,
    sent: Option<CallState>,
) {
    if !begun {
        return;
    }
    // A receiver of its own: what it looks at counts as not seen here.
    let mut aside = newest.clone();
    let calls = aside.wait_for(|moment| moment.as_deref().map(call_state) != sent);
    if matches!(tokio::time::timeout(APART, calls).await, Ok(Ok(_))) {
        return;
    }
    let rest = HEARTBEAT.saturating_sub(APART);
    let gone = tokio::time::timeout(rest, newest.changed()).await;
    if matches!(gone, Ok(Err(_))) {
        // The loop has ended: what is left is told once in a while until the
        // page ends too, older each time.
        tokio::time::sleep(rest).await;
    }
}
