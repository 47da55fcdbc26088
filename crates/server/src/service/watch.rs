//! Watch: tells what athletes are to train, and again each time it changes.

use std::pin::Pin;

use nextrung_api::v1;
use tokio_stream::Stream;
use tonic::Status;

use super::Api;
use crate::status::internal;

/// What a watcher is told.
pub(crate) type Told =
    Pin<Box<dyn Stream<Item = Result<v1::WatchPrescriptionsResponse, Status>> + Send + 'static>>;

pub(super) async fn begin(_api: &Api, _message: v1::WatchPrescriptionsRequest) -> Result<Told, Status> {
    Err(internal("not there yet"))
}
