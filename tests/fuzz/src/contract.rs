//! Contract: its messages by name, and whether a problem names a field that one of them has.

use std::sync::LazyLock;

use nextrung_api::v1;
use nextrung_domain::problem::Problem;
use nextrung_server::fields::Read;
use prost_reflect::{DescriptorPool, FieldDescriptor, Kind, MessageDescriptor};

static POOL: LazyLock<DescriptorPool> = LazyLock::new(|| {
    DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET)
        .unwrap_or_else(|error| unreachable!("the contract is no set of descriptors: {error}"))
});

/// Reads the contract, so that what it takes counts for no input.
pub(crate) fn load() {
    LazyLock::force(&POOL);
}

/// A message of the contract. Panics when there is none of the name.
pub(crate) fn message(name: &str) -> MessageDescriptor {
    let found = POOL.get_message_by_name(&format!("nextrung.v1.{name}"));
    found.unwrap_or_else(|| unreachable!("the contract has no message {name}"))
}

/// The path of the method that is asked with a message. Panics when there is none.
pub(crate) fn path(request: &str) -> String {
    let methods = POOL.services().flat_map(|service| service.methods().collect::<Vec<_>>());
    let method = methods.into_iter().find(|method| method.input().name() == request);
    let method = method.unwrap_or_else(|| unreachable!("no method takes a {request}"));
    format!("/{}/{}", method.parent_service().full_name(), method.name())
}

/// The messages that are asked with, in the order of the contract's files.
#[cfg(test)]
pub(crate) fn requests() -> Vec<MessageDescriptor> {
    let ours = POOL.services().filter(|service| service.full_name().starts_with("nextrung.v1."));
    ours.flat_map(|service| service.methods().collect::<Vec<_>>()).map(|method| method.input()).collect()
}

/// What was read. Panics unless each problem says what was found, what would do, and names a field of the message `within`.
pub(crate) fn named<T>(within: &str, read: Read<T>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(problems) => {
            assert!(!problems.is_empty(), "refused without a problem");
            let message = message(within);
            problems.iter().for_each(|problem| told(&message, problem));
            None
        }
    }
}

fn told(message: &MessageDescriptor, problem: &Problem) {
    assert!(!problem.found.is_empty() && !problem.expected.is_empty(), "{problem:?}");
    assert!(has_path(message, &problem.field), "{} has no {problem:?}", message.name());
}

/// Whether a path such as `sets[3].reps` leads to a field, or to a choice between fields, in the message or those in it.
pub(crate) fn has_path(message: &MessageDescriptor, path: &str) -> bool {
    let (first, rest) = path.split_once('.').map_or((path, None), |(first, rest)| (first, Some(rest)));
    let (name, index) = first.split_once('[').map_or((first, None), |(name, index)| (name, Some(index)));
    let is_choice = rest.is_none() && index.is_none() && message.oneofs().any(|one| one.name() == name);
    let Some(field) = message.get_field_by_name(name) else { return is_choice };
    let is_place = |index: &str| index.strip_suffix(']').is_some_and(|n| n.parse::<usize>().is_ok());
    if index.is_some_and(|index| !field.is_list() || !is_place(index)) {
        return false;
    }
    match (rest, field.kind()) {
        (None, _) => true,
        (Some(rest), Kind::Message(inner)) => has_path(&inner, rest),
        (Some(_), _) => false,
    }
}

/// The message that a path such as `sets[3].training_date` leads to; the message itself when it is empty.
pub(crate) fn within(message: &MessageDescriptor, path: &str) -> Option<MessageDescriptor> {
    if path.is_empty() {
        return Some(message.clone());
    }
    let (first, rest) = path.split_once('.').unwrap_or((path, ""));
    let name = first.split_once('[').map_or(first, |(name, _)| name);
    has_path(message, first).then_some(())?;
    within(message.get_field_by_name(name)?.kind().as_message()?, rest)
}

/// A field by its name in JSON or in the contract.
pub(crate) fn field(message: &MessageDescriptor, name: &str) -> Option<FieldDescriptor> {
    message.get_field_by_json_name(name).or_else(|| message.get_field_by_name(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_lead_to_fields_that_there_are() {
        let record = message("RecordSetsRequest");
        for good in
            ["parent", "sets", "sets[3]", "sets[3].reps", "sets[0].done", "sets[0].training_date.year"]
        {
            assert!(has_path(&record, good), "{good}");
        }
        for bad in
            ["", "parents", "parent[0]", "sets[x].reps", "sets[3].done.reps", "parent.x", "sets[3].", "done"]
        {
            assert!(!has_path(&record, bad), "{bad}");
        }
    }

    #[test]
    fn paths_lead_to_the_messages_within() {
        let record = message("RecordSetsRequest");
        let name = |path: &str| within(&record, path).map(|kind| kind.name().to_owned());
        assert_eq!(name("").as_deref(), Some("RecordSetsRequest"));
        assert_eq!(name("sets[3]").as_deref(), Some("LoggedSet"));
        assert_eq!(name("sets[3].training_date").as_deref(), Some("Date"));
        for bad in ["parent", "sets[x]", "sets[3].reps", "sets[3].x", "x"] {
            assert_eq!(name(bad), None, "{bad}");
        }
    }

    #[test]
    #[should_panic(expected = "has no")]
    fn a_problem_of_a_field_that_is_not_there_is_seen() {
        let problem = Problem::new("rep", "1", "2");
        named::<()>("LoggedSet", Err(vec![problem]));
    }
}
