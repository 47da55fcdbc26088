//! Profiles: a row for each field that an event of the log changed.

use std::io::{self, Write};

use nextrung_sheet::write_cells;
use serde_json::{Map, Value};

const HEADER: [&str; 5] = ["log_position", "arrival_time", "field", "before", "after"];
/// Fields that the service makes, and no change of anybody's.
const MADE: [&str; 4] = ["name", "createTime", "updateTime", "logPosition"];

/// Writes the table from the events of an export as JSON; the first profile is told against nothing.
pub(super) fn write(mut out: impl Write, events: Option<&Value>) -> io::Result<()> {
    write_cells(&mut out, &HEADER)?;
    let none = Map::new();
    let mut before = &none;
    for event in events.and_then(Value::as_array).into_iter().flatten() {
        let Some(after) = event.get("profile").and_then(Value::as_object) else { continue };
        let fields: std::collections::BTreeSet<&String> = before.keys().chain(after.keys()).collect();
        for field in fields.into_iter().filter(|field| !MADE.contains(&field.as_str())) {
            let (old, new) = (before.get(field), after.get(field));
            if old != new {
                let (position, arrival) = (event.get("logPosition"), event.get("arrivalTime"));
                let row = [text(position), text(arrival), field.clone(), text(old), text(new)];
                write_cells(&mut out, &row)?;
            }
        }
        before = after;
    }
    out.flush()
}

/// A text as it is, anything else as JSON, nothing as nothing.
fn text(value: Option<&Value>) -> String {
    match value {
        None => String::new(),
        Some(Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
    }
}
