//! Capacity service.

use nextrung_api::v1;
use nextrung_api::v1::capacity_service_server::CapacityService;
use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::ids::LadderId;
use tonic::{Request, Response, Status};

use super::Api;
use crate::convert::{capacity, words};
use crate::names;
use crate::status::{ladder_not_found, of_engine};

#[tonic::async_trait]
impl CapacityService for Api {
    async fn estimate_capacity(
        &self,
        request: Request<v1::EstimateCapacityRequest>,
    ) -> Result<Response<v1::EstimateCapacityResponse>, Status> {
        let v1::EstimateCapacityRequest { name, date, ladders } = request.into_inner();
        let athlete = names::athlete("name", &name)?;
        let date = words::optional_date("date", date)?.unwrap_or_else(|| self.engine.today());
        let catalog = self.engine.catalog();
        let mut wanted: Vec<LadderId> = Vec::new();
        for (i, ladder) in ladders.iter().enumerate() {
            let id = names::ladder(&format!("ladders[{i}]"), ladder)?;
            catalog.ladder(&id).ok_or_else(|| ladder_not_found(ladder))?;
            wanted.push(id);
        }
        let found = self.engine.estimate_capacity(&athlete, date, &wanted).await.map_err(of_engine)?;
        Ok(Response::new(v1::EstimateCapacityResponse {
            date: Some(words::of_date(date)),
            log_position: words::of_position(found.position),
            model_version: format!("{MODEL_VERSION}/{}", self.engine.model().parameters.version),
            rungs: found.rungs.iter().map(|r| capacity::of_rung(catalog, r)).collect(),
            abilities: found.abilities.iter().map(|a| capacity::of_ability(catalog, a)).collect(),
        }))
    }
}
