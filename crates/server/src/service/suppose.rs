//! Suppose: what would be prescribed if things were otherwise.

use nextrung_api::v1;
use nextrung_engine::suppose::SuppositionDraft;
use tonic::Status;

use super::Api;
use crate::convert::{athlete, band, prescription, set, words};
use crate::fields::both;
use crate::names;
use crate::status::{bad_fields, of_engine};

pub(super) async fn answer(
    api: &Api,
    message: v1::SupposePrescriptionRequest,
) -> Result<v1::SupposePrescriptionResponse, Status> {
    let v1::SupposePrescriptionRequest { parent, date, sets, pause_days, bands, goals, insisted_rungs } =
        message;
    let read = both(names::athlete("parent", &parent), words::date("date", date));
    let (whose, date) = read.map_err(bad_fields)?;
    let draft = SuppositionDraft {
        sets: sets.into_iter().map(set::draft).collect(),
        pause_days: i64::from(pause_days),
        bands: band::draft(bands),
        goals: goals.into_iter().map(athlete::goal).collect(),
        insisted: insisted_rungs.iter().map(|rung| names::rung_text(rung)).collect(),
    };
    let found = api.engine.suppose(&whose, date, &draft).await.map_err(of_engine)?;
    Ok(v1::SupposePrescriptionResponse {
        as_is: Some(prescription::of_issued(&found.as_is)),
        supposed: Some(prescription::of_issued(&found.supposed)),
        change: found.change,
        sentences: found.sentences,
    })
}
