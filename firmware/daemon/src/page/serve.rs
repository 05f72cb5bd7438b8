//! Serves the page to few, and not for long: whoever connects and says nothing,
//! says it too slowly or does not read the answer is let go.
//!
//! ```text
//!            no place: let go at once
//!                 ^
//!   accept --> newcomer --- first request ---> guest ---> let go
//!                 |  the oldest goes when                 no byte either way
//!                 |  another comes                        for ten seconds
//!                 '--> let go: no whole head in five seconds
//! ```
//!
//! Connections take a quarter of the descriptors at most, so that ports and store
//! always find one.

use std::collections::VecDeque;
use std::net::{IpAddr, SocketAddr};
use std::time::Duration;

use axum::Router;
use axum::extract::Extension;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::watch;
use tokio::task::{AbortHandle, JoinSet};

use super::going::{Going, ending};
use super::guard::Peer;
use super::stall::Stalling;

/// Connections at one time. A page takes one for its stream and now and then
/// another: some twenty telephones, and a boat has no more.
const MOST: usize = 48;
/// Of these to one address, so that one that misbehaves leaves room for others.
const MOST_OF_ONE: usize = 32;
/// Newcomers that have not asked for anything yet.
const MOST_NEWCOMERS: usize = 16;
/// A whole head of a request takes no longer.
const HEAD: Duration = Duration::from_secs(5);
/// A connection on which no byte goes either way; a stream says something every
/// two seconds.
const IDLE: Duration = Duration::from_secs(10);
/// The smallest buffer that the server takes; no head of ours is longer.
const BUFFER: usize = 8192;
/// The system holds no more that wait to be accepted.
const BACKLOG: u32 = 64;
/// After an error of the system, such as no descriptor left.
const AFTER_AN_ERROR: Duration = Duration::from_millis(500);

/// Binds with a short queue.
pub(super) fn bind(listen: SocketAddr) -> std::io::Result<TcpListener> {
    let socket = match listen.is_ipv4() {
        true => TcpSocket::new_v4()?,
        false => TcpSocket::new_v6()?,
    };
    socket.set_reuseaddr(true)?;
    socket.bind(listen)?;
    socket.listen(BACKLOG)
}

struct Guest {
    peer: Peer,
    task: AbortHandle,
}

/// Serves until the page ends.
pub(super) async fn serve(listener: TcpListener, routes: Router, stopped: watch::Receiver<Going>) {
    let mut tasks = JoinSet::new();
    let mut guests: VecDeque<Guest> = VecDeque::new();
    let most = most_connections();
    loop {
        tokio::select! {
            () = ending(stopped.clone()) => break,
            _ = tasks.join_next(), if !tasks.is_empty() => {}
            came = listener.accept() => match came {
                Ok((stream, from)) => {
                    guests.retain(|guest| !guest.task.is_finished());
                    if !make_place(&mut guests, from.ip(), most) {
                        continue;
                    }
                    let peer = Peer::new(from.ip());
                    let routes = routes.clone().layer(Extension(peer.clone()));
                    let task = tasks.spawn(one(stream, routes, stopped.clone()));
                    guests.push_back(Guest { peer, task });
                }
                Err(error) => {
                    tracing::warn!("page: nobody can connect: {error}");
                    tokio::time::sleep(AFTER_AN_ERROR).await;
                }
            },
        }
    }
    while tasks.join_next().await.is_some() {}
}

/// Whether there is a place for one more from this address; the oldest newcomer
/// goes where there are many.
fn make_place(guests: &mut VecDeque<Guest>, from: IpAddr, most: usize) -> bool {
    let from = from.to_canonical();
    let is_newcomer = |guest: &Guest| !guest.peer.has_asked();
    let newcomers = guests.iter().filter(|guest| is_newcomer(guest)).count();
    let of_one = guests.iter().filter(|guest| guest.peer.ip == from).count();
    let is_full = guests.len() >= most || of_one >= MOST_OF_ONE.min(most);
    if !is_full && newcomers < MOST_NEWCOMERS.min(most) {
        return true;
    }
    let oldest = guests.iter().position(is_newcomer);
    match oldest.and_then(|oldest| guests.remove(oldest)) {
        Some(guest) => {
            guest.task.abort();
            true
        }
        None => false,
    }
}

/// A quarter of what the system lets this program open.
fn most_connections() -> usize {
    let limit = rustix::process::getrlimit(rustix::process::Resource::Nofile);
    let quarter = limit.current.unwrap_or(u64::MAX) / 4;
    usize::try_from(quarter).unwrap_or(MOST).clamp(4, MOST)
}

async fn one(stream: TcpStream, routes: Router, stopped: watch::Receiver<Going>) {
    let mut server = http1::Builder::new();
    server
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD)
        .max_buf_size(BUFFER)
        .keep_alive(true);
    let io = TokioIo::new(Stalling::new(stream, IDLE));
    let serving = server.serve_connection(io, TowerToHyperService::new(routes));
    let mut serving = std::pin::pin!(serving);
    // What goes wrong with one browser is its own affair.
    tokio::select! {
        _ = serving.as_mut() => return,
        () = ending(stopped) => serving.as_mut().graceful_shutdown(),
    }
    let _ = serving.await;
}
