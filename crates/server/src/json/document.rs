//! Document: the JSON of a request, taken apart within bounds. Names stay as they stand there, also those told twice.

use std::cell::Cell;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::Number;

use crate::access::parts;

/// Values in a document, at most, whatever they are: an empty one takes two bytes to send and tens to hold.
const MOST: usize = 4 * parts::MOST;

/// A piece of a document.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Part {
    Null,
    Flag(bool),
    Number(Number),
    Text(String),
    List(Vec<Part>),
    Object(Vec<(String, Part)>),
}

/// Why there is no document.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum Unread {
    /// It has more in it than is taken.
    #[error("more than is taken")]
    Crowded,
    /// It is no JSON.
    #[error("{why}")]
    Malformed {
        /// What is wrong, with line and column.
        why: String,
    },
}

/// Reads a document. Nothing is kept of one that is not whole, is nested more than 128 deep, or has more texts and objects in
/// it than a message may have.
pub(super) fn read(bytes: &[u8]) -> Result<Part, Unread> {
    let room = Room { values: Cell::new(MOST), parts: Cell::new(parts::MOST), is_used_up: Cell::new(false) };
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = room.deserialize(&mut reader).and_then(|part| reader.end().map(|()| part));
    read.map_err(|error| {
        if room.is_used_up.get() { Unread::Crowded } else { Unread::Malformed { why: error.to_string() } }
    })
}

/// How much may still come.
struct Room {
    values: Cell<usize>,
    parts: Cell<usize>,
    is_used_up: Cell<bool>,
}

impl Room {
    fn take<E: Error>(&self, of: &Cell<usize>) -> Result<(), E> {
        match of.get().checked_sub(1) {
            Some(left) => of.set(left),
            None => {
                self.is_used_up.set(true);
                return Err(E::custom("too much"));
            }
        }
        Ok(())
    }
}

impl<'de> DeserializeSeed<'de> for &Room {
    type Value = Part;

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<Part, D::Error> {
        self.take(&self.values)?;
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for &Room {
    type Value = Part;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_unit<E: Error>(self) -> Result<Part, E> {
        Ok(Part::Null)
    }

    fn visit_bool<E: Error>(self, flag: bool) -> Result<Part, E> {
        Ok(Part::Flag(flag))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Part, E> {
        Ok(Part::Number(number.into()))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Part, E> {
        Ok(Part::Number(number.into()))
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Part, E> {
        Number::from_f64(number).map(Part::Number).ok_or_else(|| E::custom("a number out of range"))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Part, E> {
        self.take(&self.parts)?;
        Ok(Part::Text(text.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Part, A::Error> {
        let mut parts = Vec::new();
        while let Some(part) = list.next_element_seed(self)? {
            parts.push(part);
        }
        Ok(Part::List(parts))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Part, A::Error> {
        self.take(&self.parts)?;
        let mut fields = Vec::new();
        while let Some(name) = map.next_key()? {
            fields.push((name, map.next_value_seed(self)?));
        }
        Ok(Part::Object(fields))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_told_twice_are_both_there() {
        let read = read(br#" {"a": 1, "a": [null, true, "x", -2.5]} "#).unwrap();
        let list = vec![
            Part::Null,
            Part::Flag(true),
            Part::Text("x".to_owned()),
            Part::Number(Number::from_f64(-2.5).unwrap()),
        ];
        let fields = vec![("a".to_owned(), Part::Number(1.into())), ("a".to_owned(), Part::List(list))];
        assert_eq!(read, Part::Object(fields));
    }

    #[test]
    fn what_is_no_json_is_told_by_line_and_column() {
        for (text, place) in [
            ("", "line 1 column 0"),
            ("{\n  \"a\": 1,\n}", "line 3 column 1"),
            ("{} {}", "line 1 column 4"),
            ("{\"a\": \"\u{1}\"}", "line 1 column 8"),
            (r#"{"a": "\ud800"}"#, "line 1"),
            ("nul", "line 1 column 3"),
        ] {
            let Err(Unread::Malformed { why }) = read(text.as_bytes()) else { panic!("{text}") };
            assert!(why.contains(place), "{text}: {why}");
        }
        assert!(matches!(read(b"\"\xff\""), Err(Unread::Malformed { .. })));
    }

    #[test]
    fn more_than_is_taken_is_refused() {
        let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
        assert!(read(nested(100).as_bytes()).is_ok());
        assert!(matches!(read(nested(100_000).as_bytes()), Err(Unread::Malformed { .. })));
        let listed = |part: &str, most: usize| format!("[{}]", vec![part; most].join(","));
        for part in ["{}", "\"\"", r#"{"a":0}"#] {
            assert!(read(listed(part, parts::MOST).as_bytes()).is_ok(), "{part}");
            assert_eq!(read(listed(part, parts::MOST + 1).as_bytes()), Err(Unread::Crowded), "{part}");
        }
        assert!(read(listed("0", MOST - 1).as_bytes()).is_ok());
        assert_eq!(read(listed("0", MOST).as_bytes()), Err(Unread::Crowded));
    }
}
