//! Trend: capacity and failures over time.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn estimate(
    _api: &Api,
    _message: v1::EstimateTrendRequest,
) -> Result<v1::EstimateTrendResponse, Status> {
    Err(internal("not there yet"))
}
