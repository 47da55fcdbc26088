//! Forecast: when the first clean unit on a goal rung is likely.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn estimate(
    _api: &Api,
    _message: v1::EstimateForecastRequest,
) -> Result<v1::EstimateForecastResponse, Status> {
    Err(internal("not there yet"))
}
