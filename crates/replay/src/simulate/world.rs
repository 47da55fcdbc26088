//! World: what the simulated athletes want, have and are cleared for.

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::Choice;
use nextrung_domain::ids::LadderId;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::{Clearance, Profile};
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft};

/// A kind of athlete: one goal, three sessions a week.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct World {
    /// Its name in tables.
    pub name: &'static str,
    /// The goal.
    pub goal: &'static str,
    /// A rung for which the truth is compared whatever was trained.
    pub reference: &'static str,
    /// Equipment at hand.
    pub equipment: &'static [&'static str],
}

/// One strength on one ladder, in reps.
pub const PULL: World = World {
    name: "pull",
    goal: "pull/one-arm-pull-up",
    reference: "pull/pull-up",
    equipment: &["bar", "box", "band", "rings"],
};

/// Holds and reps on one strength, with the line in the harder rungs.
pub const LEVER: World = World {
    name: "front lever",
    goal: "front-lever/full",
    reference: "front-lever/tuck",
    equipment: &["bar", "box", "band", "low-bar"],
};

/// Presses with balance practice: strength, balance and line on one rung.
pub const PRESS: World = World {
    name: "press",
    goal: "press/free-press",
    reference: "hand-balance/free-straight",
    equipment: &["wall", "box", "parallettes", "band", "bar"],
};

/// Every world.
pub const ALL: [World; 3] = [PULL, LEVER, PRESS];

/// Weekdays of training: Monday, Wednesday, Friday.
const DAYS: [u8; 3] = [0, 2, 4];

impl World {
    /// The profile of its athletes, every clearance given. Fails when the ladders lack its rungs or equipment.
    pub fn profile(&self, catalog: &Catalog, start: CivilDate) -> Result<Profile, Vec<Problem>> {
        let (y, m, d) = start.parts();
        let confirm = |clearance| ConfirmationDraft {
            clearance: Choice::Known(clearance),
            confirmed_date: Some((i64::from(y), i64::from(m), i64::from(d))),
            confirmed_by: "simulated coach".to_owned(),
        };
        let draft = ProfileDraft {
            display_name: "Simulated".to_owned(),
            body_mass_kg: Some(70.0),
            goals: vec![(self.goal.to_owned(), None)],
            equipment: self.equipment.iter().map(|e| (*e).to_owned()).collect(),
            available_weekdays: DAYS.to_vec(),
            clearances: Clearance::ALL.map(confirm).to_vec(),
            ..ProfileDraft::default()
        };
        draft.check(catalog, start)
    }

    /// The ladder of the goal.
    pub fn ladder(&self) -> Option<LadderId> {
        self.goal.split_once('/').and_then(|(ladder, _)| LadderId::new(ladder).ok())
    }
}
