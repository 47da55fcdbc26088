//! Tests of the pages of explanations.

use super::*;

fn candidate(rung: &str, p_band: f64) -> v1::Candidate {
    v1::Candidate {
        rung: format!("ladders/pull/rungs/{rung}"),
        p_band,
        p_easy: 0.1,
        p_hard: 0.9 - p_band,
        score: p_band,
        stops: vec![
            v1::StopProbability { stop: i32::from(v1::Stop::Target), probability: 0.7 },
            v1::StopProbability { stop: i32::from(v1::Stop::Strength), probability: 0.1 },
            v1::StopProbability { stop: i32::from(v1::Stop::Balance), probability: 0.2 },
        ],
        ..v1::Candidate::default()
    }
}

fn candidates() -> Vec<v1::Candidate> {
    let reason = v1::Reason { sentence: "It hurts.".to_owned(), ..v1::Reason::default() };
    vec![
        candidate("easy", 0.2),
        v1::Candidate { chosen: true, ..candidate("kept", 0.6) },
        candidate("best", 0.62),
        v1::Candidate { excluded_by: Some(reason), ..candidate("closed", 0.0) },
    ]
}

#[test]
fn the_table_has_the_best_from_easy_to_hard_and_always_the_chosen_one() {
    let expected = "      candidate, easy to hard  too easy  in band  too hard  ends by       score
      pull/best                    10 %     62 %      28 %  balance 20 %   0.62
  ->  pull/kept                    10 %     60 %      30 %  balance 20 %   0.60
";
    assert_eq!(candidate_table(&candidates(), 2, &Lexicon::default(), Layout::PLAIN), expected);
    let one = candidate_table(&candidates(), 1, &Lexicon::default(), Layout::PLAIN);
    assert_eq!(one, expected, "the chosen one is shown beside the best");
}

#[test]
fn a_page_tells_the_story_the_candidates_and_what_was_known() {
    let item = v1::PrescribedItem {
        rung: "ladders/pull/rungs/kept".to_owned(),
        block: i32::from(v1::Block::Working),
        ..v1::PrescribedItem::default()
    };
    let level = v1::AbilityLevel {
        ability: "vertical-pull".to_owned(),
        anchor_rung: "ladders/pull/rungs/pull-up".to_owned(),
        level_mean: 2.0,
        level_sd: 0.1,
        trend_per_week: 0.01,
        trend_per_week_sd: 0.01,
    };
    let explanation = v1::Explanation {
        prescription: Some(v1::Prescription {
            name: "rosters/hall/athletes/wren/prescriptions/p-1".to_owned(),
            date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            items: vec![item],
            ..v1::Prescription::default()
        }),
        items: vec![v1::ItemExplanation {
            item_index: 0,
            candidates: candidates(),
            sentences: vec!["Kept, because it is near the best.".to_owned()],
        }],
        state: Some(v1::StateSummary { abilities: vec![level], capacities: Vec::new() }),
        log_position: 42,
        sentences: vec!["Bent arms today.".to_owned()],
        earlier: "rosters/hall/athletes/wren/prescriptions/p-0".to_owned(),
        since: "Against the one for 2026-11-20: the same.".to_owned(),
        influences: vec![v1::Influence {
            sentence: "Without set 2 of 2026-11-20 (5 reps of pull-up): rest.".to_owned(),
            ..v1::Influence::default()
        }],
        turns: vec![v1::Turn { sentence: "Up to archer: one set.".to_owned(), ..v1::Turn::default() }],
    };
    let page = page(&explanation, 1, &Lexicon::default(), Layout::PLAIN);
    let expected = "\
Why hall/wren got this for Monday 23 November 2026
  - Bent arms today.
  - Against the one for 2026-11-20: the same.

pull/kept (working)
      candidate, easy to hard  too easy  in band  too hard  ends by       score
      pull/best                    10 %     62 %      28 %  balance 20 %   0.62
  ->  pull/kept                    10 %     60 %      30 %  balance 20 %   0.60
  1 of 4 candidates were held back, pull/closed first: It hurts.
  Kept, because it is near the best.

Ends by: what is likeliest to end a set before the top of the band. Score: what candidates are
ranked by, the chance in band less a little for a shading, a load or another unit than the goal's.

The sets that moved it most
  - Without set 2 of 2026-11-20 (5 reps of pull-up): rest.

What the next session could change
  - Up to archer: one set.

What was known
  ability        level, 80 % range  on                   a week, 80 % range
  vertical pull   7.4 (6.5 to 8.4)  pull/pull-up  +1.0 % (-0.3 % to +2.3 %)

from log position 42
";
    assert_eq!(page, expected);
}
