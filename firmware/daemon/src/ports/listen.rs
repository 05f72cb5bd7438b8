//! A TCP server: any number of clients may connect, be heard, and be sent our
//! sentences. A client that reads too slowly loses sentences, nothing else.

use std::sync::Arc;

use anyhow::Context;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{broadcast, mpsc};
use tokio::task::JoinSet;

use super::{BackOff, Ear, Mouth, NobodyListens, What};

/// Clients at one time; a boat has no use for more.
const MOST_CLIENTS: usize = 32;

/// Sentences a slow client may fall behind.
const MOST_BEHIND: usize = 32;

pub(super) async fn run(address: &str, mouth: Mouth, mut waiting: mpsc::Receiver<Arc<[u8]>>) {
    let mut back_off = BackOff::new();
    loop {
        let bound = TcpListener::bind(address)
            .await
            .with_context(|| format!("{address} cannot be opened"));
        let ended = match bound {
            Ok(listener) => serve(&listener, &mouth, &mut waiting).await,
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
    mouth: &Mouth,
    waiting: &mut mpsc::Receiver<Arc<[u8]>>,
) -> Result<String, NobodyListens> {
    mouth.say(What::Open).await?;
    let (to_all, _) = broadcast::channel(MOST_BEHIND);
    let mut clients = JoinSet::new();
    let mut more_to_send = true;
    loop {
        tokio::select! {
            // A client that does not fit waits in the system's queue.
            came = listener.accept(), if clients.len() < MOST_CLIENTS => match came {
                Ok((stream, _)) => {
                    clients.spawn(client(stream, mouth.clone(), to_all.subscribe()));
                }
                Err(error) => return Ok(error.to_string()),
            },
            _ = clients.join_next(), if !clients.is_empty() => {}
            sentence = waiting.recv(), if more_to_send => match sentence {
                // Nobody there to hear it is no fault.
                Some(sentence) => drop(to_all.send(sentence)),
                None => more_to_send = false,
            },
        }
    }
}

async fn client(mut stream: TcpStream, mouth: Mouth, mut out: broadcast::Receiver<Arc<[u8]>>) {
    let (mut reader, mut writer) = stream.split();
    let hearing = async {
        let mut ear = Ear::new();
        let mut bytes = [0; 1024];
        while let Ok(count @ 1..) = reader.read(&mut bytes).await {
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
                    if writer.write_all(&sentence).await.is_err() {
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
