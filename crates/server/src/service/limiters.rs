//! Limiters: what holds an athlete back.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn review(
    _api: &Api,
    _message: v1::ReviewLimitersRequest,
) -> Result<v1::ReviewLimitersResponse, Status> {
    Err(internal("not there yet"))
}
