//! Session: a prescription in the words of a workbook.

use nextrung_api::v1;
use nextrung_workbook::session::{Item, Note, Section, Session};

use crate::lexicon::Lexicon;
use crate::view::figure::{dose, likely, rest};
use crate::view::{hold_back, prescription};
use crate::words;

/// A prescription in words; `who` is what people call the athlete.
pub(super) fn of(made: &v1::Prescription, who: &str, lexicon: &Lexicon) -> Session {
    Session {
        title: format!("Next session of {}", prescription::title(made, who)),
        headline: made.headline.clone(),
        items: made.items.iter().map(|item| of_item(item, lexicon)).collect(),
        sections: vec![
            Section { title: "Goals", sentences: prescription::goal_sentences(made) },
            Section { title: "Held back", sentences: hold_back::sentences(&made.hold_backs, lexicon) },
            Section {
                title: "Ladders against last time",
                sentences: prescription::direction_sentences(made, lexicon),
            },
            Section { title: "The day", sentences: sentences(&made.reasons) },
            Section { title: "Cautions", sentences: made.cautions.clone() },
        ],
        origin: prescription::origin(made),
    }
}

/// The session in a line: `4 x 3-5 reps Pull-up; ...`, or what kind of day it is.
pub(super) fn line(made: &v1::Prescription, lexicon: &Lexicon) -> String {
    let item = |item: &v1::PrescribedItem| {
        format!("{} {}", dose(item), lexicon.work(&item.rung, &item.shadings, item.load_kg))
    };
    made.items.iter().map(item).collect::<Vec<_>>().join("; ")
}

fn of_item(item: &v1::PrescribedItem, lexicon: &Lexicon) -> Item {
    let expected = item.expected.clone().unwrap_or_default();
    let stop = item.stop_rule.iter().map(|rule| rule.sentence.clone()).collect();
    Item {
        part: words::phrase_of::<v1::Block>(item.block).replace(" practice", ""),
        work: lexicon.work(&item.rung, &item.shadings, item.load_kg),
        dose: dose(item),
        rest: rest(item.rest_seconds),
        could_do: likely(expected.median_units, expected.interval.as_ref()),
        chance: prescription::hit(item.block, &expected),
        notes: vec![
            Note { label: "why", sentences: sentences(&item.reasons) },
            Note { label: "stop", sentences: stop },
            Note { label: "cues", sentences: cues(item) },
        ],
    }
}

fn cues(item: &v1::PrescribedItem) -> Vec<String> {
    if item.cues.is_empty() { Vec::new() } else { vec![item.cues.join(" ")] }
}

fn sentences(reasons: &[v1::Reason]) -> Vec<String> {
    reasons.iter().map(|reason| reason.sentence.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_session_has_what_the_command_line_shows() {
        let item = v1::PrescribedItem {
            block: i32::from(v1::Block::Working),
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            sets: 4,
            target_low: 3,
            target_high: 5,
            unit: i32::from(v1::Unit::Reps),
            rest_seconds: 180,
            expected: Some(v1::Expectation { p_band: 0.7, median_units: 4.1, ..v1::Expectation::default() }),
            reasons: vec![v1::Reason { sentence: "It is in the band.".to_owned(), ..v1::Reason::default() }],
            cues: vec!["Chin over.".to_owned(), "Slow.".to_owned()],
            ..v1::PrescribedItem::default()
        };
        let made = v1::Prescription {
            kind: i32::from(v1::PrescriptionKind::Training),
            date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            items: vec![item],
            cautions: vec!["Care.".to_owned()],
            ..v1::Prescription::default()
        };
        let lexicon = Lexicon::default();
        let found = of(&made, "=Wren", &lexicon);
        assert_eq!(found.title, "Next session of =Wren, Monday 23 November 2026: training");
        let item = &found.items[0];
        assert_eq!((item.dose.as_str(), item.rest.as_str(), item.chance), ("4 x 3-5 reps", "3 min", 0.7));
        let said: Vec<_> = item.notes.iter().map(|note| (note.label, note.sentences.concat())).collect();
        assert_eq!(said[0], ("why", "It is in the band.".to_owned()));
        assert_eq!((said[1].1.as_str(), said[2].1.as_str()), ("", "Chin over. Slow."));
        assert_eq!(found.sections[4].sentences, ["Care."]);
        assert_eq!(line(&made, &lexicon), "4 x 3-5 reps pull/pull-up");
    }
}
