//! The replay service of the contract.

use std::pin::Pin;
use std::sync::Arc;

use nextrung_api::v1;
use nextrung_api::v1::replay_service_server::ReplayService;
use tokio::runtime::Handle;
use tokio::sync::{mpsc, oneshot};
use tokio_stream::wrappers::ReceiverStream;
use tokio_stream::{Stream, StreamExt};
use tonic::{Request, Response, Status};
use tracing::Span;

use self::road::Road;
use self::roster_source::RosterSource;
use self::work::Work;
use super::Api;
use crate::convert::replay::request;
use crate::status::{bad_fields, internal, of_engine, too_many_replays};

mod road;
mod roster_source;
mod work;

/// Pieces made ahead of a reader: enough to keep both busy, few enough that a slow reader costs no memory.
const AHEAD: usize = 4;

/// What whoever asked for a replay is told.
pub(crate) type Telling =
    Pin<Box<dyn Stream<Item = Result<v1::ReplayRosterResponse, Status>> + Send + 'static>>;

async fn begin(api: &Api, message: v1::ReplayRosterRequest) -> Result<Telling, Status> {
    let asked = request::read(message, api.engine.catalog(), api.engine.policy()).map_err(bad_fields)?;
    let place = Arc::clone(&api.replays).try_acquire_owned().map_err(|_| too_many_replays())?;
    let log = api.engine.roster_log(&asked.roster, &asked.athletes).await.map_err(of_engine)?;
    let (sender, receiver) = mpsc::channel(AHEAD);
    let (end_out, end_in) = oneshot::channel();
    let road = Road { sender, stop: api.stop.clone(), handle: Handle::current() };
    let source = RosterSource::new(api.engine.clone(), log, Handle::current());
    let work = Work { engine: api.engine.clone(), asked, source, road };
    let span = Span::current();
    api.tasks.spawn_blocking(move || {
        let end = span.in_scope(|| work.run());
        // Whoever has read the end finds the place free. It makes no difference when nobody reads it.
        drop((work, place));
        drop(end_out.send(end));
    });
    // However full the way to the reader is, the end is said last.
    let end = tokio_stream::once(end_in)
        .then(|end| async { end.await.unwrap_or_else(|_| Err(internal("a replay came to no end"))) });
    Ok(Box::pin(ReceiverStream::new(receiver).map(Ok).chain(end)))
}

#[tonic::async_trait]
impl ReplayService for Api {
    type ReplayRosterStream = Telling;

    async fn replay_roster(
        &self,
        request: Request<v1::ReplayRosterRequest>,
    ) -> Result<Response<Telling>, Status> {
        begin(self, request.into_inner()).await.map(Response::new)
    }
}
