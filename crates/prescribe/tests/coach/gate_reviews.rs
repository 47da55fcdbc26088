//! Gate reviews: they agree with the hold-backs on every rung, and what comes first stands first.

use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::Clearance;
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::gate_review::confirmations::observe;
use nextrung_prescribe::gate_review::{GateReview, Need, review};
use nextrung_prescribe::hold_back::{HoldBackKind, is_open, of_rung};

use crate::gym::{Athlete, date, did, model, tested};

fn reviewed(wren: &Athlete, rung: RungIx) -> GateReview {
    let sets: Vec<&SetEntry> = wren.entries.iter().collect();
    wren.at(0, |at| review(at, rung, &sets))
}

fn find(wren: &Athlete, rung: &str) -> RungIx {
    wren.model.catalog.find(&RungRef::parse(rung).expect("a name")).expect("a rung")
}

/// Athletes with nothing, with some work at the wall and on the bar, and without any clearance.
fn athletes() -> Vec<Athlete> {
    let nothing = Athlete::on(model(), &["press/free-press"]);
    let mut some = nothing.clone();
    some.log(-9, [tested("hand-balance/box-pike-hold", 40), tested("hand-balance/back-to-wall-hold", 35)]);
    some.log(
        -7,
        [
            tested("press/feet-raised-pike-high", 8),
            tested("press/wall-lowering", 9),
            did("press/wall-press", 2),
        ],
    );
    some.log(-5, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 9), tested("front-lever/tuck", 20)]);
    let mut uncleared = some.clone();
    uncleared.profile.clearances.clear();
    let mut partly = some.clone();
    partly.profile.clearances.retain(|c| c.clearance == Clearance::InvertedWork);
    vec![nothing, some, uncleared, partly]
}

#[test]
fn a_rung_is_open_when_its_own_gates_are_met_and_what_comes_first_stands_first() {
    let mut unmet = 0;
    for wren in athletes() {
        let count = u16::try_from(wren.model.catalog.rung_count()).expect("few rungs");
        for rung in (0..count).map(RungIx) {
            let found = reviewed(&wren, rung);
            let name = wren.model.catalog.name(rung);
            let held = wren.at(0, |at| of_rung(at, rung));
            // Clearances stand once, at the first rung that asks; the hold-backs name them at every rung.
            let is_held_by_clearance = held.iter().any(|h| h.kind == HoldBackKind::Clearance);
            let units = || found.gates.iter().filter(|g| g.gated == name && matches!(g.need, Need::Units(_)));
            assert_eq!(
                wren.at(0, |at| is_open(at, rung)),
                units().all(|g| g.met_by.is_some()) && !is_held_by_clearance,
                "{name}: {:#?}",
                found.gates
            );
            let told =
                found.gates.iter().any(|g| g.met_by.is_none() && matches!(g.need, Need::Clearance { .. }));
            assert!(told || !is_held_by_clearance, "{name}");
            for (place, gate) in found.gates.iter().enumerate() {
                let Need::Units(need) = &gate.need else { continue };
                let before = found.gates.iter().rposition(|g| g.gated == need.rung);
                assert!(before.is_none_or(|b| b < place), "{name}: {} is asked for too early", need.rung);
                unmet += usize::from(gate.met_by.is_none());
            }
        }
    }
    assert!(unmet > 100, "{unmet}");
}

#[test]
fn a_gate_says_what_met_it() {
    let all = athletes();
    let (nothing, some) = (&all[0], &all[1]);
    let gate = |wren: &Athlete, rung: &str, on: &str| {
        let found = reviewed(wren, find(wren, rung));
        let is_on = |n: &Need| matches!(n, Need::Units(n) if n.rung.to_string() == on);
        found.gates.into_iter().find(|g| is_on(&g.need)).expect("the gate")
    };
    let shown = gate(some, "hand-balance/chest-to-wall-hold", "hand-balance/back-to-wall-hold");
    assert_eq!(
        shown.sentence,
        "20 clean seconds of back-to-wall hold for chest-to-wall hold: shown on 2025-12-27 by set set-2 (35 seconds so far)."
    );
    let open = gate(nothing, "pull/chest-to-bar", "pull/pull-up");
    assert!(
        open.met_by.is_none() && open.sentence.starts_with("Show 3 clean reps of pull-up for chest-to-bar"),
        "{}",
        open.sentence
    );
    let mut strong = nothing.clone();
    strong.log(-3, [did("pull/archer", 3)]);
    let mastered = gate(&strong, "pull/archer", "pull/pull-up");
    assert!(
        mastered.met_by == Some(nextrung_prescribe::gate_review::Means::Outgrown)
            && mastered.sentence.contains("not asked any more"),
        "{}",
        mastered.sentence
    );
}

#[test]
fn confirmations_are_kept_as_they_came_and_went() {
    let wren = Athlete::new(&[]);
    let mut records = Vec::new();
    observe(&mut records, 1, &wren.profile);
    let mut fewer = wren.profile.clone();
    let gone = fewer.clearances.remove(0);
    observe(&mut records, 5, &fewer);
    observe(&mut records, 8, &wren.profile);
    let mut other = wren.profile.clone();
    other.clearances[0].on = date(-1);
    observe(&mut records, 9, &other);
    observe(&mut records, 12, &other);
    let of_it: Vec<_> = records.iter().filter(|r| r.confirmation.clearance == gone.clearance).collect();
    let told: Vec<_> = of_it.iter().map(|r| (r.sequence, r.ended)).collect();
    assert_eq!(told, [(1, Some(5)), (8, Some(9)), (9, None)]);
    assert_eq!(records.len(), 5);
}
