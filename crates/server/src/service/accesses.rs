//! Accesses: who asked about a roster or an athlete.

use nextrung_api::v1;
use nextrung_domain::ids::{AthleteId, RosterId};
use nextrung_store::store::Store;
use tonic::Status;

use super::Api;
use crate::convert::access::of_access;
use crate::fields::{Read, both};
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, of_store};

pub(super) async fn list(
    api: &Api,
    message: v1::ListAccessesRequest,
) -> Result<v1::ListAccessesResponse, Status> {
    let v1::ListAccessesRequest { parent, page_size, page_token } = message;
    let ((roster, athlete), size) = both(whose(&parent), page::size(page_size)).map_err(bad_fields)?;
    let list = List::new("ListAccesses", &parent);
    let page = list.page(size, &page_token)?;
    let found = api.engine.store().accesses(&roster, athlete.as_ref(), &page).await.map_err(of_store)?;
    Ok(v1::ListAccessesResponse {
        accesses: found.items.iter().map(of_access).collect(),
        next_page_token: list.token(found.next),
    })
}

/// A roster, or an athlete of one.
fn whose(parent: &str) -> Read<(RosterId, Option<AthleteId>)> {
    match names::athlete("parent", parent) {
        Ok(athlete) => Ok((athlete.roster, Some(athlete.athlete))),
        Err(_) => names::roster("parent", parent).map(|roster| (roster, None)),
    }
}
