//! Situation: everything a prescription is made from.

use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ladder::Rung;
use nextrung_domain::profile::Profile;

use crate::history::History;
use crate::policy::Policy;

/// Everything a prescription is made from.
#[derive(Debug, Clone, Copy)]
pub struct Situation<'a> {
    /// Ladders and parameters.
    pub model: &'a Model,
    /// The athlete's state on `date`, at the start of a session ([`AthleteState::on`]).
    pub state: &'a AthleteState,
    /// What was trained before `date`.
    pub history: &'a History,
    /// What the coach knows and has set.
    pub profile: &'a Profile,
    /// The rules.
    pub policy: &'a Policy,
    /// The day asked for.
    pub date: CivilDate,
}

impl<'a> Situation<'a> {
    /// The ladders.
    pub fn catalog(&self) -> &'a Catalog {
        &self.model.catalog
    }

    /// A rung.
    pub fn rung(&self, ix: RungIx) -> &'a Rung {
        self.model.catalog.rung(ix)
    }

    /// True when the rung is one of the goals.
    pub fn is_goal(&self, ix: RungIx) -> bool {
        self.profile.goals.iter().any(|g| self.catalog().find(&g.rung) == Some(ix))
    }

    /// The day asked for, days since 1970-01-01.
    pub fn day(&self) -> i32 {
        self.date.day_number()
    }
}
