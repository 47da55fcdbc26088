//! Throttle: a connection on which calls are made in vain, or which sends more than calls can need, is read slowly, so that a
//! flood waits with whoever sends it; one whose peer takes nothing ends.

use std::io;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep};

use super::flow::{Flow, Protocol};
use super::peers::Peer;

/// How long is waited before each read. What one read takes in is a few dozen calls.
const PAUSE: Duration = Duration::from_millis(200);
/// How long a connection is read slowly after the last call in vain.
const LASTS: Duration = Duration::from_secs(2);
/// How long what is written may wait for its peer: as long as a ping of HTTP/2, of which HTTP/1.1 has none.
const TAKEN: Duration = Duration::from_secs(80);

/// Tells a connection to read slowly.
#[derive(Debug, Clone, Default)]
pub(super) struct Brake(Arc<Mutex<Option<Instant>>>);

impl Brake {
    /// From now on reads wait, for a while.
    pub(super) fn pull(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(Instant::now() + LASTS);
    }

    pub(super) fn is_on(&self) -> bool {
        let mut until = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *until = until.filter(|until| Instant::now() < *until);
        until.is_some()
    }
}

/// A stream of a peer with a brake on its reads.
pub(super) struct Throttled<S> {
    stream: S,
    peer: Arc<Peer>,
    flow: Flow,
    pause: Option<Pin<Box<Sleep>>>,
    stall: Stall,
}

/// How long what is written has waited for its peer.
struct Stall {
    most: Duration,
    waits: Option<Pin<Box<Sleep>>>,
}

impl Stall {
    /// What has come of a write, which fails once it has waited for too long.
    fn watch<T>(&mut self, cx: &mut Context<'_>, written: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.waits = None;
            return written;
        }
        let waits = self.waits.get_or_insert_with(|| Box::pin(tokio::time::sleep(self.most)));
        waits.as_mut().poll(cx).map(|()| Err(io::ErrorKind::TimedOut.into()))
    }
}

impl<S> Throttled<S> {
    pub(super) fn new(stream: S, peer: Arc<Peer>, protocol: Protocol) -> Self {
        Self {
            stream,
            peer,
            flow: Flow::new(protocol, Instant::now()),
            pause: None,
            stall: Stall { most: TAKEN, waits: None },
        }
    }

    /// How long to wait before the next read.
    fn wait(&mut self) -> Option<Duration> {
        let flow = self.flow.wait(self.peer.connections(), Instant::now());
        let brake = self.peer.brake().is_on().then_some(PAUSE);
        flow.max(brake)
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Throttled<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.pause.is_none() {
            self.pause = self.wait().map(|wait| Box::pin(tokio::time::sleep(wait)));
        }
        if let Some(sleep) = &mut self.pause {
            ready!(sleep.as_mut().poll(cx));
            self.pause = None;
        }
        let before = buf.filled().len();
        ready!(Pin::new(&mut self.stream).poll_read(cx, buf))?;
        self.flow.count(&buf.filled()[before..]);
        Poll::Ready(Ok(()))
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Throttled<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(cx, buf);
        self.stall.watch(cx, written)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let flushed = Pin::new(&mut self.stream).poll_flush(cx);
        self.stall.watch(cx, flushed)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let shut = Pin::new(&mut self.stream).poll_shutdown(cx);
        self.stall.watch(cx, shut)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(cx, bufs);
        self.stall.watch(cx, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    use super::super::peers::Peers;
    use super::*;

    /// What work comes to at its first poll.
    async fn at_once<T>(work: impl Future<Output = T>) -> Option<T> {
        tokio::select! {
            biased;
            done = work => Some(done),
            () = std::future::ready(()) => None,
        }
    }

    #[tokio::test]
    async fn a_braked_stream_pauses_before_each_read_and_loses_nothing() {
        let (mut far, near) = tokio::io::duplex(64);
        let peer = Arc::new(Peers::default().enter(IpAddr::from([127, 0, 0, 1]), 1).unwrap());
        let mut near = Throttled::new(near, Arc::clone(&peer), Protocol::Http1);
        let mut read = [0; 2];
        far.write_all(b"abcdefgh").await.unwrap();
        near.read_exact(&mut read).await.unwrap();
        peer.slow_down();
        for wanted in [b"cd", b"ef"] {
            // One that is given up begins the pause and takes nothing.
            let begun = Instant::now();
            assert!(at_once(near.read_exact(&mut read)).await.is_none());
            near.read_exact(&mut read).await.unwrap();
            assert!(begun.elapsed() >= PAUSE);
            assert_eq!(&read, wanted);
        }
        tokio::time::sleep(LASTS).await;
        assert!(at_once(near.read_exact(&mut read)).await.is_some(), "not braked any more");
        assert_eq!(&read, b"gh");
    }

    #[tokio::test]
    async fn a_write_that_nobody_takes_fails_and_one_taken_slowly_does_not() {
        const MOST: Duration = Duration::from_secs(1);
        let (mut far, near) = tokio::io::duplex(4);
        let peer = Arc::new(Peers::default().enter(IpAddr::from([127, 0, 0, 1]), 1).unwrap());
        let mut near = Throttled::new(near, peer, Protocol::Http1);
        near.stall.most = MOST;
        let slow = async {
            for _ in 0..12 {
                tokio::time::sleep(MOST / 10).await;
                far.read_exact(&mut [0; 4]).await.unwrap();
            }
        };
        let (written, ()) = tokio::join!(near.write_all(&[0; 13 * 4]), slow);
        written.unwrap();
        let stalled = near.write_all(b"0123").await.unwrap_err();
        assert_eq!(stalled.kind(), io::ErrorKind::TimedOut);
    }
}
