//! Pages: HTTP/1.1 as browsers speak it, by those who take their time or never stop asking.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};

use super::{Aim, long_page, pause};
use crate::frames::Wire;

/// What is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pages {
    /// Calls whose messages come a byte at a time and never end.
    Message,
    /// Asks for long answers, one behind the other, and takes nothing of them.
    Reader,
    /// Asks whether a page may call, many times in a row.
    Preflights,
}

impl Pages {
    pub(super) async fn go_on(self, aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
        let mut wire = Wire::silent(aim.service).await?;
        let long = long_page(&aim.athlete);
        let asked = [call(aim, long.len()), long].concat();
        let preflights = "OPTIONS /nextrung.v1.SetLogService/ListSets HTTP/1.1\r\nhost: 127.0.0.1\r\n\
                          origin: https://app.example\r\naccess-control-request-method: POST\r\n\r\n"
            .repeat(64);
        if self == Self::Message {
            wire.write(&call(aim, 1 << 20)).await?;
        }
        loop {
            rounds.fetch_add(1, Ordering::Relaxed);
            match self {
                Self::Message => {
                    wire.drain()?;
                    wire.write(&[0]).await?;
                    pause(100).await;
                }
                Self::Reader => {
                    wire.write(&asked).await?;
                    pause(10).await;
                }
                Self::Preflights => {
                    wire.write(preflights.as_bytes()).await?;
                    wire.drain()?;
                    tokio::task::yield_now().await;
                }
            }
        }
    }
}

/// The head of a call of gRPC-Web with a body so long.
fn call(aim: &Aim, length: usize) -> Vec<u8> {
    let head = format!(
        "POST /nextrung.v1.SetLogService/ListSets HTTP/1.1\r\nhost: 127.0.0.1\r\n\
         content-type: application/grpc-web+proto\r\nauthorization: Bearer {}\r\ncontent-length: {length}\r\n\r\n",
        aim.key
    );
    head.into_bytes()
}
