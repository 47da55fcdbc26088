//! Ask: parts of a prescription by what they are, and what must hold of every prescription.

use nextrung_domain::ids::RungRef;
use nextrung_prescribe::hold_back::{HoldBack, HoldBackKind, of_rung};
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::{Block, GoalStatus, Item, Kind, LadderDirection, Prescription};
use nextrung_prescribe::reason::{Reason, ReasonCode};

use crate::gym::{Athlete, date};

/// The only item of a block.
pub(crate) fn only(p: &Prescription, block: Block) -> &Item {
    let of: Vec<&Item> = p.items.iter().filter(|i| i.block == block).collect();
    assert_eq!(of.len(), 1, "{block:?} in {p:#?}");
    of[0]
}

/// The item of a block on a ladder.
pub(crate) fn on<'a>(p: &'a Prescription, block: Block, ladder: &str) -> &'a Item {
    p.items
        .iter()
        .find(|i| i.block == block && i.rung.ladder.as_str() == ladder)
        .unwrap_or_else(|| panic!("no {block:?} on {ladder} in {p:#?}"))
}

/// True when there is an item of the block.
pub(crate) fn has(p: &Prescription, block: Block) -> bool {
    p.items.iter().any(|i| i.block == block)
}

/// The rung of an item, as text.
pub(crate) fn rung(item: &Item) -> String {
    item.rung.to_string()
}

/// The reason of a kind.
pub(crate) fn why(reasons: &[Reason], code: ReasonCode) -> &Reason {
    reasons.iter().find(|r| r.code == code).unwrap_or_else(|| panic!("no {code:?} in {reasons:#?}"))
}

/// True when there is a reason of the kind.
pub(crate) fn says(reasons: &[Reason], code: ReasonCode) -> bool {
    reasons.iter().any(|r| r.code == code)
}

/// A figure of a reason.
pub(crate) fn figure(reason: &Reason, name: &str) -> f64 {
    let found = reason.figures.iter().find(|f| f.name == name);
    found.unwrap_or_else(|| panic!("no figure {name} in {reason:#?}")).value
}

/// A figure of a hold-back.
pub(crate) fn held_figure(hold: &HoldBack, name: &str) -> f64 {
    let found = hold.figures.iter().find(|f| f.name == name);
    found.unwrap_or_else(|| panic!("no figure {name} in {hold:#?}")).value
}

/// The hold-backs of a kind.
pub(crate) fn held(p: &Prescription, kind: HoldBackKind) -> Vec<&HoldBack> {
    p.hold_backs.iter().filter(|h| h.kind == kind).collect()
}

/// Where a ladder goes.
pub(crate) fn direction<'a>(p: &'a Prescription, ladder: &str) -> &'a LadderDirection {
    let found = p.directions.iter().find(|d| d.ladder.as_str() == ladder);
    found.unwrap_or_else(|| panic!("no direction of {ladder} in {p:#?}"))
}

/// The status of a goal.
pub(crate) fn goal<'a>(p: &'a Prescription, rung: &str) -> &'a GoalStatus {
    let name = RungRef::parse(rung).expect("a rung");
    p.goals.iter().find(|g| g.rung == name).unwrap_or_else(|| panic!("no goal {rung} in {p:#?}"))
}

/// What must hold of every prescription of every athlete.
pub(crate) fn assert_sound(athlete: &Athlete, day: i32, p: &Prescription) {
    assert_eq!(p.date, date(day));
    assert!(!p.headline.is_empty());
    assert_eq!(p.items.is_empty(), matches!(p.kind, Kind::Rest | Kind::HeldBack), "{p:#?}");
    assert!(p.items.is_sorted_by_key(|i| place(i.block)), "{p:#?}");
    assert!(p.cautions.first().is_some_and(|c| c.contains("not medical advice")));
    assert!(p.cautions.last().is_some_and(|c| c.starts_with("Local rules")));
    let limits = &athlete.profile.limits;
    let sets: u16 = p.items.iter().map(|i| i.sets).sum();
    assert!(sets <= limits.max_sets, "{p:#?}");
    let was_cut = says(&p.reasons, ReasonCode::CutToLimits);
    let all = p.reasons.iter().chain(p.items.iter().flat_map(|i| &i.reasons));
    for reason in all.chain(p.directions.iter().map(|d| &d.reason)) {
        assert_words(&reason.sentence);
    }
    for item in &p.items {
        assert_item(athlete, day, item, was_cut);
    }
    for (at, hold) in p.hold_backs.iter().enumerate() {
        assert_words(&hold.detail);
        assert_words(&hold.opened_by);
        assert!(!p.hold_backs[..at].contains(hold), "{p:#?}");
    }
    for attempt in p.items.iter().filter(|i| i.block == Block::Attempt) {
        let ladder = attempt.rung.ladder.as_str();
        let easier = p.items.iter().find(|i| {
            i.rung.ladder.as_str() == ladder && matches!(i.block, Block::Working | Block::BalancePractice)
        });
        let find = |i: &Item| athlete.model.catalog.find(&i.rung);
        assert!(was_cut || easier.is_some_and(|e| find(e) < find(attempt)), "{p:#?}");
    }
}

fn place(block: Block) -> usize {
    let order = [Block::BalancePractice, Block::Test, Block::Attempt, Block::Working];
    order.iter().position(|b| *b == block).expect("every block")
}

fn assert_item(athlete: &Athlete, day: i32, item: &Item, was_cut: bool) {
    let ix = athlete.model.catalog.find(&item.rung).expect("a known rung");
    let held = athlete.at(day, |at| of_rung(at, ix));
    assert_eq!(held, [], "{item:#?}");
    let e = &item.expected;
    let chances = [e.p_band, e.p_easy, e.p_hard, e.reached, e.failed[0], e.failed[1], e.failed[2]];
    assert!(chances.iter().all(|p| (0.0..=1.0).contains(p)), "{item:#?}");
    assert!((e.p_band + e.p_easy + e.p_hard - 1.0).abs() < 1e-9, "{item:#?}");
    assert!((e.reached + e.failed.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{item:#?}");
    assert!(e.interval.0 <= e.median && e.median <= e.interval.1 && e.interval.0 >= 0.0, "{item:#?}");
    assert!(1 <= item.target_low && item.target_low <= item.target_high, "{item:#?}");
    assert!(item.reasons.iter().any(|r| !r.figures.is_empty()), "{item:#?}");
    assert!(!item.cues.is_empty());
    assert_words(&item.stop_rule.sentence);
    assert!(item.stop_rule.sentence.contains("pain"));
    assert_eq!(item.stop_rule.pain_at_or_over, athlete.profile.limits.max_pain.get());
    let rung = athlete.model.catalog.rung(ix);
    let policy: &Policy = &athlete.policy;
    let band =
        if item.block == Block::Attempt { policy.attempt_band(rung) } else { policy.working_band(rung) };
    let is_clipped = says(&item.reasons, ReasonCode::TargetClipped);
    match item.block {
        Block::Test => assert!((1..=2).contains(&item.sets), "{item:#?}"),
        Block::Attempt => assert!(item.sets <= 4 && item.shadings.is_empty() && item.load_kg == 0.0),
        Block::Working => assert!(was_cut || (3..=5).contains(&item.sets), "{item:#?}"),
        Block::BalancePractice => assert!(item.sets <= 5, "{item:#?}"),
    }
    if item.block != Block::Test && !is_clipped {
        assert_eq!((item.target_low, item.target_high), (band.low, band.high), "{item:#?}");
    }
}

/// Plain sentences: a capital at the start, one full stop at the end, nothing odd between.
pub(crate) fn assert_words(sentence: &str) {
    assert!(sentence.ends_with('.') && !sentence.ends_with(".."), "{sentence}");
    assert!(sentence.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit()), "{sentence}");
    for odd in ["  ", "{", "}", "NaN", "inf", "-0 %", " ,", " .", "units", "ln "] {
        assert!(!sentence.contains(odd), "`{odd}` in: {sentence}");
    }
    assert!(sentence.len() < 260, "{} bytes: {sentence}", sentence.len());
}
