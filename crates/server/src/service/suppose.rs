//! Suppose: what would be prescribed if things were otherwise.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn answer(
    _api: &Api,
    _message: v1::SupposePrescriptionRequest,
) -> Result<v1::SupposePrescriptionResponse, Status> {
    Err(internal("not there yet"))
}
