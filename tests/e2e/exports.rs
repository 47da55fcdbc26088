//! Exports: what was recorded is in them, field by field, in messages that every client takes.

use nextrung_api::v1;
use nextrung_api::v1::export_athlete_response::Piece;
use nextrung_api::v1::exported_event::Event;
use prost::Message;
use tonic::Code;

use crate::messages::{date, history, pull_up};
use crate::refusal::refused;
use crate::service::{ATHLETE, Service};

async fn pieces(service: &Service) -> Vec<Piece> {
    let request = v1::ExportAthleteRequest { name: ATHLETE.to_owned() };
    let mut stream = service.athletes().export_athlete(request).await.unwrap().into_inner();
    let mut all = Vec::new();
    while let Some(message) = stream.message().await.unwrap() {
        assert!(message.encoded_len() < 1 << 20, "{} bytes", message.encoded_len());
        all.push(message.piece.unwrap());
    }
    all
}

fn events(pieces: &[Piece]) -> Vec<v1::ExportedEvent> {
    let part = |piece: &Piece| if let Piece::Events(part) = piece { part.events.clone() } else { Vec::new() };
    pieces.iter().flat_map(part).collect()
}

fn end(pieces: &[Piece]) -> &v1::ExportEnd {
    let Some(Piece::End(end)) = pieces.last() else { panic!("the end comes last") };
    assert_eq!(pieces.iter().filter(|piece| matches!(piece, Piece::End(_))).count(), 1);
    end
}

/// A set without what the service makes by itself.
fn sent(set: &v1::LoggedSet) -> v1::LoggedSet {
    v1::LoggedSet {
        name: String::new(),
        session: set.session,
        sequence: 0,
        arrival_time: None,
        state: 0,
        change_reason: String::new(),
        ..set.clone()
    }
}

/// Corrects a set and withdraws it; gives its name and what replaced it.
async fn amend(service: &Service, full: &v1::LoggedSet) -> (String, v1::LoggedSet) {
    let name = format!("{ATHLETE}/sets/s-9");
    let replacement = v1::LoggedSet { client_set_id: String::new(), pain: Some(3), ..full.clone() };
    let request = v1::CorrectSetRequest {
        name: name.clone(),
        replacement: Some(replacement.clone()),
        reason: "misread".to_owned(),
        request_id: "b".to_owned(),
    };
    service.log().correct_set(request).await.unwrap();
    let request = v1::WithdrawSetRequest {
        name: name.clone(),
        reason: "not mine".to_owned(),
        request_id: "c".to_owned(),
    };
    service.log().withdraw_set(request).await.unwrap();
    (name, replacement)
}

#[tokio::test]
async fn everything_recorded_is_there_field_by_field() {
    let service = Service::start().await;
    let created = service.new_athlete().await;
    let full = v1::LoggedSet {
        session: 1,
        shadings: vec!["light-band".to_owned()],
        planned_target: Some(6),
        rest_seconds: Some(120),
        body_mass_kg: Some(69.5),
        tempo: "31X1".to_owned(),
        pain: Some(2),
        note: "left elbow, \"odd\"\n=1+1".to_owned(),
        ..pull_up(9)
    };
    let recorded = [vec![full.clone()], history()].concat();
    service.record("a", recorded.clone()).await.unwrap();
    let (name, replacement) = amend(&service, &full).await;
    let mut made = Vec::new();
    for day in [11, 12] {
        let request = v1::PrescribeRequest {
            parent: ATHLETE.to_owned(),
            date: Some(date(2026, 3, day)),
            request_id: format!("p-{day}"),
            validate_only: false,
        };
        let one =
            service.prescriptions().prescribe(request).await.unwrap().into_inner().prescription.unwrap();
        made.insert(0, one);
    }
    let pieces = pieces(&service).await;
    let Some(Piece::Athlete(athlete)) = pieces.first() else { panic!("the athlete comes first") };
    assert_eq!(**athlete, v1::Athlete { log_position: 13, ..created.clone() });
    let events = events(&pieces);
    let positions: Vec<i64> = events.iter().map(|event| event.log_position).collect();
    assert_eq!(positions, (1..=13).collect::<Vec<_>>());
    assert!(events.iter().all(|event| event.arrival_time.is_some()));
    let Some(Event::Profile(profile)) = &events[0].event else { panic!("the profile comes first") };
    assert_eq!(v1::Athlete { create_time: None, ..created }, *profile);
    let found: Vec<v1::LoggedSet> = events[1..11]
        .iter()
        .map(|event| {
            let Some(Event::Recorded(set)) = &event.event else { panic!("a set") };
            assert_eq!(set.sequence, event.log_position);
            sent(set)
        })
        .collect();
    let wanted: Vec<v1::LoggedSet> =
        recorded.iter().map(|set| v1::LoggedSet { session: set.session.max(1), ..set.clone() }).collect();
    assert_eq!(found, wanted);
    let Some(Event::Corrected(corrected)) = &events[11].event else { panic!("the correction") };
    assert_eq!((corrected.change_reason.as_str(), corrected.sequence), ("misread", 2));
    assert_eq!(sent(corrected), v1::LoggedSet { client_set_id: "s-9".to_owned(), ..replacement });
    let Some(Event::Withdrawn(withdrawn)) = &events[12].event else { panic!("the withdrawal") };
    assert_eq!((&withdrawn.name, withdrawn.reason.as_str()), (&name, "not mine"));
    let part = |piece: &Piece| {
        if let Piece::Prescriptions(part) = piece { part.prescriptions.clone() } else { vec![] }
    };
    let prescriptions: Vec<v1::Prescription> = pieces.iter().flat_map(part).collect();
    assert_eq!(prescriptions, made, "as issued, with every reason");
    assert!(prescriptions.iter().any(|one| one.items.iter().any(|item| !item.reasons.is_empty())));
    let end = end(&pieces);
    assert_eq!((end.log_position, end.event_count, end.prescription_count, end.key_count), (13, 13, 2, 0));
    drop(service.stop().await);
}

/// Six thousand sets with the longest notes: more than is ever under way between two ends of a connection.
async fn record_long(service: &Service) {
    let set = |number: i32| {
        let day = number / 4;
        v1::LoggedSet {
            client_set_id: format!("long-{number}"),
            training_date: Some(date(2020 + day / 300, 1 + day % 300 / 25, 1 + day % 25)),
            note: "n".repeat(1000),
            ..pull_up(1 + number % 4)
        }
    };
    for first in (0..6000).step_by(1000) {
        let sets = (first..first + 1000).map(set).collect();
        service.record(&format!("long-{first}"), sets).await.unwrap();
    }
}

#[tokio::test]
async fn a_long_log_comes_in_messages_that_every_client_takes() {
    let service = Service::start().await;
    service.new_athlete().await;
    record_long(&service).await;
    let pieces = pieces(&service).await;
    assert_eq!(events(&pieces).len(), 6001);
    assert_eq!(end(&pieces).event_count, 6001);
    drop(service.stop().await);
}

#[tokio::test]
async fn an_export_ends_with_the_erasure() {
    let service = Service::start().await;
    service.new_athlete().await;
    record_long(&service).await;
    let request = v1::ExportAthleteRequest { name: ATHLETE.to_owned() };
    let mut stream = service.athletes().export_athlete(request).await.unwrap().into_inner();
    stream.message().await.unwrap().unwrap();
    let request = v1::EraseAthleteRequest {
        name: ATHLETE.to_owned(),
        confirmation: ATHLETE.to_owned(),
        request_id: "e".to_owned(),
    };
    service.athletes().erase_athlete(request).await.unwrap();
    let end = loop {
        match stream.message().await {
            Ok(Some(message)) => assert!(!matches!(message.piece, Some(Piece::End(_))), "it is not whole"),
            Ok(None) => panic!("it ended as if it were whole"),
            Err(end) => break end,
        }
    };
    assert_eq!(end.code(), Code::NotFound, "{end}");
    let ghost = v1::ExportAthleteRequest { name: "rosters/hall/athletes/ghost".to_owned() };
    let never = refused(service.athletes().export_athlete(ghost).await.map(drop));
    assert_eq!(never.reason, "ATHLETE_NOT_FOUND");
    drop(service.stop().await);
}
