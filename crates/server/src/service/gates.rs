//! Gates: what stands on the way to a rung.

use nextrung_api::v1;
use tonic::Status;

use super::Api;
use crate::convert::{gates, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn review(
    api: &Api,
    message: v1::ReviewGatesRequest,
) -> Result<v1::ReviewGatesResponse, Status> {
    let v1::ReviewGatesRequest { name, date, rung } = message;
    let read = both(names::athlete("name", &name), words::date("date", date));
    let (athlete, date) = read.map_err(bad_fields)?;
    let rung = names::rung_text(&rung);
    let found = api.engine.review_gates(&athlete, date, &rung).await.map_err(of_engine)?;
    Ok(v1::ReviewGatesResponse { review: Some(gates::of_review(&found)) })
}
