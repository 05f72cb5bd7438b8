//! Files, FIFOs and standard input: read on threads of their own, as the
//! system has no way to wait for them.

use std::io::{BufRead, BufReader, Read};
use std::path::PathBuf;
use std::time::Duration;

use cringle_engine::unpack::open;
use tokio::sync::mpsc;

use super::{BackOff, Ear, Mouth, NobodyListens, What};

/// Bits on the wire for each byte: start, eight, stop.
const BITS_A_BYTE: f64 = 10.0;

pub(super) async fn file(path: PathBuf, baud: Option<u32>, mouth: Mouth) {
    let mut back_off = BackOff::new();
    loop {
        let opening = path.clone();
        let opened = tokio::task::spawn_blocking(move || open(&opening)).await;
        match opened {
            Ok(Ok(reader)) => return to_its_end(reader, baud, mouth).await,
            Ok(Err(why)) => {
                if mouth.say(What::Closed(format!("{why:#}"))).await.is_err() {
                    return;
                }
            }
            Err(_) => return,
        }
        back_off.wait().await;
    }
}

pub(super) async fn standard_input(mouth: Mouth) {
    // Unpacking would wait for the first bytes before anything is said.
    to_its_end(Box::new(BufReader::new(std::io::stdin())), None, mouth).await;
}

async fn to_its_end(reader: Box<dyn BufRead + Send>, baud: Option<u32>, mouth: Mouth) {
    let (chunks, coming) = mpsc::channel(4);
    // Detached: a thread that waits for standard input must not hold up the
    // end of the program.
    std::thread::spawn(move || read_all(reader, &chunks));
    // An error only says that nobody listens any more.
    let _ = pass_on(coming, baud, &mouth).await;
}

fn read_all(mut reader: impl Read, chunks: &mpsc::Sender<std::io::Result<Vec<u8>>>) {
    let mut bytes = [0; 1024];
    loop {
        let read = match reader.read(&mut bytes) {
            Ok(0) => return,
            Ok(count) => Ok(bytes.get(..count).unwrap_or_default().to_vec()),
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => Err(error),
        };
        let failed = read.is_err();
        if chunks.blocking_send(read).is_err() || failed {
            return;
        }
    }
}

async fn pass_on(
    mut coming: mpsc::Receiver<std::io::Result<Vec<u8>>>,
    baud: Option<u32>,
    mouth: &Mouth,
) -> Result<(), NobodyListens> {
    mouth.say(What::Open).await?;
    let mut ear = Ear::new();
    while let Some(read) = coming.recv().await {
        match read {
            Ok(bytes) => match baud {
                Some(baud) => at_line_rate(&bytes, baud, &mut ear, mouth).await?,
                None => ear.hear(&bytes, mouth).await?,
            },
            Err(error) => {
                mouth.say(What::Closed(error.to_string())).await?;
                break;
            }
        }
    }
    ear.hear_whole(&[], mouth).await?;
    mouth.say(What::Ended).await
}

/// As a line of this rate would have brought them, a twentieth of a second at
/// a time.
async fn at_line_rate(
    bytes: &[u8],
    baud: u32,
    ear: &mut Ear,
    mouth: &Mouth,
) -> Result<(), NobodyListens> {
    let a_second = (f64::from(baud.max(1)) / BITS_A_BYTE).max(1.0);
    let piece = ((a_second / 20.0) as usize).max(1);
    for piece in bytes.chunks(piece) {
        let span = Duration::from_secs_f64(piece.len() as f64 / a_second);
        let due = mouth.clock.now().after(span);
        mouth.clock.sleep_until(due).await;
        ear.hear(piece, mouth).await?;
    }
    Ok(())
}
