//! Influence: the sets that moved a prescription most, each left out in turn and everything worked out again.

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::influence::{Influence, influence, may_matter};
use nextrung_prescribe::prescription::Prescription;
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;

use crate::fold::Folded;
use crate::set_log::{LoggedSet, SetLog};

/// Sets left out in turn: the last of those that can have mattered.
const TRIED: usize = 12;
/// Most sets told.
const TOLD: usize = 5;

/// A log as a prescription saw it, ready to be folded again without one set or another.
pub(crate) struct Trial<'l> {
    sets: Vec<&'l LoggedSet>,
    tried: Vec<usize>,
    before: Folded,
    /// The fold over all its sets.
    pub(crate) whole: Folded,
}

impl<'l> Trial<'l> {
    /// The sets that count and were trained before the prescription's day, folded.
    pub(crate) fn new(model: &Model, log: &'l SetLog, (profile, made): (&Profile, &Prescription)) -> Self {
        let ordered = log.ordered().into_iter();
        let sets: Vec<&LoggedSet> = ordered.filter(|s| s.counts() && s.set.date < made.date).collect();
        let matters = |at: &usize| may_matter((&model.catalog, profile), made, &sets[*at].set);
        let mut tried: Vec<usize> = (0..sets.len()).rev().filter(matters).take(TRIED).collect();
        tried.reverse();
        let (known, rest) = sets.split_at(tried.first().copied().unwrap_or(sets.len()));
        let before = taken(model, Folded::new(model), known);
        let whole = taken(model, before.clone(), rest);
        Self { sets, tried, before, whole }
    }

    /// The sets that moved the prescription most: those without which it would ask for something else first, then by how
    /// far they moved the estimate. Exact for each set tried: the log without it is folded and the prescription made
    /// anew. Sets further back are not tried.
    pub(crate) fn influences(&self, with: &Situation<'_>, made: &Prescription) -> Vec<Influence> {
        let Self { sets, tried, before, .. } = self;
        let (mut before, mut reached) = (before.clone(), tried.first().copied().unwrap_or(0));
        let mut found = Vec::new();
        for &at in tried {
            before = taken(with.model, before, &sets[reached..at]);
            reached = at;
            let rest = taken(with.model, before.clone(), &sets[at + 1..]);
            let state = rest.state.on(&with.model.parameters, with.date.day_number());
            let without = Situation { state: &state, history: &rest.history, ..*with };
            found.push(influence((with, made), (&without, &prescribe(&without)), &sets[at].set));
        }
        most(found)
    }
}

fn taken(model: &Model, mut folded: Folded, sets: &[&LoggedSet]) -> Folded {
    let mut scratch = Scratch::default();
    sets.iter().for_each(|logged| folded.take(model, &mut scratch, logged));
    folded
}

fn most(mut found: Vec<Influence>) -> Vec<Influence> {
    found.retain(|one| one.otherwise.is_some() || one.shift() != 0.0);
    // Ties stand with the later set first.
    found.reverse();
    let weight = |one: &Influence| (one.otherwise.is_some(), one.shift().abs());
    found.sort_by(|a, b| {
        let ((a_turns, a_shift), (b_turns, b_shift)) = (weight(a), weight(b));
        b_turns.cmp(&a_turns).then(b_shift.total_cmp(&a_shift))
    });
    found.truncate(TOLD);
    found
}
