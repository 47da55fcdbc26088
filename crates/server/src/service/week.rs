//! Week: what each day of a week is for.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::status::internal;

pub(super) async fn plan(_api: &Api, _message: v1::PlanWeekRequest) -> Result<v1::PlanWeekResponse, Status> {
    Err(internal("not there yet"))
}
