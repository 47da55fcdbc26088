//! Week: what each day of a week is for.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::convert::{week, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn plan(api: &Api, message: v1::PlanWeekRequest) -> Result<v1::PlanWeekResponse, Status> {
    let v1::PlanWeekRequest { parent, start_date, from_date } = message;
    let days = both(words::date("start_date", start_date), words::optional_date("from_date", from_date));
    let (athlete, (start, from)) = both(names::athlete("parent", &parent), days).map_err(bad_fields)?;
    let found = api.engine.plan_week(&athlete, start, from).await.map_err(of_engine)?;
    Ok(v1::PlanWeekResponse { plan: Some(week::of_week(&found)) })
}
