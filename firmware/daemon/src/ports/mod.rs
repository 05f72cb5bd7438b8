//! Ports: where bytes come from and where sentences go.
//!
//! Every port is a task of its own, so that one which is broken, slow or
//! silent never holds up the others. A port hands over whole lines, stamped
//! once, when the last byte of the line was read. End of file or an error
//! means: say so, drop it, wait, open it again. The wait grows from 1 s to
//! 10 s and there is no way round it, so a port can never spin.

mod datagram;
mod files;
mod listen;
mod stream;

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use cringle_core::time::Timestamp;
use cringle_wire::frame::{Junk, LINE_CAPACITY, Liner};
use tokio::sync::mpsc;

pub use cringle_boat::ports::{Clients, Senders};
pub use cringle_engine::PortId;

use crate::clock::Clock;

/// Waits between two tries to open a port: the first and the longest.
const BACK_OFF: [Duration; 2] = [Duration::from_secs(1), Duration::from_secs(10)];

/// Sentences that may wait for a port to be sent; the oldest goes first.
const WAITING_OUT: usize = 32;

/// One line, without its line end.
pub type Line = heapless::Vec<u8, LINE_CAPACITY>;

/// Where a port leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A serial line.
    Serial {
        /// Its device.
        path: PathBuf,
        /// Bits a second.
        baud: u32,
    },
    /// A TCP server to connect to.
    Tcp {
        /// `HOST:PORT`.
        address: String,
        /// What is heard of it.
        senders: Senders,
    },
    /// A TCP server of our own.
    ServeTcp {
        /// Where.
        address: String,
        /// What its clients may do.
        clients: Clients,
    },
    /// UDP datagrams that come to this address, and where ours go.
    Udp {
        /// Own address and port, or a multicast group's.
        listen: String,
        /// Whom to send to.
        send_to: Option<String>,
        /// What is heard of those who send.
        senders: Senders,
    },
    /// A file or FIFO, gzipped or not.
    File {
        /// Which.
        path: PathBuf,
        /// Read no faster than a line of this rate would bring it.
        baud: Option<u32>,
    },
    /// Standard input.
    StandardInput,
}

/// A port to be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// As sources carry it.
    pub id: PortId,
    /// As people call it.
    pub name: String,
    /// Where it leads.
    pub place: Place,
}

/// What a port has to say.
#[derive(Clone, Debug, PartialEq)]
pub struct News {
    /// Who.
    pub port: PortId,
    /// When.
    pub at: Timestamp,
    /// What.
    pub what: What,
}

/// See [`News`].
// A line is what most news is: a box would only make each of them dearer.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// A line came in.
    Line(Line),
    /// Bytes came in, whether or not they made lines; what was junk among all
    /// of them so far.
    Bytes {
        /// Those that came since the last such news.
        bytes: Box<[u8]>,
        /// All junk since the start.
        junk: Junk,
    },
    /// It is open.
    Open,
    /// It is not, and why.
    Closed(String),
    /// It has come to its end and will not be opened again.
    Ended,
}

/// The far ends of a port that runs.
pub struct Running {
    /// Who.
    pub id: PortId,
    out: mpsc::Sender<Arc<[u8]>>,
    task: tokio::task::JoinHandle<()>,
}

/// Runs a port as a task of its own until it is dropped.
pub fn run(port: Port, clock: Clock, news: mpsc::Sender<News>) -> Running {
    let (out, waiting) = mpsc::channel(WAITING_OUT);
    let id = port.id;
    let mouth = Mouth { id, clock, news };
    let task = tokio::spawn(async move {
        match port.place {
            Place::Serial { path, baud } => stream::serial(&path, baud, mouth, waiting).await,
            Place::Tcp { address, senders } => {
                stream::tcp(&address, senders, mouth, waiting).await;
            }
            Place::ServeTcp { address, clients } => {
                listen::run(&address, clients, mouth, waiting).await;
            }
            Place::Udp {
                listen,
                send_to,
                senders,
            } => {
                datagram::run(&listen, send_to.as_deref(), senders, mouth, waiting).await;
            }
            Place::File { path, baud } => files::file(path, baud, mouth).await,
            Place::StandardInput => files::standard_input(mouth).await,
        }
    });
    Running { id, out, task }
}

impl Running {
    /// Sends a sentence out, line end included. Where the port cannot keep up
    /// or is closed it is dropped, and the answer is `false`: an old call is
    /// worth nothing.
    pub fn send(&self, sentence: Arc<[u8]>) -> bool {
        self.out.try_send(sentence).is_ok()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.task.abort();
    }
}

/// What a port task speaks through.
#[derive(Clone)]
struct Mouth {
    id: PortId,
    clock: Clock,
    news: mpsc::Sender<News>,
}

/// The loop has gone: there is nobody left to read for.
struct NobodyListens;

impl Mouth {
    async fn say(&self, what: What) -> Result<(), NobodyListens> {
        self.say_at(self.clock.now(), what).await
    }

    async fn say_at(&self, at: Timestamp, what: What) -> Result<(), NobodyListens> {
        let port = self.id;
        let news = News { port, at, what };
        self.news.send(news).await.map_err(|_| NobodyListens)
    }
}

/// Cuts the bytes of one link into lines and says them.
struct Ear {
    liner: Liner,
    lines: Vec<Line>,
    heard_lines: bool,
    /// Which lines are heard.
    is_meant: fn(&[u8]) -> bool,
    /// Whether it has been told that others are not.
    has_told: bool,
}

/// Sentences by which a bridge acknowledges alerts and says that it is there.
const ACKNOWLEDGEMENTS: [&[u8]; 3] = [b"ACN,", b"ACK,", b"HBT,"];

/// Whether each sentence begun here acknowledges, or none does: `$` may stand in a
/// TAG block too, before the sentence that counts.
fn acknowledging(line: &[u8]) -> impl Iterator<Item = bool> {
    let starts = line.iter().enumerate().filter(|(_, byte)| **byte == b'$');
    starts.map(|(start, _)| {
        let formatter = line.get(start + 3..).unwrap_or_default();
        ACKNOWLEDGEMENTS.iter().any(|it| formatter.starts_with(it))
    })
}

fn is_acknowledgement(line: &[u8]) -> bool {
    let mut each = acknowledging(line).peekable();
    each.peek().is_some() && each.all(|acknowledges| acknowledges)
}

fn is_reading(line: &[u8]) -> bool {
    !acknowledging(line).any(|acknowledges| acknowledges)
}

impl Ear {
    fn new() -> Self {
        Ear::for_lines(|_| true)
    }

    /// Hears only some lines; the rest is as if it had not been said.
    fn for_lines(is_meant: fn(&[u8]) -> bool) -> Self {
        Ear {
            is_meant,
            liner: Liner::new(),
            lines: Vec::new(),
            heard_lines: false,
            has_told: false,
        }
    }

    /// Hears of the network what may be heard there.
    fn of(senders: Senders) -> Self {
        match senders {
            Senders::OnlyReadings => Ear::for_lines(is_reading),
            Senders::MayAcknowledge => Ear::new(),
        }
    }

    /// All lines that end in these bytes have the time of this call.
    async fn hear(&mut self, bytes: &[u8], mouth: &Mouth) -> Result<(), NobodyListens> {
        let at = mouth.clock.now();
        let lines = &mut self.lines;
        self.liner.feed(bytes, &mut |line| keep(line, lines));
        self.pass_on(bytes, at, mouth).await
    }

    /// The same for a datagram, whose end ends its last line too.
    async fn hear_whole(&mut self, bytes: &[u8], mouth: &Mouth) -> Result<(), NobodyListens> {
        let at = mouth.clock.now();
        let lines = &mut self.lines;
        self.liner.feed(bytes, &mut |line| keep(line, lines));
        self.liner.finish(&mut |line| keep(line, lines));
        self.pass_on(bytes, at, mouth).await
    }

    async fn pass_on(
        &mut self,
        bytes: &[u8],
        at: Timestamp,
        mouth: &Mouth,
    ) -> Result<(), NobodyListens> {
        let before = self.lines.len();
        self.lines.retain(|line| (self.is_meant)(line));
        if self.lines.len() < before && !std::mem::replace(&mut self.has_told, true) {
            tracing::warn!(
                "a sentence that is not heard on this port: an acknowledgement where only \
                 readings are, or a reading where only acknowledgements are; see clients and \
                 senders in the boat file's ports"
            );
        }
        self.heard_lines |= !self.lines.is_empty();
        for line in self.lines.drain(..) {
            mouth.say_at(at, What::Line(line)).await?;
        }
        let junk = self.liner.junk();
        let bytes = bytes.into();
        mouth.say_at(at, What::Bytes { bytes, junk }).await
    }
}

fn keep(line: &[u8], lines: &mut Vec<Line>) {
    // A line the liner kept fits: both have the same capacity.
    lines.extend(Line::from_slice(line).ok());
}

/// How long to wait before the next try.
struct BackOff(Duration);

impl BackOff {
    fn new() -> Self {
        BackOff(BACK_OFF[0])
    }

    /// A link that brought lines was a good one: begin anew with short waits.
    fn forgive(&mut self) {
        self.0 = BACK_OFF[0];
    }

    async fn wait(&mut self) {
        tokio::time::sleep(self.0).await;
        self.0 = (self.0 * 2).min(BACK_OFF[1]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_acknowledgement_is_told_from_a_reading_wherever_it_hides() {
        for answer in [
            "$BNACN,,,10101,1,A,C*00",
            "$BNACK,101*00",
            "\\s:bridge*00\\$BNHBT,60,A,1*00",
        ] {
            assert!(is_acknowledgement(answer.as_bytes()), "{answer}");
            assert!(!is_reading(answer.as_bytes()), "{answer}");
        }
        for reading in [
            "$WIMWV,041.0,R,15.6,N,A*00",
            "$WIMWV,ACK,R,15.6,N,A*00",
            "$BN",
            "",
        ] {
            assert!(!is_acknowledgement(reading.as_bytes()), "{reading}");
            assert!(is_reading(reading.as_bytes()), "{reading}");
        }
        // Neither is let in behind the other's back.
        let hidden = b"\\s:$WIMWV,*00\\$BNACN,,,10101,1,A,C*00";
        assert!(!is_acknowledgement(hidden) && !is_reading(hidden));
    }
}
