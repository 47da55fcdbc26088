//! Routes against the descriptors they are read from.

use http::Method;
use prost_reflect::{DescriptorPool, FieldDescriptor, Kind, MessageDescriptor};

use crate::access::rules;
use crate::json::route::{Carried, Found, ROUTES, Route, found, methods, of};
use crate::json::scalar::is_one_piece;
use crate::json::template::Segment;

#[test]
fn every_method_has_a_path() {
    assert_eq!(methods().len(), rules::RULES.len());
    for method in methods() {
        let routes = of(&method).unwrap_or_default();
        assert!(!routes.is_empty(), "{}: say its path with google.api.http", method.full_name());
        assert!(rules::of(&routes[0].path).is_some(), "{}", routes[0].path);
    }
}

#[test]
fn a_method_without_the_option_has_none() {
    let health = DescriptorPool::decode(tonic_health::pb::FILE_DESCRIPTOR_SET).unwrap();
    let service = health.services().next().unwrap();
    assert!(service.methods().all(|method| of(&method).is_none()));
}

/// A path of a route, with these texts in its open parts.
fn path(route: &Route, texts: &str) -> String {
    let part = |segment: &Segment| match segment {
        Segment::Literal(literal) => literal.clone(),
        Segment::Any => texts.to_owned(),
    };
    let parts: Vec<String> = route.template.segments.iter().map(part).collect();
    let verb = route.template.verb.as_ref().map(|verb| format!(":{verb}")).unwrap_or_default();
    format!("/{}{verb}", parts.join("/"))
}

#[test]
fn every_path_leads_to_its_own_method() {
    for route in ROUTES.iter() {
        for texts in ["wren", "rosters", "v1"] {
            let path = path(route, texts);
            match found(&ROUTES, (&route.verb, &path)) {
                Found::Call(call) => assert_eq!(call.route.path, route.path, "{path}"),
                other => panic!("{path}: {other:?}"),
            }
            let other = found(&ROUTES, (&Method::TRACE, &path));
            assert!(matches!(other, Found::OtherVerbs(verbs) if verbs.contains(&route.verb)), "{path}");
        }
    }
}

#[test]
fn reads_are_gets_and_writes_carry_a_body() {
    for route in ROUTES.iter() {
        let is_write = route.method.input().get_field_by_name("request_id").is_some();
        assert!(!is_write || route.takes_body(), "{}", route.path);
        assert_eq!(route.verb == Method::GET, !route.takes_body(), "{}", route.path);
    }
}

#[test]
fn every_field_can_be_told() {
    for route in ROUTES.iter() {
        for variable in &route.template.variables {
            let mut kind = route.method.input();
            let mut parts = variable.field.split('.').peekable();
            while let Some(part) = parts.next() {
                let field = kind.get_field_by_name(part).unwrap_or_else(|| panic!("{variable:?}"));
                match field.kind() {
                    Kind::Message(inner) if parts.peek().is_some() => kind = inner,
                    last => assert!(matches!(last, Kind::String) && parts.peek().is_none(), "{variable:?}"),
                }
            }
        }
        if let Carried::Field(field) = &route.carried {
            assert!(matches!(field.kind(), Kind::Message(kind) if !is_one_piece(&kind)), "{field:?}");
        }
        let in_query = |field: &FieldDescriptor| match &route.carried {
            Carried::Nothing => true,
            Carried::All => false,
            Carried::Field(carried) => carried != field,
        };
        for field in route.method.input().fields() {
            is_readable(&field, &mut Vec::new());
            if in_query(&field) {
                fits_a_query(&field);
            }
        }
    }
}

/// Lists of messages have no form in a query.
fn fits_a_query(field: &FieldDescriptor) {
    if let Kind::Message(kind) = field.kind()
        && !is_one_piece(&kind)
    {
        assert!(!field.is_list(), "{field:?}");
        kind.fields().for_each(|field| fits_a_query(&field));
    }
}

/// Kinds that the contract does not use are not read.
fn is_readable(field: &FieldDescriptor, above: &mut Vec<MessageDescriptor>) {
    assert!(!field.is_map() && !matches!(field.kind(), Kind::Float | Kind::Bytes), "{field:?}");
    if let Kind::Message(kind) = field.kind() {
        let known = ["google.protobuf.Timestamp", "google.protobuf.FieldMask"];
        assert!(!is_one_piece(&kind) || known.contains(&kind.full_name()), "{field:?}");
        assert!(!above.contains(&kind), "{field:?} stands within itself");
        if !is_one_piece(&kind) {
            above.push(kind.clone());
            kind.fields().for_each(|field| is_readable(&field, above));
            above.pop();
        }
    }
}
