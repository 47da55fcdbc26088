//! Silence: whatever callers send and whatever is stored, no line of the log repeats it, at the most talkative level.
//!
//! Every field of every request of the contract is planted twice: in calls that are refused, filled by reflection so that a
//! new field is planted by itself, and in a run of calls that are done. Whatever comes back in an answer is not looked at.

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::ladder_service_client::LadderServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::replay_service_client::ReplayServiceClient;
use nextrung_api::v1::review_service_client::ReviewServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};
use tonic::transport::Channel;

use crate::operated::Operated;
use crate::raw::call;

/// In every planted text.
const WORD: &str = "plantedword";
/// Planted numbers: whole, real, and the day of a birth.
const NUMBERS: [&str; 8] = ["73951", "73.951", "7395", "61.847", "13.729", "1987-07-23", "4177", "3319"];

/// A value for a field; messages within messages down to a depth that covers the contract's own.
fn planted(field: &FieldDescriptor, depth: u8) -> Option<Value> {
    let one = match field.kind() {
        Kind::String => Value::String(WORD.to_owned()),
        Kind::Bool => Value::Bool(false),
        Kind::Double => Value::F64(73.951),
        Kind::Int32 => Value::I32(73_951),
        Kind::Int64 => Value::I64(73_951),
        Kind::Enum(_) => Value::EnumNumber(7395),
        Kind::Message(_) if depth == 0 => return None,
        Kind::Message(kind) => Value::Message(filled(&kind, depth - 1)),
        Kind::Float
        | Kind::Uint32
        | Kind::Uint64
        | Kind::Sint32
        | Kind::Sint64
        | Kind::Fixed32
        | Kind::Fixed64
        | Kind::Sfixed32
        | Kind::Sfixed64
        | Kind::Bytes => panic!("a kind of field that the contract did not have: {field:?}"),
    };
    Some(if field.is_list() { Value::List(vec![one]) } else { one })
}

fn filled(kind: &MessageDescriptor, depth: u8) -> DynamicMessage {
    let mut message = DynamicMessage::new(kind.clone());
    for field in kind.fields() {
        if let Some(value) = planted(&field, depth) {
            message.set_field(&field, value);
        }
    }
    message
}

/// Calls every method with every field planted; gives how many there are.
async fn refused_calls(channel: &Channel) -> usize {
    let pool = DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET).unwrap();
    let mut count = 0;
    for service in pool.services() {
        for method in service.methods() {
            let path = format!("/{}/{}", service.full_name(), method.name());
            let message = filled(&method.input(), 4).encode_to_vec();
            // Whether it is refused or done makes no difference here.
            drop(call(channel, &path, message).await);
            // What is no message at all.
            drop(call(channel, &path, format!("\u{b}{WORD}").into_bytes()).await);
            count += 1;
        }
    }
    count
}

fn athlete() -> v1::Athlete {
    let rung = "ladders/pull/rungs/one-arm-pull-up".to_owned();
    let reason = format!("{WORD} reason");
    v1::Athlete {
        display_name: format!("Anna {WORD}"),
        birth_date: Some(v1::Date { year: 1987, month: 7, day: 23 }),
        body_mass_kg: Some(61.847),
        equipment: vec!["bar".to_owned(), "band".to_owned()],
        goals: vec![v1::Goal { rung, by_date: None }],
        limits: Some(v1::AthleteLimits {
            banned_rungs: vec![v1::BannedRung {
                rung: "ladders/pull/rungs/one-foot-supported".to_owned(),
                reason,
            }],
            ..v1::AthleteLimits::default()
        }),
        ..v1::Athlete::default()
    }
}

fn set(number: i32) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: format!("{WORD}-{number}"),
        training_date: Some(v1::Date { year: 2026, month: 11, day: 20 }),
        session: 1,
        set_number: number,
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        purpose: v1::Purpose::Working.into(),
        done: Some(v1::logged_set::Done::Reps(4)),
        planned_target: Some(5),
        stop: v1::Stop::Pain.into(),
        rest_seconds: Some(3319),
        load_kg: 13.729,
        body_mass_kg: Some(61.847),
        pain: Some(6),
        note: format!("{WORD} in the shoulder"),
        ..v1::LoggedSet::default()
    }
}

/// A life of an athlete whose every text is planted; every call must be done.
async fn done_calls(channel: &Channel) {
    let (roster, parent) = (format!("rosters/{WORD}"), format!("rosters/{WORD}/athletes/{WORD}"));
    let request_id = |n: u8| format!("{WORD}-{n}");
    let title = format!("{WORD} hall");
    let request = v1::CreateRosterRequest {
        roster_id: WORD.to_owned(),
        roster: Some(v1::Roster { title, ..v1::Roster::default() }),
        request_id: request_id(1),
    };
    RosterServiceClient::new(channel.clone()).create_roster(request).await.unwrap();
    let request = v1::CreateAthleteRequest {
        parent: roster.clone(),
        athlete_id: WORD.to_owned(),
        athlete: Some(athlete()),
        request_id: request_id(2),
    };
    AthleteServiceClient::new(channel.clone()).create_athlete(request).await.unwrap();
    let mut log = SetLogServiceClient::new(channel.clone());
    let request = v1::RecordSetsRequest {
        parent: parent.clone(),
        sets: (1..=3).map(set).collect(),
        request_id: request_id(3),
        validate_only: false,
    };
    log.record_sets(request.clone()).await.unwrap();
    log.record_sets(v1::RecordSetsRequest {
        request_id: request_id(4),
        sets: vec![set(9), set(9)],
        ..request
    })
    .await
    .unwrap_err();
    let name = format!("{parent}/sets/{WORD}-1");
    let request = v1::CorrectSetRequest {
        name,
        replacement: Some(v1::LoggedSet { client_set_id: String::new(), pain: Some(5), ..set(1) }),
        reason: format!("{WORD} mistake"),
        request_id: request_id(5),
    };
    log.correct_set(request).await.unwrap();
    let request = v1::WithdrawSetRequest {
        name: format!("{parent}/sets/{WORD}-2"),
        reason: format!("{WORD} twice"),
        request_id: request_id(6),
    };
    log.withdraw_set(request).await.unwrap();
    questions(channel, &roster, &parent).await;
}

async fn questions(channel: &Channel, roster: &str, parent: &str) {
    let mut prescriptions = PrescriptionServiceClient::new(channel.clone());
    let request = v1::PrescribeRequest {
        parent: parent.to_owned(),
        date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
        request_id: format!("{WORD}-p"),
        validate_only: false,
    };
    let made = prescriptions.prescribe(request).await.unwrap().into_inner().prescription.unwrap();
    let request = v1::ExplainPrescriptionRequest { name: made.name };
    prescriptions.explain_prescription(request).await.unwrap();
    let end_date = Some(v1::Date { year: 2026, month: 11, day: 22 });
    let request = v1::ReviewLimitersRequest {
        name: parent.to_owned(),
        end_date,
        ..v1::ReviewLimitersRequest::default()
    };
    ReviewServiceClient::new(channel.clone()).review_limiters(request).await.unwrap();
    let request = v1::ReplayRosterRequest { name: roster.to_owned(), ..v1::ReplayRosterRequest::default() };
    let mut pieces =
        ReplayServiceClient::new(channel.clone()).replay_roster(request).await.unwrap().into_inner();
    while pieces.message().await.is_ok_and(|piece| piece.is_some()) {}
    let request =
        v1::CheckLadderRequest { file_name: format!("{WORD}.toml"), content: format!("{WORD} = 73.951") };
    LadderServiceClient::new(channel.clone()).check_ladder(request).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn no_line_repeats_what_was_sent_or_stored() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &["--log-level", "trace"], &[]);
    let channel = service.channel().await;
    assert!(refused_calls(&channel).await > 25, "every method of the contract");
    done_calls(&channel).await;
    spoil(&folder.path().join("hall.db"));
    let request = v1::ListSetsRequest {
        parent: format!("rosters/{WORD}/athletes/{WORD}"),
        page_size: 10,
        ..v1::ListSetsRequest::default()
    };
    let fault = SetLogServiceClient::new(channel.clone()).list_sets(request).await.unwrap_err();
    assert_eq!(fault.code(), tonic::Code::Internal, "what is stored can be read");
    drop(channel);
    service.signal("TERM");
    service.ended();
    let lines = service.lines();
    let ended = lines.iter().filter(|line| line["message"] == "call ended").count();
    assert!(ended > 60, "{ended} calls were told of");
    assert!(lines.iter().any(|line| line["message"] == "internal error" && line["kind"] == "corrupt"));
    let log = service.log();
    for line in log.lines() {
        assert!(!line.to_lowercase().contains(WORD), "{line}");
        let told = without_figures_of_its_own(line);
        assert!(NUMBERS.iter().all(|number| !told.contains(number)), "{line}");
    }
}

/// Makes the body of every event unreadable, as a fault of the disk could.
fn spoil(database: &std::path::Path) {
    let script = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); \
                  c.execute(\"UPDATE events SET body = replace(body, '\\\"note\\\":', '\\\"note\\\":1,\\\"n\\\":')\"); c.commit()";
    let done = std::process::Command::new("python3").args(["-c", script]).arg(database).status().unwrap();
    assert!(done.success());
}

/// A line without the figures that the program itself makes by the clock or by lot, among which any number may come up.
fn without_figures_of_its_own(line: &str) -> String {
    let mut line: serde_json::Value = serde_json::from_str(line).unwrap();
    for own in ["timestamp", "seconds", "local_addr"] {
        line.as_object_mut().unwrap().remove(own);
    }
    for span in line["spans"].as_array_mut().into_iter().flatten() {
        for own in ["request", "trace"] {
            span.as_object_mut().unwrap().remove(own);
        }
    }
    line.to_string()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_line_of_a_call_has_its_request_and_its_trace() {
    let folder = tempfile::tempdir().unwrap();
    let service = Operated::on(folder.path(), &["--log-level", "debug"], &[]);
    service.new_athlete().await;
    spoil_nothing_but_the_profile(&folder.path().join("hall.db"));
    let trace = "4bf92f3577b34da6a3ce929d0e0e4736";
    let mut request = tonic::Request::new(v1::ListAthletesRequest {
        parent: "rosters/hall".to_owned(),
        ..v1::ListAthletesRequest::default()
    });
    let parent = format!("00-{trace}-00f067aa0ba902b7-01");
    request.metadata_mut().insert("traceparent", parent.parse().unwrap());
    let status = AthleteServiceClient::new(service.channel().await).list_athletes(request).await.unwrap_err();
    let id = status.metadata().get("x-request-id").unwrap().to_str().unwrap().to_owned();
    let lines = service.lines();
    let of_call: Vec<_> = lines.iter().filter(|line| line["spans"][0]["request"] == id.as_str()).collect();
    let messages: Vec<&str> = of_call.iter().filter_map(|line| line["message"].as_str()).collect();
    assert_eq!(messages, ["internal error", "call ended"], "{lines:#?}");
    assert!(of_call.iter().all(|line| line["spans"][0]["trace"] == trace), "{of_call:#?}");
    let outside: Vec<&str> = lines
        .iter()
        .filter(|line| line.get("spans").is_none())
        .filter_map(|line| line["message"].as_str())
        .collect();
    assert_eq!(outside, ["ready"], "only what belongs to no call is told outside one");
}

fn spoil_nothing_but_the_profile(database: &std::path::Path) {
    let script = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); \
                  c.execute(\"UPDATE athletes SET profile = '{}'\"); c.commit()";
    let done = std::process::Command::new("python3").args(["-c", script]).arg(database).status().unwrap();
    assert!(done.success());
}
