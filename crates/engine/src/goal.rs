//! Goal: the rung that a question about a goal means.

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::{AthleteRef, RungRef};
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::profile::Profile;

use crate::error::EngineError;

/// The rung named as `ladder/rung`, or, when `named` is empty, the athlete's first goal that a ladder still knows.
/// Fails with a bad field `rung` when no ladder has the one named, with [`EngineError::NoGoal`] when there is no goal.
pub fn goal_of(
    catalog: &Catalog,
    (athlete, profile): (&AthleteRef, &Profile),
    named: &str,
) -> Result<RungIx, EngineError> {
    if named.is_empty() {
        let known = profile.goals.iter().find_map(|goal| catalog.find(&goal.rung));
        return known.ok_or_else(|| EngineError::NoGoal { name: athlete.to_string() });
    }
    rung_of(catalog, "rung", named).map_err(|problem| EngineError::BadFields { problems: vec![problem] })
}

/// The rung written `ladder/rung` in `field`, or what is wrong with it, with the nearest name.
pub fn rung_of(catalog: &Catalog, field: &str, text: &str) -> Result<RungIx, Problem> {
    let known = RungRef::parse(text).ok().and_then(|name| catalog.find(&name));
    known.ok_or_else(|| {
        let ladders = catalog.ladders().iter();
        let names: Vec<String> =
            ladders.flat_map(|l| l.rungs.iter().map(|r| format!("{}/{}", l.id, r.id))).collect();
        let guess = did_you_mean(text, names.iter().map(String::as_str));
        let found = format!("`{}`", text.chars().take(200).collect::<String>());
        Problem::new(field, found, format!("a rung of one of the ladders{guess}"))
    })
}
