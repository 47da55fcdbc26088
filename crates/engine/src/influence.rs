//! Influence: the sets that moved a prescription most, each left out in turn and everything worked out again.

use nextrung_capacity::filter::Scratch;
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

/// The sets that moved a prescription most: those without which it would ask for something else first, then by how far
/// they moved the estimate. Exact for each set tried: the log without it is folded and the prescription made anew. Sets
/// further back are not tried.
pub(crate) fn influences(with: &Situation<'_>, made: &Prescription, log: &SetLog) -> Vec<Influence> {
    let ordered = log.ordered().into_iter();
    let sets: Vec<&LoggedSet> = ordered.filter(|s| s.counts() && s.set.date < with.date).collect();
    let matters = |at: &usize| may_matter(with, made, &sets[*at].set);
    let mut tried: Vec<usize> = (0..sets.len()).rev().filter(matters).take(TRIED).collect();
    tried.reverse();
    let mut scratch = Scratch::default();
    let mut take = |mut folded: Folded, sets: &[&LoggedSet]| {
        sets.iter().for_each(|logged| folded.take(with.model, &mut scratch, logged));
        folded
    };
    let (mut before, mut reached) = (Folded::new(with.model), 0);
    let mut found = Vec::new();
    for at in tried {
        before = take(before, &sets[reached..at]);
        reached = at;
        let rest = take(before.clone(), &sets[at + 1..]);
        let state = rest.state.on(&with.model.parameters, with.date.day_number());
        let without = Situation { state: &state, history: &rest.history, ..*with };
        found.push(influence((with, made), (&without, &prescribe(&without)), &sets[at].set));
    }
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
