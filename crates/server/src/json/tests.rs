//! Tests of calls over plain HTTP, through a door with everything behind it.

mod answers;
mod keys;
mod refusals;
mod requests;
mod routes;
mod scene;

use http::{Method, Request, StatusCode};
use http_body_util::BodyExt;
use nextrung_api::v1;
use prost::Message;
use serde_json::{Value, json};
use tonic::body::Body;

use super::pool::POOL;
use super::told;
use scene::{ATHLETE, Scene, pull_up};

fn canonical(kind: &str, message: &impl Message) -> Value {
    let kind = POOL.get_message_by_name(&format!("nextrung.v1.{kind}")).unwrap();
    serde_json::from_slice(&told::text(&kind, &message.encode_to_vec()).unwrap()).unwrap()
}

#[tokio::test]
async fn a_prescription_is_the_same_as_over_grpc() {
    let scene = Scene::start().await;
    scene.trained().await;
    let asked = json!({"date": {"year": 2026, "month": 3, "day": 10}, "requestId": "p-1"});
    let path = format!("/v1/{ATHLETE}/prescriptions");
    let made = scene.post(&format!("{path}:prescribe"), asked).await;
    assert_eq!(
        (made.status, &made.headers["content-type"]),
        (StatusCode::OK, &"application/json".parse().unwrap())
    );
    assert_eq!(
        (made.headers["x-request-id"].len(), &made.headers["cache-control"]),
        (16, &"no-store".parse().unwrap())
    );
    assert_eq!(made.headers["x-content-type-options"], "nosniff");
    let name = made.document()["prescription"]["name"].as_str().unwrap().to_owned();

    let got = scene.get(&format!("/v1/{name}")).await.document();
    let request = v1::GetPrescriptionRequest { name: name.clone() };
    let over_grpc: v1::GetPrescriptionResponse =
        scene.grpc("/nextrung.v1.PrescriptionService/GetPrescription", &request).await;
    assert!(!over_grpc.prescription.as_ref().unwrap().items.is_empty());
    assert_eq!(got, canonical("GetPrescriptionResponse", &over_grpc));
    assert_eq!(got["prescription"]["logPosition"], json!("4"), "64 bits are a text: {got}");

    let listed =
        scene.get(&format!("{path}?pageSize=1&end_date.year=2026&end_date.month=3&end_date.day=31")).await;
    assert_eq!(listed.document()["prescriptions"], json!([got["prescription"]]));
    let explained = scene.get(&format!("/v1/{name}:explain")).await;
    assert!(explained.document()["explanation"].is_object(), "{explained:?}");
}

#[tokio::test]
async fn sets_are_corrected_by_their_own_ids_and_changes_take_a_mask() {
    let scene = Scene::start().await;
    scene.trained().await;
    let set = format!("/v1/{ATHLETE}/sets/wren:2026-03-02:2");
    let mut replacement = pull_up(2);
    replacement["reps"] = json!("7");
    let corrected = json!({"replacement": replacement, "reason": "miscounted", "requestId": "c-1"});
    let corrected = scene.post(&format!("{set}:correct"), corrected).await;
    assert_eq!(corrected.document()["set"]["reps"], json!(7), "{corrected:?}");
    let withdrawn =
        scene.post(&format!("{set}:withdraw"), json!({"reason": "not mine", "request_id": "w-1"})).await;
    assert_eq!(withdrawn.document()["set"]["state"], json!("SET_STATE_WITHDRAWN"), "{withdrawn:?}");
    let listed = scene.get(&format!("/v1/{ATHLETE}/sets?includeWithdrawn=true")).await;
    assert_eq!(listed.document()["sets"].as_array().unwrap().len(), 3, "{listed:?}");

    let path = format!("/v1/{ATHLETE}?updateMask=displayName&requestId=u-1");
    let changed = json!({"displayName": "Kite", "bodyMassKg": 90, "name": ATHLETE});
    let changed = scene.ask((Method::PATCH, &path), None, Some(changed)).await;
    let athlete = changed.document()["athlete"].clone();
    assert_eq!((&athlete["displayName"], &athlete["bodyMassKg"]), (&json!("Kite"), &json!(70.0)));
}

#[tokio::test]
async fn names_stand_in_the_query_as_often_as_they_are_many() {
    let scene = Scene::start().await;
    scene.trained().await;
    let date = "date.year=2026&date.month=3&date.day=10";
    let path = format!("/v1/{ATHLETE}:estimateCapacity?{date}&ladders=ladders%2Fpull&ladders=ladders/row");
    let two = scene.get(&path).await.document();
    let rungs = two["rungs"].as_array().unwrap_or_else(|| panic!("{two}"));
    for ladder in ["ladders/pull/", "ladders/row/"] {
        assert!(rungs.iter().any(|rung| rung["rung"].as_str().unwrap().starts_with(ladder)), "{two}");
    }
}

#[tokio::test]
async fn streams_are_lines_and_end_when_nobody_reads_them() {
    let scene = Scene::with(|settings| settings.limits.watchers = 1).await;
    scene.trained().await;
    let exported = scene.get(&format!("/v1/{ATHLETE}:export")).await;
    assert_eq!(exported.headers["content-type"], "application/x-ndjson");
    let lines: Vec<Value> = exported.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(lines[0]["athlete"].is_object() && lines.last().unwrap()["end"].is_object(), "{exported:?}");

    let watch =
        || Request::get(format!("/v1/prescriptions:watch?names={ATHLETE}")).body(Body::empty()).unwrap();
    let mut watching = scene.begin(watch()).await.into_body();
    let first = watching.frame().await.unwrap().unwrap().into_data().unwrap();
    let first: Value = serde_json::from_slice(&first).unwrap();
    assert_eq!(first["athlete"], json!(ATHLETE));
    let refused = scene.send(watch()).await;
    assert_eq!((refused.status, refused.reason()), (StatusCode::TOO_MANY_REQUESTS, "TOO_BUSY".to_owned()));
    drop(watching);
    tokio::time::timeout(std::time::Duration::from_secs(20), async {
        while scene.begin(watch()).await.status() != StatusCode::OK {
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
    })
    .await
    .unwrap();
}

#[tokio::test]
async fn the_description_is_served() {
    let scene = Scene::with(|settings| settings.keys = true).await;
    let described = scene.get("/openapi.json").await;
    assert_eq!((described.status, described.text.as_str()), (StatusCode::OK, crate::openapi::TEXT));
    assert!(described.headers.contains_key("x-request-id"), "the door has seen it");
    let changed = scene.post("/openapi.json", json!({})).await;
    assert_eq!(
        (changed.status, &changed.headers["allow"]),
        (StatusCode::METHOD_NOT_ALLOWED, &"GET".parse().unwrap())
    );
}
