//! Candidates of one item of a prescription as a picture.

use nextrung_api::v1;
use nextrung_chart::candidates::{Candidate, Candidates, Fate};

use crate::calendar::long;
use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::names::{parent, short};
use crate::view::figure::dose;
use crate::words;

/// Most candidates of a picture.
const MOST: usize = 40;

/// The picture of one item as SVG: the one counted so from 1, else the first working sets, else the first.
pub(crate) fn draw(
    found: &v1::Explanation,
    item: Option<usize>,
    lexicon: &Lexicon,
) -> Result<String, Failure> {
    let made = found.prescription.clone().unwrap_or_default();
    let prescribed =
        |one: &v1::ItemExplanation| usize::try_from(one.item_index).ok().and_then(|at| made.items.get(at));
    let is_working = |one: &&v1::ItemExplanation| {
        prescribed(one).is_some_and(|item| item.block == i32::from(v1::Block::Working))
    };
    let chosen = match item {
        Some(number) => Some(number.checked_sub(1).and_then(|at| found.items.get(at)).ok_or_else(|| {
            let message = format!("this prescription has {} items and no item {number}", found.items.len());
            Failure::usage(message, "Items are counted from 1, in the order of the page.")
        })?),
        None => found.items.iter().find(is_working).or(found.items.first()),
    };
    let day = long(made.date.as_ref());
    let (name, about) = match chosen.and_then(prescribed) {
        Some(item) => (
            format!(
                "{} ({})",
                lexicon.work(&item.rung, &item.shadings, item.load_kg),
                words::phrase_of::<v1::Block>(item.block)
            ),
            format!("For {day}; asked for: {}", dose(item)),
        ),
        None => ("nothing".to_owned(), format!("For {day}; no work is asked for")),
    };
    let all = chosen.map_or(&[][..], |one| &one.candidates);
    let shown = shown(all);
    let picture = Candidates {
        who: short(parent(&made.name)),
        item: name,
        about,
        left_out: all.len() - shown.len(),
        candidates: shown.into_iter().map(|one| of_candidate(one, lexicon)).collect(),
        sentences: chosen.map(|one| one.sentences.clone()).unwrap_or_default(),
        cautions: made.cautions.clone(),
    };
    Ok(picture.draw()?)
}

/// The candidates with the best scores, from easy to hard by their chances, and always the one that was taken.
fn shown(all: &[v1::Candidate]) -> Vec<&v1::Candidate> {
    let mut best: Vec<&v1::Candidate> = all.iter().collect();
    best.sort_by(|a, b| b.chosen.cmp(&a.chosen).then(b.score.total_cmp(&a.score)));
    best.truncate(MOST);
    best.sort_by(|a, b| (a.p_hard - a.p_easy).total_cmp(&(b.p_hard - b.p_easy)));
    best
}

fn of_candidate(one: &v1::Candidate, lexicon: &Lexicon) -> Candidate {
    let fate = match &one.excluded_by {
        Some(reason) => Fate::HeldBack(reason.sentence.clone()),
        None if one.chosen => Fate::Chosen,
        None => Fate::Open,
    };
    Candidate {
        name: lexicon.work(&one.rung, &one.shadings, one.load_kg),
        easy: one.p_easy,
        band: one.p_band,
        hard: one.p_hard,
        score: one.score,
        fate,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn candidate(at: i32, chosen: bool) -> v1::Candidate {
        let hard = f64::from(at) / 100.0;
        let rung = format!("ladders/pull/rungs/r{at}");
        let p_band = 0.3;
        v1::Candidate {
            rung,
            p_band,
            p_easy: 0.7 - hard,
            p_hard: hard,
            score: hard,
            chosen,
            ..v1::Candidate::default()
        }
    }

    fn explanation() -> v1::Explanation {
        let item = |block: v1::Block| v1::PrescribedItem {
            block: block.into(),
            rung: "ladders/pull/rungs/r0".to_owned(),
            ..v1::PrescribedItem::default()
        };
        let items = vec![item(v1::Block::BalancePractice), item(v1::Block::Working)];
        let candidates = (0..60).map(|at| candidate(at, at == 0)).collect();
        let prescription = v1::Prescription { items, ..v1::Prescription::default() };
        v1::Explanation {
            prescription: Some(prescription),
            items: vec![
                v1::ItemExplanation::default(),
                v1::ItemExplanation { item_index: 1, candidates, ..v1::ItemExplanation::default() },
            ],
            ..v1::Explanation::default()
        }
    }

    #[test]
    fn the_best_are_shown_from_easy_to_hard_with_the_one_taken() {
        let found = explanation();
        let shown = shown(&found.items[1].candidates);
        assert_eq!(shown.len(), MOST);
        assert!(shown[0].chosen && shown.windows(2).all(|pair| pair[0].p_hard <= pair[1].p_hard));
    }

    #[test]
    fn working_sets_are_drawn_unless_another_item_is_named() {
        let draw = |item| draw(&explanation(), item, &Lexicon::default());
        let working = draw(None).unwrap();
        assert!(
            working.contains("pull/r0 (working)") && working.contains("20 more were weighed"),
            "{working}"
        );
        assert_eq!(working, draw(Some(2)).unwrap());
        assert!(draw(Some(1)).unwrap().contains("There is nothing to show"));
        for bad in [0, 3] {
            assert_eq!(draw(Some(bad)).unwrap_err().exit_code(), 2);
        }
    }
}
