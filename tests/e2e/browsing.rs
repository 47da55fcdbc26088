//! Browsing: calls of browsers over both versions of HTTP, with answers, errors and limits as over gRPC.

use std::time::Duration;

use http::StatusCode;
use http_body_util::BodyExt;
use hyper::body::Incoming;
use nextrung_api::v1;
use nextrung_server::Origins;
use nextrung_server::access::key_text::KeyText;
use nextrung_server::access::{Role, rules};
use prost::Message;
use tonic::{Code, Status};

use crate::access::guarded_with;
use crate::browser::{
    Browser, ORIGIN, VERSIONS, Version, call, call_in_text, frames, of_kind, preflight, with,
};
use crate::messages::{many, pull_up};
use crate::refusal::Refusal;
use crate::service::{ATHLETE, Service};
use crate::wire::framed;

/// Lets scripts of [`ORIGIN`] in.
fn inviting(settings: &mut nextrung_server::Settings) {
    settings.origins = Origins::read(ORIGIN).unwrap();
}

fn sets(sets: Vec<v1::LoggedSet>) -> v1::RecordSetsRequest {
    v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets,
        request_id: "web".to_owned(),
        validate_only: false,
    }
}

#[tokio::test]
async fn a_call_is_answered_as_over_grpc_in_every_form() {
    let service = Service::start().await;
    let list = v1::ListLaddersRequest::default();
    let wanted = service.ladders().list_ladders(list.clone()).await.unwrap().into_inner();
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        for (request, kind) in [
            (call("LadderService/ListLadders", &list), "application/grpc-web+proto"),
            (call_in_text("LadderService/ListLadders", &list), "application/grpc-web-text+proto"),
            (
                with(
                    call("LadderService/ListLadders", &list),
                    "content-type",
                    "Application/gRPC-Web; charset=utf-8",
                ),
                "application/grpc-web+proto",
            ),
        ] {
            let answer = browser.ask(request).await;
            assert_eq!(answer.header("content-type"), Some(kind));
            assert!(answer.header("x-request-id").is_some());
            assert_eq!(answer.message::<v1::ListLaddersResponse>(), wanted, "{version:?} {kind}");
        }
    }
}

/// What a stream has told so far, up to `count` messages.
async fn told(body: &mut Incoming, count: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    while frames(&bytes).0.len() < count {
        let frame = tokio::time::timeout(Duration::from_secs(10), body.frame()).await.expect("in time");
        bytes.extend(frame.expect("more").unwrap().into_data().unwrap());
    }
    bytes
}

/// Begins to watch as soon as there is a place.
async fn admitted(
    service: &Service,
    version: Version,
    watch: &v1::WatchPrescriptionsRequest,
) -> (Browser, Incoming) {
    for _ in 0..1_000 {
        let mut browser = Browser::connect(service.address(), version).await;
        let response = browser.begin(call("PrescriptionService/WatchPrescriptions", watch)).await;
        if response.headers().get("grpc-status").is_none() {
            return (browser, response.into_body());
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    panic!("{version:?}: who has gone still watches");
}

#[tokio::test]
async fn a_stream_tells_as_it_goes_and_ends_when_its_browser_leaves() {
    let service = Service::with(|settings| settings.limits.watchers = 1).await;
    service.new_athlete().await;
    let watch = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
    for version in VERSIONS {
        let (browser, mut body) = admitted(&service, version, &watch).await;
        let first = told(&mut body, 1).await;
        let first = v1::WatchPrescriptionsResponse::decode(frames(&first).0[0].clone()).unwrap();
        assert_eq!((first.athlete.as_str(), first.prescription.is_some()), (ATHLETE, true));
        let mut other = Browser::connect(service.address(), version).await;
        let refused = other.ask(call("PrescriptionService/WatchPrescriptions", &watch)).await.refusal();
        assert_eq!(refused.reason, "TOO_BUSY", "{version:?}: one at a time");
        drop((body, browser));
        drop(admitted(&service, version, &watch).await);
    }
}

#[tokio::test]
async fn an_error_arrives_with_every_bad_field() {
    let service = Service::start().await;
    service.new_athlete().await;
    let spoilt = sets(vec![
        v1::LoggedSet { stop: 0, ..pull_up(1) },
        v1::LoggedSet { rung: "pull/猫".to_owned(), set_number: -1, ..pull_up(2) },
    ]);
    let wanted = Refusal::of(&service.log().record_sets(spoilt.clone()).await.unwrap_err());
    assert!(wanted.violations.len() >= 3, "{wanted:?}");
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        for request in
            [call("SetLogService/RecordSets", &spoilt), call_in_text("SetLogService/RecordSets", &spoilt)]
        {
            assert_eq!(browser.ask(request).await.refusal(), wanted, "{version:?}");
        }
    }
}

#[tokio::test]
async fn an_error_amid_a_stream_arrives_behind_what_was_told() {
    for version in VERSIONS {
        let (service, keys) = guarded_with(|_| ()).await;
        let key = keys.hall(Role::Coach);
        let watch = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
        let request = call("PrescriptionService/WatchPrescriptions", &watch);
        let mut browser = Browser::connect(service.address(), version).await;
        let request = with(request, "authorization", &format!("Bearer {key}"));
        let mut body = browser.begin(request).await.into_body();
        told(&mut body, 1).await;
        let id = KeyText::parse(key).unwrap().id().to_string();
        nextrung_server::access::keeper::revoke(&service.database().into(), &id).await.unwrap();
        let rest = body.collect().await.unwrap().to_bytes();
        let refusal = Refusal::of(&Status::from_header_map(&frames(&rest).1.unwrap()).unwrap());
        assert_eq!((refusal.code, refusal.reason.as_str()), (Code::Unauthenticated, "KEY_REVOKED"));
        assert_eq!(refusal.metadata["key"], id);
    }
}

#[tokio::test]
async fn limits_on_messages_hold() {
    let service = Service::start().await;
    service.new_athlete().await;
    let large = sets(vec![v1::LoggedSet { note: "x".repeat(5 << 20), ..pull_up(1) }]);
    let crowded = sets(vec![v1::LoggedSet::default(); 1 << 20]);
    for version in VERSIONS {
        for request in [&large, &crowded] {
            let mut browser = Browser::connect(service.address(), version).await;
            let refusal = browser.ask(call("SetLogService/RecordSets", request)).await.refusal();
            assert_eq!(
                (refusal.code, refusal.reason.as_str()),
                (Code::ResourceExhausted, "MESSAGE_TOO_LARGE")
            );
        }
        for body in [Vec::new(), b"\0\0\0\0\x09no".to_vec(), b"\x01\0\0\0\x02no".to_vec()] {
            let mut browser = Browser::connect(service.address(), version).await;
            let kind = "application/grpc-web+proto";
            let refusal = browser.ask(of_kind("SetLogService/RecordSets", kind, body)).await.refusal();
            assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_FIELDS"));
        }
        let mut browser = Browser::connect(service.address(), version).await;
        let text = of_kind("SetLogService/RecordSets", "application/grpc-web-text", b"no base64!".to_vec());
        assert_eq!(browser.ask(text).await.refusal().reason, "BAD_FIELDS", "{version:?}");
    }
    assert_eq!(service.listed().await, []);
}

#[tokio::test]
async fn deadlines_and_the_number_of_calls_hold() {
    let service = Service::start().await;
    service.new_athlete().await;
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        let late = with(call("SetLogService/RecordSets", &sets(many(1000))), "grpc-timeout", "1m");
        assert_eq!(browser.ask(late).await.refusal().reason, "DEADLINE_EXCEEDED", "{version:?}");
    }
    let service = Service::with(|settings| settings.limits.calls = 0).await;
    let mut browser = Browser::connect(service.address(), Version::One).await;
    let list = call("LadderService/ListLadders", &v1::ListLaddersRequest::default());
    assert_eq!(browser.ask(list).await.refusal().reason, "TOO_BUSY");
}

#[tokio::test]
async fn every_method_is_closed_to_browsers_without_a_right_to_it() {
    let (service, keys) = guarded_with(|_| ()).await;
    let mut browser = Browser::connect(service.address(), Version::One).await;
    for rule in rules::RULES {
        let method = rule.path.strip_prefix("/nextrung.v1.").unwrap();
        let empty = || of_kind(method, "application/grpc-web", framed(b""));
        assert_eq!(browser.ask(empty()).await.refusal().reason, "KEY_MISSING", "{method}");
        for role in Role::ALL.into_iter().filter(|role| !rule.roles.contains(role)) {
            let keyed = with(empty(), "authorization", &format!("Bearer {}", keys.hall(role)));
            let refusal = browser.ask(keyed).await.refusal();
            assert_eq!(
                (refusal.code, refusal.reason.as_str()),
                (Code::PermissionDenied, "ROLE_MISSING"),
                "{method} {}",
                role.word()
            );
        }
    }
}

#[tokio::test]
async fn keys_are_asked_for_and_what_is_not_there_is_told() {
    let (service, keys) = guarded_with(inviting).await;
    let list = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..v1::ListSetsRequest::default() };
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        let request = || call("SetLogService/ListSets", &list);
        let keyed = |key: &str| with(request(), "authorization", &format!("Bearer {key}"));
        assert_eq!(browser.ask(request()).await.refusal().reason, "KEY_MISSING");
        assert_eq!(browser.ask(keyed("nope")).await.refusal().reason, "KEY_UNKNOWN");
        assert_eq!(browser.ask(keyed(&keys.kite)).await.refusal().reason, "OUT_OF_REACH");
        assert_eq!(browser.ask(keyed(keys.hall(Role::Operator))).await.refusal().reason, "ROLE_MISSING");
        let answer = browser.ask(keyed(keys.hall(Role::Athlete))).await;
        assert_eq!(answer.message::<v1::ListSetsResponse>().sets, []);
        let none = call("SetLogService/DropSets", &list);
        let refusal =
            browser.ask(with(none, "authorization", &format!("Bearer {}", keys.kite))).await.refusal();
        assert_eq!((refusal.code, refusal.reason.as_str()), (Code::Unimplemented, "METHOD_UNKNOWN"));
    }
}

#[tokio::test]
async fn an_invited_page_may_ask_and_read_without_a_key_for_the_question() {
    let (service, keys) = guarded_with(inviting).await;
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        let told = browser.ask(preflight("SetLogService/ListSets", ORIGIN)).await;
        assert_eq!((told.status, told.body.len()), (StatusCode::NO_CONTENT, 0));
        assert!(told.header("access-control-allow-methods").unwrap().contains("POST"));
        let sent: Vec<_> = told.header("access-control-allow-headers").unwrap().split(", ").collect();
        for name in ["authorization", "content-type", "x-grpc-web", "grpc-timeout"] {
            assert!(sent.contains(&name), "{sent:?}");
        }
        let list = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..v1::ListSetsRequest::default() };
        let request = with(call("SetLogService/ListSets", &list), "origin", ORIGIN);
        let refused = browser.ask(request.clone()).await;
        assert_eq!(refused.refusal().reason, "KEY_MISSING");
        let key = format!("Bearer {}", keys.hall(Role::Coach));
        let answer = browser.ask(with(request, "authorization", &key)).await;
        answer.message::<v1::ListSetsResponse>();
        for answer in [&told, &refused, &answer] {
            assert_eq!(answer.header("access-control-allow-origin"), Some(ORIGIN));
            assert_eq!(answer.header("vary"), Some("origin"));
            assert_eq!(answer.header("access-control-allow-credentials"), None, "never");
            let read: Vec<_> = answer.header("access-control-expose-headers").unwrap().split(", ").collect();
            for name in
                ["grpc-status", "grpc-message", "grpc-status-details-bin", "retry-after", "x-request-id"]
            {
                assert!(read.contains(&name), "{read:?}");
            }
        }
    }
}

#[tokio::test]
async fn a_page_that_nobody_invited_gets_nothing() {
    for service in [Service::start().await, Service::with(inviting).await] {
        service.new_athlete().await;
        for version in VERSIONS {
            let mut browser = Browser::connect(service.address(), version).await;
            for origin in ["https://other.example", "http://coach.example", "null"] {
                let write = with(call("SetLogService/RecordSets", &sets(vec![pull_up(1)])), "origin", origin);
                for request in [preflight("SetLogService/RecordSets", origin), write] {
                    let refused = browser.ask(request).await;
                    assert_eq!(refused.status, StatusCode::FORBIDDEN, "{version:?} {origin}");
                    assert!(!refused.headers.keys().any(|name| name.as_str().starts_with("access-control")));
                    assert!(refused.header("x-request-id").is_some(), "seen as calls are: {refused:?}");
                }
            }
        }
        assert_eq!(service.listed().await, []);
    }
}

/// A name of somebody's own making that leads here, as in DNS rebinding, makes their page one of this very origin.
#[tokio::test]
async fn without_keys_a_service_is_called_by_its_own_name() {
    let service = Service::with(inviting).await;
    let (keyed, _) = guarded_with(|_| ()).await;
    let list = call("LadderService/ListLadders", &v1::ListLaddersRequest::default());
    let invited = ORIGIN.split_once("://").unwrap().1;
    for (host, status) in [
        ("rebound.example:7878", StatusCode::MISDIRECTED_REQUEST),
        ("localhost:7878", StatusCode::OK),
        (invited, StatusCode::OK),
    ] {
        let mut browser = Browser::connect(service.address(), Version::One).await;
        assert_eq!(browser.ask(with(list.clone(), "host", host)).await.status, status, "{host}");
        let mut browser = Browser::connect(keyed.address(), Version::One).await;
        let answer = browser.ask(with(list.clone(), "host", host)).await;
        assert_eq!(answer.refusal().reason, "KEY_MISSING", "who must show a key may use any name");
    }
}

#[tokio::test]
async fn what_is_no_call_of_grpc_web_is_told_and_nothing_else() {
    let service = Service::start().await;
    let list = || call("LadderService/ListLadders", &v1::ListLaddersRequest::default());
    let mut got = list();
    *got.method_mut() = http::Method::GET;
    let mut browser = Browser::connect(service.address(), Version::One).await;
    for request in [
        got.clone(),
        with(list(), "content-type", "application/grpc-web+json"),
        with(list(), "content-type", "application/grpc"),
        with(list(), "content-type", "text/plain"),
    ] {
        let answer = browser.ask(request).await;
        assert_eq!((answer.status, answer.header("x-request-id").is_some()), (StatusCode::NOT_FOUND, true));
    }
    let mut browser = Browser::connect(service.address(), Version::Two).await;
    assert_eq!(browser.ask(got).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn what_a_script_may_send_without_asking_is_no_call() {
    let service = Service::start().await;
    service.new_athlete().await;
    let body = framed(&sets(vec![pull_up(1)]).encode_to_vec());
    for version in VERSIONS {
        let mut browser = Browser::connect(service.address(), version).await;
        for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"] {
            let request = of_kind("SetLogService/RecordSets", kind, body.clone());
            assert_eq!(browser.ask(request.clone()).await.status, StatusCode::NOT_FOUND, "{version:?}");
            let of_page = with(request, "origin", "https://other.example");
            assert_eq!(browser.ask(of_page).await.status, StatusCode::FORBIDDEN, "{version:?}");
        }
    }
    assert_eq!(service.listed().await, []);
}
