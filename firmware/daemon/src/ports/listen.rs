//! A TCP server: any number of clients may connect and be sent our sentences.
//! They only listen, unless the boat file lets them acknowledge alerts or speak as
//! instruments do: whoever is on the boat's net can connect. A client that
//! reads too slowly loses sentences, nothing else.

use std::sync::Arc;

use anyhow::Context;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{broadcast, mpsc};
use tokio::task::JoinSet;

use super::{BackOff, Clients, Ear, Mouth, NobodyListens, What};

/// Clients at one time; a boat has no use for more.
const MOST_CLIENTS: usize = 32;

/// Sentences a slow client may fall behind.
const MOST_BEHIND: usize = 32;

/// Sentences by which a bridge acknowledges alerts and says that it is there.
const ACKNOWLEDGEMENTS: [&[u8]; 3] = [b"ACN,", b"ACK,", b"HBT,"];

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
    let mut clients = JoinSet::new();
    let mut more_to_send = true;
    loop {
        tokio::select! {
            // A client that does not fit waits in the system's queue.
            came = listener.accept(), if clients.len() < MOST_CLIENTS => match came {
                Ok((stream, _)) => {
                    let mouth = mouth.clone();
                    clients.spawn(client(stream, allowed, mouth, to_all.subscribe()));
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

/// Whether this sentence acknowledges alerts. Two that came in one piece have been
/// parted before.
fn is_acknowledgement(line: &[u8]) -> bool {
    let start = line.iter().position(|byte| *byte == b'$');
    let formatter = start.and_then(|start| line.get(start + 3..));
    let is_one = |formatter: &[u8]| ACKNOWLEDGEMENTS.iter().any(|it| formatter.starts_with(it));
    formatter.is_some_and(is_one)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_told_from_a_reading() {
        for answer in [
            "$BNACN,,,10101,1,A,C*00",
            "$BNACK,101*00",
            "\\s:bridge*00\\$BNHBT,60,A,1*00",
        ] {
            assert!(is_acknowledgement(answer.as_bytes()), "{answer}");
        }
        for other in [
            "$WIMWV,041.0,R,15.6,N,A*00",
            "$WIMWV,ACK,R,15.6,N,A*00",
            "$BN",
            "",
        ] {
            assert!(!is_acknowledgement(other.as_bytes()), "{other}");
        }
    }
}
