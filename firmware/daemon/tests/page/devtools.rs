//! A headless Chromium, driven through its own debugging pipe: no driver, no
//! other program.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};

/// Asked so often before what is waited for is given up.
const MOST_ASKED: u32 = 300;
const BETWEEN: Duration = Duration::from_millis(100);

/// Names under which it is installed.
const NAMES: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// A browser with one page open.
pub(crate) struct Browser {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    session: String,
    asked: u64,
    _profile: tempfile::TempDir,
}

impl Browser {
    /// Starts one; none where none is installed.
    pub(crate) fn start() -> Option<Browser> {
        let name = NAMES.into_iter().find(|name| is_there(name))?;
        let profile = tempfile::tempdir().unwrap();
        // Descriptors 3 and 4 are the pipe.
        let script = r#"exec "$@" 3<&0 4>&1 </dev/null >/dev/null"#;
        let mut child = Command::new("sh")
            .args(["-c", script, "sh", name])
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
            ])
            .args([
                "--no-first-run",
                "--disable-extensions",
                "--disable-background-networking",
            ])
            .args([
                "--disable-component-update",
                "--hide-scrollbars",
                "--remote-debugging-pipe",
            ])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut browser = Browser {
            to: child.stdin.take().unwrap(),
            from: BufReader::new(child.stdout.take().unwrap()),
            child,
            session: String::new(),
            asked: 0,
            _profile: profile,
        };
        let target = browser.ask("Target.createTarget", json!({"url": "about:blank"}));
        let attach = json!({"targetId": target["targetId"], "flatten": true});
        let attached = browser.ask("Target.attachToTarget", attach);
        browser.session = attached["sessionId"].as_str().unwrap().into();
        Some(browser)
    }

    pub(crate) fn go(&mut self, url: &str) {
        self.ask("Page.navigate", json!({"url": url}));
        self.wait_for("document.readyState === 'complete' && location.href !== 'about:blank'");
    }

    /// What a line of script comes to; promises are waited for.
    #[track_caller]
    pub(crate) fn tell(&mut self, script: &str) -> Value {
        let asked = json!({"expression": script, "returnByValue": true, "awaitPromise": true});
        let answer = self.ask("Runtime.evaluate", asked);
        assert!(answer["exceptionDetails"].is_null(), "{script}: {answer}");
        answer["result"]["value"].clone()
    }

    /// Waits until a line of script is true.
    #[track_caller]
    pub(crate) fn wait_for(&mut self, script: &str) {
        for _ in 0..MOST_ASKED {
            if self.tell(script) == true {
                return;
            }
            std::thread::sleep(BETWEEN);
        }
        let seen = self.tell("document.body.innerText");
        panic!(
            "never true: {script}\n{}",
            seen.as_str().unwrap_or_default()
        );
    }

    /// A picture of the whole page at a width, in a directory that a person
    /// named to look at them.
    pub(crate) fn picture(&mut self, name: &str, width: u32, mode: &str) {
        let Some(directory) = std::env::var_os("CRINGLE_SHOTS") else {
            return;
        };
        self.tell(&format!(
            "document.querySelector('#modes [value={mode}]').click()"
        ));
        let size = json!({"width": width, "height": if width < 600 { 844 } else { 900 },
            "deviceScaleFactor": 1, "mobile": width < 600});
        self.ask("Emulation.setDeviceMetricsOverride", size);
        let whole = json!({"format": "png", "captureBeyondViewport": true});
        let taken = self.ask("Page.captureScreenshot", whole);
        let bytes = from_base64(taken["data"].as_str().unwrap());
        let path = Path::new(&directory).join(format!("{name}-{width}-{mode}.png"));
        std::fs::write(path, bytes).unwrap();
    }

    /// A key of the keyboard.
    pub(crate) fn key(&mut self, key: &str, code: u32) {
        for kind in ["keyDown", "keyUp"] {
            let text = if key == "Enter" { "\r" } else { "" };
            self.ask(
                "Input.dispatchKeyEvent",
                json!({"type": kind, "key": key, "code": key, "text": text,
                    "windowsVirtualKeyCode": code}),
            );
        }
    }

    pub(crate) fn ask(&mut self, method: &str, params: Value) -> Value {
        self.asked += 1;
        let mut message = json!({"id": self.asked, "method": method, "params": params});
        if !self.session.is_empty() {
            message["sessionId"] = self.session.as_str().into();
        }
        write!(self.to, "{message}\0").unwrap();
        self.to.flush().unwrap();
        loop {
            let mut bytes = Vec::new();
            self.from.read_until(0, &mut bytes).unwrap();
            assert_eq!(bytes.pop(), Some(0), "the browser has gone");
            let answer: Value = serde_json::from_slice(&bytes).unwrap();
            if answer["id"] == self.asked {
                assert!(answer["error"].is_null(), "{method}: {answer}");
                return answer["result"].clone();
            }
        }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn is_there(name: &str) -> bool {
    let asked = Command::new(name)
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    asked.is_ok_and(|status| status.success())
}

fn from_base64(text: &str) -> Vec<u8> {
    const LETTERS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut bytes = Vec::new();
    let (mut bits, mut count) = (0_u32, 0);
    for letter in text.bytes().filter(|letter| *letter != b'=') {
        let value = LETTERS.iter().position(|it| *it == letter).unwrap();
        bits = bits << 6 | value as u32;
        count += 6;
        if count >= 8 {
            count -= 8;
            bytes.push((bits >> count) as u8);
            bits &= (1 << count) - 1;
        }
    }
    bytes
}
