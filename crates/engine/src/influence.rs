//! Influence: the sets that moved a prescription most, each left out in turn and everything worked out again.

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::influence::{Influence, Whole, influence, may_matter};
use nextrung_prescribe::prescription::Prescription;
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;

use crate::fold::Folded;
use crate::set_log::LoggedSet;

/// Sets left out in turn: the last of those that can have mattered.
const TRIED: usize = 8;
/// Least change of the median that is told, units: less does not show in its digits.
const WORTH_TELLING: f64 = 0.01;
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
    /// Sets that count and were trained before the prescription's day, and the fold over all those before them. Nothing when
    /// the sets that are to be tried may reach further back.
    pub(crate) fn new(
        model: &Model,
        (before, sets): (Folded, Vec<&'l LoggedSet>),
        (profile, made): (&Profile, &Prescription),
    ) -> Option<Self> {
        let matters = |at: &usize| may_matter((&model.catalog, profile), made, &sets[*at].set);
        let mut tried: Vec<usize> = (0..sets.len()).rev().filter(matters).take(TRIED).collect();
        if tried.len() < TRIED && before.last.is_some() {
            return None;
        }
        tried.reverse();
        let (known, rest) = sets.split_at(tried.first().copied().unwrap_or(sets.len()));
        let before = taken(model, before, known);
        let whole = taken(model, before.clone(), rest);
        Some(Self { sets, tried, before, whole })
    }

    /// The sets that moved the prescription most: those without which it would ask for something else first, then by how
    /// far they moved the estimate. Exact for each set tried: the log without it is folded and the prescription made
    /// anew. Sets further back are not tried.
    pub(crate) fn influences(&self, with: &Situation<'_>, made: &Prescription) -> Vec<Influence> {
        let Self { sets, tried, before, .. } = self;
        let (mut before, mut reached) = (before.clone(), tried.first().copied().unwrap_or(0));
        let whole = Whole::new(with, made);
        let mut found = Vec::new();
        for &at in tried {
            before = taken(with.model, before, &sets[reached..at]);
            reached = at;
            let rest = taken(with.model, before.clone(), &sets[at + 1..]);
            let state = rest.state.on(&with.model.parameters, with.date.day_number());
            let without = Situation { state: &state, history: &rest.history, ..*with };
            found.push(influence(&whole, (&without, &prescribe(&without)), &sets[at].set));
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
    let moved = |one: &Influence| (one.medians.0 - one.medians.1).abs();
    found.retain(|one| one.otherwise.is_some() || moved(one) >= WORTH_TELLING);
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
