//! Prescriptions: a row for each reason, in words.

use std::io::{self, Write};

use nextrung_api::v1;
use nextrung_sheet::write_cells;

use crate::calendar::iso;
use crate::names::short;
use crate::words;

const HEADER: [&str; 17] = [
    "prescription",
    "training_date",
    "issue_time",
    "log_position",
    "kind",
    "headline",
    "item",
    "rung",
    "shadings",
    "load_kg",
    "sets",
    "target_low",
    "target_high",
    "unit",
    "rest_seconds",
    "about",
    "sentence",
];
/// Columns about the prescription, and those about an item of it.
const ITEM: usize = 9;

/// Writes the table, the prescription issued first at the top.
pub(super) fn write(mut out: impl Write, prescriptions: &[v1::Prescription]) -> io::Result<()> {
    write_cells(&mut out, &HEADER)?;
    let mut ordered: Vec<&v1::Prescription> = prescriptions.iter().collect();
    let issued = |made: &v1::Prescription| made.issue_time.map(|time| (time.seconds, time.nanos));
    ordered.sort_by(|a, b| (issued(a), &a.name).cmp(&(issued(b), &b.name)));
    for made in ordered {
        for row in rows(made) {
            write_cells(&mut out, &row)?;
        }
    }
    out.flush()
}

fn rows(made: &v1::Prescription) -> Vec<Vec<String>> {
    let of_made = [
        made.name.rsplit('/').next().unwrap_or_default().to_owned(),
        iso(made.date.as_ref()),
        made.issue_time.map(|time| time.to_string()).unwrap_or_default(),
        made.log_position.to_string(),
        words::word_of::<v1::PrescriptionKind>(made.kind),
        made.headline.clone(),
    ];
    let row = |item: &[String], about: &str, sentence: &str| {
        [&of_made[..], item, &[about.to_owned(), sentence.to_owned()]].concat()
    };
    let none = vec![String::new(); ITEM];
    let mut rows = Vec::new();
    for (at, item) in made.items.iter().enumerate() {
        let cells = of_item(at + 1, item);
        rows.extend(item.reasons.iter().map(|reason| row(&cells, "item", &reason.sentence)));
        rows.extend(item.stop_rule.iter().map(|rule| row(&cells, "stop", &rule.sentence)));
    }
    let held = |held: &v1::HoldBack| format!("{}: {} {}", short(&held.rung), held.detail, held.opened_by);
    rows.extend(made.hold_backs.iter().map(|one| row(&none, "held-back", &held(one))));
    let directions = made.directions.iter().filter_map(|one| one.reason.as_ref());
    rows.extend(directions.map(|reason| row(&none, "ladder", &reason.sentence)));
    rows.extend(made.goal_statuses.iter().map(|goal| row(&none, "goal", &goal.sentence)));
    rows.extend(made.reasons.iter().map(|reason| row(&none, "day", &reason.sentence)));
    rows.extend(made.cautions.iter().map(|caution| row(&none, "caution", caution)));
    rows
}

fn of_item(number: usize, item: &v1::PrescribedItem) -> Vec<String> {
    vec![
        number.to_string(),
        short(&item.rung),
        item.shadings.join(" "),
        item.load_kg.to_string(),
        item.sets.to_string(),
        item.target_low.to_string(),
        item.target_high.to_string(),
        words::word_of::<v1::Unit>(item.unit),
        item.rest_seconds.to_string(),
    ]
}
