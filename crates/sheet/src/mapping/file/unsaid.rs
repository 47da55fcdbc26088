//! Unsaid: what a mapping leaves open until a person says it.

use toml::{Table, Value};

use super::{Reading, described};
use crate::mapping::{ColumnName, Field, Mapping, folded};

impl Mapping {
    /// The same without what is said in it, though it stands among what is to be said.
    pub(super) fn without_said(mut self, table: &Table) -> Self {
        let is_said = |open: &String| {
            let by_field = Field::from_name(open).is_some_and(|field| self.has(field));
            let is_open =
                |name: &ColumnName| matches!(name, ColumnName::Header(text) if folded(text) == folded(open));
            // `session` by itself says nothing of a column, of which there are two.
            let by_setting = table.contains_key(open) && open != Field::Session.name();
            by_field || by_setting || self.columns.values().flatten().any(is_open)
        };
        let left: Vec<String> = self.unsaid.iter().filter(|open| !is_said(open)).cloned().collect();
        self.unsaid = left;
        self
    }
}

impl Reading {
    pub(super) fn unsaid(&mut self, table: &Table) -> Vec<String> {
        let Some(value) = table.get("to_be_said") else { return Vec::new() };
        let listed = value.as_array().map(Vec::as_slice).unwrap_or_default();
        let texts: Vec<String> = listed.iter().filter_map(Value::as_str).map(str::to_owned).collect();
        if !value.is_array() || texts.len() != listed.len() {
            self.add("to_be_said", described(value), "a list of what the sheet leaves open, as texts");
        }
        texts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_is_not_open_any_more() {
        let open = ["rest_unit", "day_order", "mass_unit", "load", "Extra kg"].map(str::to_owned);
        let guessed = Mapping { unsaid: open.to_vec(), ..Mapping::default() };
        let written = guessed.write();
        assert!(written.contains("\n# rest_unit = \"s\"\n"), "{written}");
        assert_eq!(Mapping::read(&written).unwrap().unsaid, open);
        let said = written.replace("# rest_unit", "rest_unit").replace("# day_order", "day_order");
        assert_eq!(Mapping::read(&said).unwrap().unsaid, ["mass_unit", "load", "Extra kg"]);
        let said = said.replace("\n[columns]\n", "\n[columns]\nload = \"extra KG\"");
        assert_eq!(Mapping::read(&said).unwrap().unsaid, ["mass_unit"]);
        assert!(Mapping::read("to_be_said = [5]").is_err());
        let asked = Mapping::read("session = 2\nto_be_said = [\"session\"]").unwrap();
        assert_eq!(asked.unsaid, ["session"], "which of two columns");
    }
}
