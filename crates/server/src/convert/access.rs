//! Accesses: calls as they are told.

use nextrung_api::v1;
use nextrung_domain::ids::AthleteRef;
use nextrung_store::access::AccessRecord;
use nextrung_store::key::KeyId;
use tonic::Code;

use super::words;
use crate::status::word;

/// A call's message.
pub fn of_access(access: &AccessRecord) -> v1::Access {
    // What an entry is called is the store's own.
    let AccessRecord { entry: _, at_ms, roster, athlete, key, method, code, request } = access;
    let athlete = athlete.clone().map(|athlete| AthleteRef { roster: roster.clone(), athlete });
    let hex = |digest: &[u8; 32]| digest.iter().map(|byte| format!("{byte:02x}")).collect();
    v1::Access {
        end_time: Some(words::of_moment(*at_ms)),
        key: key.as_ref().map(KeyId::to_string).unwrap_or_default(),
        method: method.clone(),
        athlete: athlete.map(|athlete| athlete.to_string()).unwrap_or_default(),
        code: word(Code::from_i32(*code)).to_owned(),
        request_digest: request.as_ref().map(hex).unwrap_or_default(),
    }
}
