//! Gates: what stands on the way to a rung.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn review(
    _api: &Api,
    _message: v1::ReviewGatesRequest,
) -> Result<v1::ReviewGatesResponse, Status> {
    Err(internal("not there yet"))
}
