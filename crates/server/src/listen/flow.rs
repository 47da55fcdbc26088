//! Flow: what a connection sends beside the messages of its calls is counted, and more of it than calls can need waits.
//!
//! Frames that lead to no call, and headers far over the limit, are answered by the transport alone: nobody else sees them.

use std::time::Duration;

use tokio::time::Instant;

/// Bytes before each frame: its length, kind, flags and stream (RFC 9113, 4.1).
const HEAD: usize = 9;
/// Bytes that every connection begins with (RFC 9113, 3.4).
const PREFACE: u64 = 24;
/// The kind of frame that messages come in, and the one that takes a call back.
const DATA: u8 = 0;
const RST_STREAM: u8 = 3;
/// What a frame counts, however short.
const A_FRAME: u64 = 256;
/// What a call counts that is taken back: work for it may have begun.
const A_RESET: u64 = 1 << 14;
/// Bytes a second that one address may send, shared evenly among its connections, and one connection alone; a call takes about
/// a thousand. Common practice, no source.
const OF_ADDRESS: u64 = 64 << 20;
const OF_CONNECTION: u64 = 8 << 20;
/// For how long of this a connection may be ahead, ms.
const AHEAD: u64 = 250;

/// What a connection speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Protocol {
    Http1,
    Http2,
}

/// What a connection has sent of late.
pub(super) struct Flow {
    /// Where it is in its frames; HTTP/1.1 has none.
    frames: Option<Frames>,
    /// Counted and not yet forgotten.
    ahead: u64,
    at: Instant,
}

impl Flow {
    /// Of a connection that has sent nothing yet; HTTP/2 begins with the preface.
    pub(super) fn new(protocol: Protocol, now: Instant) -> Self {
        let frames = Frames { left: PREFACE, is_free: true, head: Vec::new() };
        Self { frames: (protocol == Protocol::Http2).then_some(frames), ahead: 0, at: now }
    }

    /// Counts what was read. Of HTTP/1.1, which takes one call at a time, each read counts as a frame.
    pub(super) fn count(&mut self, bytes: &[u8]) {
        self.ahead += self.frames.as_mut().map_or(A_FRAME, |frames| frames.count(bytes));
    }

    /// How long to wait before reading on, when the address has so many connections; nothing while it is not far ahead.
    pub(super) fn wait(&mut self, connections: usize, now: Instant) -> Option<Duration> {
        let sharers = u64::try_from(connections).unwrap_or(u64::MAX).max(1);
        let a_milli = (OF_ADDRESS / sharers).min(OF_CONNECTION) / 1000;
        // Whole milliseconds, so that the rest of one counts with the next.
        let gone = u64::try_from(now.duration_since(self.at).as_millis()).unwrap_or(u64::MAX);
        self.ahead = self.ahead.saturating_sub(a_milli.saturating_mul(gone));
        self.at += Duration::from_millis(gone);
        let over = self.ahead.saturating_sub(AHEAD * a_milli);
        (over > 0).then(|| Duration::from_millis(over / a_milli.max(1) + 1))
    }
}

/// Where in a frame a connection is.
struct Frames {
    /// Bytes of the payload that are still to come.
    left: u64,
    is_free: bool,
    /// What has come of the next one's head.
    head: Vec<u8>,
}

impl Frames {
    /// What bytes count: each frame by its kind, and the payload of all but messages.
    fn count(&mut self, mut bytes: &[u8]) -> u64 {
        let mut counted = 0;
        while !bytes.is_empty() {
            if self.left > 0 {
                let here = bytes.len().min(usize::try_from(self.left).unwrap_or(usize::MAX));
                let here_long = u64::try_from(here).unwrap_or(u64::MAX);
                counted += if self.is_free { 0 } else { here_long };
                self.left -= here_long;
                bytes = &bytes[here..];
                continue;
            }
            let (more, rest) = bytes.split_at(bytes.len().min(HEAD - self.head.len()));
            self.head.extend_from_slice(more);
            bytes = rest;
            if let [a, b, c, kind, ..] = *self.head.as_slice()
                && self.head.len() == HEAD
            {
                self.left = u64::from(u32::from_be_bytes([0, a, b, c]));
                self.is_free = kind == DATA;
                self.head.clear();
                counted += if kind == RST_STREAM { A_RESET } else { A_FRAME };
            }
        }
        counted
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(kind: u8, length: u8) -> Vec<u8> {
        [&[0, 0, length, kind, 0, 0, 0, 0, 1][..], &vec![7; usize::from(length)]].concat()
    }

    #[test]
    fn frames_count_the_same_in_any_pieces() {
        let sent =
            [vec![1; 24], frame(4, 0), frame(1, 100), frame(DATA, 200), frame(6, 8), frame(RST_STREAM, 4)]
                .concat();
        for piece in [1, 2, 7, 9, 50, 1000] {
            let mut flow = Flow::new(Protocol::Http2, Instant::now());
            sent.chunks(piece).for_each(|bytes| flow.count(bytes));
            assert_eq!(flow.ahead, 4 * A_FRAME + 100 + 8 + A_RESET + 4, "in pieces of {piece}");
        }
    }

    #[test]
    fn messages_of_any_length_never_wait() {
        let mut flow = Flow::new(Protocol::Http2, Instant::now());
        flow.count(&[1; 24]);
        let message = [&[0, 0x40, 0, DATA, 0, 0, 0, 0, 1][..], &vec![7; 0x4000]].concat();
        for _ in 0..4000 {
            flow.count(&message);
        }
        assert_eq!(flow.wait(1, flow.at), None, "64 MiB of messages");
    }

    #[test]
    fn control_frames_wait_once_they_are_many_and_longer_when_the_address_has_many_connections() {
        let pings = |count: usize| frame(6, 8).repeat(count);
        for (connections, a_second) in [(1, 8 << 20), (8, 8 << 20), (128, 1 << 19)] {
            let mut flow = Flow::new(Protocol::Http2, Instant::now());
            flow.count(&[1; 24]);
            flow.count(&pings(a_second / 4 / 300));
            assert_eq!(flow.wait(connections, flow.at), None, "a quarter of a second at once");
            flow.count(&pings(a_second / 264));
            let wait = flow.wait(connections, flow.at).expect("more than that");
            assert!((800..1000).contains(&wait.as_millis()), "{wait:?}");
            let later = flow.at + wait;
            assert_eq!(flow.wait(connections, later), None, "{connections}");
        }
    }
}
