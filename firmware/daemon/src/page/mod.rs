//! The small web page: the live picture for a telephone, tablet or chart
//! table, and acts for those who know the key.
//!
//! To the watch loop the page is one more [`Face`] and one more [`Teller`]:
//! the face hands on each moment, the teller each event line, and both never
//! wait for a browser. What a browser asks for comes back as [`Input`].
//!
//! It is plain HTTP: nothing is encrypted. By default it listens on this
//! computer alone. On any other address, `0.0.0.0` above all, everybody on
//! that network can read it, and can overhear the key whenever somebody acts;
//! who has the key can acknowledge calls, say what is set and stop the watch. So
//! open it on a network of the boat's own with a password, never in a marina's.
//!
//! ```text
//!   loop -- face ----> newest moment --+
//!        -- teller --> last 500 lines -+--> GET / live view events screen.png
//!        <------------- Input ------------- POST act press (with the key)
//! ```

mod ask;
mod foretell;
mod going;
mod guard;
mod http;
mod live;
mod moment;
mod seen;
mod serve;
mod stall;

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

use crate::clock::Clock;
use crate::events::event_line;
use crate::face::{Face, Input};
use crate::names::Names;
use crate::watch::Teller;
use going::{Going, ending};
use guard::{Guesses, Hosts};
use moment::{Hand, Lines, Moment};

/// A port that is taken is tried again after this.
const TRY_AGAIN: Duration = Duration::from_secs(5);

/// Open streams are waited for no longer than this when the page ends.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// The page before it is served: what the loop tells it and where it is kept.
pub struct Page {
    shared: Arc<Shared>,
    moments: watch::Sender<Option<Arc<Moment>>>,
}

/// What every request may read.
struct Shared {
    newest: watch::Receiver<Option<Arc<Moment>>>,
    lines: Lines,
    names: Names,
    key: Option<String>,
    wall: Clock,
    hosts: Hosts,
    guesses: Arc<Guesses>,
}

/// A page that is being served. Dropped, it ends at once.
pub struct Serving {
    stop: watch::Sender<Going>,
    task: JoinHandle<()>,
}

impl Page {
    /// A page for a boat with these names; acts need the key of the settings, and
    /// without one there are none.
    pub fn new(names: Names, settings: &cringle_boat::Page) -> Page {
        let (moments, newest) = watch::channel(None);
        Page {
            shared: Arc::new(Shared {
                newest,
                lines: Lines::default(),
                names,
                key: settings.key.clone(),
                wall: Clock::real(),
                hosts: Hosts::new(&settings.hosts),
                guesses: Arc::default(),
            }),
            moments,
        }
    }

    /// Who is told of events.
    pub fn teller(&self) -> Teller {
        let shared = Arc::clone(&self.shared);
        Box::new(move |event, names| {
            shared.lines.add(event.seq, event_line(event, names));
        })
    }

    /// What is shown the picture. It goes before faces that people touch, so
    /// that of two answers to one key press theirs counts.
    pub fn face(&self) -> Box<dyn Face> {
        let wall = self.shared.wall.clone();
        let guesses = Arc::clone(&self.shared.guesses);
        Box::new(Hand::new(self.moments.clone(), wall, guesses))
    }

    /// Serves the page until it is ended. A port that cannot be had is told
    /// and tried again: the watch does not hang on its page.
    pub fn serve(&self, listen: SocketAddr, inputs: mpsc::Sender<Input>) -> Serving {
        let (stop, stopped) = watch::channel(Going::On);
        let routes = http::routes(Arc::clone(&self.shared), inputs, stopped.clone());
        let task = tokio::spawn(async move {
            let listener = open(listen).await;
            serve::serve(listener, routes, stopped).await;
        });
        Serving { stop, task }
    }
}

impl Serving {
    /// Ends all streams and waits for them, but not for long.
    pub async fn end(mut self) {
        // Nobody listens only where the task has already gone.
        let _ = self.stop.send(Going::Ending);
        if tokio::time::timeout(LAST_WORDS, &mut self.task)
            .await
            .is_err()
        {
            tracing::warn!("page: a browser did not let go");
        }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn open(listen: SocketAddr) -> TcpListener {
    loop {
        match serve::bind(listen) {
            Ok(listener) => {
                let at = listener.local_addr().unwrap_or(listen);
                tracing::info!("page at http://{at}/");
                if !at.ip().is_loopback() {
                    tracing::warn!(
                        "page: everybody on this network can read it, and overhear its key"
                    );
                }
                return listener;
            }
            Err(error) => tracing::warn!("page: {listen} cannot be had: {error}"),
        }
        tokio::time::sleep(TRY_AGAIN).await;
    }
}

/// A line of the boat file as a recording may have it: without the key.
pub fn without_key(line: &str, key: Option<&str>) -> String {
    match key {
        Some(key) if line.contains("key") => line.replace(key, HIDDEN),
        _ => line.to_owned(),
    }
}

/// Stands for a key, and could be one, so that the recording can be read.
const HIDDEN: &str = "hidden-here";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recorded_boat_file_has_no_key_and_can_still_be_read() {
        let text = cringle_boat::example_text().to_owned() + "\n[page]\nkey = \"tansy-4711\"\n";
        let kept: Vec<_> = text
            .lines()
            .map(|line| without_key(line, Some("tansy-4711")))
            .collect();
        let kept = kept.join("\n");
        assert!(!kept.contains("tansy-4711"));
        let read = cringle_boat::parse("recorded", &kept).unwrap();
        assert_eq!(read.page.key.as_deref(), Some(HIDDEN));
    }
}
