//! The prescription service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::prescription_service_server::PrescriptionService;
use nextrung_engine::error::EngineError;
use nextrung_store::error::StoreError;
use tonic::{Request, Response, Status};

use super::{Api, suppose, watch, week};
use crate::convert::{explanation, prescription, words};
use crate::fields::both;
use crate::fingerprint;
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, bad_page_token, of_engine};

/// Whether a list failed because there is no such prescription as the token names.
fn is_token_stale(error: &EngineError) -> bool {
    matches!(error, EngineError::Store(StoreError::NotFound { what: "prescription", .. }))
}

#[tonic::async_trait]
impl PrescriptionService for Api {
    async fn prescribe(
        &self,
        request: Request<v1::PrescribeRequest>,
    ) -> Result<Response<v1::PrescribeResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("Prescribe", request_id, &message);
        let v1::PrescribeRequest { parent, date, request_id: _, validate_only } = message;
        let read = both(both(names::athlete("parent", &parent), words::date("date", date)), request);
        let ((athlete, date), request) = read.map_err(bad_fields)?;
        let issued = if validate_only {
            self.engine.preview(&athlete, date).await.map_err(of_engine)?
        } else {
            let engine = self.engine.clone();
            self.finish(async move { engine.prescribe(&athlete, date, &request).await }).await?
        };
        Ok(Response::new(v1::PrescribeResponse { prescription: Some(prescription::of_issued(&issued)) }))
    }

    async fn get_prescription(
        &self,
        request: Request<v1::GetPrescriptionRequest>,
    ) -> Result<Response<v1::GetPrescriptionResponse>, Status> {
        let v1::GetPrescriptionRequest { name } = request.into_inner();
        let (athlete, id) = names::prescription("name", &name).map_err(bad_fields)?;
        let issued = self.engine.prescription(&athlete, &id).await.map_err(of_engine)?;
        Ok(Response::new(v1::GetPrescriptionResponse {
            prescription: Some(prescription::of_issued(&issued)),
        }))
    }

    async fn list_prescriptions(
        &self,
        request: Request<v1::ListPrescriptionsRequest>,
    ) -> Result<Response<v1::ListPrescriptionsResponse>, Status> {
        let message = request.into_inner();
        let filters = format!("{:?}", (&message.parent, message.start_date, message.end_date));
        let v1::ListPrescriptionsRequest { parent, page_size, page_token, start_date, end_date } = message;
        let read = both(names::athlete("parent", &parent), words::days(start_date, end_date));
        let ((athlete, days), size) = both(read, page::size(page_size)).map_err(bad_fields)?;
        let list = List::new("ListPrescriptions", &filters);
        let page = list.page(size, &page_token)?;
        let found = self.engine.prescriptions(&athlete, days, &page).await;
        let found = found
            .map_err(|error| if is_token_stale(&error) { bad_page_token() } else { of_engine(error) })?;
        Ok(Response::new(v1::ListPrescriptionsResponse {
            prescriptions: found.items.iter().map(prescription::of_issued).collect(),
            next_page_token: list.token(found.next),
        }))
    }

    async fn explain_prescription(
        &self,
        request: Request<v1::ExplainPrescriptionRequest>,
    ) -> Result<Response<v1::ExplainPrescriptionResponse>, Status> {
        let v1::ExplainPrescriptionRequest { name } = request.into_inner();
        let (athlete, id) = names::prescription("name", &name).map_err(bad_fields)?;
        let why = self.engine.why(&athlete, &id).await.map_err(of_engine)?;
        let explanation = explanation::of_why(self.engine.catalog(), &why);
        Ok(Response::new(v1::ExplainPrescriptionResponse { explanation: Some(explanation) }))
    }

    async fn suppose_prescription(
        &self,
        request: Request<v1::SupposePrescriptionRequest>,
    ) -> Result<Response<v1::SupposePrescriptionResponse>, Status> {
        suppose::answer(self, request.into_inner()).await.map(Response::new)
    }

    async fn plan_week(
        &self,
        request: Request<v1::PlanWeekRequest>,
    ) -> Result<Response<v1::PlanWeekResponse>, Status> {
        week::plan(self, request.into_inner()).await.map(Response::new)
    }

    type WatchPrescriptionsStream = watch::Telling;

    async fn watch_prescriptions(
        &self,
        request: Request<v1::WatchPrescriptionsRequest>,
    ) -> Result<Response<watch::Telling>, Status> {
        watch::begin(self, request.into_inner()).await.map(Response::new)
    }
}
