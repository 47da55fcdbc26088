//! Plain HTTP: the contract as JSON over the wire, by both versions of HTTP.

use http::{Request, StatusCode};
use http_body_util::BodyExt;
use nextrung_api::v1;
use nextrung_server::Origins;
use nextrung_server::access::Role;
use serde_json::{Value, json};

use crate::access::guarded_with;
use crate::browser::{Browser, ORIGIN, VERSIONS, with};
use crate::prescriptions::trained;
use crate::service::ATHLETE;

fn get(path: &str) -> Request<Vec<u8>> {
    Request::get(format!("http://localhost{path}")).body(Vec::new()).unwrap()
}

fn post(path: &str, body: &Value) -> Request<Vec<u8>> {
    let request = Request::post(format!("http://localhost{path}")).header("content-type", "application/json");
    request.body(body.to_string().into_bytes()).unwrap()
}

#[tokio::test]
async fn a_day_is_prescribed_and_read_as_over_grpc() {
    let service = trained().await;
    for (version, id) in VERSIONS.into_iter().zip(["p-1", "p-2"]) {
        let mut client = Browser::connect(service.address(), version).await;
        let asked = json!({"date": {"year": 2026, "month": 3, "day": 10}, "requestId": id});
        let made = client.ask(post(&format!("/v1/{ATHLETE}/prescriptions:prescribe"), &asked)).await;
        assert_eq!((made.status, made.header("content-type")), (StatusCode::OK, Some("application/json")));
        let made: Value = serde_json::from_slice(&made.body).unwrap();
        let name = made["prescription"]["name"].as_str().unwrap();
        let request = v1::GetPrescriptionRequest { name: name.to_owned() };
        let kept = service.prescriptions().get_prescription(request).await.unwrap().into_inner();
        let kept = kept.prescription.unwrap();
        let items = made["prescription"]["items"].as_array().unwrap();
        let rungs: Vec<&str> = items.iter().map(|item| item["rung"].as_str().unwrap()).collect();
        assert_eq!(
            rungs,
            kept.items.iter().map(|item| item.rung.as_str()).collect::<Vec<_>>(),
            "{version:?}"
        );
        assert_eq!(made["prescription"]["logPosition"], json!(kept.log_position.to_string()));
    }
}

#[tokio::test]
async fn errors_come_whole_and_streams_by_lines() {
    let service = trained().await;
    for version in VERSIONS {
        let mut client = Browser::connect(service.address(), version).await;
        let bad = json!({"sets": [{"reps": -1, "rung": "ladders/pull/rungs/pul-up"}], "requestId": "w"});
        let refused = client.ask(post(&format!("/v1/{ATHLETE}/sets:record"), &bad)).await;
        assert_eq!(refused.status, StatusCode::BAD_REQUEST);
        let error: Value = serde_json::from_slice(&refused.body).unwrap();
        let details = error["error"]["details"].as_array().unwrap();
        let fields = details.iter().find_map(|detail| detail["fieldViolations"].as_array()).unwrap();
        assert!(fields.len() > 3, "{error}");

        let mut watched = client.begin(get(&format!("/v1/prescriptions:watch?names={ATHLETE}"))).await;
        assert_eq!(watched.headers()["content-type"], "application/x-ndjson");
        let line = watched.frame().await.unwrap().unwrap().into_data().unwrap();
        let line: Value = serde_json::from_slice(&line).unwrap();
        assert_eq!(line["athlete"], json!(ATHLETE));
        drop(watched);
        let mut client = Browser::connect(service.address(), version).await;
        let described = client.ask(get("/openapi.json")).await;
        assert_eq!(described.body, include_str!("../../proto/openapi.json"));
    }
}

/// A body of so many sound sets.
fn many_sets(count: i32) -> Value {
    let set = |n: i32| {
        json!({
            "clientSetId": format!("m-{n}"),
            "trainingDate": {"year": 2024, "month": 1 + n / 100, "day": 1 + n / 4 % 25},
            "setNumber": 1 + n % 4,
            "rung": "ladders/pull/rungs/pull-up",
            "purpose": "PURPOSE_WORKING",
            "reps": 5,
            "stop": "STOP_STRENGTH",
        })
    };
    json!({"sets": (0..count).map(set).collect::<Vec<Value>>(), "requestId": "late"})
}

#[tokio::test]
async fn a_deadline_is_kept_and_told() {
    let service = trained().await;
    for version in VERSIONS {
        let mut client = Browser::connect(service.address(), version).await;
        let record = post(&format!("/v1/{ATHLETE}/sets:record"), &many_sets(1000));
        let late = client.ask(with(record.clone(), "grpc-timeout", "1m")).await;
        let error: Value = serde_json::from_slice(&late.body).unwrap();
        assert_eq!(late.status, StatusCode::GATEWAY_TIMEOUT, "{error}");
        assert_eq!(
            (&error["error"]["status"], &error["error"]["details"][0]["reason"]),
            (&json!("DEADLINE_EXCEEDED"), &json!("DEADLINE_EXCEEDED"))
        );
        let in_time = client.ask(with(record, "grpc-timeout", "1M")).await;
        assert_eq!(in_time.status, StatusCode::OK, "repeated with the same request id");
        let mut client = Browser::connect(service.address(), version).await;
        let watch = get(&format!("/v1/prescriptions:watch?names={ATHLETE}"));
        let watched = client.ask(with(watch, "grpc-timeout", "5S")).await;
        let last = watched.body.split(|byte| *byte == b'\n').rfind(|line| !line.is_empty()).unwrap();
        let last: Value = serde_json::from_slice(last).unwrap();
        assert_eq!(
            (watched.status, &last["error"]["code"]),
            (StatusCode::OK, &json!(504)),
            "{version:?}: {last}"
        );
        let refused = client.ask(with(get("/v1/rosters"), "grpc-timeout", "5s")).await;
        assert_eq!(refused.status, StatusCode::BAD_REQUEST, "{version:?}");
    }
}

#[tokio::test]
async fn what_is_too_large_is_told_to_its_sender() {
    let service = trained().await;
    let record = format!("/v1/{ATHLETE}/sets:record");
    for version in VERSIONS {
        for large in [json!({"requestId": "x".repeat(5 << 20)}), json!({"sets": vec![json!({}); 40_000]})] {
            let mut client = Browser::connect(service.address(), version).await;
            let refused = client.ask(post(&record, &large)).await;
            let error: Value = serde_json::from_slice(&refused.body).unwrap();
            assert_eq!(refused.status, StatusCode::PAYLOAD_TOO_LARGE, "{version:?} {error}");
            assert_eq!(error["error"]["details"][0]["reason"], json!("MESSAGE_TOO_LARGE"));
            assert_eq!(refused.header("retry-after"), None, "waiting does not mend it");
            assert!(error["error"]["message"].as_str().unwrap().contains("send less at a time"), "{error}");
        }
    }
}

#[tokio::test]
async fn keys_and_origins_hold() {
    let (service, keys) = guarded_with(|settings| settings.origins = Origins::read(ORIGIN).unwrap()).await;
    for version in VERSIONS {
        let mut client = Browser::connect(service.address(), version).await;
        let path = format!("/v1/{ATHLETE}");
        let refused = client.ask(get(&path)).await;
        assert_eq!(
            (refused.status, refused.header("www-authenticate")),
            (StatusCode::UNAUTHORIZED, Some("Bearer"))
        );
        let key = format!("Bearer {}", keys.hall(Role::Coach));
        let shown = client.ask(with(with(get(&path), "authorization", &key), "origin", ORIGIN)).await;
        assert_eq!(shown.status, StatusCode::OK);
        assert_eq!(shown.header("access-control-allow-origin"), Some(ORIGIN));
        let elsewhere = with(with(get(&path), "authorization", &key), "origin", "https://other.example");
        assert_eq!(client.ask(elsewhere).await.status, StatusCode::FORBIDDEN);
    }
}
