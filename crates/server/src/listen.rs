//! Listening: our own accept loop. A connection is handed on only once it has sent something, so that silent ones cost
//! little and end by themselves; their number is bounded.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::time::timeout;
use tokio_util::sync::CancellationToken;

use crate::settings::Limits;

mod connection;

pub(crate) use connection::Connection;

/// Connections that have spoken but were not taken yet.
const WAITING: usize = 64;
/// Pause after a failed accept, such as when file handles have run out.
const PAUSE: Duration = Duration::from_millis(50);

/// Accepts connections until `stop`; gives those that speak in time.
pub(crate) fn accept(
    listener: TcpListener,
    limits: Limits,
    stop: CancellationToken,
) -> mpsc::Receiver<io::Result<Connection>> {
    let (ready, connections) = mpsc::channel(WAITING);
    let places = Arc::new(Semaphore::new(limits.connections));
    tokio::spawn(async move {
        loop {
            let place = tokio::select! {
                () = stop.cancelled() => return,
                place = places.clone().acquire_owned() => place,
            };
            let Ok(place) = place else { return };
            let accepted = tokio::select! {
                () = stop.cancelled() => return,
                accepted = listener.accept() => accepted,
            };
            match accepted {
                Ok((stream, _)) => {
                    tokio::spawn(hand_on(stream, place, limits.first_byte, ready.clone()));
                }
                Err(error) => {
                    tracing::warn!(%error, "a connection was not accepted");
                    tokio::time::sleep(PAUSE).await;
                }
            }
        }
    });
    connections
}

async fn hand_on(
    stream: TcpStream,
    place: OwnedSemaphorePermit,
    first_byte: Duration,
    ready: mpsc::Sender<io::Result<Connection>>,
) {
    let spoke = timeout(first_byte, stream.peek(&mut [0])).await;
    if matches!(spoke, Ok(Ok(1..))) && stream.set_nodelay(true).is_ok() {
        // When nobody takes connections any more, this one is closed by being dropped.
        let _ = ready.send(Ok(Connection::new(stream, place))).await;
    }
}
