//! Forecast: when the first clean unit on a goal rung is likely.

use nextrung_api::v1;
use nextrung_engine::forecast::ForecastQuestion;
use tonic::Status;

use super::Api;
use crate::convert::{forecast, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn estimate(
    api: &Api,
    message: v1::EstimateForecastRequest,
) -> Result<v1::EstimateForecastResponse, Status> {
    let v1::EstimateForecastRequest { name, date, rung, weeks } = message;
    let read = both(names::athlete("name", &name), words::date("date", date));
    let (athlete, date) = read.map_err(bad_fields)?;
    let rung = names::rung_text(&rung);
    let question = ForecastQuestion { date, rung: &rung, weeks };
    let found = api.engine.estimate_forecast(&athlete, &question).await.map_err(of_engine)?;
    Ok(v1::EstimateForecastResponse { forecast: Some(forecast::of_report(api.engine.catalog(), &found)) })
}
