//! The text of events, there and back.

use nextrung_domain::event::EventBody;
use nextrung_domain::set::SetEntry;

use super::{Reader, kind};
use crate::conformance::{Broken, scene};

fn bodies() -> Result<Vec<EventBody>, Broken> {
    let full = scene::full_set("a", "\"quoted\" \\ \u{1f938}")?;
    let other = SetEntry { date: scene::day("2026-03-15")?, ..scene::set("b")? };
    Ok(vec![
        EventBody::Recorded { set: full.clone() },
        EventBody::Recorded { set: other },
        EventBody::Recorded { set: full.clone() },
        EventBody::Corrected { set: full, reason: "why\n".to_owned() },
        scene::withdrawn("a")?,
        EventBody::Profiled { profile: Box::new(scene::profile("Wren")) },
    ])
}

#[test]
fn a_body_is_read_as_the_domain_reads_it() {
    let mut reader = Reader::new();
    for body in bodies().unwrap() {
        let text = serde_json::to_string(&body).unwrap();
        assert_eq!(serde_json::from_str::<EventBody>(&text).unwrap(), body);
        assert_eq!(reader.read(kind(&body), &text).unwrap(), body);
    }
}

#[test]
fn the_kind_is_the_word_in_the_text() {
    for body in bodies().unwrap() {
        let text = serde_json::to_value(&body).unwrap();
        assert_eq!(text.get("kind").and_then(|word| word.as_str()), Some(kind(&body)));
    }
}

#[test]
fn a_bad_body_is_refused() {
    let text = serde_json::to_string(&scene::recorded("a").unwrap()).unwrap();
    let bad = [
        ("recorded", text.replace("pull/pull-up", "pull")),
        ("recorded", text.replace("2026-03-14", "2026-02-30")),
        ("recorded", text.replace("\"id\":\"a\"", "\"id\":\"a b\"")),
        ("recorded", text.replace("\"done\":5", "\"done\":-5")),
        ("recorded", text.replace("\"done\":5,", "")),
        ("recorded", text.chars().take(60).collect()),
        ("corrected", text.clone()),
        ("profiled", text.clone()),
        ("other", text.clone()),
    ];
    assert!(Reader::new().read("recorded", &text).is_ok());
    for (kind, body) in bad {
        assert!(Reader::new().read(kind, &body).is_err(), "{kind} {body}");
    }
}
