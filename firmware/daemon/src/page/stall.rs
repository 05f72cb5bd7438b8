//! A stream that ends when no byte has gone either way for a while.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::Sleep;

/// Passes bytes on, and fails once they have stood still for too long.
pub(super) struct Stalling<S> {
    stream: S,
    most: Duration,
    until: Pin<Box<Sleep>>,
}

impl<S> Stalling<S> {
    pub(super) fn new(stream: S, most: Duration) -> Stalling<S> {
        Stalling {
            stream,
            most,
            until: Box::pin(tokio::time::sleep(most)),
        }
    }

    /// What went well puts the end off; what waits waits no longer than that.
    fn weigh<T>(
        &mut self,
        polled: Poll<io::Result<T>>,
        context: &mut Context<'_>,
    ) -> Poll<io::Result<T>> {
        if polled.is_ready() {
            let anew = tokio::time::sleep(self.most);
            self.until.as_mut().set(anew);
            return polled;
        }
        match self.until.as_mut().poll(context) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Stalling<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let polled = Pin::new(&mut self.stream).poll_read(context, buffer);
        self.weigh(polled, context)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Stalling<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.weigh(polled, context)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        // Nothing went anywhere by it: the end is not put off.
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
