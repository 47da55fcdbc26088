//! The athlete service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_server::AthleteService;
use nextrung_domain::ids::{AthleteId, AthleteRef};
use nextrung_domain::problem::Problem;
use nextrung_store::erasure::Erased;
use nextrung_store::record::AthleteRecord;
use tonic::{Request, Response, Status};

use super::Api;
use super::accesses;
use super::export::{self, Exporting};
use crate::convert::athlete;
use crate::convert::athlete::mask::Mask;
use crate::convert::words;
use crate::fields::{Read, both, quoted};
use crate::fingerprint;
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, of_engine};

#[tonic::async_trait]
impl AthleteService for Api {
    async fn create_athlete(
        &self,
        request: Request<v1::CreateAthleteRequest>,
    ) -> Result<Response<v1::CreateAthleteResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("CreateAthlete", request_id, &message);
        let v1::CreateAthleteRequest { parent, athlete_id, athlete: content, request_id: _ } = message;
        let names =
            both(names::roster("parent", &parent), names::new_id("athlete_id", &athlete_id, AthleteId::new));
        let draft = athlete::draft(content.unwrap_or_default());
        let ((roster, athlete), request) = both(names, request).map_err(|mut problems| {
            problems.extend(self.engine.profile_problems(&draft));
            bad_fields(problems)
        })?;
        let engine = self.engine.clone();
        let id = AthleteRef { roster, athlete };
        let record = self.finish(async move { engine.create_athlete(id, &draft, &request).await }).await?;
        Ok(Response::new(v1::CreateAthleteResponse { athlete: Some(athlete::of_record(&record)) }))
    }

    async fn get_athlete(
        &self,
        request: Request<v1::GetAthleteRequest>,
    ) -> Result<Response<v1::GetAthleteResponse>, Status> {
        let v1::GetAthleteRequest { name } = request.into_inner();
        let id = names::athlete("name", &name).map_err(bad_fields)?;
        let record = self.engine.athlete(&id).await.map_err(of_engine)?;
        Ok(Response::new(v1::GetAthleteResponse { athlete: Some(athlete::of_record(&record)) }))
    }

    async fn list_athletes(
        &self,
        request: Request<v1::ListAthletesRequest>,
    ) -> Result<Response<v1::ListAthletesResponse>, Status> {
        let v1::ListAthletesRequest { parent, page_size, page_token } = request.into_inner();
        let read = both(names::roster("parent", &parent), page::size(page_size));
        let (roster, size) = read.map_err(bad_fields)?;
        let list = List::new("ListAthletes", &parent);
        let page = list.page(size, &page_token)?;
        let found = self.engine.athletes(&roster, &page).await.map_err(of_engine)?;
        Ok(Response::new(v1::ListAthletesResponse {
            athletes: found.items.iter().map(athlete::of_record).collect(),
            next_page_token: list.token(found.next),
        }))
    }

    async fn update_athlete(
        &self,
        request: Request<v1::UpdateAthleteRequest>,
    ) -> Result<Response<v1::UpdateAthleteResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("UpdateAthlete", request_id, &message);
        let v1::UpdateAthleteRequest { athlete: content, update_mask, request_id: _ } = message;
        let content = content.unwrap_or_default();
        let name = names::athlete("athlete.name", &content.name);
        let mask = Mask::read(update_mask, &content);
        let ((id, mask), request) = match both(both(name, mask), request) {
            Ok(read) => read,
            Err(mut problems) => {
                problems.extend(self.engine.profile_problems(&Mask::alone(content)));
                return Err(bad_fields(problems));
            }
        };
        let change = athlete::draft(content);
        let engine = self.engine.clone();
        let changed = move |before: &AthleteRecord| {
            let mut draft = athlete::draft_of(&before.profile);
            mask.apply(&mut draft, &change);
            draft
        };
        let record = self.finish(async move { engine.update_athlete(&id, changed, &request).await }).await?;
        Ok(Response::new(v1::UpdateAthleteResponse { athlete: Some(athlete::of_record(&record)) }))
    }

    type ExportAthleteStream = Exporting;

    async fn export_athlete(
        &self,
        request: Request<v1::ExportAthleteRequest>,
    ) -> Result<Response<Exporting>, Status> {
        Ok(Response::new(export::begin(self, request.into_inner()).await?))
    }

    async fn list_accesses(
        &self,
        request: Request<v1::ListAccessesRequest>,
    ) -> Result<Response<v1::ListAccessesResponse>, Status> {
        Ok(Response::new(accesses::list(self, request.into_inner()).await?))
    }

    async fn erase_athlete(
        &self,
        request: Request<v1::EraseAthleteRequest>,
    ) -> Result<Response<v1::EraseAthleteResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("EraseAthlete", request_id, &message);
        let v1::EraseAthleteRequest { name, confirmation, request_id: _ } = message;
        let named = both(names::athlete("name", &name), confirmed(&name, &confirmation));
        let ((id, ()), request) = both(named, request).map_err(bad_fields)?;
        let engine = self.engine.clone();
        let erased = self.finish(async move { engine.erase_athlete(&id, &request).await }).await?;
        Ok(Response::new(of_erased(&erased)))
    }
}

/// That a name was told twice.
fn confirmed(name: &str, confirmation: &str) -> Read<()> {
    if confirmation == name {
        return Ok(());
    }
    let expected = "the same as name, because nothing brings an erased athlete back";
    Err(vec![Problem::new("confirmation", quoted(confirmation), expected)])
}

fn of_erased(erased: &Erased) -> v1::EraseAthleteResponse {
    let Erased { erased_at_ms, was_before, events, prescriptions, requests, keys } = *erased;
    v1::EraseAthleteResponse {
        erase_time: Some(words::of_moment(erased_at_ms)),
        was_erased_before: was_before,
        event_count: words::of_count(events),
        prescription_count: words::of_count(prescriptions),
        request_count: words::of_count(requests),
        key_count: words::of_count(keys),
    }
}
