//! Gate reviews: they agree with the hold-backs on every rung, and what comes first stands first.

use nextrung_domain::catalog::RungIx;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::{Clearance, Word};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;
use nextrung_prescribe::gate_review::confirmations::observe;
use nextrung_prescribe::gate_review::{GateReview, GateStatus, Need, review};
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
    let (mut unmet, mut opened) = (0, 0);
    for wren in athletes() {
        let count = u16::try_from(wren.model.catalog.rung_count()).expect("few rungs");
        for rung in (0..count).map(RungIx) {
            let found = reviewed(&wren, rung);
            let name = wren.model.catalog.name(rung);
            let held = wren.at(0, |at| of_rung(at, rung));
            // Clearances stand once, at the first rung that asks; the hold-backs name them at every rung.
            let is_held_by_clearance = held.iter().any(|h| h.kind == HoldBackKind::Clearance);
            let is_open = wren.at(0, |at| is_open(at, rung));
            let units = || found.gates.iter().filter(|g| g.gated == name && matches!(g.need, Need::Units(_)));
            assert_eq!(
                is_open,
                units().all(|g| g.met_by.is_some()) && !is_held_by_clearance,
                "{name}: {:#?}",
                found.gates
            );
            opened += usize::from(is_open && !found.gates.is_empty());
            assert!(!is_open || found.gates.iter().all(|g| g.met_by.is_some()), "{name}: {:#?}", found.gates);
            for gate in found.gates.iter().filter(|g| g.gated != name) {
                let leads_on = |g: &&GateStatus| matches!(&g.need, Need::Units(n) if n.rung == gate.gated);
                let is_asked = found.gates.iter().filter(leads_on).any(|g| g.met_by.is_none());
                assert!(is_asked, "{name}: nothing unmet asks for {}", gate.gated);
            }
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
    assert!(unmet > 100 && opened > 40, "{unmet} unmet, {opened} open");
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
fn where_the_way_stands_is_told_and_what_holds_back_comes_first() {
    let all = athletes();
    let told = |wren: &Athlete, rung: &str| reviewed(wren, find(wren, rung)).sentences;
    assert_eq!(told(&all[0], "push-up/push-up"), ["Push-up asks for nothing first."]);
    let mut strong = all[0].clone();
    strong.log(-3, [tested("pull/pull-up", 9)]);
    assert_eq!(
        told(&strong, "pull/chest-to-bar"),
        ["The one gate on the way to chest-to-bar pull-up is met."]
    );
    strong.profile.equipment.clear();
    let hurt = SetDraft { stop: Choice::Known(Stop::Pain), pain: Some(6), ..did("pull/pull-up", 1) };
    let banned =
        Word { rung: RungRef::parse("pull/archer").expect("a name"), reason: "Elbow first.".to_owned() };
    strong.profile.limits.bans = vec![banned];
    strong.log(-1, [hurt]);
    let found = told(&strong, "pull/archer");
    let place = |start: &str| {
        found.iter().position(|s| s.contains(start)).unwrap_or_else(|| panic!("{start}: {found:#?}"))
    };
    let places = ["Pain 6 of 10", "Elbow first.", "It needs bar", "on the way to"].map(place);
    assert_eq!(places, [0, 1, 2, 3], "{found:#?}");
    let found = told(&all[0], "pull/chest-to-bar");
    assert_eq!(found[0], "None of the 2 gates on the way to chest-to-bar pull-up is met.");
    assert!(found[1].starts_with("First: Show "), "{found:#?}");
    let count = u16::try_from(all[0].model.catalog.rung_count()).expect("few rungs");
    let mut one = (0..count).map(|rung| reviewed(&all[0], RungIx(rung))).filter(|r| r.gates.len() == 1);
    let one = one.find(|r| r.gates[0].met_by.is_none()).expect("a rung with one gate");
    assert!(one.sentences[0].starts_with("The one gate") && one.sentences[0].ends_with("is not met."));
    let mut uncleared = all[0].clone();
    uncleared.profile.clearances.clear();
    let found = told(&uncleared, "hand-balance/free-straight");
    assert!(found[0].starts_with("None of the ") && found[0].ends_with(" is met."), "{found:#?}");
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
