//! Keys over plain HTTP: every method against callers without a right to it.

use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};

use http::{Method, Request, StatusCode};
use http_body_util::Full;
use hyper::body::{Bytes, Frame};
use tonic::Status;
use tonic::body::Body;

use super::scene::{Answer, Scene};
use crate::access::rules;
use crate::json::route::{ROUTES, Route};
use crate::json::template::Segment;

/// A path of a route about the hall, its Wren, or something of theirs.
fn path(route: &Route) -> String {
    let mut path = String::new();
    for segment in &route.template.segments {
        path.push('/');
        path.push_str(match segment {
            Segment::Literal(literal) => literal,
            Segment::Any if path.ends_with("rosters/") => "hall",
            Segment::Any => "wren",
        });
    }
    if let Some(verb) = &route.template.verb {
        path.push(':');
        path.push_str(verb);
    }
    // The one whose names stand in the query.
    if path.ends_with(":watch") {
        path.push_str("?names=rosters/hall/athletes/wren");
    }
    path
}

async fn ask(scene: &Scene, route: &Route, key: Option<&str>, body: Body) -> Answer {
    let mut request = Request::builder().method(&route.verb).uri(path(route));
    if let Some(key) = key {
        request = request.header("authorization", format!("Bearer {key}"));
    }
    if route.takes_body() {
        request = request.header("content-type", "application/json");
    }
    scene.send(request.body(body).unwrap()).await
}

fn empty(route: &Route) -> Body {
    if route.takes_body() { Body::new(Full::from("{}")) } else { Body::empty() }
}

/// A body that tells whether it was asked for.
struct Watched(Arc<AtomicBool>);

impl hyper::body::Body for Watched {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        self.0.store(true, Ordering::SeqCst);
        Poll::Ready(None)
    }
}

/// A service that asks for keys, an operator's key, and a coach's to the hall.
async fn guarded() -> (Scene, String, String) {
    let scene = Scene::with(|settings| settings.keys = true).await;
    let operator = scene.key("operator").await;
    let body = serde_json::json!({"title": "Hall"});
    let made = scene
        .ask((Method::POST, "/v1/rosters?rosterId=hall&requestId=r-1"), Some(&operator), Some(body))
        .await;
    assert_eq!(made.status, StatusCode::OK, "{made:?}");
    let coach = scene.key("coach").await;
    (scene, operator, coach)
}

#[tokio::test]
async fn without_a_key_nothing_is_told_and_no_body_is_read() {
    let (scene, _, coach) = guarded().await;
    for route in ROUTES.iter() {
        for (key, wanted) in [(None, "KEY_MISSING"), (Some("let-me-in"), "KEY_UNKNOWN")] {
            let is_read = Arc::new(AtomicBool::new(false));
            let answer = ask(&scene, route, key, Body::new(Watched(Arc::clone(&is_read)))).await;
            assert_eq!(
                (answer.status, answer.reason().as_str()),
                (StatusCode::UNAUTHORIZED, wanted),
                "{route:?}"
            );
            assert_eq!(answer.headers["www-authenticate"], "Bearer");
            assert!(!is_read.load(Ordering::SeqCst), "{route:?}");
        }
    }
    let is_read = Arc::new(AtomicBool::new(false));
    let record = ROUTES.iter().find(|route| route.path.ends_with("/RecordSets")).unwrap();
    ask(&scene, record, Some(&coach), Body::new(Watched(Arc::clone(&is_read)))).await;
    assert!(is_read.load(Ordering::SeqCst), "the body of a caller with a key is read");
}

#[tokio::test]
async fn a_place_is_held_until_the_answer_was_taken() {
    let scene = Scene::with(|settings| {
        settings.keys = true;
        settings.limits.key.calls = 1;
    })
    .await;
    let key = scene.key("operator").await;
    let list = || {
        let request = Request::get("/v1/ladders").header("authorization", format!("Bearer {key}"));
        request.body(Body::empty()).unwrap()
    };
    let first = scene.begin(list()).await;
    assert_eq!(first.status(), StatusCode::OK);
    let refused = scene.send(list()).await;
    assert_eq!((refused.status, refused.reason().as_str()), (StatusCode::TOO_MANY_REQUESTS, "KEY_TOO_BUSY"));
    assert!(refused.headers.contains_key("retry-after"), "{refused:?}");
    drop(first);
    assert_eq!(scene.send(list()).await.status, StatusCode::OK);
}

#[tokio::test]
async fn roles_and_reaches_hold_for_every_method() {
    let (scene, operator, coach) = guarded().await;
    for route in ROUTES.iter() {
        let rule = rules::of(&route.path).unwrap();
        for (role, key) in [("operator", &operator), ("coach", &coach)] {
            let may = rule.roles.iter().any(|allowed| allowed.word() == role);
            let answer = ask(&scene, route, Some(key), empty(route)).await;
            let is_refused = answer.status == StatusCode::FORBIDDEN;
            assert_eq!(is_refused, !may, "{} as {role}: {answer:?}", route.path);
            assert!(!is_refused || answer.reason() == "ROLE_MISSING", "{answer:?}");
            assert!(answer.headers.contains_key("x-request-id"), "{answer:?}");
        }
    }
    let elsewhere = scene.ask((Method::GET, "/v1/rosters/pier"), Some(&coach), None).await;
    assert_eq!((elsewhere.status, elsewhere.reason().as_str()), (StatusCode::FORBIDDEN, "OUT_OF_REACH"));
}
