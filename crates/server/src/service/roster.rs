//! Roster service.

use nextrung_api::v1;
use nextrung_api::v1::roster_service_server::RosterService;
use nextrung_domain::ids::RosterId;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile_draft::check_bands_draft;
use tonic::{Request, Response, Status};

use super::Api;
use crate::convert::{band, roster};
use crate::fingerprint;
use crate::names;
use crate::page::List;
use crate::status::{bad_fields, of_engine};

/// Longest title, bytes.
const MAX_TITLE: usize = 120;

fn check_title(title: &str) -> Option<Problem> {
    let fits = !title.trim().is_empty() && title.len() <= MAX_TITLE;
    let found = if title.trim().is_empty() { "nothing".to_owned() } else { format!("{} bytes", title.len()) };
    (!fits).then(|| Problem::new("roster.title", found, "a title of 1 to 120 bytes"))
}

type Bands = Option<nextrung_domain::band::Bands>;

fn check(message: Option<v1::Roster>) -> Result<(String, Bands), Status> {
    let v1::Roster { name: _, title, bands, create_time: _, update_time: _ } = message.unwrap_or_default();
    let mut problems: Vec<Problem> = check_title(&title).into_iter().collect();
    match check_bands_draft(&band::draft(bands)) {
        Ok(bands) if problems.is_empty() => Ok((title.trim().to_owned(), bands)),
        Ok(_) => Err(bad_fields(&problems)),
        Err(more) => {
            problems.extend(more.into_iter().map(|p| p.under("roster")));
            Err(bad_fields(&problems))
        }
    }
}

#[tonic::async_trait]
impl RosterService for Api {
    async fn create_roster(
        &self,
        request: Request<v1::CreateRosterRequest>,
    ) -> Result<Response<v1::CreateRosterResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("CreateRoster", request_id, &message);
        let v1::CreateRosterRequest { roster_id, roster: content, request_id: _ } = message;
        let id = names::new_id("roster_id", &roster_id, RosterId::new)?;
        let content = check(content)?;
        let engine = self.engine.clone();
        let record = self.finish(async move { engine.create_roster(id, content, &request).await }).await?;
        Ok(Response::new(v1::CreateRosterResponse { roster: Some(roster::of_record(&record)) }))
    }

    async fn get_roster(
        &self,
        request: Request<v1::GetRosterRequest>,
    ) -> Result<Response<v1::GetRosterResponse>, Status> {
        let v1::GetRosterRequest { name } = request.into_inner();
        let id = names::roster("name", &name)?;
        let record = self.engine.roster(&id).await.map_err(of_engine)?;
        Ok(Response::new(v1::GetRosterResponse { roster: Some(roster::of_record(&record)) }))
    }

    async fn list_rosters(
        &self,
        request: Request<v1::ListRostersRequest>,
    ) -> Result<Response<v1::ListRostersResponse>, Status> {
        let v1::ListRostersRequest { page_size, page_token } = request.into_inner();
        let list = List::new("ListRosters", "");
        let found = self.engine.rosters(&list.page(page_size, &page_token)?).await.map_err(of_engine)?;
        Ok(Response::new(v1::ListRostersResponse {
            rosters: found.items.iter().map(roster::of_record).collect(),
            next_page_token: list.token(found.next),
        }))
    }

    async fn update_roster(
        &self,
        request: Request<v1::UpdateRosterRequest>,
    ) -> Result<Response<v1::UpdateRosterResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("UpdateRoster", request_id, &message);
        let v1::UpdateRosterRequest { roster: content, update_mask, request_id: _ } = message;
        let content = content.unwrap_or_default();
        let id = names::roster("roster.name", &content.name)?;
        let paths = update_mask.map(|mask| mask.paths).unwrap_or_default();
        let has = |path: &str| paths.is_empty() || paths.iter().any(|p| p == path || p == "*");
        for path in &paths {
            if !["title", "bands", "*"].contains(&path.as_str()) {
                let problem = Problem::new("update_mask", format!("`{path}`"), "paths among title, bands");
                return Err(bad_fields(&[problem]));
            }
        }
        let mut content = content;
        if !has("title") {
            // A title that is not to be changed need not be valid.
            content.title = "unchanged".to_owned();
        }
        let (title, bands) = check(Some(content))?;
        let change = (has("title").then_some(title), has("bands").then_some(bands));
        let engine = self.engine.clone();
        let record = self.finish(async move { engine.update_roster(id, change, &request).await }).await?;
        Ok(Response::new(v1::UpdateRosterResponse { roster: Some(roster::of_record(&record)) }))
    }
}
