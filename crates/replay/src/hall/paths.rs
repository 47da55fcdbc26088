//! Paths: the rungs the hall usually goes through on each ladder, and what a session is made of.

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder::GateNeed;
use nextrung_domain::profile::Clearance;

use crate::hall::HallError;
use crate::hall::cast::Person;

/// What a slot of a session is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Working sets.
    Work,
    /// Attempts at something harder.
    Attempt,
    /// Balance or shape.
    Practice,
}

/// Some sets on one ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slot {
    /// The ladder.
    pub ladder: &'static str,
    /// What for.
    pub purpose: Use,
    /// How many sets.
    pub sets: u16,
}

const PATHS: [(&str, &[&str]); 12] = [
    (
        "pull",
        &[
            "foot-supported",
            "one-foot-supported",
            "pull-up",
            "chest-to-bar",
            "uneven-grip",
            "archer",
            "side-to-side",
            "one-arm-lowering",
            "one-arm-strap",
            "one-arm-two-fingers",
            "one-arm-pull-up",
        ],
    ),
    ("front-lever", &["active-hang", "tuck", "advanced-tuck", "one-leg", "half-lay", "straddle", "full"]),
    (
        "press",
        &[
            "pike-press",
            "feet-raised-pike-low",
            "feet-raised-pike-high",
            "wall-lowering",
            "wall-press-half",
            "wall-press",
            "free-lowering",
            "free-press",
        ],
    ),
    (
        "hand-balance",
        &[
            "box-pike-hold",
            "back-to-wall-hold",
            "chest-to-wall-hold",
            "heel-pull",
            "toe-pull",
            "free-straight",
        ],
    ),
    ("body-line", &["front-support", "hollow-arms-forward", "hollow-overhead", "long-support"]),
    ("row", &["row-45", "row-60", "row-75", "feet-raised-row", "wide-row", "archer-row"]),
    ("dips", &["foot-supported-dip", "one-foot-supported-dip", "dip", "deep-dip", "ring-dip"]),
    ("push-up", &["knee-push-up", "push-up", "close-hand-push-up", "feet-raised-30", "archer-push-up"]),
    (
        "one-leg-squat",
        &["split-squat", "box-high", "box-mid", "box-low", "one-leg-squat", "pause-and-a-half"],
    ),
    ("hamstring-lowering", &["slide-out", "slide-curl", "half-lowering", "full-lowering", "half-return"]),
    ("l-sit", &["tuck-support", "one-leg-l-sit", "l-sit", "straddle-l", "raised-l"]),
    ("one-leg-balance", &["stand", "hinge-hold", "heel-raised-stand", "eyes-closed-stand"]),
];

/// The rungs of a ladder that this person goes through, easy to hard: those they have the equipment and clearances for.
pub fn of(catalog: &Catalog, person: &Person, ladder: &str) -> Result<Vec<RungIx>, HallError> {
    let missing = || HallError::Missing { what: format!("a path on the ladder {ladder}") };
    let (_, names) = PATHS.iter().find(|(id, _)| *id == ladder).ok_or_else(missing)?;
    let mut path = Vec::new();
    for name in *names {
        let full = format!("{ladder}/{name}");
        let known = RungRef::parse(&full).ok().and_then(|name| catalog.find(&name));
        let rung = known.ok_or(HallError::Missing { what: full })?;
        if may(catalog, person, rung) {
            path.push(rung);
        }
    }
    if path.is_empty() { Err(missing()) } else { Ok(path) }
}

fn may(catalog: &Catalog, person: &Person, rung: RungIx) -> bool {
    let r = catalog.rung(rung);
    let is_cleared = |c: Clearance| person.cleared.iter().any(|(word, ..)| *word == c.word());
    r.equipment.iter().all(|e| person.equipment.contains(&e.as_str()))
        && (!r.inverted || is_cleared(Clearance::InvertedWork))
        && r.gates.iter().all(|g| match g.need {
            GateNeed::Clearance(c) => is_cleared(c),
            GateNeed::Units { .. } => true,
        })
}
