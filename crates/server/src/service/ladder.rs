//! The ladder service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::ladder_service_server::LadderService;
use nextrung_domain::ladder_file::{MAX_BYTES, NamedText, check_in_catalog};
use tonic::{Request, Response, Status};

use super::Api;
use crate::convert::ladder;
use crate::fields::{Read, bad, both};
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, ladder_not_found};

/// Longest name of a file, bytes.
const MAX_FILE_NAME: usize = 255;

fn sized<'t>(field: &str, text: &'t str, most: usize) -> Read<&'t str> {
    let expected = || format!("1 to {most} bytes");
    match text.len() {
        0 => bad(field, "nothing", expected()),
        n if n > most => bad(field, format!("{n} bytes"), expected()),
        _ => Ok(text),
    }
}

#[tonic::async_trait]
impl LadderService for Api {
    async fn list_ladders(
        &self,
        request: Request<v1::ListLaddersRequest>,
    ) -> Result<Response<v1::ListLaddersResponse>, Status> {
        let v1::ListLaddersRequest { page_size, page_token } = request.into_inner();
        let list = List::new("ListLadders", "");
        let page = list.page(page::size(page_size).map_err(bad_fields)?, &page_token)?;
        let catalog = self.engine.catalog();
        let rest =
            catalog.ladders().iter().filter(|l| page.after.as_deref().is_none_or(|a| l.id.as_str() > a));
        let size = usize::try_from(page.size).unwrap_or(usize::MAX);
        let mut found: Vec<_> = rest.take(size.saturating_add(1)).collect();
        let has_more = found.len() > size;
        found.truncate(size);
        let next = found.last().filter(|_| has_more).map(|l| l.id.to_string());
        let policy = self.engine.policy();
        Ok(Response::new(v1::ListLaddersResponse {
            ladders: found.into_iter().map(|l| ladder::of_ladder(catalog, policy, l)).collect(),
            next_page_token: list.token(next),
        }))
    }

    async fn get_ladder(
        &self,
        request: Request<v1::GetLadderRequest>,
    ) -> Result<Response<v1::GetLadderResponse>, Status> {
        let v1::GetLadderRequest { name } = request.into_inner();
        let id = names::ladder("name", &name).map_err(bad_fields)?;
        let catalog = self.engine.catalog();
        let found = catalog.ladder(&id).ok_or_else(|| ladder_not_found(&name))?;
        let message = ladder::of_ladder(catalog, self.engine.policy(), found);
        Ok(Response::new(v1::GetLadderResponse { ladder: Some(message) }))
    }

    async fn check_ladder(
        &self,
        request: Request<v1::CheckLadderRequest>,
    ) -> Result<Response<v1::CheckLadderResponse>, Status> {
        let v1::CheckLadderRequest { file_name, content } = request.into_inner();
        let read = both(sized("file_name", &file_name, MAX_FILE_NAME), sized("content", &content, MAX_BYTES));
        let (name, text) = read.map_err(bad_fields)?;
        let problems = check_in_catalog(NamedText { name, text }, self.engine.catalog());
        Ok(Response::new(v1::CheckLadderResponse {
            valid: problems.is_empty(),
            problems: problems.into_iter().map(ladder::of_problem).collect(),
        }))
    }
}
