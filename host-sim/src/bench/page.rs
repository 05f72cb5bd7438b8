//! What the page asks for: screens, keys, turns, the strip chart, pictures of
//! a recording. Everything is in one file, and nothing comes from elsewhere.

use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex};

use axum::extract::{Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::Deserialize;
use serde_json::{Value, json};

use super::client::Answer;
use super::daemon::{Daemon, Recording, lock};
use super::film::{Ahead, Film};
use super::sea::{Control, Sight, Switch};
use crate::calendar;
use crate::faults::{Disk, FaultKind, Strikes};
use crate::instruments::DeviceKind;
use crate::scenario::Scenario;

const PAGE: &str = include_str!("page.html");
/// The page may load nothing that is not from here.
const POLICY: &str = "default-src 'none'; connect-src 'self'; img-src 'self'; \
                      script-src 'unsafe-inline'; style-src 'unsafe-inline'; \
                      frame-ancestors 'none'; form-action 'none'; base-uri 'none'";
/// Lines of the daemon's log that are shown.
const LOG_LINES: usize = 12;

/// What the page looks at and turns.
pub struct Bench {
    /// The story.
    pub scenario: Arc<Scenario>,
    /// Which telling of it.
    pub seed: u64,
    /// The real thing.
    pub daemon: Arc<Daemon>,
    /// The sea as it is.
    pub sight: Arc<Mutex<Sight>>,
    /// Where turns go.
    pub turns: Sender<Control>,
}

type Shared = State<Arc<Bench>>;

/// The routes of a bench.
pub fn routes(bench: Bench) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/state", get(state))
        .route("/strip", get(strip))
        .route("/events", get(events))
        .route("/screen.png", get(screen))
        .route("/press", post(press))
        .route("/turn", post(turn))
        .route("/record", post(record))
        .with_state(Arc::new(bench))
}

/// The routes of a recording.
pub(super) fn film_routes(film: Arc<Film>) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/state", get(film_state))
        .route("/frame.png", get(frame))
        .with_state(film)
}

async fn page() -> Response {
    let headers = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::CACHE_CONTROL, "no-store"),
    ];
    (headers, Html(PAGE)).into_response()
}

async fn state(State(bench): Shared) -> Json<Value> {
    Json(bench.state())
}

#[derive(Deserialize)]
struct Since {
    #[serde(default)]
    since: usize,
}

async fn strip(State(bench): Shared, Query(from): Query<Since>) -> Json<Value> {
    let (samples, next) = lock(&bench.sight).strip.since(from.since);
    Json(json!({ "samples": samples, "next": next }))
}

async fn events(State(bench): Shared, Query(from): Query<Since>) -> Json<Value> {
    let (events, next) = bench.daemon.events_since(from.since);
    Json(json!({ "events": events, "next": next }))
}

#[derive(Deserialize)]
struct Wanted {
    panel: String,
    #[serde(default)]
    page: String,
    #[serde(default)]
    look: String,
}

async fn screen(State(bench): Shared, Query(wanted): Query<Wanted>) -> Response {
    let mut path = format!("/screen.png?panel={}", plain(&wanted.panel));
    for (name, value) in [("page", &wanted.page), ("look", &wanted.look)] {
        if !value.is_empty() {
            path += &format!("&{name}={}", plain(value));
        }
    }
    ask(move || bench.daemon.get(&path)).await
}

/// Letters and digits only: it goes into the path of a request.
fn plain(word: &str) -> String {
    word.chars()
        .filter(char::is_ascii_alphanumeric)
        .take(16)
        .collect()
}

async fn press(State(bench): Shared, Json(fields): Json<Value>) -> Response {
    ask(move || bench.daemon.post("/press", fields)).await
}

async fn turn(State(bench): Shared, Json(turn): Json<Control>) -> Response {
    if let Control::Fault {
        kind: FaultKind::DiskFull,
        state,
        ..
    } = turn
    {
        let disk = match state {
            Switch::On => Disk::Full,
            Switch::Off => Disk::Room,
        };
        let recording = bench.daemon.setting().0;
        return restart(bench, recording, disk).await;
    }
    match bench.turns.send(turn) {
        Ok(()) => StatusCode::NO_CONTENT.into_response(),
        Err(_) => (StatusCode::SERVICE_UNAVAILABLE, "the sea has ended").into_response(),
    }
}

#[derive(Deserialize)]
struct Record {
    state: Switch,
}

async fn record(State(bench): Shared, Json(record): Json<Record>) -> Response {
    let recording = match record.state {
        Switch::On => Recording::On,
        Switch::Off => Recording::Off,
    };
    let disk = bench.daemon.setting().1;
    restart(bench, recording, disk).await
}

async fn restart(bench: Arc<Bench>, recording: Recording, disk: Disk) -> Response {
    let done = tokio::task::spawn_blocking(move || bench.daemon.set(recording, disk)).await;
    match done {
        Ok(Ok(())) => StatusCode::NO_CONTENT.into_response(),
        Ok(Err(error)) => (StatusCode::BAD_GATEWAY, format!("{error:#}")).into_response(),
        Err(error) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
    }
}

/// Asks the daemon, off the loop, and hands its answer on.
async fn ask(question: impl FnOnce() -> anyhow::Result<Answer> + Send + 'static) -> Response {
    match tokio::task::spawn_blocking(question).await {
        Ok(Ok(answer)) => {
            let status = StatusCode::from_u16(answer.status).unwrap_or(StatusCode::BAD_GATEWAY);
            let headers = [
                (header::CONTENT_TYPE, answer.content_type),
                (header::CACHE_CONTROL, "no-store".to_owned()),
            ];
            (status, headers, answer.body).into_response()
        }
        Ok(Err(error)) => (StatusCode::BAD_GATEWAY, format!("{error:#}")).into_response(),
        Err(error) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
    }
}

impl Bench {
    fn state(&self) -> Value {
        let (recording, disk) = self.daemon.setting();
        let sight = lock(&self.sight);
        let truth = &sight.truth;
        let ladder = &self.scenario.boat.rung;
        let deeds: Vec<_> = sight.deeds.iter().collect();
        json!({
            "mode": "live",
            "scenario": self.scenario.name,
            "story": self.scenario.story.trim().replace('\n', " "),
            "seed": self.seed,
            "minutes": self.scenario.minutes,
            "now_s": truth.now_s,
            "utc": calendar::in_words(truth.unix_s.floor()),
            "hour": truth.unix_s.rem_euclid(86_400.0) / 3600.0,
            "dark": truth.is_dark,
            "truth": {
                "tws_kn": truth.tws_kn,
                "mean_tws_kn": truth.mean_tws_kn,
                "twd_deg": truth.twd_deg,
                "twa_deg": truth.twa_deg,
                "heel_deg": truth.heel_deg,
                "stw_kn": truth.stw_kn,
                "heading_deg": truth.heading_deg,
                "wave_height_m": truth.wave_height_m,
                "plan": ladder.get(truth.rung).map(|rung| &rung.name),
                "limit_kn": ladder.get(truth.rung).map(|rung| rung.limit_kn),
                "round_ups": truth.round_ups,
            },
            "turned": sight.turned,
            "deeds": deeds,
            "behind_s": sight.behind_s,
            "trouble": sight.fallen.as_ref().or(sight.trouble.as_ref()),
            "recording": recording == Recording::On,
            "recordings": self.daemon.recordings().display().to_string(),
            "disk_full": disk == Disk::Full,
            "faults": self.possible_faults(),
            "written_faults": self.written_faults(truth.now_s / 60.0),
            "log": self.daemon.log(LOG_LINES),
        })
    }

    /// Every kind of fault with what it may strike.
    fn possible_faults(&self) -> Vec<Value> {
        let targets = |kind: FaultKind| -> Vec<&str> {
            let devices = self.scenario.device.iter();
            let lines = self.scenario.line.iter();
            match kind.strikes() {
                Strikes::Device => devices
                    .filter(|device| troubles(kind, device.kind))
                    .map(|device| device.name.as_str())
                    .collect(),
                Strikes::Line => lines.map(|line| line.name.as_str()).collect(),
                Strikes::Disk => Vec::new(),
            }
        };
        FaultKind::ALL
            .iter()
            .map(|kind| {
                json!({ "kind": kind, "strikes": kind.strikes(), "targets": targets(*kind) })
            })
            .collect()
    }

    /// Faults that the story has now by itself.
    fn written_faults(&self, minute: f64) -> Vec<Value> {
        let now = self.scenario.fault.iter();
        now.filter(|fault| (fault.from_min..fault.to_min).contains(&minute))
            .map(|fault| json!({ "kind": fault.kind, "target": fault.target }))
            .collect()
    }
}

/// Whether a device of this kind minds such a fault: a log has no vane.
fn troubles(fault: FaultKind, device: DeviceKind) -> bool {
    let is_wind_unit = matches!(device, DeviceKind::Masthead | DeviceKind::Ultrasonic);
    match fault {
        FaultKind::StuckVane | FaultKind::FrozenCup => is_wind_unit,
        FaultKind::SpeedFactor => is_wind_unit || device == DeviceKind::Log,
        FaultKind::ClockStep => device == DeviceKind::Gnss,
        FaultKind::Offset => matches!(
            device,
            DeviceKind::Masthead
                | DeviceKind::Ultrasonic
                | DeviceKind::WindComputer
                | DeviceKind::Compass
                | DeviceKind::Gyro
                | DeviceKind::Attitude
        ),
        FaultKind::Silence
        | FaultKind::Void
        | FaultKind::Spikes
        | FaultKind::Garbage
        | FaultKind::WrongBaud
        | FaultKind::DroppedBytes
        | FaultKind::DoubledBytes
        | FaultKind::BadChecksum
        | FaultKind::Unplug
        | FaultKind::HalfOpen
        | FaultKind::DiskFull => true,
    }
}

async fn film_state(State(film): State<Arc<Film>>) -> Json<Value> {
    Json(film.state())
}

#[derive(Deserialize)]
struct Moment {
    panel: String,
    #[serde(default)]
    page: String,
    at: u64,
    #[serde(default = "one")]
    step: u64,
    #[serde(default = "one")]
    ahead: u64,
}

fn one() -> u64 {
    1
}

async fn frame(State(film): State<Arc<Film>>, Query(at): Query<Moment>) -> Response {
    let drawn = tokio::task::spawn_blocking(move || {
        let ahead = Ahead {
            step_s: at.step,
            moments: at.ahead,
        };
        film.frame(&plain(&at.panel), &plain(&at.page), at.at, ahead)
    })
    .await;
    match drawn {
        Ok(Ok(png)) => ([(header::CONTENT_TYPE, "image/png")], png).into_response(),
        Ok(Err(error)) => (StatusCode::NOT_FOUND, format!("{error:#}")).into_response(),
        Err(error) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
    }
}
