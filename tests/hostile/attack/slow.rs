//! Slow: clients that take their time after they have greeted.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};

use super::{Aim, STREAMS, long_page, pause};
use crate::frames::{CONTINUATION, DATA, END_HEADERS, END_STREAM, HEADERS, PING, Wire, call, frame};

/// The streams of a connection.
fn streams() -> impl Iterator<Item = u32> {
    (1..2 * STREAMS).step_by(2)
}

/// What takes its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slow {
    /// Headers of a call that never end, a byte at a time.
    Headers,
    /// Messages that never end, a byte at a time.
    Message,
    /// Asks for long answers and takes nothing of them.
    Reader,
}

impl Slow {
    pub(super) async fn go_on(self, aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
        // Setting 4 is the window of each stream: how much the service may send.
        let window = if self == Self::Reader { 0 } else { 65_535 };
        let mut wire = Wire::greeted(aim.service, &[(4, window)]).await?;
        let block = call("SetLogService/ListSets", Some(&aim.key));
        match self {
            Self::Headers => wire.write(&frame(HEADERS, 0, 1, &block[..8])).await?,
            Self::Message => {
                for stream in streams() {
                    wire.write(&frame(HEADERS, END_HEADERS, stream, &block)).await?;
                    // A message of a mebibyte.
                    wire.write(&frame(DATA, 0, stream, &[0, 0, 16, 0, 0])).await?;
                }
            }
            Self::Reader => {
                for stream in streams() {
                    wire.write(&frame(HEADERS, END_HEADERS, stream, &block)).await?;
                    wire.write(&frame(DATA, END_STREAM, stream, &long_page(&aim.athlete))).await?;
                }
            }
        }
        for byte in block[8..].iter().cycle() {
            rounds.fetch_add(1, Ordering::Relaxed);
            pause(100).await;
            wire.drain()?;
            match self {
                Self::Headers => wire.write(&frame(CONTINUATION, 0, 1, &[*byte])).await?,
                Self::Message => {
                    for stream in streams() {
                        wire.write(&frame(DATA, 0, stream, &[0])).await?;
                    }
                }
                // The service asks with pings whether anybody is there.
                Self::Reader => wire.write(&frame(PING, 1, 0, &[0; 8])).await?,
            }
        }
        Ok(())
    }
}
