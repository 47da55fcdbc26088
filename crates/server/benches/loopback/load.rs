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

/// Calls per second with `in_flight` calls on each connection, over `turn`.
#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
pub(crate) async fn rate(
    channels: &[Channel],
    in_flight: usize,
    (path, sent): (&'static str, &Sent),
    turn: Duration,
) -> Outcome<f64> {
    let mut running = JoinSet::new();
    let start = Instant::now();
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
    Ok(done as f64 / start.elapsed().as_secs_f64())
}
