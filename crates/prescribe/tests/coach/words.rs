//! Words: explanations agree with what they explain.

use nextrung_domain::draft::SetDraft;
use nextrung_prescribe::explain::Explanation;
use nextrung_prescribe::prescription::Block;
use nextrung_prescribe::reason::{Reason, ReasonCode};

use crate::ask::{figure, only, why};
use crate::gym::{Athlete, did, missed, tested};

/// What must hold of every explanation.
pub(crate) fn assert_agrees(e: &Explanation) {
    let p = &e.prescription;
    assert_eq!(e.items.len(), p.items.len());
    for (item, told) in p.items.iter().zip(&e.items) {
        let chosen: Vec<_> = told.candidates.iter().filter(|c| c.is_chosen).collect();
        assert_eq!(chosen.len(), 1, "{item:#?} {told:#?}");
        let c = chosen[0];
        assert_eq!((&c.rung, c.load_kg), (&item.rung, item.load_kg));
        assert_eq!(c.shading.as_ref(), item.shadings.first());
        assert!(c.held_by.is_empty());
        assert_eq!(
            (c.p_band, c.p_easy, c.p_hard),
            (item.expected.p_band, item.expected.p_easy, item.expected.p_hard)
        );
        for reason in item.reasons.iter().filter(|r| r.code == ReasonCode::BestInWorkingBand) {
            if item.block != Block::Test {
                assert_eq!(figure(reason, "p-band"), c.p_band);
            }
        }
        for c in &told.candidates {
            let all = [c.p_band, c.p_easy, c.p_hard, c.reached, c.failed[0], c.failed[1], c.failed[2]];
            assert!(all.iter().all(|x| (0.0..=1.0).contains(x)), "{c:#?}");
            assert!((c.p_band + c.p_easy + c.p_hard - 1.0).abs() < 1e-9, "{c:#?}");
            assert!((c.reached + c.failed.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{c:#?}");
            assert!(c.score <= c.p_band + 1e-12);
        }
        for reason in &item.reasons {
            assert_figures_are_told(reason);
            assert!(told.sentences.contains(&reason.sentence));
            assert!(e.sentences.contains(&reason.sentence));
        }
    }
    for hold in &p.hold_backs {
        assert!(e.sentences.iter().any(|s| s.contains(&hold.detail)), "{hold:#?}");
    }
    assert_eq!(e.sentences.first(), Some(&p.headline));
    let mut told = e.sentences.clone();
    told.sort();
    told.dedup();
    assert_eq!(told.len(), e.sentences.len(), "nothing is told twice");
}

/// A chance as sentences have it.
fn percent(chance: f64) -> String {
    match 100.0 * chance {
        share if share >= 99.5 => "over 99 %".to_owned(),
        share if share < 0.5 => "under 1 %".to_owned(),
        share => format!("{share:.0} %"),
    }
}

/// The figure a sentence rests on stands in it.
fn assert_figures_are_told(reason: &Reason) {
    let rests_on = [
        (ReasonCode::BestInWorkingBand, "p-band"),
        (ReasonCode::BestInAttemptBand, "p-band"),
        (ReasonCode::KeptWithinMargin, "p-band"),
        (ReasonCode::PlainEnough, "p-band"),
        (ReasonCode::PinnedByCoach, "p-band"),
        (ReasonCode::GateUnmet, "p-now"),
        (ReasonCode::TargetClipped, "band-high"),
        (ReasonCode::ReturnAfterTimeOff, "days-off"),
        (ReasonCode::RunOfMisses, "misses"),
        (ReasonCode::LoadChosen, "load"),
        (ReasonCode::SetsChosen, "rest"),
    ];
    let names = rests_on.iter().filter(|(code, _)| *code == reason.code).map(|(_, name)| *name);
    for found in names.filter_map(|name| reason.figures.iter().find(|f| f.name == name)) {
        let told = match found.unit.as_ref() {
            "probability" => percent(found.value),
            "seconds" if found.value % 60.0 == 0.0 => format!("{} min", found.value / 60.0),
            _ => found.value.to_string(),
        };
        // One set needs no rest to be told.
        let is_alone = found.name == "rest" && figure(reason, "sets") == 1.0;
        assert!(is_alone || reason.sentence.contains(&told), "{told} in {reason:#?}");
    }
}

fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 9)]);
    wren.log_on([3, 6, 9], &[did("pull/chest-to-bar", 5), missed("pull/chest-to-bar", 4, 5)]);
    wren
}

#[test]
fn an_explanation_is_the_prescription_made_again() {
    let wren = puller();
    let e = wren.explanation(12);
    assert_eq!(e.prescription, wren.prescription(12));
    assert_agrees(&e);
}

#[test]
fn the_chosen_candidate_has_the_best_score_but_for_the_margin() {
    let wren = puller();
    let e = wren.explanation(12);
    for (item, told) in e.prescription.items.iter().zip(&e.items).filter(|(i, _)| i.block == Block::Working) {
        let open = told.candidates.iter().filter(|c| c.held_by.is_empty());
        let best = open.map(|c| c.score).fold(f64::NEG_INFINITY, f64::max);
        let chosen = told.candidates.iter().find(|c| c.is_chosen).expect("a choice");
        assert!(chosen.score >= best - wren.policy.keep_margin, "{item:#?}");
    }
}

#[test]
fn staying_within_the_margin_is_said_with_both_chances() {
    let mut wren = puller();
    wren.policy.keep_margin = 1.0;
    wren.log_on([12, 15, 18], &[tested("pull/chest-to-bar", 7)]);
    let p = wren.prescription(21);
    let work = only(&p, Block::Working);
    let kept = why(&work.reasons, ReasonCode::KeptWithinMargin);
    assert!(figure(kept, "p-band-best") > figure(kept, "p-band"));
    assert!(kept.sentence.starts_with("Stay with chest-to-bar pull-up:"), "{}", kept.sentence);
    assert!(kept.sentence.ends_with("would gain too little."), "{}", kept.sentence);
}

#[test]
fn near_equals_go_to_the_easier_and_that_is_said() {
    let mut wren = puller();
    wren.policy.tie_margin = 1.0;
    wren.log(12, [did("pull/pull-up", 8)]);
    let p = wren.prescription(15);
    let work = only(&p, Block::Working);
    let tie = why(&work.reasons, ReasonCode::TieToEasier);
    assert!(tie.sentence.ends_with("would do as well; the easier one is taken."), "{}", tie.sentence);
    assert!(figure(tie, "p-band-other") >= work.expected.p_band);
}

#[test]
fn the_same_question_gets_the_same_bits() {
    let (a, b) = (puller(), puller());
    let text = |w: &Athlete| format!("{:?}", w.explanation(12));
    assert_eq!(text(&a), text(&b));
}

#[test]
fn a_set_on_the_day_itself_or_later_is_not_known_before() {
    let before = puller();
    let p = before.prescription(12);
    let mut after = puller();
    after.log(12, [SetDraft { pain: Some(9), ..missed("pull/chest-to-bar", 1, 5) }]);
    assert_eq!(before.prescription(12), p, "the state of the day before knows nothing of the day");
    assert_ne!(after.prescription(13), before.prescription(13));
}

#[test]
fn names_keep_their_capitals() {
    let mut wren = Athlete::new(&["l-sit/l-sit"]);
    wren.log_on([0, 3, 6], &[tested("l-sit/tuck-support", 20), tested("l-sit/l-sit", 10)]);
    let text = format!("{:?}", wren.explanation(9));
    assert!(text.contains("L-sit") && !text.contains("\"l-sit,"), "{text}");
}
