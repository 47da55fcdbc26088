//! Plain HTTP: statuses of requests that call no method.

use tonic::{Code, Status};

use super::status;

/// There is no such path of HTTP.
pub(crate) fn path_unknown() -> Status {
    let message = "the contract has no such path; GET /openapi.json describes those it has";
    status(Code::NotFound, "PATH_UNKNOWN", message, &[])
}

/// The path is asked for with other verbs of HTTP.
pub(crate) fn verb_unknown(verbs: &str) -> Status {
    let message = format!("this path takes {verbs}");
    status(Code::Unimplemented, "VERB_UNKNOWN", message, &[("verbs", verbs.to_owned())])
}

/// A body of HTTP is not what is taken.
pub(crate) fn content_type_unknown() -> Status {
    let message = "the body has to be JSON as it is: send it with `content-type: application/json` and no content-encoding";
    status(Code::InvalidArgument, "CONTENT_TYPE_UNKNOWN", message, &[])
}
