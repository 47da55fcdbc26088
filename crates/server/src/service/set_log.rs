//! Set log service.

use nextrung_api::v1;
use nextrung_api::v1::set_log_service_server::SetLogService;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::AthleteRef;
use nextrung_engine::record::{Recorded, SetQuery, reason_problem};
use tonic::{Request, Response, Status};

use super::Api;
use crate::convert::{set, words};
use crate::fields::both;
use crate::fingerprint;
use crate::names;
use crate::page::{self, List};
use crate::status::{bad_fields, internal, of_engine};

fn one(athlete: &AthleteRef, recorded: &Recorded) -> Result<v1::LoggedSet, Status> {
    let first = recorded.sets.first().ok_or_else(|| internal("a changed set is not in the log"))?;
    Ok(set::of_logged(athlete, first))
}

#[tonic::async_trait]
impl SetLogService for Api {
    async fn record_sets(
        &self,
        request: Request<v1::RecordSetsRequest>,
    ) -> Result<Response<v1::RecordSetsResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("RecordSets", request_id, &message);
        let v1::RecordSetsRequest { parent, sets, request_id: _, validate_only } = message;
        let drafts: Vec<SetDraft> = sets.into_iter().map(set::draft).collect();
        let (athlete, request) = match both(names::athlete("parent", &parent), request) {
            Ok(read) => read,
            Err(mut problems) => {
                let whose = names::athlete("parent", &parent).ok();
                problems.extend(self.engine.batch_problems(whose.as_ref(), &drafts).await);
                return Err(bad_fields(problems));
            }
        };
        let (engine, id) = (self.engine.clone(), athlete.clone());
        let recorded = self
            .finish(async move { engine.record_sets(&id, &drafts, &request, validate_only).await })
            .await?;
        Ok(Response::new(v1::RecordSetsResponse {
            sets: recorded.sets.iter().map(|s| set::of_logged(&athlete, s)).collect(),
            log_position: words::of_position(recorded.position),
        }))
    }

    async fn list_sets(
        &self,
        request: Request<v1::ListSetsRequest>,
    ) -> Result<Response<v1::ListSetsResponse>, Status> {
        let message = request.into_inner();
        let filters = format!(
            "{:?}",
            (&message.parent, message.start_date, message.end_date, message.include_withdrawn)
        );
        let v1::ListSetsRequest { parent, page_size, page_token, start_date, end_date, include_withdrawn } =
            message;
        let read = both(names::athlete("parent", &parent), words::days(start_date, end_date));
        let ((athlete, days), size) = both(read, page::size(page_size)).map_err(bad_fields)?;
        let list = List::new("ListSets", &filters);
        let after = list.place(&page_token)?;
        let query = SetQuery {
            from: days.from,
            to: days.to,
            with_withdrawn: include_withdrawn,
            after,
            size: usize::try_from(size).unwrap_or(usize::MAX),
        };
        let (found, next, position) = self.engine.list_sets(&athlete, &query).await.map_err(of_engine)?;
        Ok(Response::new(v1::ListSetsResponse {
            sets: found.iter().map(|s| set::of_logged(&athlete, s)).collect(),
            next_page_token: list.token_of_place(next.as_ref()),
            log_position: words::of_position(position),
        }))
    }

    async fn correct_set(
        &self,
        request: Request<v1::CorrectSetRequest>,
    ) -> Result<Response<v1::CorrectSetResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("CorrectSet", request_id, &message);
        let v1::CorrectSetRequest { name, replacement, reason, request_id: _ } = message;
        let draft = set::draft(replacement.unwrap_or_default());
        let ((athlete, id), request) = match both(names::set("name", &name), request) {
            Ok(read) => read,
            Err(mut problems) => {
                let whose = names::set("name", &name).ok();
                problems.extend(self.engine.correction_problems(whose.as_ref(), &draft, &reason).await);
                return Err(bad_fields(problems));
            }
        };
        let (engine, whose) = (self.engine.clone(), athlete.clone());
        let recorded = self
            .finish(async move { engine.correct_set(&whose, &id, (&draft, &reason), &request).await })
            .await?;
        Ok(Response::new(v1::CorrectSetResponse {
            set: Some(one(&athlete, &recorded)?),
            log_position: words::of_position(recorded.position),
        }))
    }

    async fn withdraw_set(
        &self,
        request: Request<v1::WithdrawSetRequest>,
    ) -> Result<Response<v1::WithdrawSetResponse>, Status> {
        let mut message = request.into_inner();
        let request_id = std::mem::take(&mut message.request_id);
        let request = fingerprint::request("WithdrawSet", request_id, &message);
        let v1::WithdrawSetRequest { name, reason, request_id: _ } = message;
        let ((athlete, id), request) = both(names::set("name", &name), request).map_err(|mut problems| {
            problems.extend(reason_problem(&reason));
            bad_fields(problems)
        })?;
        let (engine, whose) = (self.engine.clone(), athlete.clone());
        let recorded =
            self.finish(async move { engine.withdraw_set(&whose, &id, &reason, &request).await }).await?;
        Ok(Response::new(v1::WithdrawSetResponse {
            set: Some(one(&athlete, &recorded)?),
            log_position: words::of_position(recorded.position),
        }))
    }
}
