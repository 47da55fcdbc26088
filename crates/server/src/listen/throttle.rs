//! Throttle: a connection on which calls are made in vain is read slowly, so that a flood of them waits with whoever sends it.

use std::io;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep};

/// How long is waited before each read. What one read takes in is a few dozen calls.
const PAUSE: Duration = Duration::from_millis(200);
/// How long a connection is read slowly after the last call in vain.
const LASTS: Duration = Duration::from_secs(2);

/// Tells a connection to read slowly.
#[derive(Debug, Clone, Default)]
pub(super) struct Brake(Arc<Mutex<Option<Instant>>>);

impl Brake {
    /// From now on reads wait, for a while.
    pub(super) fn pull(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now() + LASTS);
    }

    fn is_on(&self) -> bool {
        let mut until = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *until = until.filter(|until| Instant::now() < *until);
        until.is_some()
    }
}

/// A stream with a brake on its reads.
pub(super) struct Throttled<S> {
    stream: S,
    brake: Brake,
    pause: Option<Pin<Box<Sleep>>>,
}

impl<S> Throttled<S> {
    pub(super) fn new(stream: S, brake: Brake) -> Self {
        Self { stream, brake, pause: None }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Throttled<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let Self { stream, brake, pause } = &mut *self;
        if pause.is_none() && brake.is_on() {
            *pause = Some(Box::pin(tokio::time::sleep(PAUSE)));
        }
        if let Some(sleep) = pause {
            ready!(sleep.as_mut().poll(cx));
            *pause = None;
        }
        Pin::new(stream).poll_read(cx, buf)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Throttled<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, buf)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write_vectored(cx, bufs)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    use super::*;

    #[tokio::test]
    async fn a_braked_stream_pauses_before_each_read_and_loses_nothing() {
        let (mut far, near) = tokio::io::duplex(64);
        let brake = Brake::default();
        let mut near = Throttled::new(near, brake.clone());
        let mut read = [0; 2];
        far.write_all(b"abcdefgh").await.unwrap();
        near.read_exact(&mut read).await.unwrap();
        brake.pull();
        for wanted in [b"cd", b"ef"] {
            let early = tokio::time::timeout(PAUSE / 2, near.read_exact(&mut read)).await;
            assert!(early.is_err(), "{early:?}");
            near.read_exact(&mut read).await.unwrap();
            assert_eq!(&read, wanted);
        }
        tokio::time::sleep(LASTS).await;
        let next = tokio::time::timeout(PAUSE / 2, near.read_exact(&mut read)).await;
        assert!(next.is_ok(), "not braked any more");
        assert_eq!(&read, b"gh");
    }
}
