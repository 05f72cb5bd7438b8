//! The page as a program asks for it.

use std::io::{BufRead, BufReader, Read};

use serde_json::{Value, json};

use super::{Aboard, KEY, open};

fn body(rest: Value) -> String {
    let mut body = rest;
    body["key"] = KEY.into();
    body.to_string()
}

#[test]
fn it_reads_freely_and_acts_only_with_the_key() {
    let mut aboard = Aboard::with_key();
    aboard.watch.event(|event| event["event"] == "source");

    let page = aboard.get("/");
    assert_eq!(page.status, 200);
    assert!(page.head.contains("default-src 'none'"), "{}", page.head);
    let view = aboard.get("/view").json();
    assert_eq!(view["boat"], "Dunlin");
    assert_eq!(view["acts"], "with the key");
    assert_eq!(view["ladder"][0]["short"], "full");

    let squall = json!({"act": "squall", "minutes": 5});
    for (without, refused) in [
        (squall.to_string(), 403),
        (body(json!({"act": "hoist"})), 400),
    ] {
        let answer = aboard.post("/act", &without);
        assert_eq!(answer.status, refused, "{}", answer.words());
    }
    assert!(aboard.get("/view").json()["squall_s"].is_null());
    let answer = aboard.post("/act", &body(squall));
    assert_eq!(answer.status, 204, "{}", answer.words());
    // Its call is told on standard output and kept for the page.
    let call = aboard
        .watch
        .event(|it| it["event"] == "call" && it["cause"] == "squall");
    let seq = call["seq"].as_u64().unwrap();
    let since = aboard.get(&format!("/events?since={}", seq - 1)).json();
    assert_eq!(since[0], call);

    let pressed = aboard.post("/press", r#"{"button":"middle","press":"short"}"#);
    assert_eq!(pressed.status, 403);
    // On an unacknowledged call the middle key acknowledges it, as in the cockpit.
    let middle = body(json!({"button": "middle", "press": "short"}));
    assert_eq!(aboard.post("/press", &middle).status, 204);
}

#[test]
fn without_a_key_in_the_boat_file_nobody_acts() {
    let aboard = Aboard::new("");
    // Before its first view the watch takes no acts from anybody.
    while aboard.get("/view").status == 503 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let answer = aboard.post("/act", r#"{"key":"","act":"acknowledge"}"#);
    assert_eq!(answer.status, 403);
    assert!(answer.words().contains("only shows"), "{}", answer.words());
}

#[test]
fn every_panel_page_and_look_is_drawn_from_the_live_view() {
    let mut aboard = Aboard::with_key();
    aboard.watch.event(|event| event["event"] == "source");
    for (panel, size) in [
        ("128x64", [128, 64]),
        ("296x128", [296, 128]),
        ("320x240", [320, 240]),
        ("240x320", [240, 320]),
    ] {
        let mut all = Vec::new();
        for page in ["home", "wind", "trend", "setup", "hands", "health", "bench"] {
            for look in ["day", "night"] {
                let path = format!("/screen.png?panel={panel}&page={page}&look={look}");
                let png = aboard.get(&path);
                assert_eq!(png.status, 200, "{path}");
                let inside = |at: usize| png.body[at..at + 4].try_into().unwrap();
                let drawn = [16, 20].map(|at| u32::from_be_bytes(inside(at)));
                assert_eq!(drawn, size, "{path}");
                all.push(png.body);
            }
        }
        all.dedup();
        assert!(all.len() >= 7, "{panel}: pages look alike");
    }
    let wrong = aboard.get("/screen.png?panel=64x32");
    assert_eq!(wrong.status, 400);
    assert!(wrong.words().contains("give 128x64"));
    assert_eq!(aboard.get("/screen.png").status, 200);
}

#[test]
fn an_open_stream_tells_views_and_events_and_does_not_keep_the_watch_from_ending() {
    let mut aboard = Aboard::with_key();
    aboard.watch.event(|event| event["event"] == "source");
    let mut stream = BufReader::new(open(&aboard.at, "GET", "/live", ""));
    let (mut alive, mut told) = (Vec::new(), 0);
    let mut kind = String::new();
    while alive.len() < 4 {
        let mut line = String::new();
        assert_ne!(stream.read_line(&mut line).unwrap(), 0, "the stream ended");
        if let Some(of) = line.strip_prefix("event: ") {
            kind = of.trim().into();
        } else if let Some(data) = line.strip_prefix("data: ") {
            let data: Value = serde_json::from_str(data).unwrap();
            match kind.as_str() {
                "view" => alive.push(data["alive"].as_u64().unwrap()),
                "told" => told += 1,
                other => panic!("an event of kind {other}"),
            }
        }
    }
    assert!(alive.windows(2).all(|pair| pair[0] < pair[1]), "{alive:?}");
    assert!(told > 0);
    aboard.watch.end();
    let mut rest = Vec::new();
    stream.read_to_end(&mut rest).unwrap();
}
