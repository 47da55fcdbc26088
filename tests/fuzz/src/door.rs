//! Door: whom a message is about, and of which request, is read there as it is read when the message is taken apart whole.

use nextrung_server::access::{Told, rules};
use prost_reflect::{DynamicMessage, Value};
use rules::Target;
use sha2::{Digest, Sha256};

use crate::allowance::Allowance;
use crate::contract;

/// A name that is not there takes two bytes in a list.
const ALLOWANCE: Allowance = Allowance { held: (1 << 12, 64), taken: (1 << 13, 256) };

/// What can be taken apart whole can be read at the door, and says the same.
pub(crate) fn judge(request: &str, message: &[u8]) {
    let path = contract::path(request);
    let rule = rules::of(&path).unwrap_or_else(|| unreachable!("{path} has no rule"));
    // What the door knows of the contract is read once and counts for no input.
    drop(Told::read(&path, &[], rule.target));
    let told = ALLOWANCE.watch(message.len(), || Told::read(&path, message, rule.target));
    let Ok(whole) = DynamicMessage::decode(contract::message(request), message) else { return };
    let Told { names, request } = told.unwrap_or_else(|status| unreachable!("refused: {status:?}"));
    assert_eq!(names, wanted(&whole, rule.target), "{path}");
    assert_eq!(request, id(&whole), "{path}");
}

/// Whom a whole message is about.
fn wanted(whole: &DynamicMessage, target: Target) -> Vec<String> {
    let first = whole.get_field_by_number(1);
    match (target, first.as_deref()) {
        (Target::Name, Some(Value::String(name))) => vec![name.clone()],
        (Target::Names, Some(Value::List(names))) => {
            names.iter().filter_map(Value::as_str).map(ToOwned::to_owned).collect()
        }
        (Target::NameWithin, Some(Value::Message(within))) if whole.has_field_by_number(1) => {
            wanted(within, Target::Name)
        }
        _ => Vec::new(),
    }
}

/// SHA-256 of the id of its request, when it has one.
fn id(whole: &DynamicMessage) -> Option<[u8; 32]> {
    let id = whole.get_field_by_name("request_id")?;
    let id = id.as_str().filter(|id| !id.is_empty())?;
    Some(Sha256::digest(id).into())
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;
    use prost_reflect::prost::Message;

    use super::*;

    #[test]
    fn whole_messages_say_what_the_door_reads() {
        let named = v1::RecordSetsRequest {
            parent: "a".to_owned(),
            request_id: "r".to_owned(),
            ..Default::default()
        };
        let whole =
            DynamicMessage::decode(contract::message("RecordSetsRequest"), named.encode_to_vec().as_slice())
                .expect("a message");
        assert_eq!(wanted(&whole, Target::Name), ["a"]);
        assert_eq!(id(&whole), Some(Sha256::digest("r").into()));
        judge("RecordSetsRequest", &named.encode_to_vec());
    }
}
