//! Those who connect to take the page away from the crew.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use cringle::clock::Clock;

use super::{Aboard, KEY, ask, open};

/// Connections that are tried; 1,141 took every descriptor once.
const MANY: usize = 1000;

/// What `MemoryMax` of the unit allows, with all that it may be counted by.
const MOST_KB: u64 = 128 << 10;

/// How long this clock has run.
fn since(clock: &Clock) -> Duration {
    Duration::from_millis(clock.now().as_millis())
}

fn acts(aboard: &Aboard) -> Duration {
    let body = format!(r#"{{"key":"{KEY}","act":"hands","on_deck":2,"below":2}}"#);
    let began = Clock::real();
    // One of the many may take the place of this one: a person tries again.
    for _ in 0..20 {
        let Ok(mut link) = TcpStream::connect(&aboard.at) else {
            continue;
        };
        link.set_read_timeout(Some(Duration::from_secs(10)))
            .unwrap();
        let head = format!(
            "POST /act HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            aboard.at,
            body.len()
        );
        let mut answer = String::new();
        let asked = link.write_all(head.as_bytes());
        if asked.is_ok() && link.read_to_string(&mut answer).is_ok() && !answer.is_empty() {
            assert!(answer.starts_with("HTTP/1.1 204"), "{answer}");
            return since(&began);
        }
    }
    panic!("the crew is shut out");
}

/// A number of `/proc/PID/status`, in kB.
fn kb(pid: u32, name: &str) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find(|line| line.starts_with(name)).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn descriptors(pid: u32) -> usize {
    std::fs::read_dir(format!("/proc/{pid}/fd"))
        .unwrap()
        .count()
}

#[test]
fn a_thousand_hostile_connections_take_neither_memory_nor_descriptors_nor_the_page() {
    let aboard = Aboard::with_key();
    let pid = aboard.watch.pid();
    let before = (kb(pid, "VmRSS"), descriptors(pid));
    let mut held = Vec::new();
    let long = format!(
        "GET / HTTP/1.1\r\nHost: {}\r\nX-Long: {}",
        aboard.at,
        "x".repeat(400_000)
    );
    for number in 0..MANY {
        let Ok(mut link) = TcpStream::connect(&aboard.at) else {
            continue;
        };
        link.set_nonblocking(true).unwrap();
        // Silent ones, ones with half a head, ones with a head without end.
        let says = match number % 3 {
            0 => "",
            1 => "GET / HTTP/1.1\r\nHost: ",
            _ => long.as_str(),
        };
        drop(link.write(says.as_bytes()));
        held.push(link);
    }
    let took = acts(&aboard);
    let after = (kb(pid, "VmHWM"), descriptors(pid));
    println!(
        "{} connections: act in {} ms; memory {} -> {} kB; descriptors {} -> {}",
        held.len(),
        took.as_millis(),
        before.0,
        after.0,
        before.1,
        after.1
    );
    assert!(after.0 < MOST_KB && after.1 < before.1 + 50, "{after:?}");
    assert!(took < Duration::from_secs(5), "{took:?}");
    let view = aboard.get("/view").json();
    assert_eq!(
        view["recorder"]["state"], "recording",
        "{}",
        view["recorder"]
    );
    assert!(view["storage"].is_null(), "{}", view["storage"]);
    let heard = view["ports"]
        .as_array()
        .unwrap()
        .iter()
        .find(|port| port["name"] == "mast");
    assert_eq!(heard.unwrap()["state"], "open");
}

#[test]
fn a_silent_or_slow_connection_is_let_go_and_a_stream_is_not() {
    let aboard = Aboard::with_key();
    let began = Clock::real();
    let mut silent = TcpStream::connect(&aboard.at).unwrap();
    let mut stream = open(&aboard.at, "GET", "/live", "");
    silent
        .set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    let mut slow = TcpStream::connect(&aboard.at).unwrap();
    slow.set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    for letter in b"GET / HT" {
        drop(slow.write_all(&[*letter]));
        std::thread::sleep(Duration::from_secs(1));
    }
    // A reset is an end as well.
    let _ = silent.read_to_end(&mut Vec::new());
    let _ = slow.read_to_end(&mut Vec::new());
    assert!(
        since(&began) < Duration::from_secs(15),
        "{:?}",
        since(&began)
    );
    std::thread::sleep(Duration::from_secs(5));
    let mut bytes = [0; 4096];
    assert!(stream.read(&mut bytes).unwrap() > 0);
}

#[test]
fn a_rebound_host_reads_nothing_and_wrong_keys_are_slowed() {
    let aboard = Aboard::with_key();
    let mut link = TcpStream::connect(&aboard.at).unwrap();
    let head = "GET /view HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n";
    link.write_all(head.as_bytes()).unwrap();
    let mut answer = String::new();
    link.read_to_string(&mut answer).unwrap();
    assert!(
        answer.starts_with("HTTP/1.1 403") && !answer.contains("call"),
        "{answer}"
    );
    let began = Clock::real();
    let mut looked_at = 0;
    while since(&began) < Duration::from_secs(6) {
        let guess = format!(r#"{{"key":"tansy-{looked_at:04}","act":"acknowledge"}}"#);
        match ask(&aboard.at, "POST", "/act", &guess).status {
            403 => looked_at += 1,
            429 => {}
            other => panic!("{other}"),
        }
    }
    // 500 a second were looked at before.
    println!("{looked_at} wrong keys looked at in 6 s");
    assert!(looked_at <= 8, "{looked_at}");
    aboard.watch.told_about("wrong keys from 127.0.0.1");
    for _ in 0..100 {
        if aboard.get("/view").words().contains("wrong keys are tried") {
            return;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("never shown");
}
