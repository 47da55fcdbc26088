//! Origin: from where pages in browsers may call, and what browsers are told about it (the Fetch standard's CORS protocol).

use http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD, ORIGIN, VARY,
};
use http::{HeaderName, HeaderValue, Response, StatusCode, Uri};
use tonic::body::Body;

/// The header that makes a question of a request: may a page call with this method?
pub(super) const ASKED_METHOD: HeaderName = ACCESS_CONTROL_REQUEST_METHOD;
/// Methods and headers of calls.
const METHODS: &str = "GET, POST, PATCH";
const HEADERS: &str =
    "authorization, content-type, grpc-timeout, traceparent, tracestate, x-grpc-web, x-user-agent";
/// Headers of answers that pages may read.
const TOLD: &str = "grpc-status, grpc-message, grpc-status-details-bin, retry-after, x-request-id";
/// How long a browser may remember, s: two hours, which is the most that browsers keep (from memory).
const REMEMBERED: &str = "7200";

/// Origins whose pages may call.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Origins(Vec<String>);

impl Origins {
    /// Reads origins separated by commas, as browsers write them: a scheme, a host and, where it is not the usual one, a port.
    /// Nothing when one of them is none.
    pub fn read(text: &str) -> Option<Self> {
        let origins = text.split(',').map(str::trim);
        origins
            .map(|origin| is_origin(origin).then(|| origin.to_owned()))
            .collect::<Option<Vec<_>>>()
            .map(Self)
    }

    /// The origins, separated by commas.
    pub fn write(&self) -> String {
        self.0.join(",")
    }

    /// Whether there are none.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether pages of an origin may call.
    pub(super) fn have(&self, origin: &HeaderValue) -> bool {
        self.0.iter().any(|one| one.as_bytes() == origin.as_bytes())
    }

    /// Whether nobody but the operator can make a host, with or without a port, mean this service.
    pub(super) fn are_safe_at(&self, host: Option<&str>) -> bool {
        let Some(uri) = host.and_then(|host| host.parse::<Uri>().ok()) else { return false };
        let name = uri.host().unwrap_or_default();
        let is_address = name.parse::<std::net::Ipv4Addr>().is_ok() || name.starts_with('[');
        let is_listed = |origin: &String| origin.parse::<Uri>().is_ok_and(|uri| uri.host() == Some(name));
        is_address || name.eq_ignore_ascii_case("localhost") || self.0.iter().any(is_listed)
    }
}

fn is_origin(text: &str) -> bool {
    let Ok(uri) = text.parse::<Uri>() else { return false };
    let (Some(scheme), Some(authority)) = (uri.scheme_str(), uri.authority()) else { return false };
    let usual = match scheme {
        "http" => 80,
        "https" => 443,
        _ => return false,
    };
    // What browsers would never send would never be let in.
    text == format!("{scheme}://{authority}").to_lowercase()
        && !authority.as_str().contains('@')
        && authority.port_u16() != Some(usual)
        && !authority.as_str().ends_with(':')
}

/// The answer to whether a page may call.
pub(super) fn preflight() -> Response<Body> {
    let mut answer = Response::new(Body::empty());
    *answer.status_mut() = StatusCode::NO_CONTENT;
    let headers = answer.headers_mut();
    headers.insert(ACCESS_CONTROL_ALLOW_METHODS, HeaderValue::from_static(METHODS));
    headers.insert(ACCESS_CONTROL_ALLOW_HEADERS, HeaderValue::from_static(HEADERS));
    headers.insert(ACCESS_CONTROL_MAX_AGE, HeaderValue::from_static(REMEMBERED));
    answer
}

/// Lets pages of an origin that may call read an answer.
pub(super) fn let_read(answer: &mut Response<Body>, origin: HeaderValue) {
    let headers = answer.headers_mut();
    headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, origin);
    headers.insert(ACCESS_CONTROL_EXPOSE_HEADERS, HeaderValue::from_static(TOLD));
    headers.append(VARY, HeaderValue::from_name(ORIGIN));
}

#[cfg(test)]
mod tests {
    use http::header::CONTENT_TYPE;

    use super::*;
    use crate::json::PASSED_ON;
    use crate::json::route::ROUTES;

    #[test]
    fn origins_are_read_as_browsers_write_them() {
        for good in
            ["https://app.example", "http://localhost:5173", "http://127.0.0.1:8080, https://b.example:8443"]
        {
            assert!(Origins::read(good).is_some(), "{good}");
        }
        for bad in [
            "",
            "*",
            "null",
            "app.example",
            "https://app.example/",
            "https://App.example",
            "https://app.example:443",
            "http://a:80",
            "ftp://a",
            "https://a@b",
            "https://a,",
            "https://a:",
        ] {
            assert_eq!(Origins::read(bad), None, "{bad}");
        }
        let two = Origins::read("https://a, https://b").unwrap();
        assert_eq!(Origins::read(&two.write()), Some(two));
    }

    #[test]
    fn a_page_may_send_all_that_calls_are_made_of() {
        let asked = preflight();
        let listed = |name: &HeaderName| -> Vec<&str> {
            asked.headers()[name].to_str().unwrap().split(", ").collect()
        };
        let (verbs, names) = (listed(&ACCESS_CONTROL_ALLOW_METHODS), listed(&ACCESS_CONTROL_ALLOW_HEADERS));
        for route in ROUTES.iter() {
            assert!(verbs.contains(&route.verb.as_str()), "{route:?}");
        }
        for name in PASSED_ON.iter().chain([&CONTENT_TYPE]) {
            assert!(names.contains(&name.as_str()), "{name}");
        }
        assert_eq!(asked.headers()[ACCESS_CONTROL_MAX_AGE], "7200");
    }

    #[test]
    fn only_listed_origins_may_call() {
        let origins = Origins::read("https://app.example").unwrap();
        assert!(origins.have(&HeaderValue::from_static("https://app.example")));
        for other in
            ["https://app.example:8443", "http://app.example", "https://app.example.evil.example", "null"]
        {
            assert!(!origins.have(&HeaderValue::from_str(other).unwrap()), "{other}");
        }
        assert!(!Origins::default().have(&HeaderValue::from_static("https://app.example")));
    }

    #[test]
    fn names_that_others_can_make_are_not_safe() {
        let origins = Origins::read("https://app.example").unwrap();
        for safe in ["127.0.0.1:7878", "[::1]:7878", "localhost:7878", "localhost", "app.example:7878"] {
            assert!(origins.are_safe_at(Some(safe)), "{safe}");
        }
        for other in
            ["evil.example:7878", "127.0.0.1.evil.example", "localhost.evil.example", "app.example.evil", ""]
        {
            assert!(!origins.are_safe_at(Some(other)), "{other}");
        }
        assert!(!origins.are_safe_at(None));
    }
}
