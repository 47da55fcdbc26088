//! Limiters: what holds an athlete back.

use nextrung_api::v1;
use nextrung_engine::review::SpanQuestion;
use tonic::Status;

use super::Api;
use crate::convert::{limiters, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn review(
    api: &Api,
    message: v1::ReviewLimitersRequest,
) -> Result<v1::ReviewLimitersResponse, Status> {
    let v1::ReviewLimitersRequest { name, end_date, start_date, rung } = message;
    let days = both(words::date("end_date", end_date), words::optional_date("start_date", start_date));
    let read = both(names::athlete("name", &name), days);
    let (athlete, (end, start)) = read.map_err(bad_fields)?;
    let rung = names::rung_text(&rung);
    let question = SpanQuestion { start, end, rung: &rung };
    let found = api.engine.review_limiters(&athlete, &question).await.map_err(of_engine)?;
    let review = limiters::of_review(api.engine.catalog(), &found);
    Ok(v1::ReviewLimitersResponse { review: Some(review) })
}
