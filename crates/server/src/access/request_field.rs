//! Request field: the id of its request in a message.

use prost::encoding::{DecodeContext, WireType, decode_key, skip_field, string};
use sha2::{Digest, Sha256};

use super::contract;

/// SHA-256 of the id of the request in a message; nothing for a method that takes none and for one that is not given.
pub(super) fn digest(path: &str, message: &[u8]) -> Option<[u8; 32]> {
    let id = text(message, contract::input(path)?.request_id?)?;
    (!id.is_empty()).then(|| Sha256::digest(id).into())
}

/// A text of a message, the last one when it is told twice.
fn text(mut message: &[u8], wanted: u32) -> Option<String> {
    let mut found = None;
    while !message.is_empty() {
        let (number, wire) = decode_key(&mut message).ok()?;
        if number == wanted && wire == WireType::LengthDelimited {
            let mut text = String::new();
            string::merge(wire, &mut text, &mut message, DecodeContext::default()).ok()?;
            found = Some(text);
        } else {
            skip_field(wire, number, &mut message, DecodeContext::default()).ok()?;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;
    use prost::Message;

    use super::*;

    #[test]
    fn the_id_is_found_behind_other_fields() {
        let request = v1::RecordSetsRequest {
            parent: "rosters/hall/athletes/wren".to_owned(),
            sets: vec![v1::LoggedSet { note: "n".to_owned(), ..v1::LoggedSet::default() }],
            request_id: "mine".to_owned(),
            validate_only: true,
        };
        let path = "/nextrung.v1.SetLogService/RecordSets";
        let wanted: [u8; 32] = Sha256::digest("mine").into();
        assert_eq!(digest(path, &request.encode_to_vec()), Some(wanted));
        let without = v1::RecordSetsRequest { request_id: String::new(), ..request };
        assert_eq!(digest(path, &without.encode_to_vec()), None);
        assert_eq!(digest("/nextrung.v1.SetLogService/ListSets", &without.encode_to_vec()), None);
        assert_eq!(digest(path, b"\xff\xff"), None, "what is no message");
    }
}
