//! Variant: rules of choice that differ from the service's in some numbers, from a TOML file.

use std::path::Path;

use nextrung_domain::problem::did_you_mean;
use nextrung_prescribe::policy::Policy;

use crate::failure::{Detail, Failure};

/// Reads `NAME=FILE`: the name for tables, and a file with the numbers that differ, by the names of the policy.
pub(super) fn read(text: &str, policy: &Policy) -> Result<(String, Policy), Failure> {
    let form = || {
        Failure::usage(
            format!("found --policy {text}; expected NAME=FILE"),
            "Give the rules a name for the tables.",
        )
    };
    let (name, path) =
        text.split_once('=').filter(|(name, path)| !name.is_empty() && !path.is_empty()).ok_or_else(form)?;
    let content = std::fs::read_to_string(Path::new(path)).map_err(|error| {
        Failure::usage(
            format!("{path} cannot be read: {error}"),
            "Name a TOML file with the numbers that differ.",
        )
    })?;
    let changed = changed(&content, policy).map_err(|details| Failure::Input {
        message: format!("{path} is no set of rules"),
        details,
        advice: "Name the numbers that differ from the service's rules, each as `name = value`.".to_owned(),
    })?;
    Ok((name.to_owned(), Policy { version: format!("{}+{name}", policy.version), ..changed }))
}

/// The policy with the numbers of a text in place of its own.
fn changed(content: &str, policy: &Policy) -> Result<Policy, Vec<Detail>> {
    let whole = |text: String| vec![Detail { place: "file".to_owned(), text }];
    let table: toml::Table = toml::from_str(content).map_err(|error| whole(error.message().to_owned()))?;
    let mut all = serde_json::to_value(policy).map_err(|error| whole(error.to_string()))?;
    let mut details = Vec::new();
    for (key, value) in table {
        let value = serde_json::to_value(value).map_err(|error| whole(error.to_string()))?;
        let names: Vec<String> = all.as_object().map_or_else(Vec::new, |o| o.keys().cloned().collect());
        match all.get_mut(&key) {
            Some(slot) if key != "version" => *slot = value,
            _ => {
                let known = names.iter().map(String::as_str).filter(|name| *name != "version");
                let guess = did_you_mean(&key, known.clone());
                let text = format!(
                    "no such number; expected one of {}{guess}",
                    known.collect::<Vec<_>>().join(", ")
                );
                details.push(Detail { place: key, text });
            }
        }
    }
    if !details.is_empty() {
        return Err(details);
    }
    serde_json::from_value(all).map_err(|error| whole(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_named_are_changed_and_all_others_stay() {
        let policy = Policy::default();
        let found = changed("keep_margin = 0.0\nstep_rungs = 1\n", &policy).unwrap();
        assert_eq!(found, Policy { keep_margin: 0.0, step_rungs: 1, ..policy });
    }

    #[test]
    fn every_unknown_name_is_told() {
        let details = changed("keep_margn = 0.0\ncolour = 1\n", &Policy::default()).unwrap_err();
        let places: Vec<&str> = details.iter().map(|d| d.place.as_str()).collect();
        assert_eq!(places, ["colour", "keep_margn"]);
        assert!(details[1].text.contains("did you mean `keep_margin`?"), "{}", details[1].text);
        assert!(changed("keep_margin = \"wide\"", &Policy::default()).is_err());
    }
}
