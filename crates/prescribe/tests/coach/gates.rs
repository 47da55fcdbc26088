//! Gates: what is not open, why, and how it opens.

use nextrung_domain::ids::{EquipmentId, RungRef};
use nextrung_domain::profile::{Clearance, Word};
use nextrung_prescribe::hold_back::{HoldBackKind, of_rung};
use nextrung_prescribe::prescription::{Block, GoalState, Kind};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, goal, has, held, held_figure, on, only, rung, says, why};
use crate::gym::{Athlete, did, tested};

fn holds(wren: &Athlete, day: i32, rung: &str) -> Vec<HoldBackKind> {
    let ix = wren.model.catalog.find(&RungRef::parse(rung).expect("a rung")).expect("a known rung");
    wren.at(day, |at| of_rung(at, ix)).into_iter().map(|h| h.kind).collect()
}

#[test]
fn a_gate_opens_when_the_units_are_shown() {
    let mut wren = Athlete::new(&["front-lever/full"]);
    wren.log(0, [tested("front-lever/tuck", 6)]);
    assert_eq!(holds(&wren, 1, "front-lever/advanced-tuck"), [HoldBackKind::Gate]);
    wren.log(2, [tested("front-lever/tuck", 10)]);
    assert_eq!(holds(&wren, 3, "front-lever/advanced-tuck"), []);
}

#[test]
fn an_eased_set_shows_nothing() {
    let mut wren = Athlete::new(&["front-lever/full"]);
    let eased = nextrung_domain::draft::SetDraft {
        shadings: vec!["strong-band".to_owned()],
        ..tested("front-lever/tuck", 12)
    };
    wren.log(0, [eased]);
    assert_eq!(holds(&wren, 1, "front-lever/advanced-tuck"), [HoldBackKind::Gate]);
}

#[test]
fn who_does_the_rung_itself_need_not_show_the_easier_one() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    assert!(holds(&wren, 1, "hand-balance/free-straight").contains(&HoldBackKind::Gate));
    wren.log(0, [tested("hand-balance/free-straight", 9)]);
    assert_eq!(holds(&wren, 1, "hand-balance/free-straight"), []);
}

#[test]
fn a_gate_that_can_be_shown_today_is_offered_as_a_test_set() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    wren.log(0, [did("hand-balance/box-pike-hold", 30), did("hand-balance/back-to-wall-hold", 40)]);
    wren.log(2, [tested("hand-balance/heel-pull", 5)]);
    let p = wren.prescription(4);
    assert_sound(&wren, 4, &p);
    let test = only(&p, Block::Test);
    assert_eq!((rung(test).as_str(), test.sets), ("hand-balance/chest-to-wall-hold", 1));
    assert_eq!(test.target_low, 20);
    let gate = why(&test.reasons, ReasonCode::GateUnmet);
    assert_eq!(figure(gate, "asked"), 20.0);
    assert!(figure(gate, "p-now") >= wren.policy.opening_chance);
    let start = "20 clean seconds of chest-to-wall hold open the way to toe pull, chest to the wall";
    assert!(gate.sentence.starts_with(start), "{}", gate.sentence);
    let stop = format!("Stop at {} seconds, or sooner when the form breaks.", test.target_high);
    assert!(test.stop_rule.sentence.starts_with(&stop), "{}", test.stop_rule.sentence);
    assert!(!p.items.iter().any(|i| i.block == Block::Attempt && i.rung == test.rung));
    // Tried in vain: not again at once.
    wren.log(4, [tested("hand-balance/chest-to-wall-hold", 18)]);
    assert!(!has(&wren.prescription(6), Block::Test), "{:#?}", wren.prescription(6));
}

#[test]
fn a_ladder_shut_by_a_gate_elsewhere_leads_there() {
    let wren = Athlete::new(&["dips/ring-dip"]);
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    assert_eq!(p.kind, Kind::Test);
    assert_eq!(rung(only(&p, Block::Test)), "support/support-hold");
    assert!(!held(&p, HoldBackKind::Gate).is_empty());
}

#[test]
fn head_down_work_waits_for_its_clearance() {
    let mut wren = Athlete::new(&["press/free-press"]);
    wren.profile.clearances.retain(|c| c.clearance != Clearance::InvertedWork);
    wren.profile.equipment.remove(&EquipmentId::new("weight").expect("a slug"));
    wren.log_on([0, 7], &[tested("press/floor-push-up", 25)]);
    let p = wren.prescription(9);
    assert_sound(&wren, 9, &p);
    assert!(p.items.iter().all(|i| rung(i) == "press/floor-push-up"), "{p:#?}");
    let clearance = held(&p, HoldBackKind::Clearance);
    assert_eq!(clearance.len(), 1, "named once: {clearance:#?}");
    assert!(clearance[0].detail.starts_with("The clearance inverted-work is not confirmed."));
    assert!(clearance[0].opened_by.contains("qualified"));
    let status = goal(&p, "press/free-press");
    assert_eq!(status.state, GoalState::HeldBack);
    assert!(status.sentence.contains("head-down"), "{}", status.sentence);
    let work = only(&p, Block::Working);
    assert!(says(&work.reasons, ReasonCode::NothingInBand));
    assert!(work.target_high > 8, "longer sets where nothing harder is open: {work:#?}");
}

#[test]
fn a_clearance_counts_from_its_day_on() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    for c in &mut wren.profile.clearances {
        c.on = crate::gym::date(5);
    }
    assert_eq!(holds(&wren, 4, "hand-balance/box-pike-hold"), [HoldBackKind::Clearance]);
    assert_eq!(holds(&wren, 5, "hand-balance/box-pike-hold"), []);
}

#[test]
fn the_way_out_comes_before_leaving_the_wall() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    wren.profile.clearances.retain(|c| c.clearance != Clearance::ExitPractised);
    wren.log_on([0, 2, 4], &[tested("hand-balance/back-to-wall-hold", 60)]);
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    assert_eq!(rung(on(&p, Block::BalancePractice, "hand-balance")), "hand-balance/back-to-wall-hold");
    let clearance = held(&p, HoldBackKind::Clearance);
    assert_eq!(clearance[0].opened_by, "Needed: the coach sees the way out practised, and records it.");
}

#[test]
fn missing_equipment_is_named() {
    let mut wren = Athlete::new(&["pull/pull-up"]);
    wren.profile.equipment.remove(&EquipmentId::new("bar").expect("a slug"));
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    assert_eq!(p.kind, Kind::HeldBack);
    let equipment = held(&p, HoldBackKind::Equipment);
    assert_eq!(equipment[0].detail, "It needs bar, which the athlete does not have.");
    assert_eq!(equipment[0].opened_by, "Add bar to the athlete's equipment.");
    assert!(p.headline.starts_with("Held back."), "{}", p.headline);
}

#[test]
fn a_shading_whose_equipment_is_missing_is_no_candidate() {
    let mut wren = Athlete::new(&["pull/pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 2)]);
    wren.profile.equipment.remove(&EquipmentId::new("band").expect("a slug"));
    let e = wren.explanation(2);
    let labels: Vec<&str> = e.items.iter().flat_map(|i| &i.candidates).map(|c| c.label.as_str()).collect();
    assert!(!labels.is_empty() && labels.iter().all(|l| !l.contains("band")), "{labels:?}");
}

#[test]
fn a_ban_is_kept_and_named() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    wren.log_on([3, 6, 9], &[tested("pull/chest-to-bar", 5), did("pull/chest-to-bar", 4)]);
    let rung_of = |p: &nextrung_prescribe::prescription::Prescription| rung(only(p, Block::Working));
    assert_eq!(rung_of(&wren.prescription(12)), "pull/chest-to-bar");
    let banned = RungRef::parse("pull/chest-to-bar").expect("a rung");
    wren.profile.limits.bans.push(Word { rung: banned.clone(), reason: "chin hits the bar".to_owned() });
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    assert_ne!(rung_of(&p), "pull/chest-to-bar");
    let ban = held(&p, HoldBackKind::Banned);
    assert_eq!(ban[0].rung, banned);
    assert_eq!(ban[0].detail, "The coach has banned it: chin hits the bar.");
    assert_eq!(held_figure_count(ban[0]), 0);
}

fn held_figure_count(hold: &nextrung_prescribe::hold_back::HoldBack) -> usize {
    hold.figures.len()
}

#[test]
fn when_everything_is_shut_the_day_is_held_back() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    wren.profile.clearances.clear();
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    assert_eq!(p.kind, Kind::HeldBack);
    assert_eq!(held(&p, HoldBackKind::Clearance).len(), 1);
    assert_eq!(
        p.headline,
        "Held back. The clearance inverted-work is not confirmed. The head is below the heart on this rung."
    );
}

#[test]
fn an_unmet_gate_tells_asked_shown_and_chance() {
    let mut wren = Athlete::new(&["front-lever/full"]);
    wren.log_on([0, 2, 4], &[tested("front-lever/tuck", 9), did("front-lever/tuck", 8)]);
    let ix = wren.model.catalog.find(&RungRef::parse("front-lever/advanced-tuck").expect("a rung"));
    let found = wren.at(6, |at| of_rung(at, ix.expect("a known rung")));
    assert_eq!(found.len(), 1);
    assert_eq!(held_figure(&found[0], "asked"), 10.0);
    assert_eq!(held_figure(&found[0], "shown"), 9.0);
    assert!((0.0..0.9).contains(&held_figure(&found[0], "p-now")));
    assert_eq!(found[0].opened_by, "Show 10 clean seconds of tuck front lever (front-lever/tuck).");
}
