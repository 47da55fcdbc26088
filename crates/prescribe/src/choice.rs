//! Choice: the working rung and the attempt rung of a ladder.

use std::cmp::Ordering;

use nextrung_capacity::outlook::Strain;
use nextrung_domain::catalog::RungIx;

use crate::candidate::Scored;
use crate::history::LadderNote;
use crate::situation::Situation;

/// What was chosen and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// Place of the chosen candidate.
    pub at: usize,
    /// Place of the candidate with the highest score.
    pub best: usize,
    /// Place of the candidate that would have been best with every hold-back gone, when that is another one.
    pub best_held: Option<usize>,
    /// True when last time's rung was kept within the margin.
    pub is_kept: bool,
    /// True when an easier one was taken from near equals.
    pub is_tie: bool,
}

/// True when a candidate is the same as last time's work.
pub fn is_same(scored: &Scored, note: &LadderNote) -> bool {
    let c = &scored.candidate;
    let load_kg = note.load.map_or(0.0, nextrung_domain::measure::Grams::kg);
    c.rung == note.rung
        && c.shading.as_slice() == note.shadings.as_slice()
        && (c.load_kg - load_kg).abs() < 2.5
}

/// The working rung: the open candidate most likely to land in band. Last time's is kept while within the margin of the
/// best; near equals go to the easier. Nothing when every candidate is held back.
pub fn working(at: &Situation<'_>, scored: &[Scored], last: Option<&LadderNote>) -> Option<Choice> {
    let best = argmax(scored, |s| s.candidate.is_open)?;
    let overall = argmax(scored, |_| true).filter(|o| !scored[*o].candidate.is_open);
    let top = scored[best].score;
    let best_held = overall.filter(|o| scored[*o].score > top + at.policy.keep_margin);
    let near = |margin: f64| move |s: &Scored| s.candidate.is_open && s.score >= top - margin;
    let kept =
        last.and_then(|note| scored.iter().position(|s| is_same(s, note) && near(at.policy.keep_margin)(s)));
    if let Some(kept) = kept {
        return Some(Choice { at: kept, best, best_held, is_kept: kept != best, is_tie: false });
    }
    let easiest = easier_of(scored, near(at.policy.tie_margin)).unwrap_or(best);
    Some(Choice { at: easiest, best, best_held, is_kept: false, is_tie: easiest != best })
}

/// The attempt rung: harder than the working rung, not beyond `limit`, most likely to land in the attempt band, with a
/// clean unit neither too unlikely nor a matter of course. Nothing when none is in reach.
pub fn attempt(
    at: &Situation<'_>,
    scored: &[Scored],
    working: RungIx,
    limit: Option<RungIx>,
) -> Option<Choice> {
    let in_reach = |s: &Scored| {
        let one = s.outlook.at_least(f64::from(s.band.low), Strain::NONE);
        s.candidate.rung > working
            && limit.is_none_or(|l| s.candidate.rung <= l)
            && (at.policy.attempt_floor..=at.policy.attempt_ceiling).contains(&one)
    };
    let overall = argmax(scored, in_reach);
    let best = argmax(scored, |s| s.candidate.is_open && in_reach(s));
    let held = overall.filter(|o| !scored[*o].candidate.is_open);
    let best = best?;
    let top = scored[best].score;
    let best_held = held.filter(|o| scored[*o].score > top + at.policy.keep_margin);
    let tie = at.policy.tie_margin;
    let easiest =
        easier_of(scored, |s| s.candidate.is_open && in_reach(s) && s.score >= top - tie).unwrap_or(best);
    Some(Choice { at: easiest, best, best_held, is_kept: false, is_tie: easiest != best })
}

/// Place of the highest score among those that pass; the first of equals.
fn argmax(scored: &[Scored], pass: impl Fn(&Scored) -> bool) -> Option<usize> {
    let mut best: Option<usize> = None;
    for (at, s) in scored.iter().enumerate().filter(|(_, s)| pass(s)) {
        if best.is_none_or(|b| s.score.total_cmp(&scored[b].score) == Ordering::Greater) {
            best = Some(at);
        }
    }
    best
}

/// Place of the easiest among those that pass: the one least likely to be too hard.
fn easier_of(scored: &[Scored], pass: impl Fn(&Scored) -> bool) -> Option<usize> {
    let passing = scored.iter().enumerate().filter(|(_, s)| pass(s));
    passing.min_by(|(_, a), (_, b)| a.p_hard.total_cmp(&b.p_hard)).map(|(at, _)| at)
}
