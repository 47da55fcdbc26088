//! The capacity service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::capacity_service_server::CapacityService;
use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::LadderId;
use nextrung_domain::problem::{Problem, did_you_mean};
use tonic::{Request, Response, Status};

use super::{Api, forecast, trend};
use crate::convert::{capacity, words};
use crate::fields::{Read, both, few, quoted};
use crate::names;
use crate::status::{bad_fields, of_engine};

/// The ladders wanted. Each must exist and be named once.
fn wanted(catalog: &Catalog, ladders: &[String]) -> Read<Vec<LadderId>> {
    let mut wanted: Vec<LadderId> = Vec::new();
    let mut problems = Vec::new();
    for (i, name) in few("ladders", ladders)?.iter().enumerate() {
        let field = format!("ladders[{i}]");
        match names::ladder(&field, name) {
            Err(bad) => problems.extend(bad),
            Ok(id) if catalog.ladder(&id).is_none() => {
                let known = catalog.ladders().iter().map(|l| l.id.as_str());
                let guess = did_you_mean(id.as_str(), known);
                problems.push(Problem::new(field, quoted(name), format!("a ladder that there is{guess}")));
            }
            Ok(id) if wanted.contains(&id) => {
                problems.push(Problem::new(field, format!("{} again", quoted(name)), "each ladder once"));
            }
            Ok(id) => wanted.push(id),
        }
    }
    if problems.is_empty() { Ok(wanted) } else { Err(problems) }
}

#[tonic::async_trait]
impl CapacityService for Api {
    async fn estimate_capacity(
        &self,
        request: Request<v1::EstimateCapacityRequest>,
    ) -> Result<Response<v1::EstimateCapacityResponse>, Status> {
        let v1::EstimateCapacityRequest { name, date, ladders } = request.into_inner();
        let catalog = self.engine.catalog();
        let read =
            both(both(names::athlete("name", &name), words::date("date", date)), wanted(catalog, &ladders));
        let ((athlete, date), wanted) = read.map_err(bad_fields)?;
        let found = self.engine.estimate_capacity(&athlete, date, &wanted).await.map_err(of_engine)?;
        Ok(Response::new(v1::EstimateCapacityResponse {
            date: Some(words::of_date(date)),
            log_position: words::of_position(found.position),
            model_version: format!("{MODEL_VERSION}/{}", self.engine.model().parameters.version),
            rungs: found.rungs.iter().map(|r| capacity::of_rung(catalog, r)).collect(),
            abilities: found.abilities.iter().map(|a| capacity::of_ability(catalog, a)).collect(),
        }))
    }

    async fn estimate_trend(
        &self,
        request: Request<v1::EstimateTrendRequest>,
    ) -> Result<Response<v1::EstimateTrendResponse>, Status> {
        trend::estimate(self, request.into_inner()).await.map(Response::new)
    }

    async fn estimate_forecast(
        &self,
        request: Request<v1::EstimateForecastRequest>,
    ) -> Result<Response<v1::EstimateForecastResponse>, Status> {
        forecast::estimate(self, request.into_inner()).await.map(Response::new)
    }
}
