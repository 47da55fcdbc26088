//! Seeds: every request of the contract with every field set, made from its descriptors.

use nextrung_server::json::route::{ROUTES, Route};
use nextrung_server::json::template::Segment;
use nextrung_server::page::List;
use prost_reflect::prost::Message;
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};

use crate::contract;
use crate::json::request::Request;
use crate::proto::REQUESTS;

/// A small ladder that is sound.
const LADDER: &str = include_str!("seed/ladder.toml");
const ROSTER: &str = "rosters/hall";
const ATHLETE: &str = "rosters/hall/athletes/wren";
const RUNG: &str = "ladders/pull/rungs/pull-up";

/// Inputs of the target `proto`, each with the name of its request.
pub fn requests() -> Vec<(&'static str, Vec<u8>)> {
    let numbered = (0_u8..).zip(&REQUESTS);
    let seed = |number: u8, name: &str| {
        [&[number], whole(&contract::message(name)).encode_to_vec().as_slice()].concat()
    };
    numbered.map(|(number, request)| (request.name, seed(number, request.name))).collect()
}

/// Inputs of the target `json`, a call over each route with every field that it takes, named after their methods.
pub fn calls() -> Vec<(String, Vec<u8>)> {
    let mut calls = Vec::new();
    for route in ROUTES.iter() {
        let written = Request::of(route, &of_route(route)).map(|request| request.write());
        let written = written.unwrap_or_else(|| unreachable!("{route:?} has no form"));
        let is_told = |name: &str| calls.iter().any(|(told, _): &(String, Vec<u8>)| told == name);
        let name = route.method.name().to_owned();
        // A method may be called over a second path.
        let name = if is_told(&name) { format!("{name}-2") } else { name };
        calls.push((name, written));
    }
    calls
}

/// A message of a route with every field set, its names those of the path.
pub(crate) fn of_route(route: &Route) -> DynamicMessage {
    let mut message = whole(&route.method.input());
    for variable in &route.template.variables {
        let mut name = Vec::new();
        for segment in route.template.segments.get(variable.place.clone()).unwrap_or_default() {
            let id = |collection: Option<&String>| match collection.map_or("", String::as_str) {
                "rosters" => "hall",
                "athletes" => "wren",
                "ladders" => "pull",
                "sets" => "2026-11-23-1",
                _ => "p-20261123-l40-1",
            };
            name.push(match segment {
                Segment::Literal(literal) => literal.clone(),
                Segment::Any => id(name.last()).to_owned(),
            });
        }
        put(&mut message, &variable.field, name.join("/"));
    }
    message
}

/// Puts a text into a field by its path with dots.
fn put(message: &mut DynamicMessage, path: &str, text: String) {
    match path.split_once('.') {
        Some((first, rest)) => {
            let within = message.get_field_by_name_mut(first).and_then(Value::as_message_mut);
            put(within.unwrap_or_else(|| unreachable!("{path} leads to no message")), rest, text);
        }
        None => message.set_field_by_name(path, Value::String(text)),
    }
}

/// A message with every field set; of fields that exclude each other, the first.
pub(crate) fn whole(message: &MessageDescriptor) -> DynamicMessage {
    let mut made = DynamicMessage::new(message.clone());
    for field in message.fields() {
        let is_first =
            |one: prost_reflect::OneofDescriptor| one.fields().next().is_some_and(|first| first == field);
        if field.containing_oneof().is_none_or(is_first) {
            made.set_field(&field, value(&field));
        }
    }
    made
}

/// A value that suits a field.
#[expect(clippy::wildcard_enum_match_arm, reason = "a kind that is new in the contract is told by name")]
pub(crate) fn value(field: &FieldDescriptor) -> Value {
    let one = match field.kind() {
        Kind::Message(inner) => Value::Message(whole(&inner)),
        Kind::Enum(_) => Value::EnumNumber(1),
        Kind::String => Value::String(text(field)),
        Kind::Bool => Value::Bool(true),
        Kind::Double => Value::F64(number(field.name())),
        Kind::Int32 => Value::I32(whole_number(field.name())),
        Kind::Int64 => Value::I64(i64::from(whole_number(field.name()))),
        other => unreachable!("the contract has no {other:?} so far: give it a value here"),
    };
    if field.is_list() { Value::List(vec![one]) } else { one }
}

fn text(field: &FieldDescriptor) -> String {
    let within = field.parent_message();
    let told = match (within.name(), field.name()) {
        ("Roster" | "GetRosterRequest" | "ReplayRosterRequest", "name")
        | ("CreateAthleteRequest" | "ListAthletesRequest", "parent") => ROSTER,
        ("CorrectSetRequest" | "WithdrawSetRequest", "name") => {
            "rosters/hall/athletes/wren/sets/2026-11-23-1"
        }
        ("GetPrescriptionRequest" | "ExplainPrescriptionRequest", "name") => {
            "rosters/hall/athletes/wren/prescriptions/p-20261123-l40-1"
        }
        ("GetLadderRequest", "name") | (_, "ladders") => "ladders/pull",
        ("PolicyVariant", "name") => "bolder",
        (_, "name" | "parent" | "names" | "athletes") => ATHLETE,
        (_, "rung" | "rungs" | "insisted_rungs") => RUNG,
        (_, "roster_id") => "hall",
        (_, "athlete_id") => "wren",
        (_, "request_id") => "r-1",
        (_, "client_set_id") => "2026-11-23-1",
        (_, "shadings") => "light-band",
        (_, "tempo") => "31X1",
        (_, "equipment") => "bar",
        (_, "paths") => "goals",
        (_, "content") => LADDER,
        (_, "page_token") => return List::new("ListRosters", "").token(Some("hall".to_owned())),
        _ => "as agreed",
    };
    told.to_owned()
}

fn number(field: &str) -> f64 {
    match field {
        "body_mass_kg" => 62.5,
        "load_kg" => 2.5,
        "attempt_floor" => 0.1,
        _ => 0.5,
    }
}

fn whole_number(field: &str) -> i32 {
    match field {
        "year" => 2026,
        "month" => 11,
        "day" => 23,
        "low" | "max_pain" => 3,
        "high" | "reps" | "planned_target" => 5,
        "reps_in_reserve" | "step_rungs" => 2,
        "weeks" | "page_size" | "warm_up_days" | "max_sets_per_session" => 12,
        "rest_seconds" | "max_minutes" => 90,
        _ => 1,
    }
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;
    use nextrung_domain::draft::Setting;
    use nextrung_server::convert;
    use prost_reflect::ReflectMessage;

    use super::*;
    use crate::world::WORLD;

    fn seed<M: Message + Default>(name: &str) -> M {
        let (_, bytes) = requests().into_iter().find(|(request, _)| *request == name).expect("a seed");
        M::decode(&bytes[1..]).expect("a message")
    }

    #[test]
    fn seeds_have_every_field() {
        for (name, bytes) in requests() {
            let message = DynamicMessage::decode(contract::message(name), &bytes[1..]).unwrap();
            let (set, all) = (message.fields().count(), message.descriptor().fields().count());
            assert_eq!((set, message.unknown_fields().count()), (all, 0), "{name}");
        }
    }

    #[test]
    fn seeds_of_writes_are_taken() {
        let setting = Setting { catalog: &WORLD.catalog, profile: &WORLD.profiles[0], today: WORLD.today };
        let record: v1::RecordSetsRequest = seed("RecordSetsRequest");
        let set = convert::set::draft(record.sets[0].clone()).check(&setting).unwrap();
        assert!(set.load.is_some() && !set.shadings.is_empty() && set.tempo.is_some());
        let create: v1::CreateAthleteRequest = seed("CreateAthleteRequest");
        let draft = convert::athlete::draft(create.athlete.unwrap());
        let profile = draft.check(&WORLD.catalog, WORLD.today).unwrap();
        assert!(profile.bands.is_some() && !profile.clearances.is_empty() && !profile.limits.pins.is_empty());
        let replay: v1::ReplayRosterRequest = seed("ReplayRosterRequest");
        let asked = convert::replay::request::read(replay, &WORLD.catalog, &WORLD.policy).unwrap();
        assert!(!asked.variants.is_empty() && !asked.athletes.is_empty());
        let check: v1::CheckLadderRequest = seed("CheckLadderRequest");
        let file = nextrung_domain::ladder_file::NamedText { name: "seed", text: &check.content };
        assert_eq!(nextrung_domain::ladder_file::check_in_catalog(file, &WORLD.catalog), []);
    }
}
