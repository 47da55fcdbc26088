//! Request field: where the messages of the contract have the id of their request, and that id.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use nextrung_api::v1;
use prost::Message;
use prost::encoding::{DecodeContext, WireType, decode_key, skip_field, string};
use prost_types::FileDescriptorSet;
use sha2::{Digest, Sha256};

/// The number of the field by the path of the method.
static FIELDS: LazyLock<BTreeMap<String, u32>> = LazyLock::new(|| {
    let files = FileDescriptorSet::decode(v1::FILE_DESCRIPTOR_SET).unwrap_or_default().file;
    let messages = files.iter().flat_map(|file| {
        file.message_type
            .iter()
            .map(move |message| (format!(".{}.{}", file.package(), message.name()), message))
    });
    let messages: BTreeMap<String, _> = messages.collect();
    let mut fields = BTreeMap::new();
    for file in &files {
        for service in &file.service {
            for method in &service.method {
                let input = messages.get(method.input_type());
                let field = input.and_then(|m| m.field.iter().find(|field| field.name() == "request_id"));
                if let Some(number) = field.and_then(|field| u32::try_from(field.number()).ok()) {
                    let path = format!("/{}.{}/{}", file.package(), service.name(), method.name());
                    fields.insert(path, number);
                }
            }
        }
    }
    fields
});

/// SHA-256 of the id of the request in a message; nothing for a method that takes none and for one that is not given.
pub(super) fn digest(path: &str, message: &[u8]) -> Option<[u8; 32]> {
    let id = text(message, *FIELDS.get(path)?)?;
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

    #[test]
    fn every_write_of_the_contract_has_one() {
        assert_eq!(FIELDS.len(), 9, "{:?}", *FIELDS);
    }
}
