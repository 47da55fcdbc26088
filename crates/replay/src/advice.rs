//! Advice: what would have been prescribed before each logged session, held against what was done.
//!
//! [`Advisers`] are the service's own rules, variants of them side by side, and two rules of thumb ([`thumb`]). [`agreement`]
//! says how often the log went where the advice pointed, and how sets went where it did and where it did not. What a policy
//! is worth cannot be read from that: athletes were not told by lot what to do, and who departs from advice has reasons. The
//! tables say so.

use std::collections::BTreeMap;

use nextrung_capacity::model::Model;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::ShadingId;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::{Block, Kind, Prescription};
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;

use crate::advice::thumb::Thumb;
use crate::evaluate::entry::Entry;
use crate::evaluate::panel::Panel;

pub mod agreement;
pub mod tally;
pub mod thumb;

/// Work advised on a ladder.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The rung of the working sets.
    pub rung: RungIx,
    /// Its shadings.
    pub shadings: Vec<ShadingId>,
    /// Kilograms added or taken off.
    pub load_kg: f64,
}

/// What one adviser advised for one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Advised {
    /// What kind of day.
    pub kind: Kind,
    /// Working sets, by number of ladder.
    pub steps: BTreeMap<usize, Step>,
}

/// What an adviser knows.
pub struct Moment<'a> {
    /// The forecasters before the day, the service among them.
    pub panel: &'a Panel,
    /// Sets known and trained before the day, in training order.
    pub past: &'a [Entry],
    /// The profile in force.
    pub profile: &'a Profile,
    /// The day.
    pub date: CivilDate,
}

/// One who advises.
#[derive(Debug, Clone, PartialEq)]
pub enum Adviser {
    /// The service under some rules.
    Service(Box<Policy>),
    /// A rule of thumb.
    Thumb(Thumb),
}

/// Everyone who advises, each with a name for tables.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Advisers {
    named: Vec<(String, Adviser)>,
}

impl Advisers {
    /// The service's rules first, variants of them by name, then the rules of thumb.
    pub fn new(policy: &Policy, variants: Vec<(String, Policy)>) -> Self {
        let service = |(name, policy)| (name, Adviser::Service(Box::new(policy)));
        let first = std::iter::once(("service".to_owned(), policy.clone())).chain(variants).map(service);
        let thumbs = Thumb::ALL.map(|thumb| (thumb.word().to_owned(), Adviser::Thumb(thumb)));
        Self { named: first.chain(thumbs).collect() }
    }

    /// True when nobody advises.
    pub fn is_empty(&self) -> bool {
        self.named.is_empty()
    }

    /// Their names.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.named.iter().map(|(name, _)| name.as_str())
    }

    /// What each advises, in order.
    pub fn advise(&self, model: &Model, moment: &Moment<'_>) -> Vec<Advised> {
        let state = moment.panel.service.state().on(&model.parameters, moment.date.day_number());
        let of_service = |policy: &Policy| {
            let history = moment.panel.history.as_ref()?;
            let at = Situation {
                model,
                state: &state,
                history,
                profile: moment.profile,
                policy,
                date: moment.date,
            };
            Some(Advised::of(model, &prescribe(&at)))
        };
        let rest = || Advised { kind: Kind::Rest, steps: BTreeMap::new() };
        let one = |(_, adviser): &(String, Adviser)| match adviser {
            Adviser::Service(policy) => of_service(policy).unwrap_or_else(rest),
            Adviser::Thumb(rule) => rule.advise(model, moment),
        };
        self.named.iter().map(one).collect()
    }
}

impl Advised {
    fn of(model: &Model, given: &Prescription) -> Self {
        let catalog = &model.catalog;
        let working = given.items.iter().filter(|item| item.block == Block::Working);
        let steps = working.filter_map(|item| {
            let rung = catalog.find(&item.rung)?;
            let step = Step { rung, shadings: item.shadings.clone(), load_kg: item.load_kg };
            Some((catalog.ladder_number(rung), step))
        });
        Self { kind: given.kind, steps: steps.collect() }
    }
}
