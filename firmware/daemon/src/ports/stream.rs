//! Serial lines and TCP clients: one stream of bytes each way.

use std::collections::VecDeque;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use anyhow::{Context, bail};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio_serial::{ClearBuffer, SerialPort, SerialPortBuilderExt, SerialStream};

use super::{BackOff, Ear, Mouth, Senders, What};

/// Bytes that may wait for a slow line; 4800 baud sends this in 4 s. What
/// comes on top is dropped: late sentences are worth nothing.
const MOST_WAITING: usize = 2048;

/// A TCP link on which nothing came for this long is taken for dead: the far
/// end may have gone without a word.
const TCP_SILENCE: Duration = Duration::from_secs(60);

/// A serial line says nothing when its talker is switched off, and is there
/// all the same.
const SERIAL_SILENCE: Option<Duration> = None;

/// How long a server may take to answer.
const CONNECT: Duration = Duration::from_secs(10);

type Waiting = mpsc::Receiver<Arc<[u8]>>;

pub(super) async fn serial(path: &Path, baud: u32, mouth: Mouth, mut waiting: Waiting) {
    let mut back_off = BackOff::new();
    loop {
        let opened = open_serial(path, baud);
        if once(
            opened,
            SERIAL_SILENCE,
            Ear::new(),
            &mouth,
            &mut waiting,
            &mut back_off,
        )
        .await
        .is_err()
        {
            return;
        }
        back_off.wait().await;
    }
}

pub(super) async fn tcp(address: &str, senders: Senders, mouth: Mouth, mut waiting: Waiting) {
    let mut back_off = BackOff::new();
    loop {
        let opened = connect(address).await;
        if once(
            opened,
            Some(TCP_SILENCE),
            Ear::of(senders),
            &mouth,
            &mut waiting,
            &mut back_off,
        )
        .await
        .is_err()
        {
            return;
        }
        back_off.wait().await;
    }
}

/// What to do about a line that cannot be opened.
fn remedy(error: &tokio_serial::Error) -> &'static str {
    use std::io::ErrorKind::{NotFound, PermissionDenied};
    match error.kind() {
        tokio_serial::ErrorKind::Io(NotFound) => {
            "; is the adapter plugged in? `ls /dev/serial/by-id` lists those that are"
        }
        tokio_serial::ErrorKind::Io(PermissionDenied) => {
            "; let this account use serial lines: `adduser ACCOUNT dialout`"
        }
        // Opened by another, the line is refused by its lock or as busy.
        _ if ["lock", "busy"]
            .iter()
            .any(|it| error.description.contains(it)) =>
        {
            "; another program has it open, such as a watch: end that one first"
        }
        _ => "",
    }
}

/// Opens raw, 8 data bits, no parity, 1 stop bit, for this program alone, and
/// throws away what waited there: it is of an unknown age.
fn open_serial(path: &Path, baud: u32) -> anyhow::Result<SerialStream> {
    let name = path.to_string_lossy();
    let stream = tokio_serial::new(name.as_ref(), baud)
        .open_native_async()
        .map_err(|error| {
            let remedy = remedy(&error);
            anyhow::anyhow!("{name} at {baud} baud cannot be opened: {error}{remedy}")
        })?;
    stream
        .clear(ClearBuffer::Input)
        .with_context(|| format!("{name} cannot be flushed"))?;
    Ok(stream)
}

async fn connect(address: &str) -> anyhow::Result<TcpStream> {
    let connecting = TcpStream::connect(address);
    let stream = match tokio::time::timeout(CONNECT, connecting).await {
        Ok(answer) => answer.with_context(|| format!("{address} cannot be reached"))?,
        Err(_) => bail!("{address} does not answer in {} s", CONNECT.as_secs()),
    };
    stream.set_nodelay(true).ok();
    Ok(stream)
}

/// One link from opening to its end; says both.
async fn once<S: AsyncRead + AsyncWrite>(
    opened: anyhow::Result<S>,
    silence: Option<Duration>,
    mut ear: Ear,
    mouth: &Mouth,
    waiting: &mut Waiting,
    back_off: &mut BackOff,
) -> Result<(), super::NobodyListens> {
    let why = match opened {
        Ok(stream) => {
            // What waited while the port was closed is too old to send.
            while waiting.try_recv().is_ok() {}
            mouth.say(What::Open).await?;
            let why = pump(stream, silence, &mut ear, mouth, waiting).await?;
            if ear.heard_lines {
                back_off.forgive();
            }
            why
        }
        Err(why) => format!("{why:#}"),
    };
    mouth.say(What::Closed(why)).await
}

/// Reads and writes until the link ends, and tells how it ended.
async fn pump<S: AsyncRead + AsyncWrite>(
    stream: S,
    silence: Option<Duration>,
    ear: &mut Ear,
    mouth: &Mouth,
    waiting: &mut Waiting,
) -> Result<String, super::NobodyListens> {
    let (mut reader, mut writer) = tokio::io::split(stream);
    let mut bytes = [0; 1024];
    let mut sending = VecDeque::new();
    let mut more_to_send = true;
    loop {
        let room = sending.len() < MOST_WAITING;
        tokio::select! {
            read = within(silence, reader.read(&mut bytes)) => match read {
                // A pulled plug reads as end of file, again and again.
                Ok(0) => return Ok("hung up".into()),
                Ok(count) => ear.hear(bytes.get(..count).unwrap_or_default(), mouth).await?,
                Err(error) => return Ok(error.to_string()),
            },
            sentence = waiting.recv(), if more_to_send && room => match sentence {
                Some(sentence) => sending.extend(sentence.iter()),
                None => more_to_send = false,
            },
            sent = writer.write(sending.as_slices().0), if !sending.is_empty() => match sent {
                Ok(count) => drop(sending.drain(..count)),
                Err(error) => return Ok(format!("cannot be written: {error}")),
            },
        }
    }
}

async fn within(
    silence: Option<Duration>,
    read: impl Future<Output = std::io::Result<usize>>,
) -> std::io::Result<usize> {
    match silence {
        None => read.await,
        Some(span) => tokio::time::timeout(span, read).await.unwrap_or_else(|_| {
            let words = format!("nothing heard in {} s", span.as_secs());
            Err(std::io::Error::new(std::io::ErrorKind::TimedOut, words))
        }),
    }
}
