//! Lines over TCP and UDP.

use std::io::{ErrorKind, Write};
use std::net::{SocketAddr, TcpListener, TcpStream, ToSocketAddrs, UdpSocket};

use anyhow::{Context, Result};

use crate::faults::Link;

/// A TCP server that tells every listener the same.
#[derive(Debug)]
pub struct TcpServer {
    address: SocketAddr,
    listener: Option<TcpListener>,
    clients: Vec<TcpStream>,
}

impl TcpServer {
    /// Listens on `address`, HOST:PORT; port 0 lets the system choose.
    pub fn new(address: &str) -> Result<Self> {
        let wanted = address
            .to_socket_addrs()
            .with_context(|| format!("{address}: not an address"))?
            .next()
            .with_context(|| format!("{address}: no such host"))?;
        let listener = listen(wanted)?;
        Ok(Self {
            address: listener.local_addr()?,
            listener: Some(listener),
            clients: Vec::new(),
        })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Up, or gone with all its connections; half-open needs nothing but silence.
    pub fn set_link(&mut self, link: Link) -> Result<()> {
        match link {
            Link::Unplugged => {
                self.listener = None;
                self.clients.clear();
            }
            Link::Up | Link::HalfOpen if self.listener.is_none() => {
                self.listener = Some(listen(self.address)?);
            }
            Link::Up | Link::HalfOpen => {}
        }
        Ok(())
    }

    /// Tells every listener; one who is gone or does not read is dropped.
    pub fn write(&mut self, bytes: &[u8]) -> Result<()> {
        self.let_in()?;
        self.clients
            .retain_mut(|client| client.write_all(bytes).is_ok());
        Ok(())
    }

    fn let_in(&mut self) -> Result<()> {
        let Some(listener) = &self.listener else {
            return Ok(());
        };
        loop {
            match listener.accept() {
                Ok((client, _)) => {
                    client.set_nonblocking(true)?;
                    client.set_nodelay(true)?;
                    self.clients.push(client);
                }
                Err(error) if error.kind() == ErrorKind::WouldBlock => return Ok(()),
                Err(error) => return Err(error).context("cannot accept a listener"),
            }
        }
    }
}

fn listen(address: SocketAddr) -> Result<TcpListener> {
    let listener =
        TcpListener::bind(address).with_context(|| format!("{address}: cannot listen"))?;
    listener.set_nonblocking(true)?;
    Ok(listener)
}

/// A UDP sender: one datagram a sentence.
#[derive(Debug)]
pub struct UdpSender {
    socket: UdpSocket,
    to: SocketAddr,
}

impl UdpSender {
    /// Sends to `address`, HOST:PORT; a broadcast address is allowed.
    pub fn new(address: &str) -> Result<Self> {
        let to = address
            .to_socket_addrs()
            .with_context(|| format!("{address}: not an address"))?
            .next()
            .with_context(|| format!("{address}: no such host"))?;
        let any = if to.is_ipv4() { "0.0.0.0:0" } else { "[::]:0" };
        let socket = UdpSocket::bind(any)?;
        socket.set_broadcast(true)?;
        Ok(Self { socket, to })
    }

    /// Sends; that nobody listens is no error.
    pub fn write(&mut self, bytes: &[u8]) -> Result<()> {
        match self.socket.send_to(bytes, self.to) {
            Ok(_) => Ok(()),
            Err(error) if error.kind() == ErrorKind::ConnectionRefused => Ok(()),
            Err(error) => Err(error).with_context(|| format!("{}: cannot send", self.to)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;
    use std::time::Duration;

    fn connect(server: &TcpServer) -> TcpStream {
        let client = TcpStream::connect(server.address()).expect("connects");
        client
            .set_read_timeout(Some(Duration::from_secs(10)))
            .expect("a timeout");
        client
    }

    #[test]
    fn every_listener_hears_and_one_who_left_stops_nobody() {
        let mut server = TcpServer::new("127.0.0.1:0").expect("listens");
        let (mut first, second) = (connect(&server), connect(&server));
        server.let_in().expect("both are let in");
        drop(second);
        let mut heard = [0u8; 6];
        for _ in 0..50 {
            server.write(b"$A*41\n").expect("written");
        }
        first.read_exact(&mut heard).expect("heard");
        assert_eq!(&heard, b"$A*41\n");
    }

    #[test]
    fn unplugged_it_hangs_up_and_half_open_it_does_not() {
        let mut server = TcpServer::new("127.0.0.1:0").expect("listens");
        let mut client = connect(&server);
        server.let_in().expect("let in");
        server.set_link(Link::HalfOpen).expect("half open");
        assert_eq!(server.clients.len(), 1);
        server.set_link(Link::Unplugged).expect("unplugged");
        let mut byte = [0u8];
        assert_eq!(client.read(&mut byte).expect("end of file"), 0);
        assert!(TcpStream::connect(server.address()).is_err());
    }

    #[test]
    fn a_datagram_is_a_sentence() {
        let listener = UdpSocket::bind("127.0.0.1:0").expect("bound");
        listener
            .set_read_timeout(Some(Duration::from_secs(10)))
            .expect("a timeout");
        let address = listener.local_addr().expect("an address").to_string();
        let mut sender = UdpSender::new(&address).expect("a sender");
        sender.write(b"$A*41\r\n").expect("sent");
        let mut heard = [0u8; 64];
        let length = listener.recv(&mut heard).expect("heard");
        assert_eq!(&heard[..length], b"$A*41\r\n");
    }
}
