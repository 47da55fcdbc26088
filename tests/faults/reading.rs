//! Reading: what the service and the log itself have, in a form that can be compared.

use std::collections::BTreeMap;

use nextrung_api::v1;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_store::error::StoreError;
use nextrung_store::log::{Log as Store, LogOptions, Place};
use nextrung_store::page::Page;
use nextrung_store::record::Days;
use nextrung_store::store::Store as _;
use prost::Message;
use tonic::Status;
use tonic::transport::Channel;

use crate::call::{name, send};
use crate::check::{Finding, Log, Wrong};
use crate::ledger::{Sent, content, entry_content, told_by_log};

/// Most requests of a run that are sent once more at its end.
const REPEATS: usize = 400;

/// A set as it stands: its id, first sequence, content, and whether it counts.
type Standing = (String, u64, String, bool);

/// What a service tells of its athletes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct View {
    sets: BTreeMap<String, Vec<Standing>>,
    /// A prescription for the day, not kept, as bytes.
    pub(crate) prescriptions: BTreeMap<String, Vec<u8>>,
}

/// Asks a service for everything about athletes.
pub(crate) async fn view(channel: Channel, athletes: &[String], day: v1::Date) -> Result<View, Status> {
    let (mut sets, mut prescriptions) = (BTreeMap::new(), BTreeMap::new());
    for athlete in athletes {
        let mut listed = Vec::new();
        let mut page_token = String::new();
        loop {
            let request = v1::ListSetsRequest {
                parent: name(athlete),
                page_size: 500,
                page_token,
                include_withdrawn: true,
                ..v1::ListSetsRequest::default()
            };
            let page = SetLogServiceClient::new(channel.clone()).list_sets(request).await?.into_inner();
            listed.extend(page.sets.iter().map(standing));
            page_token = page.next_page_token;
            if page_token.is_empty() {
                break;
            }
        }
        listed.sort();
        sets.insert(athlete.clone(), listed);
        let look = v1::PrescribeRequest {
            parent: name(athlete),
            date: Some(day),
            request_id: "look".to_owned(),
            validate_only: true,
        };
        let made = PrescriptionServiceClient::new(channel.clone()).prescribe(look).await?.into_inner();
        let made = v1::Prescription { issue_time: None, ..made.prescription.unwrap_or_default() };
        prescriptions.insert(athlete.clone(), made.encode_to_vec());
    }
    Ok(View { sets, prescriptions })
}

fn standing(set: &v1::LoggedSet) -> Standing {
    let counts = set.state != i32::from(v1::SetState::Withdrawn);
    (set.client_set_id.clone(), u64::try_from(set.sequence).unwrap_or_default(), content(set), counts)
}

/// Sends answered requests once more; each must get its first answer.
pub(crate) async fn repeats(channel: Channel, sent: &[Sent]) -> Vec<Finding> {
    let answered: Vec<_> = sent.iter().filter_map(|one| Some((one, &one.answered.as_ref()?.1))).collect();
    let mut found = Vec::new();
    for (one, first) in answered.iter().step_by(1 + answered.len() / REPEATS) {
        let again = send(channel.clone(), one).await;
        if again.as_ref().ok() != Some(*first) {
            let what = format!("request {}: first {first:?}, again {again:?}", one.request_id);
            found.push(Finding { wrong: Wrong::Unequal, what });
        }
    }
    found
}

/// A log read by the store itself.
pub(crate) struct Direct {
    pub(crate) logs: BTreeMap<String, Log>,
    sets: BTreeMap<String, Vec<Standing>>,
}

/// Reads the log of each athlete; those who are not there are left out.
pub(crate) async fn direct(place: &Place, athletes: &[String]) -> Result<Direct, StoreError> {
    let store = Store::open(place, LogOptions::default()).await?;
    let mut direct = Direct { logs: BTreeMap::new(), sets: BTreeMap::new() };
    for athlete in athletes {
        let id = AthleteRef {
            roster: RosterId::new("hall").expect("an id"),
            athlete: AthleteId::new(athlete).expect("an id"),
        };
        let events = match store.events(&id, 0, None, u32::MAX).await {
            Err(StoreError::NotFound { .. }) => continue,
            events => events?,
        };
        let mut sets: BTreeMap<String, Standing> = BTreeMap::new();
        for event in &events {
            match &event.body {
                EventBody::Recorded { set } => {
                    let id = set.client_set_id.to_string();
                    sets.insert(id.clone(), (id, event.sequence, entry_content(set), true));
                }
                EventBody::Corrected { set, .. } => {
                    if let Some(standing) = sets.get_mut(set.client_set_id.as_str()) {
                        standing.2 = entry_content(set);
                    }
                }
                EventBody::Withdrawn { client_set_id, .. } => {
                    if let Some(standing) = sets.get_mut(client_set_id.as_str()) {
                        standing.3 = false;
                    }
                }
                EventBody::Profiled { .. } => {}
            }
        }
        let kept = store.prescriptions(&id, Days::default(), &Page::first(100_000)).await?;
        let log = Log {
            events: events.iter().map(|event| (event.sequence, told_by_log(&event.body))).collect(),
            prescriptions: kept.items.iter().map(|one| one.id.to_string()).collect(),
        };
        direct.logs.insert(athlete.clone(), log);
        direct.sets.insert(athlete.clone(), sets.into_values().collect());
    }
    store.close().await?;
    Ok(direct)
}

/// Where a service and the log itself tell different things.
pub(crate) fn disagreements(view: &View, direct: &Direct) -> Vec<Finding> {
    let mut found = Vec::new();
    for (athlete, listed) in &view.sets {
        let there = direct.sets.get(athlete).cloned().unwrap_or_default();
        let differing = listed.iter().find(|one| !there.contains(one));
        if differing.is_some() || listed.len() != there.len() {
            let what = format!("{athlete}: listed {}, there {}: {differing:?}", listed.len(), there.len());
            found.push(Finding { wrong: Wrong::Unequal, what });
        }
    }
    found
}

/// Where two services tell different things of the same log.
pub(crate) fn differences(one: &View, other: &View) -> Vec<Finding> {
    let athletes = one.sets.keys().filter(|athlete| {
        one.sets.get(*athlete) != other.sets.get(*athlete)
            || one.prescriptions.get(*athlete) != other.prescriptions.get(*athlete)
    });
    athletes
        .map(|athlete| Finding { wrong: Wrong::Unequal, what: format!("{athlete} in two services") })
        .collect()
}
