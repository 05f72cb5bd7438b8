//! A short census: what each port says, and at which rate.

use std::collections::BTreeSet;

use cringle_boat::PortSettings;
use cringle_boat::ports::{Address, PortSpec};
use cringle_core::time::Timestamp;
use cringle_wire::decode::{Decoder, Out, PortOptions};
use cringle_wire::sentence::address_of;
use tokio::sync::mpsc;

use crate::clock::Clock;
use crate::ports::{self, News, What};
use crate::wiring;

/// The two rates of the standard: the plain one and the fast one.
const RATES: [u32; 2] = [4800, 38400];
/// So many good lines tell a right rate from noise.
const ENOUGH: u64 = 3;

/// A port that may be asked for its rate.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Candidate {
    pub(super) spec: PortSpec,
    /// Whether the person has said which rate.
    pub(super) rate: Rate,
}

/// Whether a port's rate is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rate {
    /// It is, or it has none.
    Known,
    /// Try both.
    Open,
}

/// What was heard on a port.
#[derive(Clone, Debug, Default)]
pub(super) struct Heard {
    good: u64,
    bad: u64,
    bytes: u64,
    sentences: BTreeSet<String>,
    feeds: BTreeSet<&'static str>,
    fault: Option<String>,
}

impl Heard {
    /// What was heard, for the one who chooses.
    pub(super) fn words(&self) -> String {
        let list = |names: Vec<&str>| names.join(", ");
        match (&self.fault, self.good) {
            (Some(fault), 0) => fault.clone(),
            (_, 0) if self.bytes > 0 => format!(
                "{} bytes and no good sentence: the rate, or A and B, may be wrong",
                self.bytes
            ),
            (_, 0) => "nothing heard: is the instrument on?".into(),
            (_, good) => {
                let sentences = list(self.sentences.iter().map(String::as_str).collect());
                let feeds = match self.feeds.is_empty() {
                    true => "nothing that is used".into(),
                    false => list(self.feeds.iter().copied().collect()),
                };
                format!(
                    "{good} good lines, {} bad: {sentences}; gives {feeds}",
                    self.bad
                )
            }
        }
    }

    fn add(&mut self, more: Heard) {
        self.good += more.good;
        self.bad += more.bad;
        self.bytes += more.bytes;
        self.sentences.extend(more.sentences);
        self.feeds.extend(more.feeds);
        self.fault = more.fault;
    }

    fn take(&mut self, what: &What, decoder: &mut Decoder, at: Timestamp) {
        match what {
            What::Bytes { bytes, .. } => self.bytes += bytes.len() as u64,
            What::Closed(why) => self.fault = Some(why.clone()),
            What::Open => self.fault = None,
            What::Ended => {}
            What::Line(line) => {
                let (mut is_bad, mut feeds) = (false, BTreeSet::new());
                decoder.decode(line, at, &mut |out| match out {
                    Out::Reading(reading) => {
                        feeds.insert(reading.heard.quantity().name());
                    }
                    Out::Refused { .. } => is_bad = true,
                    Out::Utc { .. } | Out::Alert(_) | Out::Tag(_) | Out::Unknown { .. } => {}
                });
                match is_bad {
                    true => self.bad += 1,
                    false => {
                        self.good += 1;
                        self.feeds.extend(feeds);
                        self.sentences.extend(address(line));
                    }
                }
            }
        }
    }
}

fn address(line: &[u8]) -> Option<String> {
    address_of(line).map(|(talker, formatter)| format!("{talker}{formatter}"))
}

/// Listens to all ports at once for so many seconds, and puts each whose rate
/// is open to the one at which more good lines came.
pub(super) async fn listen(candidates: &mut [Candidate], seconds: u64) -> Vec<Heard> {
    let open = candidates.iter().filter(|it| it.rate == Rate::Open).count();
    let first = match open {
        0 => seconds,
        _ => seconds.div_ceil(2),
    };
    let mut heard = vec![Heard::default(); candidates.len()];
    let mut again: Vec<usize> = (0..candidates.len()).collect();
    for (rate, seconds) in [(RATES[0], first), (RATES[1], seconds - first)] {
        for place in &again {
            candidates[*place].try_rate(rate);
        }
        let round = round(candidates, seconds).await;
        for (place, round) in round.into_iter().enumerate() {
            match again.contains(&place) {
                // Noise at the first rate says nothing against the second.
                true => heard[place] = round,
                false => heard[place].add(round),
            }
        }
        let is_poor =
            |place: &usize| candidates[*place].rate == Rate::Open && heard[*place].good < ENOUGH;
        again.retain(is_poor);
    }
    // Nothing at either rate: the plain one is the likelier.
    for place in again {
        candidates[place].try_rate(RATES[0]);
    }
    heard
}

/// Listens once, each port as it is set.
async fn round(candidates: &[Candidate], seconds: u64) -> Vec<Heard> {
    let mut heard = vec![Heard::default(); candidates.len()];
    let mut decoders: Vec<Decoder> = (0..candidates.len())
        .map(|number| Decoder::new(number as u8, PortOptions::default()))
        .collect();
    let settings: Vec<_> = candidates.iter().map(Candidate::settings).collect();
    let clock = Clock::real();
    let (news, mut coming) = mpsc::channel(1024);
    let running: Vec<_> = wiring::openings(&settings)
        .into_iter()
        .map(|port| ports::run(port, clock.clone(), news.clone()))
        .collect();
    let end = Timestamp::from_secs(seconds);
    loop {
        tokio::select! {
            Some(News { port, at, what }) = coming.recv() => {
                let place = usize::from(port.0);
                if let (Some(heard), Some(decoder)) =
                    (heard.get_mut(place), decoders.get_mut(place))
                {
                    heard.take(&what, decoder, at);
                }
            }
            () = clock.sleep_until(end) => break,
        }
    }
    drop(running);
    // The ports let go of their lines before these are opened again.
    tokio::task::yield_now().await;
    heard
}

impl Candidate {
    fn settings(&self) -> PortSettings {
        PortSettings {
            port: self.spec.clone(),
            checksum: Default::default(),
            send: Vec::new(),
        }
    }

    fn try_rate(&mut self, rate: u32) {
        if let (Rate::Open, Address::Serial { baud, .. }) = (self.rate, &mut self.spec.address) {
            *baud = rate;
        }
    }
}
