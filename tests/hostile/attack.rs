//! Attack: what a hostile or broken client may do. Each kind goes on from several connections until its task is dropped, and
//! comes back when it is shut out.

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use nextrung_api::v1;
use prost::Message;
use tokio::task::JoinSet;

use crate::frames::{END_HEADERS, HEADERS, Wire, call, frame, message};

mod calls;
mod endless;
mod pages;
mod slow;

use calls::Calls;
use endless::Endless;
use pages::Pages;
use slow::Slow;

/// Calls at a time on one connection.
const STREAMS: u32 = 100;

/// A kind of attack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Attack {
    /// Connects and says nothing.
    Silent,
    /// Connects, greets, calls and goes away, as fast as it can.
    Churn,
    /// A byte of the preface a second.
    SlowPreface,
    /// A byte of a head of HTTP/1.1 a second.
    SlowHead,
    /// Requests of HTTP/1.1 that are no calls, many in a row on each connection.
    NoCalls,
    /// What browsers send, over HTTP/1.1.
    Pages(Pages),
    /// Takes its time after it has greeted.
    Slow(Slow),
    /// Frames without an end.
    Endless(Endless),
    /// Whole calls.
    Calls(Calls),
}

impl Attack {
    /// Every kind.
    pub(crate) const ALL: [Self; 22] = [
        Self::Silent,
        Self::Churn,
        Self::SlowPreface,
        Self::SlowHead,
        Self::NoCalls,
        Self::Pages(Pages::Message),
        Self::Pages(Pages::Reader),
        Self::Pages(Pages::Preflights),
        Self::Slow(Slow::Headers),
        Self::Slow(Slow::Message),
        Self::Slow(Slow::Reader),
        Self::Endless(Endless::Resets),
        Self::Endless(Endless::Continuations),
        Self::Endless(Endless::Control),
        Self::Calls(Calls::Bomb),
        Self::Calls(Calls::LongHeaders),
        Self::Calls(Calls::HeaderBomb),
        Self::Calls(Calls::LongMessage),
        Self::Calls(Calls::NoKey),
        Self::Calls(Calls::Health),
        Self::Calls(Calls::WrongKeys),
        Self::Calls(Calls::Flood),
    ];

    /// Its name.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Silent => "silent",
            Self::Churn => "churn",
            Self::SlowPreface => "slow-preface",
            Self::SlowHead => "slow-head",
            Self::NoCalls => "no-calls",
            Self::Pages(Pages::Message) => "slow-page-message",
            Self::Pages(Pages::Reader) => "slow-page-reader",
            Self::Pages(Pages::Preflights) => "preflights",
            Self::Slow(Slow::Headers) => "slow-headers",
            Self::Slow(Slow::Message) => "slow-message",
            Self::Slow(Slow::Reader) => "slow-reader",
            Self::Endless(Endless::Resets) => "rapid-reset",
            Self::Endless(Endless::Continuations) => "continuations",
            Self::Endless(Endless::Control) => "control",
            Self::Calls(Calls::Bomb) => "bomb",
            Self::Calls(Calls::LongHeaders) => "long-headers",
            Self::Calls(Calls::HeaderBomb) => "header-bomb",
            Self::Calls(Calls::LongMessage) => "long-message",
            Self::Calls(Calls::NoKey) => "no-key",
            Self::Calls(Calls::Health) => "health",
            Self::Calls(Calls::WrongKeys) => "wrong-keys",
            Self::Calls(Calls::Flood) => "flood",
        }
    }

    /// How many connections take part.
    fn connections(self) -> usize {
        match self {
            Self::Silent | Self::SlowPreface | Self::SlowHead => 600,
            Self::Slow(Slow::Headers) => 200,
            Self::Slow(Slow::Message | Slow::Reader) => 16,
            Self::Pages(Pages::Message | Pages::Reader) => 64,
            Self::Pages(Pages::Preflights)
            | Self::Churn
            | Self::NoCalls
            | Self::Endless(_)
            | Self::Calls(_) => 8,
        }
    }
}

/// Whom is attacked, and with what.
#[derive(Debug, Clone)]
pub(crate) struct Aim {
    pub(crate) service: SocketAddr,
    /// A key that reaches `athlete`.
    pub(crate) key: String,
    pub(crate) athlete: String,
}

/// What has come of an attack so far.
#[derive(Debug, Default)]
pub(crate) struct Toll {
    /// Rounds: connections, calls or batches of frames that were sent.
    pub(crate) rounds: AtomicU64,
    /// Times the service closed or refused a connection.
    pub(crate) shut_out: AtomicU64,
}

/// Attacks until the set is dropped.
pub(crate) fn begin(attack: Attack, aim: &Aim) -> (JoinSet<()>, Arc<Toll>) {
    let toll = Arc::new(Toll::default());
    let mut attackers = JoinSet::new();
    for _ in 0..attack.connections() {
        let (aim, toll) = (aim.clone(), Arc::clone(&toll));
        attackers.spawn(async move {
            loop {
                // Whoever is shut out comes back, a little later.
                if connection(attack, &aim, &toll.rounds).await.is_err() {
                    toll.shut_out.fetch_add(1, Ordering::Relaxed);
                    pause(20).await;
                }
            }
        });
    }
    (attackers, toll)
}

async fn pause(millis: u64) {
    tokio::time::sleep(Duration::from_millis(millis)).await;
}

/// One connection of an attacker, to its end.
async fn connection(attack: Attack, aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
    let count = || rounds.fetch_add(1, Ordering::Relaxed);
    match attack {
        Attack::Silent => {
            let mut wire = Wire::silent(aim.service).await?;
            count();
            wire.closed().await;
            Err(io::ErrorKind::UnexpectedEof.into())
        }
        Attack::Churn => {
            let mut wire = Wire::greeted(aim.service, &[]).await?;
            count();
            wire.write(&frame(HEADERS, END_HEADERS, 1, &call("LadderService/ListLadders", None))).await
        }
        Attack::SlowPreface => byte_by_byte(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r", aim, rounds).await,
        Attack::SlowHead => {
            byte_by_byte(b"POST / HTTP/1.1\r\nhost: 127.0.0.1\r\nx-y: z\r\n", aim, rounds).await
        }
        Attack::NoCalls => {
            let mut wire = Wire::silent(aim.service).await?;
            let requests = b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n".repeat(64);
            loop {
                count();
                wire.write(&requests).await?;
                wire.drain()?;
                tokio::task::yield_now().await;
            }
        }
        Attack::Pages(pages) => pages.go_on(aim, rounds).await,
        Attack::Slow(slow) => slow.go_on(aim, rounds).await,
        Attack::Endless(endless) => endless.go_on(aim, rounds).await,
        Attack::Calls(calls) => calls.go_on(aim, rounds).await,
    }
}

/// Says something, a byte a second.
async fn byte_by_byte(said: &[u8], aim: &Aim, rounds: &AtomicU64) -> io::Result<()> {
    let mut wire = Wire::silent(aim.service).await?;
    for byte in said {
        rounds.fetch_add(1, Ordering::Relaxed);
        wire.write(&[*byte]).await?;
        pause(1000).await;
        wire.drain()?;
    }
    Ok(())
}

/// A request for a thousand sets.
fn long_page(athlete: &str) -> Vec<u8> {
    let request =
        v1::ListSetsRequest { parent: athlete.to_owned(), page_size: 1000, ..v1::ListSetsRequest::default() };
    message(&request.encode_to_vec())
}
