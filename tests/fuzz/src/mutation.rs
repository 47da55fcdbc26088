//! Mutation: a request with one of its fields set to something else, by the contract's descriptors.

use nextrung_server::json::message;
use nextrung_server::json::route::{Found, ROUTES, found};
use prost_reflect::prost::Message;
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, ReflectMessage, Value};

use crate::json::request::Request;
use crate::proto::REQUESTS;
use crate::{contract, seed};

/// Whole numbers at which something ends.
const WHOLE: [i64; 14] = [0, 1, -1, 2, 6, 7, 9, 10, 200, 1000, 1001, 0x7fff_ffff, i64::MAX, i64::MIN];
/// Numbers at which something ends, and some that are none.
const NUMBERS: [f64; 13] =
    [0.0, -0.0, 0.0004, -0.0004, 1.0, 20.0, -200.0, 300.0, 300.000_1, 1e308, 5e-324, f64::NAN, f64::INFINITY];
/// Texts of shapes that are looked for.
const TEXTS: [&str; 12] = [
    "",
    " ",
    "a",
    "pull/pull-up",
    "ladders/pull/rungs/pull-up",
    "ladders/push-up/rungs/push-up",
    "rosters/hall/athletes/heron",
    "light-band",
    "*",
    "\u{0}",
    "Žuvėdra \u{feff}早",
    "0123456789012345678901234567890123456789012345678901234567890123456789",
];

/// Draws from a seed.
struct Dice(u64);

impl Dice {
    fn of(seed: u32) -> Self {
        let mut dice = Self(u64::from(seed));
        dice.below(1);
        dice
    }

    fn below(&mut self, count: usize) -> usize {
        // Knuth's linear congruential generator, from memory: any that spreads will do.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % count.max(1)
    }

    fn one<T: Copy>(&mut self, all: &[T]) -> Option<T> {
        all.get(self.below(all.len())).copied()
    }
}

/// An input of the target `proto` with one field changed, or nothing when it is no request.
pub fn change(input: &[u8], seed: u32) -> Option<Vec<u8>> {
    let (number, bytes) = input.split_first()?;
    let request = REQUESTS.get(usize::from(*number))?;
    let mut message = DynamicMessage::decode(contract::message(request.name), bytes).ok()?;
    shake(&mut message, &mut Dice::of(seed));
    Some([&[*number], message.encode_to_vec().as_slice()].concat())
}

/// An input of the target `json` with one field of what is asked changed, or nothing when it is no call, or its path or JSON
/// has no form for the change.
pub fn change_call(input: &[u8], seed: u32) -> Option<Vec<u8>> {
    let request = Request::read(input)?;
    let Found::Call(call) = found(&ROUTES, (&request.verb, request.path())) else { return None };
    let mut message = message::read(&call, request.query(), &request.body).ok()?;
    shake(&mut message, &mut Dice::of(seed));
    Request::of(call.route, &message).map(|changed| changed.write())
}

/// Changes one field of a message, or of a message in it.
fn shake(message: &mut DynamicMessage, dice: &mut Dice) {
    let fields: Vec<FieldDescriptor> = message.descriptor().fields().collect();
    let Some(field) = fields.get(dice.below(fields.len())) else { return };
    if message.has_field(field) && dice.below(4) > 0 {
        shake_value(message.get_field_mut(field), field, dice);
    } else if dice.below(4) == 0 {
        message.clear_field(field);
    } else {
        message.set_field(field, seed::value(field));
    }
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the contract knows these kinds; a seed of another one fails"
)]
fn shake_value(value: &mut Value, field: &FieldDescriptor, dice: &mut Dice) {
    match value {
        Value::Message(inner) => shake(inner, dice),
        Value::List(items) => {
            let at = dice.below(items.len());
            match (dice.below(4), items.get(at).cloned()) {
                (0, Some(item)) => items.push(item),
                (1, Some(_)) => drop(items.remove(at)),
                (_, Some(_)) => shake_value(&mut items[at], field, dice),
                (_, None) => {}
            }
        }
        other => *other = odd(field, dice),
    }
}

/// A single value for a field that may well not suit it.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the contract knows these kinds; a seed of another one fails"
)]
fn odd(field: &FieldDescriptor, dice: &mut Dice) -> Value {
    let whole = dice.one(&WHOLE).unwrap_or_default();
    match field.kind() {
        Kind::String => Value::String(dice.one(&TEXTS).unwrap_or_default().to_owned()),
        Kind::Double => Value::F64(dice.one(&NUMBERS).unwrap_or_default()),
        Kind::Int64 => Value::I64(whole),
        Kind::Int32 => Value::I32(i32::try_from(whole).unwrap_or(i32::MIN)),
        Kind::Enum(_) => Value::EnumNumber(i32::try_from(dice.below(12)).unwrap_or(0) - 1),
        Kind::Bool => Value::Bool(dice.below(2) == 0),
        _ => Value::default_value(&field.kind()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_changed_is_still_a_request_and_mostly_another() {
        for (name, input) in seed::requests() {
            let changed: Vec<Vec<u8>> = (0..200).map(|seed| change(&input, seed).unwrap()).collect();
            let differ = changed.iter().filter(|one| **one != input).count();
            assert!(differ > 100, "{name}: {differ} of 200");
            for one in &changed {
                assert!(DynamicMessage::decode(contract::message(name), &one[1..]).is_ok(), "{name}");
            }
        }
    }

    #[test]
    fn what_is_asked_is_changed_to_what_can_be_asked() {
        let (mut calls, mut others) = (0, 0);
        for (name, input) in seed::calls() {
            let changed: Vec<Vec<u8>> = (0..200).filter_map(|seed| change_call(&input, seed)).collect();
            assert!(changed.iter().all(|one| Request::read(one).is_some()), "{name}");
            calls += 1;
            others += changed.iter().filter(|one| **one != input).count();
        }
        // Of a request that has but a name, few changes or none have a path.
        assert!(others > 20 * calls, "{others} others of {calls} calls, 200 times each");
        assert_eq!(change_call(b"GET /v1/nothing", 1), None);
    }
}
