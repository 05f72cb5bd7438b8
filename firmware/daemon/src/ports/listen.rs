//! A TCP server: any number of clients may connect and be sent our sentences.
//! They only listen, unless the boat file lets them acknowledge alerts or speak as
//! instruments do: whoever is on the boat's net can connect. A client that
//! reads too slowly loses sentences, nothing else.

use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{broadcast, mpsc};
use tokio::task::{AbortHandle, JoinSet};

use super::{BackOff, Clients, Ear, Mouth, NobodyListens, What, is_acknowledgement};

/// Clients at one time; a boat has no use for more.
const MOST_CLIENTS: usize = 32;

/// A client takes a sentence within this, or is let go.
const WRITE: Duration = Duration::from_secs(10);

/// Sentences a slow client may fall behind.
const MOST_BEHIND: usize = 32;

pub(super) async fn run(
    address: &str,
    clients: Clients,
    mouth: Mouth,
    mut waiting: mpsc::Receiver<Arc<[u8]>>,
) {
    let mut back_off = BackOff::new();
    loop {
        let bound = TcpListener::bind(address)
            .await
            .with_context(|| format!("{address} cannot be opened"));
        let ended = match bound {
            Ok(listener) => serve(&listener, clients, &mouth, &mut waiting).await,
            Err(why) => Ok(format!("{why:#}")),
        };
        let Ok(why) = ended else { return };
        if mouth.say(What::Closed(why)).await.is_err() {
            return;
        }
        back_off.wait().await;
    }
}

async fn serve(
    listener: &TcpListener,
    allowed: Clients,
    mouth: &Mouth,
    waiting: &mut mpsc::Receiver<Arc<[u8]>>,
) -> Result<String, NobodyListens> {
    mouth.say(What::Open).await?;
    let (to_all, _) = broadcast::channel(MOST_BEHIND);
    let mut tasks = JoinSet::new();
    let mut clients: VecDeque<(IpAddr, AbortHandle)> = VecDeque::new();
    let mut more_to_send = true;
    loop {
        tokio::select! {
            came = listener.accept() => match came {
                Ok((stream, from)) => {
                    clients.retain(|(_, task)| !task.is_finished());
                    make_place(&mut clients, from.ip());
                    let talk = client(stream, allowed, mouth.clone(), to_all.subscribe());
                    clients.push_back((from.ip(), tasks.spawn(talk)));
                }
                Err(error) => return Ok(error.to_string()),
            },
            _ = tasks.join_next(), if !tasks.is_empty() => {}
            sentence = waiting.recv(), if more_to_send => match sentence {
                // Nobody there to hear it is no fault.
                Some(sentence) => drop(to_all.send(sentence)),
                None => more_to_send = false,
            },
        }
    }
}

/// A newcomer is never shut out: where there is no place, the oldest of the address
/// that has most of them goes, which is where those are that nobody needs.
fn make_place(clients: &mut VecDeque<(IpAddr, AbortHandle)>, from: IpAddr) {
    if clients.len() < MOST_CLIENTS {
        return;
    }
    let of = |ip: IpAddr| clients.iter().filter(|(other, _)| *other == ip).count();
    let most = clients.iter().map(|(ip, _)| *ip).max_by_key(|ip| of(*ip));
    let oldest = clients.iter().position(|(ip, _)| Some(*ip) == most);
    if let Some((ip, task)) = oldest.and_then(|oldest| clients.remove(oldest)) {
        tracing::warn!("{MOST_CLIENTS} clients are connected: one of {ip} goes for {from}");
        task.abort();
    }
}

async fn client(
    mut stream: TcpStream,
    allowed: Clients,
    mouth: Mouth,
    mut out: broadcast::Receiver<Arc<[u8]>>,
) {
    let (mut reader, mut writer) = stream.split();
    let hearing = async {
        let mut ear = match allowed {
            Clients::MaySpeak => Ear::new(),
            Clients::MayAcknowledge | Clients::OnlyListen => Ear::for_lines(is_acknowledgement),
        };
        let mut bytes = [0; 1024];
        let mut is_told = false;
        while let Ok(count @ 1..) = reader.read(&mut bytes).await {
            if allowed == Clients::OnlyListen {
                // An instrument that was meant to be heard would be missed.
                if !std::mem::replace(&mut is_told, true) {
                    tracing::warn!("a client spoke on a port where clients only listen");
                }
                continue;
            }
            let heard = bytes.get(..count).unwrap_or_default();
            if ear.hear(heard, &mouth).await.is_err() {
                break;
            }
        }
    };
    let sending = async {
        loop {
            match out.recv().await {
                Ok(sentence) => {
                    // One that does not read is let go: what waits for it is old.
                    let sent = tokio::time::timeout(WRITE, writer.write_all(&sentence)).await;
                    if !matches!(sent, Ok(Ok(()))) {
                        break;
                    }
                }
                Err(broadcast::error::RecvError::Lagged(_)) => {}
                Err(broadcast::error::RecvError::Closed) => break,
            }
        }
    };
    tokio::select! {
        () = hearing => {}
        () = sending => {}
    }
}
