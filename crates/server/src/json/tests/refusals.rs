//! Refusals: requests that are wrong, and what is said of them.

use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use http::{HeaderValue, Method, Request, StatusCode};
use http_body_util::{Full, StreamBody};
use hyper::body::{Bytes, Frame};
use serde_json::{Value, json};
use tokio_stream::StreamExt;
use tonic::Status;
use tonic::body::Body;

use super::scene::{ATHLETE, Answer, Scene, pull_up};
use crate::listen::peers::Peer;

async fn record(scene: &Scene, body: &str) -> Answer {
    let request =
        Request::post(format!("/v1/{ATHLETE}/sets:record")).header("content-type", "application/json");
    scene.send(request.body(Body::new(Full::from(body.to_owned()))).unwrap()).await
}

#[tokio::test]
async fn every_bad_field_of_the_service_comes_through() {
    let scene = Scene::start().await;
    scene.trained().await;
    let (mut one, mut two) = (pull_up(4), pull_up(5));
    one["rung"] = json!("ladders/pull/rungs/pul-up");
    one["reps"] = json!(-1);
    two["trainingDate"]["day"] = json!(99);
    let body = json!({"sets": [one, two], "requestId": "r-9"}).to_string();
    let answer = record(&scene, &body).await;
    assert_eq!((answer.status, answer.reason().as_str()), (StatusCode::BAD_REQUEST, "BAD_FIELDS"));
    assert_eq!(answer.fields(), ["sets[0].rung", "sets[0].reps", "sets[1].trainingDate"]);
    assert!(answer.text.contains("did you mean `pull/pull-up`"), "{answer:?}");
}

#[tokio::test]
async fn what_cannot_be_read_is_told_all_at_once() {
    let scene = Scene::start().await;
    let body = r#"{"sets": [
        {"clientSetIdd": "a", "reps": 5, "holdSeconds": 5, "stop": "STOP_STRENGHT"},
        {"setNumber": 3.5, "trainingDate": "2026-03-02", "note": 7, "shadings": "x"},
        null,
        {"rung": "a", "rung": "b", "setNumber": 3000000000}
    ], "validateOnly": "yes", "parent": "rosters/pier/athletes/wren"}"#;
    let request = Request::post(format!("/v1/{ATHLETE}/sets:record?requestId=r-1&colour=red"))
        .header("content-type", "application/json; charset=UTF-8");
    let answer = scene.send(request.body(Body::new(Full::from(body))).unwrap()).await;
    assert_eq!((answer.status, answer.reason().as_str()), (StatusCode::BAD_REQUEST, "BAD_FIELDS"));
    let wanted = [
        "sets[0].clientSetIdd",
        "sets[0].holdSeconds",
        "sets[0].stop",
        "sets[1].setNumber",
        "sets[1].trainingDate",
        "sets[1].note",
        "sets[1].shadings",
        "sets[2]",
        "sets[3].rung",
        "sets[3].setNumber",
        "validateOnly",
        "requestId",
        "colour",
        "parent",
    ];
    assert_eq!(answer.fields(), wanted, "{answer:?}");
    for told in ["did you mean `clientSetId`?", "did you mean `STOP_STRENGTH`?", "as in the path"] {
        assert!(answer.text.contains(told), "{told}: {answer:?}");
    }
}

#[tokio::test]
async fn a_query_that_is_wrong_is_told_by_its_names() {
    let scene = Scene::start().await;
    let path = format!(
        "/v1/{ATHLETE}/sets?pageSize=many&pageSize=2&startDate=2026-03-02&startDate.yaer=2026&include_withdrawn&parent=x\
         &pageToken.x=1&page_token=a&page_token=b"
    );
    let answer = scene.get(&path).await;
    let wanted =
        ["pageSize", "startDate", "startDate.yaer", "includeWithdrawn", "parent", "pageToken", "pageToken"];
    assert_eq!(
        (answer.reason().as_str(), answer.fields()),
        ("BAD_FIELDS", wanted.map(str::to_owned).to_vec())
    );
    assert!(answer.text.contains("did you mean `year`?"), "{answer:?}");
    let with_body = Request::get("/v1/rosters").body(Body::new(Full::from("{}"))).unwrap();
    assert_eq!(scene.send(with_body).await.fields(), ["body"]);
}

#[tokio::test]
async fn a_name_that_is_empty_is_told_in_quotes() {
    let scene = Scene::start().await;
    assert_eq!(scene.get("/v1/rosters?=x").await.fields(), ["\"\""]);
    let answer = record(&scene, "{\"\": 1, \"sets\": [{\"\": 1}]}").await;
    assert_eq!(answer.fields()[..2], ["\"\"".to_owned(), "sets[0].\"\"".to_owned()]);
    // Names that look like paths are told as they came.
    let answer = record(&scene, "{\"set_number[3]\": 1, \"sets\": [{\"training_date.day\": 1}]}").await;
    assert_eq!(answer.fields(), ["\"set_number[3]\"", "sets[0].\"training_date.day\""]);
}

#[tokio::test]
async fn what_is_no_json_is_told_by_line_and_column() {
    let scene = Scene::start().await;
    for (body, place) in [
        ("", "line 1 column 0"),
        ("{\n \"sets\": [}", "line 2 column 11"),
        ("[]", "found a list"),
        ("{} 1", "line 1 column 4"),
    ] {
        let answer = record(&scene, body).await;
        assert_eq!((answer.status, answer.fields()), (StatusCode::BAD_REQUEST, vec!["body".to_owned()]));
        assert!(answer.text.contains(place), "{body}: {answer:?}");
    }
}

#[tokio::test]
async fn a_flood_of_bad_fields_is_cut_off() {
    let scene = Scene::start().await;
    let fields: Vec<String> = (0..20_000).map(|n| format!("\"f{n}\": 0")).collect();
    let answer = record(&scene, &format!("{{{}}}", fields.join(","))).await;
    assert_eq!(answer.reason(), "BAD_FIELDS");
    assert!(answer.text.len() < 20_000 && answer.fields().last().unwrap() == "...", "{answer:?}");
}

#[tokio::test]
async fn too_much_and_too_late_is_refused() {
    let scene = Scene::with(|settings| {
        settings.limits.message_bytes = 300_000;
        settings.limits.arrival = Duration::from_millis(200);
    })
    .await;
    let long = record(&scene, &format!("{{\"requestId\": \"{}\"}}", "x".repeat(300_000))).await;
    assert_eq!((long.status, long.reason().as_str()), (StatusCode::PAYLOAD_TOO_LARGE, "MESSAGE_TOO_LARGE"));
    assert!(
        !long.headers.contains_key("retry-after") && long.text.contains("send less at a time"),
        "{long:?}"
    );
    let crowded = record(&scene, &format!("{{\"sets\": [{}{{}}]}}", "{},".repeat(40_000))).await;
    assert_eq!(
        (crowded.status, crowded.reason().as_str()),
        (StatusCode::PAYLOAD_TOO_LARGE, "MESSAGE_TOO_LARGE")
    );
    let deep = record(&scene, &"[".repeat(200_000)).await;
    assert_eq!((deep.status, deep.reason().as_str()), (StatusCode::BAD_REQUEST, "BAD_FIELDS"));
    let never = StreamBody::new(tokio_stream::pending::<Result<Frame<Bytes>, Status>>());
    let request = Request::post("/v1/ladders:check").header("content-type", "application/json");
    let late = scene.send(request.body(Body::new(never)).unwrap()).await;
    assert_eq!((late.status, late.reason().as_str()), (StatusCode::GATEWAY_TIMEOUT, "MESSAGE_LATE"));
}

#[tokio::test]
async fn long_bodies_have_so_much_room_at_a_time() {
    let scene = Scene::with(|settings| settings.limits.long_messages = 1).await;
    let long = format!("{{\"requestId\": \"{}\"}}", "x".repeat(300_000));
    let piece = Ok::<_, Status>(Frame::data(Bytes::from(long.clone())));
    let rest = tokio_stream::iter([piece]).chain(tokio_stream::pending());
    let request = Request::post("/v1/ladders:check").header("content-type", "application/json");
    let mut coming = pin!(scene.send(request.body(Body::new(StreamBody::new(rest))).unwrap()));
    assert!(
        tokio::time::timeout(Duration::from_millis(50), &mut coming).await.is_err(),
        "it never comes whole"
    );
    let second = record(&scene, &long).await;
    assert_eq!((second.status, second.reason().as_str()), (StatusCode::TOO_MANY_REQUESTS, "TOO_BUSY"));
    assert_eq!(record(&scene, "{}").await.reason(), "BAD_FIELDS", "short ones have room");
}

#[tokio::test]
async fn a_long_body_takes_its_room_until_it_is_answered() {
    let scene = Scene::with(|settings| settings.limits.long_messages = 1).await;
    scene.trained().await;
    let set = |number: i32| {
        let mut set = pull_up(number);
        set["note"] = json!("x".repeat(1000));
        set["session"] = json!(2 + number / 100);
        set["setNumber"] = json!(1 + number % 100);
        set
    };
    let sets: Vec<Value> = (100..400).map(set).collect();
    let body = json!({"sets": sets, "requestId": "long"}).to_string();
    let (first, second) = tokio::join!(record(&scene, &body), record(&scene, &body));
    assert_eq!(first.status, StatusCode::OK, "{first:?}");
    assert_eq!((second.status, second.reason().as_str()), (StatusCode::TOO_MANY_REQUESTS, "TOO_BUSY"));
    let again = record(&scene, &body).await;
    assert_eq!(again.status, StatusCode::OK, "{again:?}");
}

/// The answer to a request of somebody who does not wait as long as the service would.
async fn soon(scene: &Scene, request: Request<Body>) -> Answer {
    tokio::time::timeout(Duration::from_secs(10), scene.send(request)).await.expect("an answer in time")
}

#[tokio::test]
async fn who_does_not_wait_is_told_so_and_a_wait_that_cannot_be_read_is_a_bad_field() {
    let scene = Scene::with(|settings| settings.limits.arrival = Duration::from_secs(60)).await;
    scene.trained().await;
    let never = || StreamBody::new(tokio_stream::pending::<Result<Frame<Bytes>, Status>>());
    let request = Request::post("/v1/ladders:check")
        .header("content-type", "application/json")
        .header("grpc-timeout", "30m");
    let late = soon(&scene, request.body(Body::new(never())).unwrap()).await;
    assert_eq!((late.status, late.reason().as_str()), (StatusCode::GATEWAY_TIMEOUT, "DEADLINE_EXCEEDED"));
    assert_eq!(late.document()["error"]["status"], json!("DEADLINE_EXCEEDED"));
    let watch = |wait: &[u8]| {
        let path = format!("/v1/prescriptions:watch?names={ATHLETE}");
        let wait = HeaderValue::from_bytes(wait).unwrap();
        Request::get(path).header("grpc-timeout", wait).body(Body::empty()).unwrap()
    };
    let watched = soon(&scene, watch(b"5S")).await;
    let lines: Vec<Value> = watched.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let [first, last] = lines.as_slice() else { panic!("{watched:?}") };
    assert_eq!((watched.status, &first["athlete"]), (StatusCode::OK, &json!(ATHLETE)));
    assert_eq!(
        (&last["error"]["code"], &last["error"]["status"]),
        (&json!(504), &json!("DEADLINE_EXCEEDED"))
    );
    for wait in ["5", "5s", "1.5S", "123456789m", "-1S", "", "soon", "\u{e9}"] {
        let refused = soon(&scene, watch(wait.as_bytes())).await;
        assert_eq!(
            (refused.status, refused.fields()),
            (StatusCode::BAD_REQUEST, vec!["grpc-timeout".to_owned()])
        );
        assert!(refused.text.contains("such as `500m`"), "{refused:?}");
    }
}

#[tokio::test]
async fn paths_verbs_and_kinds_of_bodies_that_are_not_taken() {
    let scene = Scene::start().await;
    for path in ["/v1/", "/v1/roster", "/v1/rosters/hall:fly", "/v1/rosters/hall/athletes/", "/v1/a/b/c/d/e"]
    {
        let answer = scene.get(path).await;
        assert_eq!(
            (answer.status, answer.reason().as_str()),
            (StatusCode::NOT_FOUND, "PATH_UNKNOWN"),
            "{path}"
        );
    }
    let answer = scene.ask((Method::DELETE, "/v1/rosters/hall"), None, None).await;
    assert_eq!((answer.status, answer.reason().as_str()), (StatusCode::METHOD_NOT_ALLOWED, "VERB_UNKNOWN"));
    assert_eq!(answer.headers["allow"], "GET, PATCH");
    for kind in ["text/plain", "application/x-www-form-urlencoded", "application/json; charset=latin1", ""] {
        let request = Request::post("/v1/ladders:check").header("content-type", kind);
        let answer = scene.send(request.body(Body::new(Full::from("{}"))).unwrap()).await;
        assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE, "{kind}");
        assert_eq!(answer.reason(), "CONTENT_TYPE_UNKNOWN");
    }
    let packed = Request::post("/v1/ladders:check")
        .header("content-type", "application/json")
        .header("content-encoding", "gzip");
    let answer = scene.send(packed.body(Body::new(Full::from("{}"))).unwrap()).await;
    assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
}

#[tokio::test]
async fn who_asks_for_nothing_over_and_over_is_read_slowly() {
    let scene = Scene::start().await;
    for _ in 0..200 {
        scene.get("/v1/nothing").await;
    }
    assert!(!scene.peer.is_slow());
    for _ in 0..1000 {
        scene.get("/v1/nothing").await;
    }
    assert!(scene.peer.is_slow());
}

#[tokio::test]
async fn who_asks_over_and_over_whether_a_page_may_call_is_read_slowly() {
    let origin = "https://app.example";
    let front = Scene::start().await.front(origin);
    let peer = Arc::new(Peer::alone());
    let ask = async || {
        let asked = Request::options("/v1/rosters")
            .header("origin", origin)
            .header("access-control-request-method", "GET")
            .body(Body::empty());
        let Ok(answer) = front.answer(asked.unwrap(), Arc::clone(&peer)).await;
        assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    };
    for _ in 0..1500 {
        ask().await;
    }
    assert!(!peer.is_slow(), "more of this is borne than of calls in vain");
    for _ in 0..2500 {
        ask().await;
    }
    assert!(peer.is_slow());
}

#[tokio::test]
async fn other_errors_keep_their_details() {
    let scene = Scene::start().await;
    let missing = scene.get("/v1/rosters/pier").await;
    assert_eq!((missing.status, missing.reason().as_str()), (StatusCode::NOT_FOUND, "ROSTER_NOT_FOUND"));
    let error = missing.document()["error"].clone();
    assert_eq!(
        (&error["status"], &error["details"][0]["metadata"]),
        (&json!("NOT_FOUND"), &json!({"name": "rosters/pier"}))
    );
}
