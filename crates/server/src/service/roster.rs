//! The roster service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::roster_service_server::RosterService;
use nextrung_domain::band::Bands;
use nextrung_domain::ids::RosterId;
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::profile_draft::check_bands_draft;
use prost_types::FieldMask;
use tonic::{Request, Response, Status};

use super::Api;
use crate::access::Caller;
use crate::convert::{band, roster};
use crate::fields::{Read, bad, both, few, quoted};
use crate::fingerprint;
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, of_engine};

/// Longest title, bytes.
const MAX_TITLE: usize = 120;
/// The fields that can be changed.
const PATHS: [&str; 2] = ["title", "bands"];

fn check_title(title: &str) -> Read<String> {
    match title.trim() {
        "" => bad("roster.title", "nothing", "a title of 1 to 120 bytes"),
        _ if title.len() > MAX_TITLE => {
            bad("roster.title", format!("{} bytes", title.len()), "a title of 1 to 120 bytes")
        }
        trimmed => Ok(trimmed.to_owned()),
    }
}

fn check_bands(bands: Option<v1::Bands>) -> Read<Option<Bands>> {
    let checked = check_bands_draft(&band::draft(bands));
    checked.map_err(|problems| problems.into_iter().map(|p| p.under("roster")).collect())
}

/// The title and bands to change, as far as they are.
fn check_change(
    mask: Option<FieldMask>,
    title: &str,
    bands: Option<v1::Bands>,
) -> Read<(Option<String>, Option<Option<Bands>>)> {
    let paths = mask.unwrap_or_default().paths;
    let changes = |path: &str, is_given: bool| match paths.as_slice() {
        [] => is_given,
        _ => paths.iter().any(|p| p == path || p == "*"),
    };
    let title = if changes("title", !title.is_empty()) { check_title(title).map(Some) } else { Ok(None) };
    let bands = if changes("bands", bands.is_some()) { check_bands(bands).map(Some) } else { Ok(None) };
    let listed = few("update_mask", &paths);
    let unknown: Vec<Problem> = listed
        .as_deref()
        .unwrap_or_default()
        .iter()
        .filter(|path| *path != "*" && !PATHS.contains(&path.as_str()))
        .map(|path| {
            let guess = did_you_mean(path, PATHS.into_iter());
            Problem::new("update_mask", quoted(path), format!("`*`, or fields among title, bands{guess}"))
        })
        .collect();
    let mask = if unknown.is_empty() { listed.map(drop) } else { Err(unknown) };
    let (change, ()) = both(both(title, bands), mask)?;
    Ok(change)
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
        let v1::Roster { name: _, title, bands, create_time: _, update_time: _ } =
            content.unwrap_or_default();
        let id = names::new_id("roster_id", &roster_id, RosterId::new);
        let content = both(check_title(&title), check_bands(bands));
        let ((id, content), request) = both(both(id, content), request).map_err(bad_fields)?;
        let engine = self.engine.clone();
        let record = self.finish(async move { engine.create_roster(id, content, &request).await }).await?;
        Ok(Response::new(v1::CreateRosterResponse { roster: Some(roster::of_record(&record)) }))
    }

    async fn get_roster(
        &self,
        request: Request<v1::GetRosterRequest>,
    ) -> Result<Response<v1::GetRosterResponse>, Status> {
        let v1::GetRosterRequest { name } = request.into_inner();
        let id = names::roster("name", &name).map_err(bad_fields)?;
        let record = self.engine.roster(&id).await.map_err(of_engine)?;
        Ok(Response::new(v1::GetRosterResponse { roster: Some(roster::of_record(&record)) }))
    }

    async fn list_rosters(
        &self,
        request: Request<v1::ListRostersRequest>,
    ) -> Result<Response<v1::ListRostersResponse>, Status> {
        let within = Caller::within(&request);
        let v1::ListRostersRequest { page_size, page_token } = request.into_inner();
        let list = List::new("ListRosters", "");
        let page = list.page(page::size(page_size).map_err(bad_fields)?, &page_token)?;
        let found = self.engine.rosters(&page, within.as_ref()).await.map_err(of_engine)?;
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
        let v1::Roster { name, title, bands, create_time: _, update_time: _ } = content.unwrap_or_default();
        let id = names::roster("roster.name", &name);
        let change = check_change(update_mask, &title, bands);
        let ((id, change), request) = both(both(id, change), request).map_err(bad_fields)?;
        let engine = self.engine.clone();
        let record = self.finish(async move { engine.update_roster(id, change, &request).await }).await?;
        Ok(Response::new(v1::UpdateRosterResponse { roster: Some(roster::of_record(&record)) }))
    }
}
