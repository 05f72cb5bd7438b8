//! Asks the daemon's page for things: a few lines of HTTP, on the loopback.
//!
//! Requests are of HTTP/1.0, so an answer ends with its connection and comes
//! in one piece.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

use anyhow::{Context, Result};

/// Whoever takes longer is taken for dead. A daemon that closes a recording on
/// a busy machine takes some seconds before the bench can answer.
const PATIENCE: Duration = Duration::from_secs(20);
/// More than any screen or list of events.
const MOST_BYTES: u64 = 16 << 20;

/// What came back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Status of HTTP.
    pub status: u16,
    /// Type of the content.
    pub content_type: String,
    /// The content.
    pub body: Vec<u8>,
}

/// Gets `path`.
pub fn get(from: SocketAddr, path: &str) -> Result<Answer> {
    ask(
        from,
        &format!("GET {path} HTTP/1.0\r\nHost: {from}\r\n\r\n"),
    )
}

/// Posts JSON to `path`.
pub fn post(to: SocketAddr, path: &str, json: &str) -> Result<Answer> {
    let length = json.len();
    ask(
        to,
        &format!(
            "POST {path} HTTP/1.0\r\nHost: {to}\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\n\r\n{json}"
        ),
    )
}

fn ask(of: SocketAddr, request: &str) -> Result<Answer> {
    let mut stream = TcpStream::connect_timeout(&of, PATIENCE)
        .with_context(|| format!("{of}: nobody answers"))?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    stream.write_all(request.as_bytes())?;
    let mut bytes = Vec::new();
    stream.take(MOST_BYTES).read_to_end(&mut bytes)?;
    answer(&bytes).with_context(|| format!("{of}: no answer of HTTP"))
}

fn answer(bytes: &[u8]) -> Option<Answer> {
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n")?;
    let head = std::str::from_utf8(bytes.get(..end)?).ok()?;
    let mut lines = head.split("\r\n");
    let status = lines.next()?.split(' ').nth(1)?.parse().ok()?;
    let content_type = lines
        .filter_map(|line| line.split_once(':'))
        .find(|(name, _)| name.eq_ignore_ascii_case("content-type"))
        .map_or("application/octet-stream", |(_, value)| value.trim());
    Some(Answer {
        status,
        content_type: content_type.to_owned(),
        body: bytes.get(end + 4..)?.to_vec(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_taken_apart_and_nonsense_is_none() {
        let bytes = b"HTTP/1.1 404 Not Found\r\nContent-type: text/plain\r\n\r\nno such page";
        let read = answer(bytes).expect("an answer");
        assert_eq!(
            (read.status, read.content_type.as_str()),
            (404, "text/plain")
        );
        assert_eq!(read.body, b"no such page");
        assert_eq!(answer(b"$WIMWV,214.8,R,15.6,N,A*1E\r\n\r\n"), None);
        assert_eq!(answer(b""), None);
    }

    #[test]
    fn nobody_at_the_other_end_is_an_error() {
        let closed = std::net::TcpListener::bind("127.0.0.1:0").expect("bound");
        let address = closed.local_addr().expect("an address");
        drop(closed);
        assert!(get(address, "/view").is_err());
    }
}
