//! The page as a person meets it, in a headless Chromium.
//!
//! ```text
//! CRINGLE_SHOTS=/tmp/shots cargo test -p cringle --test page browser
//! ```
//!
//! leaves pictures of each stage there, for telephone and desk, by day, in the
//! dark and in red.

use serde_json::Value;

use super::devtools::Browser;
use super::{Aboard, KEY};

const IS_STALE: &str = "document.documentElement.classList.contains('stale')
    && document.querySelector('#word text').textContent === 'STALE'
    && document.querySelector('#number').className === 'crossed'";

pub(crate) fn browser() -> Option<Browser> {
    let browser = Browser::start();
    if browser.is_none() {
        println!("skipped: no Chromium; install Debian's package chromium");
    }
    browser
}

pub(crate) fn pictures(browser: &mut Browser, name: &str) {
    for (width, mode) in [
        (390, "day"),
        (390, "dark"),
        (390, "red"),
        (1280, "day"),
        (1280, "red"),
    ] {
        browser.picture(name, width, mode);
    }
}

fn text(browser: &mut Browser, id: &str) -> String {
    let text = browser.tell(&format!("document.getElementById('{id}').textContent"));
    text.as_str().unwrap_or_default().to_owned()
}

/// Presses a button and takes what the page says to it.
fn press(browser: &mut Browser, id: &str, said: &str) {
    browser.tell(&format!(
        "document.getElementById('answer').textContent = ''; document.getElementById('{id}').click()"
    ));
    browser.wait_for(&format!(
        "document.getElementById('answer').textContent.includes('{said}')"
    ));
}

#[test]
fn a_call_is_seen_acknowledged_with_the_key_alone_and_stale_data_is_shouted() {
    let Some(mut browser) = browser() else {
        return;
    };
    let mut aboard = Aboard::with_key();
    browser.go(&format!("http://{}/", aboard.at));
    browser.wait_for("document.getElementById('boat').textContent === 'Dunlin'");
    browser.wait_for("view !== null && view.wind.tws_kn !== null && view.heard_s < 2");
    assert_eq!(browser.tell(IS_STALE), false);
    pictures(&mut browser, "calm");

    // A call appears, is read aloud, and takes the title.
    let squall = format!(r#"{{"key":"{KEY}","act":"squall","minutes":5}}"#);
    assert_eq!(aboard.post("/act", &squall).status, 204);
    browser.wait_for("view.call.alert === 'unacknowledged' && view.call.cause === 'squall'");
    browser.wait_for("document.getElementById('acknowledge') !== null");
    let word = browser.tell("document.querySelector('#word text').textContent");
    let word = word.as_str().unwrap().to_owned();
    assert!(["PREPARE", "REDUCE"].contains(&word.as_str()), "{word}");
    assert!(text(&mut browser, "say").starts_with(&word));
    assert!(
        browser
            .tell("document.title")
            .as_str()
            .unwrap()
            .starts_with(&word)
    );
    pictures(&mut browser, "call");

    // Refused without the key, which then has the focus; taken with it.
    press(&mut browser, "acknowledge", "not the key");
    assert_eq!(browser.tell("document.activeElement.id"), "key");
    assert_eq!(
        aboard.get("/view").json()["call"]["alert"],
        "unacknowledged"
    );
    browser.ask("Input.insertText", serde_json::json!({"text": KEY}));
    // By the keyboard alone.
    browser.tell("document.getElementById('acknowledge').focus()");
    browser.key("Enter", 13);
    browser.wait_for("view.call.alert === 'acknowledged'");
    browser.wait_for("document.getElementById('acknowledge') === null");
    let acknowledged = |event: &Value| event["event"] == "acknowledge";
    aboard.watch.event(acknowledged);
    browser.wait_for("document.getElementById('log').textContent.includes('acknowledge')");

    // What begins a reduction is asked first.
    browser.tell("[...document.querySelectorAll('#answers button')].find(it => it.textContent.includes('begun')).click()");
    assert_eq!(browser.tell("document.getElementById('ask').open"), true);
    assert_eq!(browser.tell("document.activeElement.id"), "no");
    press(&mut browser, "yes", "taken");
    browser.wait_for("view.manoeuvre !== null");
    browser.tell("document.getElementById('cockpit').open = true");
    browser.wait_for("document.getElementById('glass').naturalWidth === 320");
    pictures(&mut browser, "begun");

    // The line is cut: no figure may be believed any more.
    watch_for_the_first_words(&mut browser);
    aboard.instrument.pull();
    browser.wait_for(IS_STALE);
    browser.wait_for("document.getElementById('faults').textContent.includes('mast: ')");
    browser.wait_for("document.getElementById('shout').textContent.includes('Look at the wind')");
    let said = browser.tell("window.firstSaid");
    println!("line cut: {said}");
    pictures(&mut browser, "cut");

    // The watch is killed: the page says so by itself.
    watch_for_the_first_words(&mut browser);
    aboard.watch.kill();
    browser.wait_for("document.getElementById('shout').textContent.includes('computer')");
    assert_eq!(browser.tell(IS_STALE), true);
    let said = browser.tell("window.firstSaid");
    println!("watch killed: {said}");
    pictures(&mut browser, "killed");
    press_without_a_watch(&mut browser);
}

/// Keeps what the page says first from now on, and when.
fn watch_for_the_first_words(browser: &mut Browser) {
    browser.tell(
        "(() => {
            const shout = document.getElementById('shout'), before = shout.textContent.replace(/\\d+/g, '')
            const began = performance.now()
            window.firstSaid = null
            const seen = new MutationObserver(() => {
                const now = shout.textContent
                if (now === '' || now.replace(/\\d+/g, '') === before) return
                window.firstSaid = `after ${((performance.now() - began) / 1000).toFixed(1)} s: ${now}`
                seen.disconnect()
            })
            seen.observe(shout, { childList: true, subtree: true, characterData: true })
        })()",
    );
}

fn press_without_a_watch(browser: &mut Browser) {
    browser.tell("send({ act: 'wake' })");
    browser.wait_for("document.getElementById('answer').textContent.includes('not sent')");
}

#[test]
fn it_comes_back_by_itself_when_the_watch_does() {
    let Some(mut browser) = browser() else {
        return;
    };
    let aboard = Aboard::new("");
    browser.go(&format!("http://{}/", aboard.at));
    browser.wait_for("view !== null && document.getElementById('off').textContent !== ''");
    // Half a link: the stream is gone, the watch is there.
    browser.tell("stream.close()");
    browser.wait_for(IS_STALE);
    browser.wait_for(&format!("!({IS_STALE})"));
}
