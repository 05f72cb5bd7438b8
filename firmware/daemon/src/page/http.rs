//! The routes. Reading is free; `act` and `press` ask for the key.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Extension, Query, Request, State};
use axum::http::{StatusCode, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::sse::Sse;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use cringle_screen::hue::{Look, Palette};
use cringle_screen::ui::{Page as Leaf, Ui};
use serde::Deserialize;
use tokio::sync::{mpsc, watch};

use super::ask::{self, Refusal};
use super::guard::Peer;
use super::moment::Moment;
use super::{Going, Shared, live, seen};
use crate::face::{Input, Receipt};
use crate::picture::{Picture, Size};

/// The page itself: one file, nothing from elsewhere.
const PAGE: &str = include_str!("page.html");

/// No act is longer than this.
const MOST_BYTES: usize = 4096;

/// Whoever gives a wrong key waits so long for the answer.
const AFTER_A_WRONG_KEY: Duration = Duration::from_millis(300);

/// A request with its body and its answer takes no longer.
const WHOLE: Duration = Duration::from_secs(10);

/// The page may load nothing that is not from here, and stand in no frame.
const POLICY: &str = "default-src 'none'; connect-src 'self'; img-src 'self' data:; \
                      script-src 'unsafe-inline'; style-src 'unsafe-inline'; \
                      frame-ancestors 'none'; form-action 'none'; base-uri 'none'";

/// How long an answer waits for the disk: longer than a slow card takes, shorter
/// than a person's patience.
const FOR_THE_DISK: Duration = Duration::from_secs(3);

const NOT_KEPT_YET: &str = "taken, but not on the disk yet: a power cut now would lose it";

#[derive(Clone)]
struct Desk {
    shared: Arc<Shared>,
    inputs: mpsc::Sender<Input>,
    stopped: watch::Receiver<Going>,
}

pub(super) fn routes(
    shared: Arc<Shared>,
    inputs: mpsc::Sender<Input>,
    stopped: watch::Receiver<Going>,
) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/live", get(stream))
        .route("/view", get(view))
        .route("/events", get(events))
        .route("/screen.png", get(screen))
        .route("/act", post(act))
        .route("/press", post(press))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(from_fn_with_state(Arc::clone(&shared), admit))
        .with_state(Desk {
            shared,
            inputs,
            stopped,
        })
}

/// Only for hosts of ours, and not for long.
async fn admit(
    State(shared): State<Arc<Shared>>,
    Extension(peer): Extension<Peer>,
    request: Request,
    next: Next,
) -> Response {
    peer.asks();
    if let Some(words) = shared.hosts.refuse(request.headers()) {
        return (StatusCode::FORBIDDEN, words).into_response();
    }
    // A stream's answer begins at once: only its end is far off.
    match tokio::time::timeout(WHOLE, next.run(request)).await {
        Ok(answer) => answer,
        Err(_) => StatusCode::REQUEST_TIMEOUT.into_response(),
    }
}

async fn page() -> Response {
    let headers = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, FRESH),
    ];
    (headers, Html(PAGE)).into_response()
}

/// What is kept by a browser would be shown stale.
const FRESH: &str = "no-store";

#[derive(Deserialize)]
struct Since {
    #[serde(default)]
    since: u64,
}

async fn stream(State(desk): State<Desk>, Query(from): Query<Since>) -> Response {
    Sse::new(live::stream(desk.shared, desk.stopped, from.since)).into_response()
}

async fn view(State(desk): State<Desk>) -> Response {
    match desk.newest() {
        Some(moment) => json(seen::json(&moment, &desk.shared)),
        None => nothing_yet(),
    }
}

async fn events(State(desk): State<Desk>, Query(from): Query<Since>) -> Response {
    let lines = desk.shared.lines.since(from.since);
    let lines: Vec<_> = lines.into_iter().map(|(_, line)| line).collect();
    json(format!("[{}]", lines.join(",")))
}

/// What is drawn; what is not asked for is as the cockpit has it.
#[derive(Deserialize)]
struct Wanted {
    panel: Option<String>,
    page: Option<String>,
    look: Option<String>,
}

async fn screen(State(desk): State<Desk>, Query(wanted): Query<Wanted>) -> Response {
    let Some(moment) = desk.newest() else {
        return nothing_yet();
    };
    let aboard = moment.aboard_at(desk.shared.wall.now());
    let drawn = wanted.picture(&moment).map(|(size, ui, look)| {
        let picture = Picture::draw_in(look, size, &moment.view, &aboard, &ui);
        let mut bytes = Vec::new();
        picture.write_png(&mut bytes, 1).map(|()| bytes)
    });
    match drawn {
        Ok(Ok(bytes)) => {
            let kind = (header::CONTENT_TYPE, "image/png");
            ([kind, (header::CACHE_CONTROL, FRESH)], bytes).into_response()
        }
        Ok(Err(error)) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
        Err(words) => (StatusCode::BAD_REQUEST, words).into_response(),
    }
}

impl Wanted {
    fn picture(&self, moment: &Moment) -> Result<(Size, Ui, Look), String> {
        let size = match self.panel.as_deref() {
            Some("128x64") => Size::Mono,
            Some("296x128") => Size::Paper,
            None | Some("320x240") => Size::Colour,
            Some("240x320") => Size::ColourTall,
            Some(other) => {
                return Err(format!(
                    "no panel \"{other}\": give 128x64, 296x128, 320x240 or 240x320"
                ));
            }
        };
        let ui = match self.page.as_deref() {
            None => moment.ui.clone(),
            Some(page) => Ui::at(leaf(page)?),
        };
        let look = match (self.look.as_deref(), size) {
            // Paper has no other look.
            (None | Some("day" | "night"), Size::Paper) => Look::of(Palette::MonoInverse),
            (None, _) => ui.look(&moment.view),
            (Some("day"), Size::Mono) => Look::of(Palette::Mono),
            (Some("day"), _) => Look::of(Palette::Day),
            (Some("night"), _) => Look {
                palette: Palette::Night,
                ..ui.look(&moment.view)
            },
            (Some(other), _) => return Err(format!("no look \"{other}\": give day or night")),
        };
        Ok((size, ui, look))
    }
}

fn leaf(page: &str) -> Result<Leaf, String> {
    Ok(match page {
        "home" => Leaf::Ladder,
        "wind" => Leaf::Wind,
        "trend" => Leaf::Trend,
        "setup" => Leaf::Setup,
        "hands" => Leaf::Hands,
        "health" => Leaf::Health,
        "bench" => Leaf::Bench,
        other => {
            return Err(format!(
                "no page \"{other}\": give home, wind, trend, setup, hands, health or bench"
            ));
        }
    })
}

async fn act(State(desk): State<Desk>, Extension(peer): Extension<Peer>, body: String) -> Response {
    if let Some(answer) = desk.unlocked(&body, &peer).await {
        return answer;
    }
    let Some(moment) = desk.newest() else {
        return nothing_yet();
    };
    let key = desk.shared.key.as_deref();
    let asked = ask::act(&body, key, &desk.shared.names, &moment.view);
    desk.pass_on(asked).await
}

async fn press(
    State(desk): State<Desk>,
    Extension(peer): Extension<Peer>,
    body: String,
) -> Response {
    if let Some(answer) = desk.unlocked(&body, &peer).await {
        return answer;
    }
    let asked = ask::press(&body, desk.shared.key.as_deref());
    desk.pass_on(asked).await
}

impl Desk {
    fn newest(&self) -> Option<Arc<Moment>> {
        self.shared.newest.borrow().clone()
    }

    /// Why the key does not fit, if so. A key is not even looked at while its
    /// address waits: it could be right.
    async fn unlocked(&self, body: &str, peer: &Peer) -> Option<Response> {
        let Shared { guesses, wall, .. } = &*self.shared;
        let key = self.shared.key.as_deref();
        if let Some(wait) = guesses.wait(peer.ip, wall.now()) {
            let seconds = wait.as_secs() + 1;
            let words = format!("what was given before was not the key: wait {seconds} s");
            return Some((StatusCode::TOO_MANY_REQUESTS, words).into_response());
        }
        match ask::permit(body, key) {
            Ok(()) => {
                guesses.right(peer.ip);
                None
            }
            Err(refusal) => {
                if key.is_some() {
                    guesses.wrong(peer.ip, wall.now());
                }
                Some(self.pass_on(Err(refusal)).await)
            }
        }
    }

    /// 204 once the loop has it and what the crew said is on the disk; 202 where
    /// it is obeyed and the disk has not answered.
    async fn pass_on(&self, asked: Result<Input, Refusal>) -> Response {
        match asked {
            Ok(input) => self.obey(input).await,
            Err(Refusal::Forbidden(words)) => {
                // Guessing takes time.
                tokio::time::sleep(AFTER_A_WRONG_KEY).await;
                (StatusCode::FORBIDDEN, words).into_response()
            }
            Err(Refusal::Wrong(words)) => (StatusCode::BAD_REQUEST, words).into_response(),
        }
    }

    async fn obey(&self, input: Input) -> Response {
        let (receipt, mut kept) = Receipt::new();
        // Both in this order: the loop takes them so.
        for input in [input, Input::Kept(receipt)] {
            if self.inputs.send(input).await.is_err() {
                return (StatusCode::SERVICE_UNAVAILABLE, "the watch has ended").into_response();
            }
        }
        match tokio::time::timeout(FOR_THE_DISK, kept.wait_for(|kept| *kept)).await {
            Ok(Ok(_)) => StatusCode::NO_CONTENT.into_response(),
            _ => (StatusCode::ACCEPTED, NOT_KEPT_YET).into_response(),
        }
    }
}

fn json(text: String) -> Response {
    let kind = (header::CONTENT_TYPE, "application/json");
    ([kind, (header::CACHE_CONTROL, FRESH)], text).into_response()
}

fn nothing_yet() -> Response {
    let words = "the watch has not shown anything yet: ask again in a second";
    (StatusCode::SERVICE_UNAVAILABLE, words).into_response()
}
