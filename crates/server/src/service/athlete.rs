//! Athlete service.

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_server::AthleteService;
use nextrung_domain::ids::{AthleteId, AthleteRef};
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::profile_draft::ProfileDraft;
use tonic::{Request, Response, Status};

use super::Api;
use crate::convert::athlete;
use crate::fingerprint;
use crate::names;
use crate::page::List;
use crate::status::{bad_fields, of_engine};

fn check_paths(paths: &[String]) -> Result<(), Status> {
    let mut problems = Vec::new();
    for path in paths.iter().filter(|p| *p != "*") {
        if let Err(unknown) =
            athlete::merge(&mut ProfileDraft::default(), &ProfileDraft::default(), std::slice::from_ref(path))
        {
            let guess = did_you_mean(&unknown, athlete::PATHS.into_iter());
            let expected = format!("paths among {}{guess}", athlete::PATHS.join(", "));
            problems.push(Problem::new("update_mask", format!("`{unknown}`"), expected));
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(bad_fields(&problems)) }
}

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
        let roster = names::roster("parent", &parent)?;
        let athlete = names::new_id("athlete_id", &athlete_id, AthleteId::new)?;
        let draft = athlete::draft(content.unwrap_or_default());
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
        let id = names::athlete("name", &name)?;
        let record = self.engine.athlete(&id).await.map_err(of_engine)?;
        Ok(Response::new(v1::GetAthleteResponse { athlete: Some(athlete::of_record(&record)) }))
    }

    async fn list_athletes(
        &self,
        request: Request<v1::ListAthletesRequest>,
    ) -> Result<Response<v1::ListAthletesResponse>, Status> {
        let v1::ListAthletesRequest { parent, page_size, page_token } = request.into_inner();
        let roster = names::roster("parent", &parent)?;
        let list = List::new("ListAthletes", &parent);
        let page = list.page(page_size, &page_token)?;
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
        let id = names::athlete("athlete.name", &content.name)?;
        let paths = update_mask.map(|mask| mask.paths).unwrap_or_default();
        check_paths(&paths)?;
        let change = athlete::draft(content);
        let engine = self.engine.clone();
        let merged = move |before: &nextrung_store::record::AthleteRecord| {
            if paths.is_empty() || paths.iter().any(|p| p == "*") {
                return change;
            }
            let mut draft = athlete::draft_of(&before.profile);
            // The paths were checked above.
            let _ = athlete::merge(&mut draft, &change, &paths);
            draft
        };
        let record = self.finish(async move { engine.update_athlete(&id, merged, &request).await }).await?;
        Ok(Response::new(v1::UpdateAthleteResponse { athlete: Some(athlete::of_record(&record)) }))
    }
}
