//! Answers over gRPC that do not end well, and what is told of them.

use http::{HeaderMap, StatusCode};
use http_body_util::{BodyExt, StreamBody};
use hyper::body::{Bytes, Frame};
use nextrung_domain::problem::Problem;
use serde_json::{Value, json};
use tonic::Status;
use tonic::body::Body;

use crate::json::frames::Frames;
use crate::json::route::{ROUTES, Route};
use crate::json::{single, streamed};
use crate::status::{bad_fields, stopping};

fn route(method: &str) -> &'static Route {
    ROUTES.iter().find(|route| route.path.ends_with(method)).unwrap()
}

/// An answer of so many empty messages that ends with trailers, or without any.
fn answer(messages: usize, end: Option<HeaderMap>) -> Frames {
    let empty = || Ok::<_, Status>(Frame::data(Bytes::from_static(&[0; 5])));
    let frames: Vec<_> = std::iter::repeat_with(empty).take(messages).collect();
    let frames = frames.into_iter().chain(end.map(|trailers| Ok(Frame::trailers(trailers))));
    Frames::of(Body::new(StreamBody::new(tokio_stream::iter(frames.collect::<Vec<_>>()))))
}

fn refused(status: &Status) -> Option<HeaderMap> {
    let mut trailers = HeaderMap::new();
    status.add_header(&mut trailers).unwrap();
    Some(trailers)
}

fn badly() -> Option<HeaderMap> {
    refused(&stopping())
}

fn well() -> Option<HeaderMap> {
    Some(HeaderMap::from_iter([("grpc-status".parse().unwrap(), "0".parse().unwrap())]))
}

async fn read(answer: http::Response<Body>) -> (StatusCode, Vec<Value>) {
    let (head, body) = answer.into_parts();
    let bytes = body.collect().await.unwrap().to_bytes();
    (head.status, serde_json::Deserializer::from_slice(&bytes).into_iter().map(Result::unwrap).collect())
}

#[tokio::test]
async fn an_error_behind_the_one_message_is_the_answer() {
    let get = route("/GetRoster");
    for (messages, end, status) in [
        (1, badly(), StatusCode::SERVICE_UNAVAILABLE),
        (0, badly(), StatusCode::SERVICE_UNAVAILABLE),
        (0, well(), StatusCode::INTERNAL_SERVER_ERROR),
        (1, None, StatusCode::INTERNAL_SERVER_ERROR),
        (1, well(), StatusCode::OK),
    ] {
        let (found, told) = read(single(get, answer(messages, end.clone())).await).await;
        assert_eq!((found, told.len()), (status, 1), "{messages} {end:?}");
        assert_eq!(told[0].get("error").is_some(), status != StatusCode::OK, "{told:?}");
    }
}

#[tokio::test]
async fn an_error_before_the_first_line_is_the_answer_and_a_later_one_the_last_line() {
    let export = route("/ExportAthlete");
    for (messages, end, status, lines) in [
        (0, badly(), StatusCode::SERVICE_UNAVAILABLE, 1),
        (2, badly(), StatusCode::OK, 3),
        (2, None, StatusCode::OK, 3),
        (2, well(), StatusCode::OK, 2),
    ] {
        let (found, told) = read(streamed(export, answer(messages, end.clone())).await).await;
        assert_eq!((found, told.len()), (status, lines), "{messages} {end:?}");
        assert_eq!(told[lines - 1].get("error").is_some(), lines != 2, "{told:?}");
    }
}

#[tokio::test]
async fn bad_fields_are_named_as_in_what_was_asked_wherever_they_are_told() {
    let bad = |field: &str| refused(&bad_fields([Problem::new(field, "`x`", "`y`")]));
    let (list, replay) = (route("/ListSets"), route("/ReplayRoster"));
    for (told, field) in [
        (single(list, answer(1, bad("page_size"))).await, "pageSize"),
        (single(list, answer(0, bad("start_date.day"))).await, "startDate.day"),
        (streamed(replay, answer(0, bad("with_rows"))).await, "withRows"),
        (streamed(replay, answer(2, bad("with_advice"))).await, "withAdvice"),
    ] {
        let (_, told) = read(told).await;
        let details = told.last().unwrap()["error"]["details"].as_array().unwrap();
        let bad = details.iter().find_map(|detail| detail["fieldViolations"].as_array()).unwrap();
        assert_eq!(bad[0]["field"], json!(field));
    }
}
