//! Masks: which fields of an athlete an update changes.

use nextrung_api::v1;
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::profile_draft::ProfileDraft;
use prost_types::FieldMask;

use crate::fields::{Read, few, quoted};

/// A field that can be changed.
struct Field {
    path: &'static str,
    /// Whether a message without a mask changes it.
    is_given: fn(&v1::Athlete) -> bool,
    take: fn(&mut ProfileDraft, &ProfileDraft),
}

const FIELDS: [Field; 9] = [
    Field {
        path: "display_name",
        is_given: |a| !a.display_name.is_empty(),
        take: |base, change| base.display_name.clone_from(&change.display_name),
    },
    Field {
        path: "birth_date",
        is_given: |a| a.birth_date.is_some(),
        take: |base, change| base.birth_date = change.birth_date,
    },
    Field {
        path: "body_mass_kg",
        is_given: |a| a.body_mass_kg.is_some(),
        take: |base, change| base.body_mass_kg = change.body_mass_kg,
    },
    Field {
        path: "goals",
        is_given: |a| !a.goals.is_empty(),
        take: |base, change| base.goals.clone_from(&change.goals),
    },
    Field {
        path: "equipment",
        is_given: |a| !a.equipment.is_empty(),
        take: |base, change| base.equipment.clone_from(&change.equipment),
    },
    Field {
        path: "available_weekdays",
        is_given: |a| !a.available_weekdays.is_empty(),
        take: |base, change| base.available_weekdays.clone_from(&change.available_weekdays),
    },
    Field {
        path: "limits",
        is_given: |a| a.limits.is_some(),
        take: |base, change| {
            base.max_pain = change.max_pain;
            base.max_sets_per_session = change.max_sets_per_session;
            base.max_minutes = change.max_minutes;
            base.bans.clone_from(&change.bans);
            base.pins.clone_from(&change.pins);
            base.caps.clone_from(&change.caps);
        },
    },
    Field {
        path: "clearances",
        is_given: |a| !a.clearances.is_empty(),
        take: |base, change| base.clearances.clone_from(&change.clearances),
    },
    Field { path: "bands", is_given: |a| a.bands.is_some(), take: |base, change| base.bands = change.bands },
];

/// The fields of an athlete that an update changes.
pub struct Mask(Vec<&'static Field>);

impl Mask {
    /// Reads a mask; without one, every field that is not empty is changed. Fails with every path that is no field.
    pub fn read(mask: Option<FieldMask>, athlete: &v1::Athlete) -> Read<Self> {
        let paths = mask.unwrap_or_default().paths;
        few("update_mask", &paths)?;
        let is_unknown = |path: &&String| *path != "*" && FIELDS.iter().all(|f| f.path != path.as_str());
        let problems: Vec<Problem> = paths.iter().filter(is_unknown).map(|path| unknown(path)).collect();
        if !problems.is_empty() {
            return Err(problems);
        }
        let changes = |field: &&Field| match paths.as_slice() {
            [] => (field.is_given)(athlete),
            _ => paths.iter().any(|path| path == field.path || path == "*"),
        };
        Ok(Self(FIELDS.iter().filter(changes).collect()))
    }

    /// A draft of the changed fields alone, to see what is wrong with them while the athlete is not known.
    pub fn alone(athlete: v1::Athlete) -> ProfileDraft {
        let given = FIELDS.iter().filter(|field| (field.is_given)(&athlete)).collect();
        let mut draft = ProfileDraft { display_name: "any".to_owned(), ..ProfileDraft::default() };
        Self(given).apply(&mut draft, &super::draft(athlete));
        draft
    }

    /// Takes the fields of the mask from `change`.
    pub fn apply(&self, base: &mut ProfileDraft, change: &ProfileDraft) {
        for field in &self.0 {
            (field.take)(base, change);
        }
    }
}

fn unknown(path: &str) -> Problem {
    let known = FIELDS.map(|field| field.path);
    let guess = did_you_mean(path, known.into_iter());
    Problem::new("update_mask", quoted(path), format!("`*`, or fields among {}{guess}", known.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(mask: &[&str], athlete: &v1::Athlete) -> Read<Vec<&'static str>> {
        let paths = mask.iter().map(|p| (*p).to_owned()).collect();
        let mask = Mask::read(Some(FieldMask { paths }), athlete)?;
        Ok(mask.0.iter().map(|field| field.path).collect())
    }

    #[test]
    fn a_mask_names_fields_and_without_one_the_given_ones_count() {
        let athlete = v1::Athlete { body_mass_kg: Some(70.0), ..v1::Athlete::default() };
        assert_eq!(paths(&[], &athlete).unwrap(), ["body_mass_kg"]);
        assert_eq!(paths(&["goals", "bands"], &athlete).unwrap(), ["goals", "bands"]);
        assert_eq!(paths(&["*"], &athlete).unwrap().len(), FIELDS.len());
    }

    #[test]
    fn repro_a_long_mask_is_one_problem() {
        let problems = paths(&["x"; 2_000], &v1::Athlete::default()).unwrap_err();
        assert_eq!(problems.len(), 1, "{problems:?}");
    }

    #[test]
    fn unknown_paths_are_all_named() {
        let problems = paths(&["goal", "name", "limits"], &v1::Athlete::default()).unwrap_err();
        assert_eq!(problems.len(), 2);
        assert!(problems[0].expected.ends_with("did you mean `goals`?"), "{}", problems[0]);
    }
}
