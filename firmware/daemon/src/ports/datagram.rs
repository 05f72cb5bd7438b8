//! UDP: unicast, broadcast and multicast datagrams, each way.

use std::convert::Infallible;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;

use anyhow::Context;
use tokio::net::UdpSocket;
use tokio::sync::mpsc;

use super::{BackOff, Ear, Mouth, NobodyListens, Senders, What};

/// The most that fits in a datagram.
const MOST: usize = 65_535;

pub(super) async fn run(
    listen: &str,
    send_to: Option<&str>,
    senders: Senders,
    mouth: Mouth,
    mut waiting: mpsc::Receiver<Arc<[u8]>>,
) {
    let mut back_off = BackOff::new();
    loop {
        let ended = match open(listen).await {
            Ok(socket) => {
                let ear = Ear::of(senders);
                pump(&socket, send_to, ear, &mouth, &mut waiting, &mut back_off).await
            }
            Err(why) => Ok(format!("{why:#}")),
        };
        let Ok(why) = ended else { return };
        if mouth.say(What::Closed(why)).await.is_err() {
            return;
        }
        back_off.wait().await;
    }
}

/// Binds to the address; a multicast group is joined on all interfaces.
async fn open(listen: &str) -> anyhow::Result<UdpSocket> {
    let address = tokio::net::lookup_host(listen)
        .await
        .with_context(|| format!("{listen} is no address"))?
        .next()
        .with_context(|| format!("{listen} is no address"))?;
    let group = address.ip();
    let own = match group {
        IpAddr::V4(group) if group.is_multicast() => IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        IpAddr::V6(group) if group.is_multicast() => IpAddr::V6(Ipv6Addr::UNSPECIFIED),
        own => own,
    };
    let socket = UdpSocket::bind(SocketAddr::new(own, address.port()))
        .await
        .with_context(|| format!("{listen} cannot be opened"))?;
    match group {
        IpAddr::V4(group) if group.is_multicast() => {
            socket.join_multicast_v4(group, Ipv4Addr::UNSPECIFIED)
        }
        IpAddr::V6(group) if group.is_multicast() => socket.join_multicast_v6(&group, 0),
        _ => Ok(()),
    }
    .with_context(|| format!("{listen} cannot be joined"))?;
    socket.set_broadcast(true).context("broadcast refused")?;
    Ok(socket)
}

async fn pump(
    socket: &UdpSocket,
    send_to: Option<&str>,
    ear: Ear,
    mouth: &Mouth,
    waiting: &mut mpsc::Receiver<Arc<[u8]>>,
    back_off: &mut BackOff,
) -> Result<String, NobodyListens> {
    mouth.say(What::Open).await?;
    // Side by side: looking up the receiver's name may take long.
    tokio::select! {
        ended = hear(socket, ear, mouth, back_off) => ended,
        never = send(socket, send_to, waiting) => match never {},
    }
}

async fn hear(
    socket: &UdpSocket,
    mut ear: Ear,
    mouth: &Mouth,
    back_off: &mut BackOff,
) -> Result<String, NobodyListens> {
    let mut bytes = vec![0; MOST];
    loop {
        match socket.recv(&mut bytes).await {
            Ok(count) => {
                back_off.forgive();
                ear.hear_whole(bytes.get(..count).unwrap_or_default(), mouth)
                    .await?;
            }
            // The other end of our own sending refused: no reason to stop
            // hearing.
            Err(error) if error.kind() == std::io::ErrorKind::ConnectionRefused => {}
            Err(error) => return Ok(error.to_string()),
        }
    }
}

/// Sends what waits; a sentence that cannot be sent is worth no second try.
async fn send(
    socket: &UdpSocket,
    send_to: Option<&str>,
    waiting: &mut mpsc::Receiver<Arc<[u8]>>,
) -> Infallible {
    while let Some(sentence) = waiting.recv().await {
        let Some(to) = send_to else { continue };
        if let Err(error) = socket.send_to(&sentence, to).await {
            tracing::debug!("sending to {to}: {error}");
        }
    }
    std::future::pending().await
}
