//! Parts: of how many a message is made, counted before room is made for them. An empty set takes two bytes to send and
//! hundreds to hold, so that the length of a message alone bounds too little.

use prost::encoding::{DecodeContext, WireType, decode_key, decode_varint, skip_field};

use super::contract::{Shape, input};

/// Texts and messages within a message, at most: thirty for each of the most sets that can be sent at once.
pub(crate) const MOST: usize = 32_768;

/// Whether the message of a method has more parts than are taken. One that is no sound message has no more than were found up
/// to where it breaks.
pub(super) fn are_too_many(path: &str, message: &[u8]) -> bool {
    // The smallest part takes two bytes, so common messages are not looked at.
    message.len() / 2 > MOST && input(path).is_some_and(|shape| has_more(message, shape))
}

fn has_more(message: &[u8], shape: &'static Shape) -> bool {
    let mut parts = 0;
    let mut open = vec![(message, shape)];
    while let Some((mut bytes, shape)) = open.pop() {
        while let Some((field, part)) = next(&mut bytes) {
            parts += 1;
            if parts > MOST {
                return true;
            }
            open.extend(shape.within(field).map(|inner| (part, inner)));
        }
    }
    false
}

/// The next text or message, with the number of its field; what stands before it is skipped.
fn next<'m>(bytes: &mut &'m [u8]) -> Option<(u32, &'m [u8])> {
    while !bytes.is_empty() {
        let (field, wire) = decode_key(bytes).ok()?;
        if wire == WireType::LengthDelimited {
            let length = usize::try_from(decode_varint(bytes).ok()?).ok()?;
            let (part, rest) = bytes.split_at_checked(length)?;
            *bytes = rest;
            return Some((field, part));
        }
        skip_field(wire, field, bytes, DecodeContext::default()).ok()?;
    }
    None
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;
    use prost::Message;

    use super::*;

    const RECORD: &str = "/nextrung.v1.SetLogService/RecordSets";

    #[test]
    fn the_largest_batch_of_full_sets_is_taken() {
        let set = v1::LoggedSet {
            name: "rosters/hall/athletes/wren/sets/s".to_owned(),
            client_set_id: "wren:2026-03-14:1:1".to_owned(),
            training_date: Some(v1::Date { year: 2026, month: 3, day: 14 }),
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            shadings: vec!["band".to_owned(); 16],
            tempo: "31X1".to_owned(),
            note: "n".repeat(500),
            ..v1::LoggedSet::default()
        };
        let request = v1::RecordSetsRequest {
            parent: "rosters/hall/athletes/wren".to_owned(),
            sets: vec![set; 1000],
            request_id: "mine".to_owned(),
            validate_only: false,
        };
        assert!(!are_too_many(RECORD, &request.encode_to_vec()));
    }

    #[test]
    fn empty_sets_are_counted_to_the_last() {
        let request = |sets| v1::RecordSetsRequest {
            sets: vec![v1::LoggedSet::default(); sets],
            request_id: "mine".to_owned(),
            ..v1::RecordSetsRequest::default()
        };
        let long = |sets| [request(sets).encode_to_vec(), [0x20, 1].repeat(100)].concat();
        assert!(!are_too_many(RECORD, &long(MOST - 1)), "with the id of the request");
        assert!(are_too_many(RECORD, &long(MOST)));
    }

    #[test]
    fn what_stands_within_sets_counts_too() {
        let set = v1::LoggedSet { shadings: vec![String::new(); MOST / 2], ..v1::LoggedSet::default() };
        let request = v1::RecordSetsRequest { sets: vec![set; 2], ..v1::RecordSetsRequest::default() };
        assert!(are_too_many(RECORD, &request.encode_to_vec()));
    }

    #[test]
    fn a_broken_message_is_counted_to_where_it_breaks() {
        let breaks = [[0x12, 0].repeat(10), vec![0x12, 0xff, 0xff, 0xff, 0x7f], [0x12, 0].repeat(MOST)];
        assert!(!are_too_many(RECORD, &breaks.concat()));
        assert!(!are_too_many("/nextrung.v1.SetLogService/Nothing", &[0x12, 0].repeat(2 * MOST)));
    }
}
