//! Told: messages and statuses as JSON.

use std::time::Duration;

use http::header::{RETRY_AFTER, WWW_AUTHENTICATE};
use http::{HeaderValue, Response, StatusCode};
use prost_reflect::{DynamicMessage, MessageDescriptor};
use serde_json::{Value, json};
use tonic::body::Body;
use tonic::{Code, Status};
use tonic_types::StatusExt;

use super::place;
use super::pool::POOL;
use crate::status::{MESSAGE_TOO_LARGE, internal, word};

/// A message of a kind, in bytes as protocol buffers have them, as it is written: their canonical JSON.
///
/// # Errors
/// INTERNAL when it is no message of the kind, or has something in it that JSON has no form for.
pub fn text(kind: &MessageDescriptor, message: &[u8]) -> Result<Vec<u8>, Status> {
    let message = DynamicMessage::decode(kind.clone(), message).ok();
    let text = message.and_then(|message| serde_json::to_vec(&message).ok());
    text.ok_or_else(|| internal("an answer that cannot be written as JSON"))
}

/// Whether a status is not OK.
pub(super) fn is_error(status: &Status) -> bool {
    status.code() != Code::Ok
}

/// A status as an answer to what was asked with a message of a kind.
pub(super) fn response(status: &Status, asked: &MessageDescriptor) -> Response<Body> {
    let http = http_status(status);
    answer((status, http), &written(status, http, Some(asked)))
}

/// A status as an answer to what is no call, with another status of HTTP than is common.
pub(super) fn response_with(status: &Status, http: StatusCode) -> Response<Body> {
    answer((status, http), &written(status, http, None))
}

fn answer((status, http): (&Status, StatusCode), written: &Value) -> Response<Body> {
    let body = Body::new(http_body_util::Full::from(written.to_string()));
    let mut response = super::document(super::JSON, body);
    *response.status_mut() = http;
    let wait = status.get_details_retry_info().and_then(|info| info.retry_delay);
    if let Some(wait) = wait {
        response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(whole_seconds(wait)));
    }
    if http == StatusCode::UNAUTHORIZED {
        response.headers_mut().insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
    }
    response
}

/// A status as a document: `{"error": {"code", "status", "message", "details"}}`, the details by their types. Fields are named
/// as JSON has them in the kind of message that was asked with.
pub(crate) fn error(status: &Status, asked: &MessageDescriptor) -> Value {
    written(status, http_status(status), Some(asked))
}

fn written(status: &Status, http: StatusCode, asked: Option<&MessageDescriptor>) -> Value {
    let mut message = status.message().to_owned();
    let mut details = details(status);
    if let Some(asked) = asked {
        for field in
            details.iter_mut().filter_map(|detail| detail.get_mut("fieldViolations")).flat_map(fields)
        {
            let here = place::in_json(asked, field);
            // The message begins with the first of them, or with how many there are.
            message = message.replacen(field.as_str(), &here, 1);
            *field = here;
        }
    }
    json!({
        "error": {
            "code": http.as_u16(),
            "status": word(status.code()),
            "message": message,
            "details": details,
        }
    })
}

/// The paths of violations.
fn fields(violations: &mut Value) -> impl Iterator<Item = &mut String> {
    let all = violations.as_array_mut().into_iter().flatten();
    all.filter_map(|violation| match violation.get_mut("field") {
        Some(Value::String(field)) => Some(field),
        Some(_) | None => None,
    })
}

/// The details of a status, each with its `@type`.
fn details(status: &Status) -> Vec<Value> {
    let kind = POOL.get_message_by_name("google.rpc.Status");
    let told = kind.and_then(|kind| DynamicMessage::decode(kind, status.details()).ok());
    match told
        .and_then(|told| serde_json::to_value(told).ok())
        .as_mut()
        .and_then(|told| told.get_mut("details"))
    {
        Some(Value::Array(details)) => std::mem::take(details),
        Some(_) | None => Vec::new(),
    }
}

/// Seconds upwards, so that whoever waits as long is let in.
fn whole_seconds(wait: Duration) -> u64 {
    wait.as_secs() + u64::from(wait.subsec_nanos() > 0)
}

/// The status of HTTP that stands for a status. What is too large does not pass by waiting, as 429 would have it, and is 413
/// (RFC 9110, published source).
fn http_status(status: &Status) -> StatusCode {
    match status.get_details_error_info() {
        Some(info) if info.reason == MESSAGE_TOO_LARGE => StatusCode::PAYLOAD_TOO_LARGE,
        Some(_) | None => of_code(status.code()),
    }
}

/// The status of HTTP that stands for a code. Source: the comments of `google/rpc/code.proto` (published source).
fn of_code(code: Code) -> StatusCode {
    match code {
        Code::Ok => StatusCode::OK,
        // 499, which has no name in the standard.
        Code::Cancelled => StatusCode::from_u16(499).unwrap_or(StatusCode::BAD_REQUEST),
        Code::InvalidArgument | Code::FailedPrecondition | Code::OutOfRange => StatusCode::BAD_REQUEST,
        Code::Unauthenticated => StatusCode::UNAUTHORIZED,
        Code::PermissionDenied => StatusCode::FORBIDDEN,
        Code::NotFound => StatusCode::NOT_FOUND,
        Code::AlreadyExists | Code::Aborted => StatusCode::CONFLICT,
        Code::ResourceExhausted => StatusCode::TOO_MANY_REQUESTS,
        Code::Unknown | Code::Internal | Code::DataLoss => StatusCode::INTERNAL_SERVER_ERROR,
        Code::Unimplemented => StatusCode::NOT_IMPLEMENTED,
        Code::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
        Code::DeadlineExceeded => StatusCode::GATEWAY_TIMEOUT,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::status::{bad_fields, key_missing, key_too_busy, message_crowded, too_busy};
    use nextrung_domain::problem::Problem;

    fn asked() -> MessageDescriptor {
        POOL.get_message_by_name("nextrung.v1.RecordSetsRequest").unwrap()
    }

    #[test]
    fn every_field_of_an_error_is_told() {
        let problems = [
            Problem::new("sets[0].set_number", "-1", "1 or more"),
            Problem::new("sets[1].rung", "`x`", "a rung"),
        ];
        let told = error(&bad_fields(problems), &asked());
        assert_eq!(
            (&told["error"]["code"], &told["error"]["status"]),
            (&json!(400), &json!("INVALID_ARGUMENT"))
        );
        let details = told["error"]["details"].as_array().unwrap();
        let of = |kind: &str| {
            let kind = format!("type.googleapis.com/google.rpc.{kind}");
            details.iter().find(|detail| detail["@type"] == *kind).unwrap()
        };
        assert_eq!(
            (&of("ErrorInfo")["reason"], &of("ErrorInfo")["domain"]),
            (&json!("BAD_FIELDS"), &json!("nextrung"))
        );
        let violations = json!([
            {"field": "sets[0].setNumber", "description": "found -1; expected 1 or more"},
            {"field": "sets[1].rung", "description": "found `x`; expected a rung"},
        ]);
        assert_eq!(of("BadRequest")["fieldViolations"], violations);
        let message = "2 bad fields; the first: sets[0].setNumber: found -1; expected 1 or more";
        assert_eq!(told["error"]["message"], message);
    }

    #[test]
    fn waiting_is_told_in_whole_seconds() {
        let response = response(&key_too_busy(Duration::from_millis(1200)), &asked());
        assert_eq!(response.status(), StatusCode::TOO_MANY_REQUESTS);
        assert_eq!(response.headers()[RETRY_AFTER], "2");
        let told = error(&key_too_busy(Duration::from_millis(1200)), &asked());
        let details = told["error"]["details"].to_string();
        assert!(details.contains("RetryInfo") && details.contains("\"retryDelay\":\"1.201s\""), "{details}");
    }

    #[test]
    fn each_code_has_the_status_that_stands_for_it() {
        // Source: the comments of `google/rpc/code.proto` (published source).
        for (codes, http) in [
            (&[Code::InvalidArgument, Code::FailedPrecondition, Code::OutOfRange][..], 400),
            (&[Code::Unauthenticated], 401),
            (&[Code::PermissionDenied], 403),
            (&[Code::NotFound], 404),
            (&[Code::AlreadyExists, Code::Aborted], 409),
            (&[Code::ResourceExhausted], 429),
            (&[Code::Cancelled], 499),
            (&[Code::Unknown, Code::Internal, Code::DataLoss], 500),
            (&[Code::Unimplemented], 501),
            (&[Code::Unavailable], 503),
            (&[Code::DeadlineExceeded], 504),
        ] {
            for code in codes {
                assert_eq!(of_code(*code).as_u16(), http, "{code:?}");
            }
        }
    }

    #[test]
    fn what_is_too_large_is_told_how_to_be_mended_and_not_to_wait() {
        let status = message_crowded(7);
        let answer = response(&status, &asked());
        assert_eq!(answer.status(), StatusCode::PAYLOAD_TOO_LARGE);
        assert!(answer.headers().get(RETRY_AFTER).is_none());
        let told = &error(&status, &asked())["error"];
        assert_eq!((&told["code"], &told["status"]), (&json!(413), &json!("RESOURCE_EXHAUSTED")));
        assert!(told["message"].as_str().unwrap().ends_with("send less at a time"), "{told}");
        assert_eq!(response(&too_busy(), &asked()).status(), StatusCode::TOO_MANY_REQUESTS);
    }

    #[test]
    fn whoever_has_no_key_is_told_how_to_show_one() {
        let response = response(&key_missing(), &asked());
        assert_eq!(response.status(), StatusCode::UNAUTHORIZED);
        assert_eq!(response.headers()[WWW_AUTHENTICATE], "Bearer");
        assert!(response.headers().get(RETRY_AFTER).is_none());
    }
}
