//! Who may ask, and how often a wrong key may be given.
//!
//! A page of somebody else's that is made to lead here (rebinding) names its own
//! host, so only hosts that are ours are answered: addresses, `localhost`, this
//! computer's name, and those that `[page] hosts` lists. Whatever comes from a page
//! must come from this one.

use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::http::{HeaderMap, header};
use cringle_core::time::Timestamp;

/// The wait after more than slips; each further one doubles it.
const FIRST_WAIT: Duration = Duration::from_millis(500);
/// And no longer than this: a crew that mistypes must get in again.
const LONGEST_WAIT: Duration = Duration::from_secs(60);
/// Addresses that are remembered; the oldest is forgotten.
const MOST_ADDRESSES: usize = 64;
/// How long it stays said on the screens that wrong keys came.
const SAID_FOR: Duration = Duration::from_secs(600);
/// So many are slips of the finger: neither slowed nor said.
const SLIPS: u32 = 3;

/// One who is connected, as the routes see it.
#[derive(Clone)]
pub(super) struct Peer {
    pub(super) ip: IpAddr,
    has_asked: Arc<AtomicBool>,
}

impl Peer {
    pub(super) fn new(ip: IpAddr) -> Peer {
        Peer {
            ip: ip.to_canonical(),
            has_asked: Arc::default(),
        }
    }

    pub(super) fn has_asked(&self) -> bool {
        self.has_asked.load(Ordering::Relaxed)
    }

    /// It has sent a whole head: it is no newcomer any more.
    pub(super) fn asks(&self) {
        self.has_asked.store(true, Ordering::Relaxed);
    }
}

/// Which hosts are ours.
#[derive(Clone, Debug, Default)]
pub(super) struct Hosts(Vec<String>);

impl Hosts {
    /// This computer's name and those given.
    pub(super) fn new(given: &[String]) -> Hosts {
        let system = rustix::system::uname();
        let own = system.nodename().to_string_lossy().to_ascii_lowercase();
        let mut hosts = vec!["localhost".to_owned(), format!("{own}.local"), own];
        hosts.extend(given.iter().map(|host| host.to_ascii_lowercase()));
        Hosts(hosts)
    }

    /// What is wrong with whoever asks, if anything.
    pub(super) fn refuse(&self, headers: &HeaderMap) -> Option<&'static str> {
        let Some(host) = words(headers, header::HOST) else {
            return Some("no host is named");
        };
        if !self.is_ours(host) {
            return Some("that host is not this page: list it in [page] hosts of the boat file");
        }
        let origin = match headers.get(header::ORIGIN) {
            None => return None,
            Some(_) => words(headers, header::ORIGIN),
        };
        let origin = origin.and_then(|origin| origin.strip_prefix("http://"));
        match origin.is_some_and(|origin| origin.eq_ignore_ascii_case(host)) {
            true => None,
            false => Some("asked from another page: open this one itself"),
        }
    }

    fn is_ours(&self, host: &str) -> bool {
        let bare = match host.strip_prefix('[') {
            Some(rest) => rest.split(']').next(),
            None => host.split(':').next(),
        };
        let bare = bare.unwrap_or_default().to_ascii_lowercase();
        bare.parse::<IpAddr>().is_ok() || self.0.contains(&bare)
    }
}

fn words(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// Wrong keys by address.
#[derive(Default)]
pub(super) struct Guesses(Mutex<VecDeque<Guesser>>);

struct Guesser {
    ip: IpAddr,
    wrong: u32,
    last: Timestamp,
}

impl Guesser {
    fn wait(&self) -> Duration {
        match self.wrong.checked_sub(SLIPS) {
            None => Duration::ZERO,
            Some(doublings) => (FIRST_WAIT * (1 << doublings.min(10))).min(LONGEST_WAIT),
        }
    }
}

impl Guesses {
    /// How long this address must still wait before a key of it is looked at.
    pub(super) fn wait(&self, ip: IpAddr, now: Timestamp) -> Option<Duration> {
        let guessers = self.lock();
        let guesser = guessers.iter().find(|it| it.ip == network(ip))?;
        let rest = guesser.wait().checked_sub(now.since(guesser.last))?;
        (!rest.is_zero()).then_some(rest)
    }

    /// Takes note of a wrong key; each doubling is logged.
    pub(super) fn wrong(&self, ip: IpAddr, now: Timestamp) {
        let mut guessers = self.lock();
        let ip = network(ip);
        let place = guessers.iter().position(|it| it.ip == ip);
        let known = place.and_then(|place| guessers.remove(place));
        let wrong = known.map_or(0, |it| it.wrong).saturating_add(1);
        if wrong.is_power_of_two() {
            tracing::warn!("page: {wrong} wrong keys from {ip}");
        }
        if guessers.len() >= MOST_ADDRESSES {
            guessers.pop_front();
        }
        guessers.push_back(Guesser {
            ip,
            wrong,
            last: now,
        });
    }

    /// The right key was given: nothing is held against this address.
    pub(super) fn right(&self, ip: IpAddr) {
        self.lock().retain(|it| it.ip != network(ip));
    }

    /// What the screens say of it, for a while.
    pub(super) fn faults(&self, now: Timestamp) -> Vec<String> {
        let guessers = self.lock();
        let told = guessers
            .iter()
            .filter(|it| it.wrong > SLIPS && now.since(it.last) < SAID_FOR);
        told.map(|it| format!("page: wrong keys are tried from {}", it.ip))
            .collect()
    }

    fn lock(&self) -> MutexGuard<'_, VecDeque<Guesser>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// One who has the newer kind of address has a whole network of them.
fn network(ip: IpAddr) -> IpAddr {
    match ip.to_canonical() {
        IpAddr::V6(ip) => IpAddr::V6((ip.to_bits() >> 64 << 64).into()),
        old => old,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(host: &str, origin: Option<&str>) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(header::HOST, host.parse().unwrap());
        if let Some(origin) = origin {
            headers.insert(header::ORIGIN, origin.parse().unwrap());
        }
        headers
    }

    #[test]
    fn a_rebound_host_and_another_pages_origin_are_refused() {
        let hosts = Hosts::new(&["tern.lan".into()]);
        let refused = |host: &str, origin| hosts.refuse(&headers(host, origin)).is_some();
        for host in [
            "127.0.0.1:8040",
            "[::1]:8040",
            "localhost:8040",
            "Tern.lan",
            "10.0.0.4",
        ] {
            assert!(!refused(host, None), "{host}");
        }
        assert!(refused("evil.example:8040", None));
        assert!(hosts.refuse(&HeaderMap::new()).is_some());
        assert!(!refused("10.0.0.4:8040", Some("http://10.0.0.4:8040")));
        for origin in [
            "null",
            "http://evil.example",
            "https://10.0.0.4:8040",
            "http://10.0.0.4",
        ] {
            assert!(refused("10.0.0.4:8040", Some(origin)), "{origin}");
        }
    }

    #[test]
    fn wrong_keys_are_slowed_by_doubling_and_told_and_others_are_not_kept_out() {
        let guesses = Guesses::default();
        let [bad, good] = ["10.0.0.66", "10.0.0.4"].map(|ip| ip.parse().unwrap());
        let mut now = Timestamp::ZERO;
        let mut tried = 0;
        // As fast as it can for ten minutes: 500 a second were looked at before.
        while now < Timestamp::from_secs(600) {
            now = match guesses.wait(bad, now) {
                Some(wait) => now.after(wait),
                None => {
                    guesses.wrong(bad, now);
                    tried += 1;
                    now
                }
            };
        }
        assert!(tried < 20, "{tried}");
        assert_eq!(guesses.wait(good, now), None);
        assert_eq!(
            guesses.faults(now),
            ["page: wrong keys are tried from 10.0.0.66"]
        );
        guesses.right(bad);
        assert_eq!(guesses.wait(bad, now), None);
        assert_eq!(guesses.faults(now), [""; 0]);
    }
}
