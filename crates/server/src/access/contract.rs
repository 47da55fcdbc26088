//! Contract: what its descriptors say of the messages that calls bring.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use nextrung_api::v1;
use prost::Message;
use prost_types::{DescriptorProto, FileDescriptorSet};

/// A kind of message.
#[derive(Debug, Default)]
pub(super) struct Shape {
    /// The number of the field with the id of the request, if it has one.
    pub(super) request_id: Option<u32>,
    /// Where other messages stand in it: the numbers of the fields, and their kinds by their place in the list of all.
    within: BTreeMap<u32, usize>,
}

impl Shape {
    /// The kind of message in a field; nothing when it is none.
    pub(super) fn within(&self, field: u32) -> Option<&'static Self> {
        CONTRACT.shapes.get(*self.within.get(&field)?)
    }
}

/// Every kind, and which of them each method takes.
struct Contract {
    shapes: Vec<Shape>,
    inputs: BTreeMap<String, usize>,
}

static CONTRACT: LazyLock<Contract> = LazyLock::new(|| {
    // What the build compiled is sound; were it not, no method would take anything, which the tests would tell.
    let files = FileDescriptorSet::decode(v1::FILE_DESCRIPTOR_SET).unwrap_or_default().file;
    let mut messages = Vec::new();
    for file in &files {
        gather(&format!(".{}", file.package()), &file.message_type, &mut messages);
    }
    let places: BTreeMap<&str, usize> =
        messages.iter().enumerate().map(|(place, (name, _))| (name.as_str(), place)).collect();
    let shapes = messages.iter().map(|(_, message)| shape(message, &places)).collect();
    let mut inputs = BTreeMap::new();
    for file in &files {
        for service in &file.service {
            for method in &service.method {
                let path = format!("/{}.{}/{}", file.package(), service.name(), method.name());
                inputs.extend(places.get(method.input_type()).map(|place| (path, *place)));
            }
        }
    }
    Contract { shapes, inputs }
});

/// The kind of message that a method takes, by its path.
pub(super) fn input(path: &str) -> Option<&'static Shape> {
    CONTRACT.shapes.get(*CONTRACT.inputs.get(path)?)
}

/// Messages with their full names, those that stand within others too.
fn gather<'d>(outer: &str, messages: &'d [DescriptorProto], all: &mut Vec<(String, &'d DescriptorProto)>) {
    for message in messages {
        let name = format!("{outer}.{}", message.name());
        gather(&name, &message.nested_type, all);
        all.push((name, message));
    }
}

fn shape(message: &DescriptorProto, places: &BTreeMap<&str, usize>) -> Shape {
    let mut shape = Shape::default();
    for field in &message.field {
        let Ok(number) = u32::try_from(field.number()) else { continue };
        if field.name() == "request_id" {
            shape.request_id = Some(number);
        }
        shape.within.extend(places.get(field.type_name()).map(|place| (number, *place)));
    }
    shape
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_write_of_the_contract_has_a_request_id() {
        let with = |path: &&String| input(path).unwrap().request_id.is_some();
        assert_eq!(CONTRACT.inputs.keys().filter(with).count(), 9);
        assert!(CONTRACT.inputs.len() > 30, "{:?}", CONTRACT.inputs.keys());
    }

    #[test]
    fn messages_are_found_within_messages() {
        let sets = input("/nextrung.v1.SetLogService/RecordSets").unwrap();
        let set = sets.within(2).unwrap();
        assert!(set.within.len() >= 2, "a set has a date and times: {set:?}");
        assert!(sets.within(1).is_none(), "a name is no message");
        assert!(input("/nextrung.v1.SetLogService/Nothing").is_none());
    }
}
