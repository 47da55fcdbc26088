//! Listing: the settings in force as a file that says the same again, each with where it comes from.

use super::reading::Entry;
use crate::secret::HIDDEN;

/// The settings in force, a line each, as TOML with the origin behind each value. Secrets are left out of the file and
/// said to be there.
pub fn listing(entries: &[Entry]) -> String {
    let lines: Vec<(String, String)> =
        entries.iter().map(|entry| (assignment(entry), entry.origin.to_string())).collect();
    let width = lines.iter().map(|(line, _)| line.chars().count()).max().unwrap_or(0);
    lines.into_iter().map(|(line, origin)| format!("{line:width$}  # {origin}\n")).collect()
}

fn assignment(entry: &Entry) -> String {
    let Entry { key, value, .. } = entry;
    if value == HIDDEN {
        format!("# {key} is set and not shown")
    } else if value.parse::<i64>().is_ok() || value.parse::<bool>().is_ok() {
        format!("{key} = {value}")
    } else {
        // JSON's escapes are among TOML's.
        format!("{key} = {}", serde_json::Value::from(value.as_str()))
    }
}
