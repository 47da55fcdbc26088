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
