//! Trend: capacity and failures over time.

use nextrung_api::v1;
use nextrung_capacity::params::MODEL_VERSION;
use nextrung_engine::trend::TrendQuestion;
use tonic::Status;

use super::Api;
use crate::convert::{trend, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn estimate(
    api: &Api,
    message: v1::EstimateTrendRequest,
) -> Result<v1::EstimateTrendResponse, Status> {
    let v1::EstimateTrendRequest { name, end_date, start_date, rungs } = message;
    let days = both(words::date("end_date", end_date), words::optional_date("start_date", start_date));
    let (athlete, (end, start)) = both(names::athlete("name", &name), days).map_err(bad_fields)?;
    let rungs: Vec<String> = rungs.iter().map(|rung| names::rung_text(rung)).collect();
    let question = TrendQuestion { start, end, rungs: &rungs };
    let found = api.engine.estimate_trend(&athlete, &question).await.map_err(of_engine)?;
    let catalog = api.engine.catalog();
    Ok(v1::EstimateTrendResponse {
        start_date: Some(words::of_date(found.start)),
        end_date: Some(words::of_date(found.end)),
        log_position: words::of_position(found.position),
        model_version: format!("{MODEL_VERSION}/{}", api.engine.model().parameters.version),
        rungs: found.rungs.iter().map(|rung| trend::of_rung(catalog, rung)).collect(),
    })
}
