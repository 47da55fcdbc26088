//! Json: requests over plain HTTP, made messages as the service makes them.

use std::sync::LazyLock;

use http::Method;
use nextrung_server::json::message::{self, Unreadable};
use nextrung_server::json::route::{Call, Found, ROUTES, found};
use prost_reflect::DynamicMessage;
use prost_reflect::prost::Message;

use crate::allowance::Allowance;
use crate::door;
use request::Request;

mod other_reader;
mod refusal;
pub(crate) mod request;

/// A value takes two bytes to send; a hundred problems each tell the names of a message's fields.
const ALLOWANCE: Allowance = Allowance { held: (1 << 18, 128), taken: (32 << 20, 1024) };
/// Least bytes of a body with more in it than is taken.
const CROWDED: usize = 2 * 32_768;

/// Judges any bytes: a line with a verb and a target, and the body behind it.
pub(crate) fn judge(bytes: &[u8]) {
    LazyLock::force(&ROUTES);
    let Some(request) = Request::read(bytes) else { return };
    match found(&ROUTES, (&request.verb, request.path())) {
        Found::Nothing => {}
        Found::OtherVerbs(verbs) => other_verbs(&request, &verbs),
        Found::Call(call) => called(&request, &call),
    }
}

/// Each verb that is told calls something with this path.
fn other_verbs(request: &Request, verbs: &[Method]) {
    assert!(!verbs.is_empty() && !verbs.contains(&request.verb), "{request:?}");
    for verb in verbs {
        assert!(matches!(found(&ROUTES, (verb, request.path())), Found::Call(_)), "{verb} {request:?}");
    }
}

fn called(request: &Request, call: &Call) {
    for (variable, (field, value)) in call.route.template.variables.iter().zip(&call.bound) {
        assert_eq!(&variable.field, field);
        assert_eq!(value.split('/').count(), variable.place.len(), "parts of a name in {request:?}");
    }
    let length = request.query().len() + request.body.len();
    let read = ALLOWANCE.watch(length, || message::read(call, request.query(), &request.body));
    other_reader::judge(request, call, &read);
    match read {
        Ok(message) => {
            told_again(call, &message);
            door::judge(call.route.method.input().name(), &message.encode_to_vec());
        }
        Err(Unreadable::Crowded) => assert!(request.body.len() > CROWDED, "{request:?}"),
        Err(Unreadable::BadFields { problems }) => refusal::judge(&call.route.method.input(), &problems),
    }
}

/// What was read is told as a request that reads the same.
fn told_again(call: &Call, message: &DynamicMessage) {
    let told = Request::of(call.route, message);
    let told = told.unwrap_or_else(|| unreachable!("{message:?} was read and cannot be told"));
    let Found::Call(again) = found(&ROUTES, (&told.verb, told.path())) else {
        unreachable!("{told:?} calls nothing")
    };
    assert_eq!((&again.route.path, &again.bound), (&call.route.path, &call.bound), "{told:?}");
    let read = message::read(&again, told.query(), &told.body);
    let read = read.unwrap_or_else(|unreadable| unreachable!("{told:?}: {unreadable:?}"));
    assert_eq!(read.encode_to_vec(), message.encode_to_vec(), "{message:?} was told as {told:?}");
}

#[cfg(test)]
mod tests {
    use nextrung_server::json::route::{Carried, Route};
    use prost_reflect::Kind;

    use super::*;
    use crate::seed;

    /// Whether a call of a route with this body is refused for how much is in it. Its reading takes no more than is allowed.
    fn crowded(route: &Route, body: &str) -> bool {
        let told = Request::of(route, &seed::of_route(route)).expect("a seed");
        let request = Request { body: body.as_bytes().to_vec(), ..told };
        let Found::Call(call) = found(&ROUTES, (&request.verb, request.path())) else {
            panic!("{request:?}")
        };
        let read = ALLOWANCE.watch(body.len(), || message::read(&call, request.query(), &request.body));
        matches!(read, Err(Unreadable::Crowded))
    }

    #[test]
    fn however_a_list_is_filled_it_takes_what_is_allowed() {
        let mut lists = 0;
        for route in ROUTES.iter() {
            let kind = match &route.carried {
                Carried::Nothing => continue,
                Carried::All => route.method.input(),
                Carried::Field(field) => field.kind().as_message().expect("a message").clone(),
            };
            for field in kind.fields().filter(prost_reflect::FieldDescriptor::is_list) {
                lists += 1;
                let filled = |part: &str, count: usize| {
                    let parts = vec![part; count].join(",");
                    crowded(route, &format!("{{\"{}\":[{parts}]}}", field.json_name()))
                };
                for part in ["{}", "\"\"", "{\"a\":0}"] {
                    assert!(!filled(part, 32_000), "{field:?}");
                    assert!(filled(part, 40_000), "{field:?}");
                }
                for part in ["0", "null", "[]", "true"] {
                    assert!(!filled(part, 120_000), "{field:?}");
                    assert!(filled(part, 140_000), "{field:?}");
                }
                if let Kind::Message(inner) = field.kind() {
                    let name = inner.fields().next().expect("a field").json_name().to_owned();
                    assert!(filled(&format!("{{\"{name}\":\"\"}}"), 17_000), "{field:?}");
                }
            }
            assert!(!crowded(route, &"[".repeat(200_000)) && !crowded(route, &"{\"a\":".repeat(200_000)));
        }
        assert!(lists > 10, "{lists}");
    }

    #[test]
    #[should_panic(expected = "bytes were taken")]
    fn more_than_is_allowed_is_seen() {
        Allowance { taken: (1 << 10, 1), ..ALLOWANCE }.watch(10, || vec![0_u8; 4096]);
    }

    #[test]
    fn what_is_read_twice_over_is_judged() {
        for (name, input) in seed::calls() {
            let request = Request::read(&input).expect(&name);
            let Found::Call(call) = found(&ROUTES, (&request.verb, request.path())) else { panic!("{name}") };
            let read = message::read(&call, request.query(), &request.body).expect(&name);
            told_again(&call, &read);
            assert_eq!(Request::of(call.route, &read).map(|told| told.write()), Some(input), "{name}");
        }
    }
}
