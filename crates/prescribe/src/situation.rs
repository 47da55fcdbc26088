//! Situation: everything a prescription is made from.

use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;
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

    /// The rung of its ladder that the coach insists on, and why.
    pub fn pin_on(&self, ladder: &LadderId) -> Option<(RungIx, &'a str)> {
        let pin = self.profile.pin_on(ladder)?;
        self.catalog().find(&pin.rung).map(|rung| (rung, pin.reason.as_str()))
    }

    /// True when the rung is wanted by name: a goal, or insisted on.
    pub fn is_wanted(&self, ix: RungIx) -> bool {
        self.is_goal(ix)
            || !self.profile.limits.pins.is_empty()
                && self.pin_on(&self.catalog().ladder_of(ix).id).is_some_and(|(pinned, _)| pinned == ix)
    }

    /// The day asked for, days since 1970-01-01.
    pub fn day(&self) -> i32 {
        self.date.day_number()
    }
}
