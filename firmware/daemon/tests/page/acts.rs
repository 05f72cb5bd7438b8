//! Every control of the page, clicked in a browser: refused without the key,
//! and with it seen in the watch's own event log.

use serde_json::Value;

use super::browser::browser;
use super::devtools::Browser;
use super::{Aboard, KEY};

/// Finds what a person would click.
const HANDS: &str = "
window.line = words => [...document.querySelectorAll('#more .row')].find(it => it.textContent.startsWith(words))
window.go = words => line(words).querySelector('button')
window.chosen = (words, value) => { line(words).querySelector('select').value = value; return go(words) }
window.named = (within, words) => [...document.querySelectorAll(within + ' button')].find(it => it.textContent.startsWith(words))
window.click = it => { document.getElementById('answer').textContent = ''; it.click()
  if (document.getElementById('ask').open) document.getElementById('yes').click() }";

/// A control and how it is clicked.
struct Control {
    name: &'static str,
    /// A script that gives the button or box to click, filled in before.
    script: &'static str,
}

const fn control(name: &'static str, script: &'static str) -> Control {
    Control { name, script }
}

const CONTROLS: [Control; 12] = [
    control("acknowledge", "document.getElementById('acknowledge')"),
    control("not now", "named('#answers', 'not now')"),
    control("begun", "named('#answers', 'change begun')"),
    control("plan", "chosen('plan set', '1 reef')"),
    control("doing", "chosen('boat is', 'motoring')"),
    control(
        "hands",
        "(line('hands').querySelectorAll('input')[0].value = 3, go('hands'))",
    ),
    control("condition", "chosen('crew is', 'worn-out')"),
    control(
        "helm",
        "(line('crew is').querySelectorAll('select')[1].value = 'hand', line('crew is').querySelectorAll('button')[1])",
    ),
    control(
        "squall",
        "(line('squall').querySelector('input').value = 5, go('squall'))",
    ),
    control("wake", "named('#more', 'wake')"),
    control(
        "set-up",
        "document.querySelector('#setup input:not(:checked)')",
    ),
    control(
        "a key of the screen",
        "(document.getElementById('cockpit').open = true, named('#keys', 'right'))",
    ),
];

/// There only once somebody has been called.
const CALLED: [Control; 2] = [
    control("up at the bunk", "document.getElementById('up-at-bunk')"),
    control("on deck", "document.getElementById('on-deck')"),
];

fn script(name: &str) -> &'static str {
    let found = CONTROLS
        .iter()
        .chain(&CALLED)
        .find(|control| control.name == name);
    found.expect("a control of this name").script
}

/// Clicks it and waits for what the page says to it.
#[track_caller]
fn click(browser: &mut Browser, name: &str, said: &str) {
    browser.tell(&format!("click({})", script(name)));
    browser.wait_for(&format!(
        "document.getElementById('answer').textContent.includes('{said}')"
    ));
}

/// A page on which a prepare stands, so that all its controls are there.
fn aboard_with_a_call(browser: &mut Browser) -> Aboard {
    let aboard = Aboard::with_key();
    browser.go(&format!("http://{}/", aboard.at));
    browser.wait_for("view !== null && view.wind.tws_kn !== null && view.next !== null");
    browser.tell(HANDS);
    let squall = format!(r#"{{"key":"{KEY}","act":"squall","minutes":14}}"#);
    assert_eq!(aboard.post("/act", &squall).status, 204);
    browser.wait_for("view.call.call === 'prepare' && view.call.alert === 'unacknowledged'");
    browser.wait_for("document.getElementById('acknowledge') !== null");
    aboard
}

fn give_key(browser: &mut Browser) {
    browser.tell("document.getElementById('key').focus()");
    browser.ask("Input.insertText", serde_json::json!({"text": KEY}));
}

#[test]
fn every_control_is_refused_without_the_key() {
    let Some(mut browser) = browser() else {
        return;
    };
    let aboard = aboard_with_a_call(&mut browser);
    let said = |view: &Value| {
        [
            "plan",
            "hands",
            "doing",
            "setup",
            "not_now",
            "manoeuvre",
            "forecast",
        ]
        .map(|field| view[field].clone())
    };
    let mut before = said(&aboard.get("/view").json());
    before[0]["age_s"] = Value::Null;
    for control in &CONTROLS {
        click(&mut browser, control.name, "not the key");
    }
    for act in ["up_at_bunk", "on_deck"] {
        browser.tell("document.getElementById('answer').textContent = ''");
        browser.tell(&format!("send({{ act: '{act}' }})"));
        browser.wait_for("document.getElementById('answer').textContent.includes('not the key')");
    }
    browser.tell("document.getElementById('foretell').open = true");
    browser.wait_for("document.querySelectorAll('#written li').length === 4");
    browser.tell("document.querySelector('#written [name=wind_kn]').value = 30");
    browser.tell("document.getElementById('use').click()");
    browser.wait_for("document.getElementById('refused').textContent.includes('not the key')");
    let view = aboard.get("/view").json();
    let mut after = said(&view);
    after[0]["age_s"] = Value::Null;
    assert_eq!(before, after);
    assert_eq!(view["call"]["alert"], "unacknowledged");
    // Not a word of it in the log either.
    let events = aboard.get("/events").json();
    let acts = [
        "acknowledge",
        "start",
        "given_up",
        "plan",
        "setup",
        "hands",
        "helm",
        "state",
    ];
    let events = events.as_array().unwrap().iter();
    // But for the squall that was told with the key, above.
    for event in events.filter(|event| event["squall_in_min"] != 14) {
        assert!(!acts.iter().any(|act| event["event"] == *act), "{event}");
    }
}

#[test]
fn every_control_is_taken_with_the_key_and_told_in_the_log() {
    let Some(mut browser) = browser() else {
        return;
    };
    let mut aboard = aboard_with_a_call(&mut browser);
    give_key(&mut browser);
    click(&mut browser, "not now", "taken");
    aboard.watch.event(|it| it["event"] == "acknowledge");
    browser.wait_for("view.not_now !== null && view.not_now.because === 'lull'");

    click(&mut browser, "set-up", "taken");
    let told = aboard.watch.event(|it| it["event"] == "setup");
    assert!(
        told["why"]
            .as_str()
            .is_some_and(|why| why.contains("ready")),
        "{told}"
    );

    click(&mut browser, "hands", "taken");
    aboard.watch.event(|it| it["event"] == "hands");
    browser.wait_for("view.hands.on_deck === 3");
    click(&mut browser, "condition", "taken");
    aboard.watch.event(|it| it["event"] == "hands");
    browser.wait_for("view.hands.condition === 'worn-out'");
    click(&mut browser, "helm", "taken");
    aboard
        .watch
        .event(|it| it["event"] == "helm" && it["helm"] == "hand");
    browser.wait_for("view.hands.helm === 'hand'");

    click(&mut browser, "wake", "taken");
    browser.wait_for("view.sounds.bunk !== null");
    // Heard until somebody answers at the bunk; then on the way, and on deck.
    click(&mut browser, "up at the bunk", "taken");
    aboard.watch.event(|it| it["bunk"] == "up");
    browser.wait_for("view.sounds.bunk === null && view.muster_left_s > 0");
    browser.wait_for("document.getElementById('on-deck') !== null");
    click(&mut browser, "on deck", "taken");
    aboard
        .watch
        .event(|it| it["event"] == "hands" && it["on_deck"] == 4);
    browser.wait_for("view.muster_left_s === null");
    click(&mut browser, "begun", "taken");
    aboard.watch.event(|it| it["event"] == "start");
    browser.wait_for("named('#answers', 'change given up') !== undefined");
    browser.tell("click(named('#answers', 'change given up'))");
    aboard.watch.event(|it| it["event"] == "given_up");
    browser.wait_for("view.manoeuvre === null");

    click(&mut browser, "plan", "taken");
    let told = aboard.watch.event(|it| it["event"] == "plan");
    assert_eq!(
        aboard.get("/view").json()["plan"]["short"],
        "1 reef",
        "{told}"
    );

    // A squall nearer than the change takes is a call of its own.
    click(&mut browser, "squall", "taken");
    aboard
        .watch
        .event(|it| it["event"] == "call" && it["cause"] == "squall");
    browser.wait_for("document.getElementById('acknowledge') !== null");
    click(&mut browser, "acknowledge", "taken");
    aboard.watch.event(|it| it["event"] == "acknowledge");

    // Taken back: its call ends with it.
    browser.wait_for("document.getElementById('gone') !== null");
    browser.tell("click(document.getElementById('gone'))");
    browser.wait_for("view.squall_s === null");
    aboard
        .watch
        .event(|it| it["event"] == "call" && it["call"] == "none");

    click(&mut browser, "a key of the screen", "taken");
    click(&mut browser, "doing", "taken");
    let told = aboard.watch.event(|it| it["event"] == "state");
    assert!(
        told["why"]
            .as_str()
            .is_some_and(|why| why.contains("motoring")),
        "{told}"
    );
    browser.wait_for("document.querySelector('#word text').textContent === 'ASLEEP'");
}

#[test]
fn a_forecast_is_entered_corrected_taken_and_taken_away() {
    let Some(mut browser) = browser() else {
        return;
    };
    let aboard = aboard_with_a_call(&mut browser);
    give_key(&mut browser);
    browser.tell("document.getElementById('foretell').open = true");
    browser.wait_for("document.querySelectorAll('#written li').length === 4");
    let fill = |browser: &mut Browser, row: usize, name: &str, value: &str| {
        browser.tell(&format!(
            "document.querySelectorAll('#written [name={name}]')[{row}].value = '{value}'"
        ));
    };
    let enter = |browser: &mut Browser, refused: &str| {
        browser.tell("document.getElementById('use').click()");
        browser.wait_for(&format!(
            "document.getElementById('refused').textContent.includes('{refused}')"
        ));
    };
    enter(&mut browser, "no row has a wind");
    fill(&mut browser, 0, "wind_kn", "18");
    fill(&mut browser, 0, "gust_kn", "12");
    enter(&mut browser, "row 1: the gust is under the wind");
    fill(&mut browser, 0, "gust_kn", "25");
    fill(&mut browser, 0, "from_deg", "210");
    fill(&mut browser, 1, "from_deg", "210");
    enter(&mut browser, "row 2: the wind is missing");
    fill(&mut browser, 1, "wind_kn", "31.5");
    super::browser::pictures(&mut browser, "forecast");
    browser.tell("document.getElementById('use').click()");
    browser.wait_for("view.forecast.rows.length === 2");
    browser.wait_for(
        "document.getElementById('rows').textContent.includes('31.5 kn')
        || document.getElementById('rows').textContent.includes('32 kn')",
    );
    browser.wait_for("document.getElementById('foretold').textContent.includes('forecast')");
    let view = aboard.get("/view").json();
    assert_eq!(view["forecast"]["rows"][0]["from_deg"], 210.0);
    assert_ne!(view["forecast"]["standing"], "none");
    browser.tell("document.getElementById('use-none').click()");
    browser.wait_for("view.forecast.standing === 'none' && view.forecast.rows.length === 0");
    browser.wait_for("document.getElementById('foretold').textContent === 'none entered'");
}
