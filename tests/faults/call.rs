//! Call: one request sent once, and what a refusal of it means.

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use prost::Message;
use tonic::Status;
use tonic::transport::Channel;
use tonic_types::StatusExt;

use crate::ledger::{Answer, ROSTER, Sent, Wish};

/// Reasons after which a request is to be sent again.
const PASSING: [&str; 6] =
    ["STOPPING", "DATABASE_UNREACHABLE", "LOG_MOVED", "TOO_BUSY", "DEADLINE_EXCEEDED", "DISK_FULL"];

/// The name of an athlete.
pub(crate) fn name(athlete: &str) -> String {
    format!("{ROSTER}/athletes/{athlete}")
}

/// Sends a request once.
pub(crate) async fn send(channel: Channel, sent: &Sent) -> Result<Answer, Status> {
    let parent = name(&sent.athlete);
    let request_id = sent.request_id.clone();
    let of = |bytes, position: i64| Answer {
        bytes,
        sequences: vec![u64::try_from(position).unwrap_or_default()],
        prescription: String::new(),
    };
    match sent.wish.clone() {
        Wish::Record(sets) => {
            let request = v1::RecordSetsRequest { parent, sets, request_id, validate_only: false };
            let done = SetLogServiceClient::new(channel).record_sets(request).await?.into_inner();
            let sequences = done.sets.iter().map(|set| u64::try_from(set.sequence).unwrap_or_default());
            Ok(Answer {
                bytes: done.encode_to_vec(),
                sequences: sequences.collect(),
                prescription: String::new(),
            })
        }
        Wish::Correct(set) => {
            let request = v1::CorrectSetRequest {
                name: format!("{parent}/sets/{}", set.client_set_id),
                replacement: Some(*set),
                reason: request_id.clone(),
                request_id,
            };
            let done = SetLogServiceClient::new(channel).correct_set(request).await?.into_inner();
            Ok(of(done.encode_to_vec(), done.log_position))
        }
        Wish::Withdraw(id) => {
            let name = format!("{parent}/sets/{id}");
            let request = v1::WithdrawSetRequest { name, reason: request_id.clone(), request_id };
            let done = SetLogServiceClient::new(channel).withdraw_set(request).await?.into_inner();
            Ok(of(done.encode_to_vec(), done.log_position))
        }
        Wish::Prescribe(day) => {
            let request = v1::PrescribeRequest { parent, date: Some(day), request_id, validate_only: false };
            let done = PrescriptionServiceClient::new(channel).prescribe(request).await?.into_inner();
            let name = done.prescription.as_ref().map(|one| one.name.clone()).unwrap_or_default();
            let prescription = name.rsplit('/').next().unwrap_or_default().to_owned();
            Ok(Answer { bytes: done.encode_to_vec(), sequences: Vec::new(), prescription })
        }
    }
}

/// The reason of a refusal; nothing when it came from the connection and not from the service.
pub(crate) fn reason(status: &Status) -> Option<String> {
    status.get_details_error_info().map(|info| info.reason)
}

/// True when the request is to be sent again.
pub(crate) fn is_passing(status: &Status, also: &[&str]) -> bool {
    reason(status).is_none_or(|reason| PASSING.contains(&&*reason) || also.contains(&&*reason))
}

/// Creates the roster and athletes; what is there already stays.
pub(crate) async fn create(channel: Channel, athletes: usize) -> Result<(), Status> {
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(v1::Roster { title: "Hall".to_owned(), ..v1::Roster::default() }),
        request_id: "hall".to_owned(),
    };
    RosterServiceClient::new(channel.clone()).create_roster(request).await?;
    let calls = (0..athletes).map(|number| {
        let channel = channel.clone();
        let request = v1::CreateAthleteRequest {
            parent: ROSTER.to_owned(),
            athlete_id: athlete(number),
            athlete: Some(invented()),
            request_id: athlete(number),
        };
        tokio::spawn(async move { AthleteServiceClient::new(channel).create_athlete(request).await })
    });
    for call in calls.collect::<Vec<_>>() {
        call.await.expect("a call")?;
    }
    Ok(())
}

/// The id of an athlete.
pub(crate) fn athlete(number: usize) -> String {
    format!("a{number}")
}

/// An invented adult with common equipment.
fn invented() -> v1::Athlete {
    v1::Athlete {
        display_name: "Wren".to_owned(),
        birth_date: Some(v1::Date { year: 1990, month: 6, day: 15 }),
        body_mass_kg: Some(70.0),
        equipment: ["bar", "box", "rings", "wall"].map(str::to_owned).to_vec(),
        ..v1::Athlete::default()
    }
}
