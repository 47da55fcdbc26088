//! Headers: errors fit into what clients take, however much is wrong.

use nextrung_api::v1;
use tonic::transport::Endpoint;
use tonic::{Code, Status};

use crate::messages::{many, pull_up};
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, Service};

/// What the strictest usual client takes, bytes (the usual soft limit of gRPC's C core).
const STRICT: u32 = 8192;

/// The refusal of a batch as a strict client sees it.
async fn strict(service: &Service, sets: Vec<v1::LoggedSet>) -> Refusal {
    let endpoint = Endpoint::from_shared(format!("http://{}", service.address())).unwrap();
    let channel = endpoint.http2_max_header_list_size(STRICT).connect().await.unwrap();
    let mut log = v1::set_log_service_client::SetLogServiceClient::new(channel);
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets,
        request_id: "1".to_owned(),
        validate_only: false,
    };
    refused(log.record_sets(request).await)
}

/// All that can be wrong with a set at once, with long words in a script of several bytes a letter.
fn worst(number: usize) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: format!("{number}{}", "猫\u{7}%".repeat(400)),
        rung: "猫".repeat(3000),
        shadings: vec!["猫".repeat(300); 5],
        tempo: "猫".repeat(300),
        note: "n".repeat(1001),
        set_number: -1,
        stop: 99,
        ..v1::LoggedSet::default()
    }
}

#[tokio::test]
async fn a_thousand_bad_sets_come_back_readable() {
    let service = Service::start().await;
    service.new_athlete().await;
    let spoilt: Vec<_> = many(1000).into_iter().map(|set| v1::LoggedSet { stop: 0, ..set }).collect();
    let refusal = strict(&service, spoilt).await;
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_FIELDS"));
    assert!(refusal.message.starts_with("1000 bad fields"), "{}", refusal.message);
    let named = refusal.violations.len() - 1;
    assert!(named >= 20, "{named} fields are named");
    for (n, field) in refusal.fields()[..named].iter().enumerate() {
        assert_eq!(*field, format!("sets[{n}].stop"));
    }
    let (field, text) = refusal.violations.last().unwrap();
    assert_eq!(
        (field.as_str(), text.starts_with(&format!("{} more", 1000 - named))),
        ("...", true),
        "{text}"
    );
    assert_eq!(service.listed().await, []);
}

#[tokio::test]
async fn the_longest_words_come_back_too() {
    let service = Service::start().await;
    service.new_athlete().await;
    for count in [1, 2, 200] {
        let refusal = strict(&service, (0..count).map(worst).collect()).await;
        assert_eq!(refusal.reason, "BAD_FIELDS");
        assert!(refusal.violations.len() > 5, "{refusal:?}");
    }
}

#[tokio::test]
async fn a_thousand_reused_sets_come_back_with_whole_ids() {
    let service = Service::start().await;
    service.new_athlete().await;
    let long = |n: usize, set: v1::LoggedSet| v1::LoggedSet { client_set_id: format!("{n:0>64}"), ..set };
    let sets: Vec<_> = many(1000).into_iter().enumerate().map(|(n, set)| long(n, set)).collect();
    service.record("first", sets.clone()).await.unwrap();
    let other = sets.into_iter().map(|set| v1::LoggedSet { note: "other".to_owned(), ..set });
    let refusal = strict(&service, other.collect()).await;
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::AlreadyExists, "SET_ID_REUSED"));
    let ids = &refusal.metadata["client_set_ids"];
    assert!(ids.split(',').enumerate().all(|(n, id)| id == format!("{n:0>64}")), "{ids}");
}

#[tokio::test]
async fn long_names_and_ids_come_back() {
    let service = Service::start().await;
    let name = "猫".repeat(100_000);
    let get = v1::GetRosterRequest { name: name.clone() };
    let status: Status = service.rosters().get_roster(get).await.unwrap_err();
    assert_eq!(Refusal::of(&status).fields(), ["name"]);
    service.new_athlete().await;
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![pull_up(1)],
        request_id: name,
        validate_only: false,
    };
    assert_eq!(refused(service.log().record_sets(request).await).fields(), ["request_id"]);
}
