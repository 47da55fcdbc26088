//! What the contract promises, read from its own descriptors.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_api::v1::FILE_DESCRIPTOR_SET;
use prost::Message;
use prost_types::field_descriptor_proto::{Label, Type};
use prost_types::{
    DescriptorProto, EnumDescriptorProto, FieldDescriptorProto, FileDescriptorProto, FileDescriptorSet,
};

/// Numbers of the lists in `google/protobuf/descriptor.proto`, of which the paths of comments are made.
mod list {
    pub(super) const MESSAGES: i32 = 4;
    pub(super) const ENUMS: i32 = 5;
    pub(super) const SERVICES: i32 = 6;
    pub(super) const FIELDS: i32 = 2;
    pub(super) const NESTED_MESSAGES: i32 = 3;
    pub(super) const NESTED_ENUMS: i32 = 4;
    pub(super) const ONEOFS: i32 = 8;
    pub(super) const VALUES: i32 = 2;
    pub(super) const METHODS: i32 = 2;
}

/// Verbs that change nothing; any other verb is held to be a write.
const READING_VERBS: [&str; 11] =
    ["Get", "List", "Check", "Explain", "Estimate", "Suppose", "Plan", "Watch", "Review", "Replay", "Export"];

/// A thing the contract declares, with the path under which its comment is kept.
struct Declared {
    name: String,
    path: Vec<i32>,
}

#[expect(clippy::expect_used, reason = "without descriptors there is nothing to test")]
fn contract() -> FileDescriptorSet {
    FileDescriptorSet::decode(FILE_DESCRIPTOR_SET).expect("descriptors decode")
}

fn own_files(set: &FileDescriptorSet) -> impl Iterator<Item = &FileDescriptorProto> {
    set.file.iter().filter(|file| file.package() == "nextrung.v1")
}

fn messages(set: &FileDescriptorSet) -> BTreeMap<&str, &DescriptorProto> {
    own_files(set).flat_map(|file| &file.message_type).map(|message| (message.name(), message)).collect()
}

/// Every method as (service, method, request fields, response fields).
fn methods(set: &FileDescriptorSet) -> Vec<(String, &DescriptorProto, &DescriptorProto)> {
    let messages = messages(set);
    let find = |full: &str| messages[full.trim_start_matches(".nextrung.v1.")];
    own_files(set)
        .flat_map(|file| &file.service)
        .flat_map(|service| &service.method)
        .map(|method| (method.name().to_owned(), find(method.input_type()), find(method.output_type())))
        .collect()
}

fn field<'m>(message: &'m DescriptorProto, name: &str) -> Option<&'m FieldDescriptorProto> {
    message.field.iter().find(|field| field.name() == name)
}

fn has(message: &DescriptorProto, name: &str, kind: Type) -> bool {
    field(message, name).is_some_and(|field| field.r#type() == kind && field.label() != Label::Repeated)
}

fn place(parent: &[i32], list: i32, index: i32) -> Vec<i32> {
    [parent, &[list, index]].concat()
}

fn declare_enum(found: &mut Vec<Declared>, path: Vec<i32>, e: &EnumDescriptorProto) {
    for (i, value) in (0..).zip(&e.value) {
        found.push(Declared { name: value.name().to_owned(), path: place(&path, list::VALUES, i) });
    }
    found.push(Declared { name: e.name().to_owned(), path });
}

fn declare_message(found: &mut Vec<Declared>, path: Vec<i32>, message: &DescriptorProto) {
    for (i, field) in (0..).zip(&message.field) {
        let name = format!("{}.{}", message.name(), field.name());
        found.push(Declared { name, path: place(&path, list::FIELDS, i) });
    }
    for (i, oneof) in (0..).zip(&message.oneof_decl) {
        // `optional` is written down as a oneof of one field that nobody can comment on.
        let made_by_optional =
            message.field.iter().any(|field| field.proto3_optional() && field.oneof_index == Some(i));
        if !made_by_optional {
            let name = format!("{}.{}", message.name(), oneof.name());
            found.push(Declared { name, path: place(&path, list::ONEOFS, i) });
        }
    }
    for (i, nested) in (0..).zip(&message.nested_type) {
        declare_message(found, place(&path, list::NESTED_MESSAGES, i), nested);
    }
    for (i, nested) in (0..).zip(&message.enum_type) {
        declare_enum(found, place(&path, list::NESTED_ENUMS, i), nested);
    }
    found.push(Declared { name: message.name().to_owned(), path });
}

fn declarations(file: &FileDescriptorProto) -> Vec<Declared> {
    let mut found = Vec::new();
    for (i, message) in (0..).zip(&file.message_type) {
        declare_message(&mut found, place(&[], list::MESSAGES, i), message);
    }
    for (i, e) in (0..).zip(&file.enum_type) {
        declare_enum(&mut found, place(&[], list::ENUMS, i), e);
    }
    for (i, service) in (0..).zip(&file.service) {
        let path = place(&[], list::SERVICES, i);
        for (j, method) in (0..).zip(&service.method) {
            found.push(Declared { name: method.name().to_owned(), path: place(&path, list::METHODS, j) });
        }
        found.push(Declared { name: service.name().to_owned(), path });
    }
    found
}

fn comments(file: &FileDescriptorProto) -> BTreeMap<&[i32], &str> {
    file.source_code_info
        .iter()
        .flat_map(|info| &info.location)
        .map(|location| (location.path.as_slice(), location.leading_comments().trim()))
        .collect()
}

/// Names of everything that is declared without a comment.
fn uncommented(set: &FileDescriptorSet) -> Vec<String> {
    let mut bare = Vec::new();
    for file in own_files(set) {
        let comments = comments(file);
        bare.extend(
            declarations(file)
                .into_iter()
                .filter(|declared| {
                    comments.get(declared.path.as_slice()).is_none_or(|comment| comment.is_empty())
                })
                .map(|declared| declared.name),
        );
    }
    bare
}

#[test]
fn every_service_is_there() {
    let set = contract();
    let found: BTreeSet<&str> =
        own_files(&set).flat_map(|file| &file.service).map(|service| service.name()).collect();
    let wanted = [
        "AthleteService",
        "CapacityService",
        "LadderService",
        "PrescriptionService",
        "ReplayService",
        "ReviewService",
        "RosterService",
        "SetLogService",
    ];
    assert_eq!(found, BTreeSet::from(wanted));
}

#[test]
fn the_set_holds_every_file_it_imports_and_needs_no_foreign_one() {
    let set = contract();
    let held: BTreeSet<&str> = set.file.iter().map(FileDescriptorProto::name).collect();
    for import in set.file.iter().flat_map(|file| &file.dependency) {
        assert!(held.contains(import.as_str()), "{import} is imported and missing");
        assert!(
            ["nextrung/v1/", "google/protobuf/", "google/api/"].iter().any(|own| import.starts_with(own)),
            "{import} is foreign"
        );
    }
}

#[test]
fn everything_has_a_comment() {
    assert_eq!(uncommented(&contract()), Vec::<String>::new());
}

#[test]
fn a_lost_comment_is_noticed() {
    let mut set = contract();
    let file =
        set.file.iter_mut().find(|file| file.name() == "nextrung/v1/date.proto").expect("the file of dates");
    let month = place(&place(&[], list::MESSAGES, 0), list::FIELDS, 1);
    let info = file.source_code_info.as_mut().expect("comments");
    info.location.retain(|location| location.path != month);
    assert_eq!(uncommented(&set), ["Date.month"]);
}

/// AIP-203: whether a field of a request is needed is the first word of its comment.
#[test]
fn every_request_field_says_whether_it_is_needed() {
    let set = contract();
    let mut asked = 0;
    for file in own_files(&set) {
        let comments = comments(file);
        for (i, message) in (0..).zip(&file.message_type).filter(|(_, m)| m.name().ends_with("Request")) {
            for (j, field) in (0..).zip(&message.field) {
                let path = place(&place(&[], list::MESSAGES, i), list::FIELDS, j);
                let comment = comments[path.as_slice()];
                let says = comment.starts_with("Required.") || comment.starts_with("Optional.");
                assert!(says, "{}.{}: {comment}", message.name(), field.name());
                asked += 1;
            }
        }
    }
    assert!(asked > 0, "no request has a field");
}

/// AIP-155 on every write, and on nothing else.
#[test]
fn every_write_takes_a_request_id() {
    let set = contract();
    for (name, request, _) in methods(&set) {
        let reads = READING_VERBS.iter().any(|verb| name.starts_with(verb));
        assert_eq!(has(request, "request_id", Type::String), !reads, "{name}");
    }
}

/// AIP-158: each list is paged.
#[test]
fn every_list_has_pages() {
    let set = contract();
    let mut lists = 0;
    for (name, request, response) in methods(&set).iter().filter(|(name, ..)| name.starts_with("List")) {
        assert!(has(request, "page_size", Type::Int32), "{name}: page_size");
        assert!(has(request, "page_token", Type::String), "{name}: page_token");
        assert!(has(response, "next_page_token", Type::String), "{name}: next_page_token");
        let first = response.field.first().expect("a list answers with something");
        assert!(first.number() == 1 && first.label() == Label::Repeated, "{name}: the items come first");
        lists += 1;
    }
    assert_eq!(lists, 6, "rosters, athletes, accesses, ladders, sets, prescriptions");
}

/// AIP-131, 132, 133, 134: the fields of the standard methods.
#[test]
fn standard_methods_have_their_fields() {
    let set = contract();
    for (name, request, _) in methods(&set) {
        if name.starts_with("Get") {
            assert_eq!(request.field.len(), 1, "{name}");
            assert!(has(request, "name", Type::String), "{name}: name");
        }
        if let Some(resource) = name.strip_prefix("Create") {
            let resource = resource.to_lowercase();
            assert!(has(request, &resource, Type::Message), "{name}: {resource}");
            assert!(has(request, &format!("{resource}_id"), Type::String), "{name}: {resource}_id");
        }
        if let Some(resource) = name.strip_prefix("Update") {
            assert!(has(request, &resource.to_lowercase(), Type::Message), "{name}: the resource");
            let mask = field(request, "update_mask").map(FieldDescriptorProto::type_name);
            assert_eq!(mask, Some(".google.protobuf.FieldMask"), "{name}");
        }
    }
}

/// AIP-126 and AIP-122: an enum starts at "not given", and no id is made of bytes.
#[test]
fn enums_start_unspecified_and_nothing_is_bytes() {
    let set = contract();
    let enums: Vec<&EnumDescriptorProto> = own_files(&set).flat_map(|file| &file.enum_type).collect();
    assert!(!enums.is_empty());
    for e in enums {
        let first = e.value.first().expect("an enum has values");
        assert_eq!(first.number(), 0, "{}", e.name());
        assert!(first.name().ends_with("_UNSPECIFIED"), "{}", first.name());
    }
    for (name, message) in messages(&set) {
        assert!(message.field.iter().all(|field| field.r#type() != Type::Bytes), "{name} has bytes");
    }
}
