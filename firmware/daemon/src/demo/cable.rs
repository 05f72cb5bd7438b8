//! What the sea's lines come aboard on: pseudo-terminals, as the instruments'
//! serial lines do, or datagrams on the loopback where those cannot be opened.

use std::net::UdpSocket;
use std::path::PathBuf;

use anyhow::Context;
use cringle_sim::instruments::LinePlan;
use cringle_sim::sink::{Pty, UdpSender};

use crate::ports::{Place, Senders};

/// What all the lines come on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cables {
    /// A pseudo-terminal for each line, in this directory.
    Terminals(PathBuf),
    /// A UDP port of the loopback for each line.
    Datagrams,
}

/// The sea's end of one line.
pub(super) enum Cable {
    Terminal(Pty),
    Datagrams(UdpSender),
}

impl Cables {
    /// Lays one line: the sea's end, and where the watch finds the other.
    pub(super) fn lay(&self, line: &LinePlan) -> anyhow::Result<(Cable, Place)> {
        match self {
            Cables::Terminals(directory) => {
                let path = directory.join(&line.name);
                let pty = Pty::new(&path).context("the demo's serial lines")?;
                let baud = line.baud;
                Ok((Cable::Terminal(pty), Place::Serial { path, baud }))
            }
            Cables::Datagrams => {
                let listen = free_port().context("the demo's UDP ports")?;
                let sender = UdpSender::new(&listen)?;
                let place = Place::Udp {
                    listen,
                    send_to: None,
                    senders: Senders::OnlyReadings,
                };
                Ok((Cable::Datagrams(sender), place))
            }
        }
    }
}

impl Cable {
    pub(super) fn write(&mut self, bytes: &[u8]) -> anyhow::Result<()> {
        match self {
            Cable::Terminal(pty) => pty.write(bytes),
            Cable::Datagrams(sender) => sender.write(bytes),
        }
    }
}

/// An address of the loopback that nobody listens to now.
fn free_port() -> std::io::Result<String> {
    let socket = UdpSocket::bind("127.0.0.1:0")?;
    Ok(socket.local_addr()?.to_string())
}
