//! Export: sends everything that is kept about an athlete, as fast as it is read.

use std::pin::Pin;

use nextrung_api::v1;
use nextrung_engine::export::Export;
use tokio::sync::mpsc;
use tokio_stream::Stream;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;
use tracing::Instrument;

use super::{Api, WatchedLog};
use crate::convert::export::of_piece;
use crate::names;
use crate::status::{bad_fields, of_engine, stopping};

/// What is exported.
pub(crate) type Exporting =
    Pin<Box<dyn Stream<Item = Result<v1::ExportAthleteResponse, Status>> + Send + 'static>>;

type Way = mpsc::Sender<Result<v1::ExportAthleteResponse, Status>>;

pub(super) async fn begin(api: &Api, message: v1::ExportAthleteRequest) -> Result<Exporting, Status> {
    let v1::ExportAthleteRequest { name } = message;
    let id = names::athlete("name", &name).map_err(bad_fields)?;
    let export = Export::begin(api.engine.clone(), &id).await.map_err(of_engine)?;
    let (sender, receiver) = mpsc::channel(2);
    let (tasks, stop) = (api.tasks.clone(), api.stop.clone());
    let send = async move {
        let sent = tokio::select! {
            () = stop.cancelled() => Err(stopping()),
            sent = send(export, &id, &sender) => sent,
        };
        if let Err(status) = sent {
            // A reader who went away hears of nothing.
            drop(sender.send(Err(status)).await);
        }
    };
    tasks.spawn(send.in_current_span());
    Ok(Box::pin(ReceiverStream::new(receiver)))
}

/// Sends every piece, or until the reader goes away.
async fn send(
    mut export: Export<WatchedLog>,
    id: &nextrung_domain::ids::AthleteRef,
    way: &Way,
) -> Result<(), Status> {
    while let Some(piece) = export.next().await.map_err(of_engine)? {
        for message in of_piece(id, &piece) {
            if way.send(Ok(message)).await.is_err() {
                return Ok(());
            }
        }
    }
    Ok(())
}
