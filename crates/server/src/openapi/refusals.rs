//! Refusals: with which statuses of HTTP a call may be answered when it is not done.

use serde_json::{Map, Value, json};

use super::schema::reference;
use crate::json::route::Route;
use crate::json::template::Segment;

/// A status and what stands for it.
struct Refusal {
    status: &'static str,
    name: &'static str,
    about: &'static str,
    /// Whether calls over a route may be answered with it.
    is_of: fn(&Route) -> bool,
}

const REFUSALS: [Refusal; 11] = [
    Refusal {
        status: "400",
        name: "Bad",
        about: "INVALID_ARGUMENT: BAD_FIELDS lists every bad field, BAD_PAGE_TOKEN. FAILED_PRECONDITION: what is kept does not \
                allow it.",
        is_of: |_| true,
    },
    Refusal {
        status: "401",
        name: "Unknown",
        about: "UNAUTHENTICATED: no key came along, or it is not taken.",
        is_of: |_| true,
    },
    Refusal {
        status: "403",
        name: "Denied",
        about: "PERMISSION_DENIED: the key has another role or reach. In words alone when it is a page of another origin.",
        is_of: |_| true,
    },
    Refusal {
        status: "404",
        name: "Missing",
        about: "NOT_FOUND: there is no such resource.",
        is_of: names_something,
    },
    Refusal {
        status: "409",
        name: "Taken",
        about: "ALREADY_EXISTS: an id is taken, or was used with other content. ABORTED: LOG_MOVED, send it again.",
        is_of: |route| is_write(route) || is_of_people(route),
    },
    Refusal {
        status: "413",
        name: "TooLarge",
        about: "RESOURCE_EXHAUSTED: MESSAGE_TOO_LARGE, send less at a time. It does not pass.",
        is_of: Route::takes_body,
    },
    Refusal {
        status: "415",
        name: "OtherContent",
        about: "INVALID_ARGUMENT: CONTENT_TYPE_UNKNOWN, the body has to be `application/json` as it is.",
        is_of: Route::takes_body,
    },
    Refusal {
        status: "429",
        name: "TooMuch",
        about: "RESOURCE_EXHAUSTED: TOO_BUSY, KEY_TOO_BUSY, DISK_FULL; send it again later, with `retry-after` not before that.",
        is_of: |_| true,
    },
    Refusal {
        status: "500",
        name: "Fault",
        about: "INTERNAL: a fault of the service, in its log under the `x-request-id` of the answer.",
        is_of: |_| true,
    },
    Refusal {
        status: "503",
        name: "Away",
        about: "UNAVAILABLE: the service stops or cannot reach its database; send it again later, a write with the same request \
                id.",
        is_of: |_| true,
    },
    Refusal {
        status: "504",
        name: "Late",
        about: "DEADLINE_EXCEEDED: not done in time; a write may have been kept, so send it again with the same request id.",
        is_of: |_| true,
    },
];

/// What each status tells, by the names that [`of`] refers to.
pub(super) fn all() -> Map<String, Value> {
    let told = |about: &str| json!({"description": about, "content": {"application/json": {"schema": reference("Error")}}});
    let mut all: Map<String, Value> =
        REFUSALS.iter().map(|refusal| (refusal.name.to_owned(), told(refusal.about))).collect();
    let other =
        "Whatever else HTTP knows. Match on `status` and on the reason of the ErrorInfo among the details.";
    all.insert("Error".to_owned(), told(other));
    all
}

/// The statuses of a route, and any other one.
pub(super) fn of(route: &Route) -> Map<String, Value> {
    let told = |name: &str| json!({"$ref": format!("#/components/responses/{name}")});
    let own = REFUSALS.iter().filter(|refusal| (refusal.is_of)(route));
    let own = own.map(|refusal| (refusal.status.to_owned(), told(refusal.name)));
    own.chain([("default".to_owned(), told("Error"))]).collect()
}

/// Whether a call names what has to be there.
fn names_something(route: &Route) -> bool {
    route.template.segments.contains(&Segment::Any) || is_of_people(route)
}

/// Whether a call is about a roster or an athlete.
fn is_of_people(route: &Route) -> bool {
    let in_path = route.template.variables.iter().any(|variable| {
        let first = route.template.segments.get(variable.place.start);
        first.is_some_and(|first| *first == Segment::Literal("rosters".to_owned()))
    });
    in_path || route.method.input().get_field_by_name("names").is_some()
}

fn is_write(route: &Route) -> bool {
    route.method.input().get_field_by_name("request_id").is_some()
}
