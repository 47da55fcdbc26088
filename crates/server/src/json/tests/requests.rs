//! Requests: what is read of them, and what is not.

use http::Method;
use prost_reflect::DynamicMessage;
use serde_json::{Value, json};

use super::scene::ATHLETE;
use crate::json::message::{self, Unreadable};
use crate::json::route::{Found, ROUTES, found};

fn read(verb: &Method, (path, query): (&str, &str), body: &str) -> Result<DynamicMessage, Unreadable> {
    let Found::Call(call) = found(&ROUTES, (verb, path)) else { panic!("{path}") };
    message::read(&call, query, body.as_bytes())
}

/// What was read, as it is written.
fn whole(message: &DynamicMessage) -> Value {
    serde_json::to_value(message).unwrap()
}

#[test]
fn what_is_null_is_left_out() {
    let body = json!({"sets": [{"note": null, "reps": null, "holdSeconds": 5, "trainingDate": null}], "requestId": null});
    let made = read(&Method::POST, (&format!("/v1/{ATHLETE}/sets:record"), ""), &body.to_string()).unwrap();
    assert_eq!(whole(&made), json!({"parent": ATHLETE, "sets": [{"holdSeconds": 5}]}));
}

#[test]
fn a_plus_in_a_query_is_a_space_and_escapes_are_read() {
    let made = read(&Method::GET, ("/v1/rosters", "page%54oken=a+b%2Bc%26%3D&pageSize=2"), "").unwrap();
    assert_eq!(whole(&made), json!({"pageToken": "a b+c&=", "pageSize": 2}));
}

#[test]
fn a_hundred_problems_are_looked_for_and_long_names_are_cut() {
    let fields: Vec<String> = (0..200).map(|n| format!("\"{n}{}\": 0", "\u{732b}".repeat(100))).collect();
    let read = read(&Method::POST, ("/v1/ladders:check", ""), &format!("{{{}}}", fields.join(",")));
    let Err(Unreadable::BadFields { problems }) = read else { panic!("{read:?}") };
    assert_eq!((problems.len(), problems.last().unwrap().field.as_str()), (100, "..."));
    assert_eq!(problems[0].field, format!("0{}", "\u{732b}".repeat(26)));
}
