//! Load: calls kept in flight for a while, counted.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use prost::bytes::Bytes;
use tokio::task::JoinSet;
use tonic::Request;
use tonic::client::Grpc;
use tonic::codegen::http::uri::PathAndQuery;
use tonic::transport::{Channel, Endpoint};

use crate::Outcome;
use crate::raw::RawCodec;

/// Connections at a time.
pub(crate) const CLIENTS: usize = 16;
/// Calls in flight on each of them.
pub(crate) const IN_FLIGHT: usize = 4;

/// Connections to a server.
pub(crate) async fn connect(address: SocketAddr, clients: usize) -> Outcome<Vec<Channel>> {
    let mut channels = Vec::new();
    for _ in 0..clients {
        channels.push(Endpoint::from_shared(format!("http://{address}"))?.connect().await?);
    }
    Ok(channels)
}

/// One call whose answer is given as bytes.
pub(crate) async fn call(channel: &Channel, path: &'static str, message: Bytes) -> Outcome<Bytes> {
    let mut client = Grpc::new(channel.clone());
    client.ready().await?;
    let path = PathAndQuery::from_static(path);
    Ok(client.unary(Request::new(message), path, RawCodec).await?.into_inner())
}

/// A message by the number of the client, of its call in flight, and of the message.
pub(crate) type Message = fn(usize, usize, u64) -> Bytes;

/// What is sent.
#[derive(Clone)]
pub(crate) enum Sent {
    /// Always the same.
    Same(Bytes),
    /// Another one each time.
    Made(Message),
}

/// What a turn came to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rate {
    /// Calls per second.
    pub(crate) per_second: f64,
    /// Processor time of client and server together, microseconds a call.
    pub(crate) cpu_micros: f64,
}

/// Processor time of this process so far, seconds; nothing where the kernel does not tell.
fn cpu_seconds() -> Option<f64> {
    /// The kernel's unit in `/proc`, ticks a second, on every Linux in use.
    const TICKS: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks = |at: usize| fields.get(at)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / TICKS)
}

/// What `in_flight` calls on each connection come to over `turn`.
#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
pub(crate) async fn rate(
    channels: &[Channel],
    in_flight: usize,
    (path, sent): (&'static str, &Sent),
    turn: Duration,
) -> Outcome<Rate> {
    let mut running = JoinSet::new();
    let (start, cpu) = (Instant::now(), cpu_seconds());
    let end = start + turn;
    for (client, channel) in channels.iter().enumerate() {
        for flight in 0..in_flight {
            let (channel, sent) = (channel.clone(), sent.clone());
            running.spawn(async move {
                let mut done = 0_u64;
                while Instant::now() < end {
                    let message = match &sent {
                        Sent::Same(bytes) => bytes.clone(),
                        Sent::Made(make) => make(client, flight, done),
                    };
                    call(&channel, path, message).await?;
                    done += 1;
                }
                Ok::<_, Box<dyn std::error::Error + Send + Sync>>(done)
            });
        }
    }
    let mut done = 0;
    while let Some(ended) = running.join_next().await {
        done += ended??;
    }
    let (done, seconds) = (done as f64, start.elapsed().as_secs_f64());
    let used = cpu_seconds().zip(cpu).map_or(f64::NAN, |(after, before)| after - before);
    Ok(Rate { per_second: done / seconds, cpu_micros: 1e6 * used / done })
}
