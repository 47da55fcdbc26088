//! Listening: our own accept loop, because the transport's never ends while one silent connection is open. Connections
//! are bounded in number, must greet in time, are asked to end when they are idle and at the stop, and are cut off at the cut.

use std::sync::Arc;
use std::time::Duration;

use hyper_util::rt::TokioTimer;
use hyper_util::server::conn::auto::Builder;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use crate::front::Front;
use crate::meter::{InVain, Meter};
use crate::patience::Patience;
use crate::settings::Limits;

mod connection;
mod flow;
pub(crate) mod peers;
mod throttle;
pub(crate) mod tls;

use connection::Tracked;
use peers::Peers;
use tls::Tls;

/// Pause after a failed accept, such as when file handles have run out.
const PAUSE: Duration = Duration::from_millis(50);
/// Bytes of the head of a request over HTTP/1.1, which is read whole; over HTTP/2 the transport takes as many.
const LONGEST_HEAD: usize = 16 << 10;
/// Interval and patience of keep-alive pings.
const PING: (Duration, Duration) = (Duration::from_secs(60), Duration::from_secs(20));

/// A port that is served; with it everything that runs on its connections.
pub(crate) struct Listening {
    stop: CancellationToken,
    cut: CancellationToken,
    tasks: TaskTracker,
}

impl Listening {
    /// Begins to accept connections and to answer their calls.
    pub(crate) fn begin(
        listener: TcpListener,
        tls: Option<Tls>,
        front: Front,
        limits: Limits,
        meter: Arc<Meter>,
    ) -> Self {
        let listening =
            Self { stop: CancellationToken::new(), cut: CancellationToken::new(), tasks: TaskTracker::new() };
        let (stop, cut, tasks) = (listening.stop.clone(), listening.cut.clone(), listening.tasks.clone());
        if let Some(tls) = tls.clone() {
            listening.tasks.spawn(tls.keep_fresh(stop.clone()));
        }
        let (http, preface, idle) = (http(&tasks, limits), limits.preface, limits.idle);
        let patience = Patience::with_connections();
        let each = connection::Each { http, tls, front, stop, cut, meter, patience, preface, idle };
        listening.tasks.spawn(accept(listener, each, limits, tasks));
        listening
    }

    /// Takes no more connections and asks those open to end.
    pub(crate) fn close(&self) {
        self.stop.cancel();
        self.tasks.close();
    }

    /// Waits until all connections have ended, and cuts off those that are still open after `patience`. No call runs any
    /// more when this returns.
    pub(crate) async fn ended(&self, patience: Duration) {
        if tokio::time::timeout(patience, self.tasks.wait()).await.is_err() {
            tracing::warn!("connections still open after the time to drain are cut off");
            self.cut.cancel();
            self.tasks.wait().await;
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        self.stop.cancel();
        self.cut.cancel();
    }
}

fn http(tasks: &TaskTracker, limits: Limits) -> Builder<Tracked> {
    let mut http = Builder::new(Tracked(tasks.clone()));
    http.http1()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.preface)
        .max_buf_size(LONGEST_HEAD)
        .half_close(false);
    http.http2()
        .timer(TokioTimer::new())
        .max_concurrent_streams(limits.streams)
        .keep_alive_interval(PING.0)
        .keep_alive_timeout(PING.1);
    http
}

async fn accept(listener: TcpListener, each: connection::Each, limits: Limits, tasks: TaskTracker) {
    let places = Arc::new(Semaphore::new(limits.connections));
    let peers = Peers::default();
    let next = async || {
        let place = places.clone().acquire_owned().await;
        (place, listener.accept().await)
    };
    loop {
        let (place, accepted) = tokio::select! {
            () = each.stop.cancelled() => return,
            next = next() => next,
        };
        match accepted {
            Ok((stream, address)) => {
                let Some(peer) = peers.enter(address.ip(), limits.connections_of_one) else {
                    each.meter.connection_in_vain(InVain::Crowded);
                    continue;
                };
                let each = each.clone();
                tasks.spawn(async move {
                    each.serve(stream, Arc::new(peer)).await;
                    drop(place);
                });
            }
            Err(error) => {
                tracing::warn!(%error, "a connection was not accepted");
                tokio::time::sleep(PAUSE).await;
            }
        }
    }
}
