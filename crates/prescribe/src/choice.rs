//! Choice: the working rung and the attempt rung of a ladder.

use std::cmp::Ordering;

use nextrung_capacity::outlook::Strain;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::measure::Grams;

use crate::candidate::Scored;
use crate::history::LadderNote;
use crate::situation::Situation;

/// Chance to land in band under which nothing fits and the nearest is taken.
pub const NOTHING_FITS: f64 = 0.2;

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
    /// Place of a shaded or loaded candidate that scores more and was not thought of, since a plain rung fits well enough.
    pub surer: Option<usize>,
}

/// What two sums that are equal on paper may differ by.
pub(crate) const ROUNDING: f64 = 1e-9;
/// Kilograms from which on a load is another one: the smallest pair of plates in most halls (common practice, no source).
const SAME_LOAD_KG: f64 = 2.5;

impl Choice {
    /// A choice that was settled before any score.
    pub(crate) fn settled(at: usize, best: usize) -> Self {
        Self { at, best, best_held: None, is_kept: false, is_tie: false, surer: None }
    }
}

/// True for kilograms, added or taken off, that make no other work of a rung.
pub(crate) fn is_same_load(one: f64, other: f64) -> bool {
    (one == 0.0) == (other == 0.0) && (one - other).abs() < SAME_LOAD_KG
}

/// True when a candidate is the same as last time's work.
pub fn is_same(scored: &Scored, note: &LadderNote) -> bool {
    let c = &scored.candidate;
    c.rung == note.rung
        && c.shading.as_slice() == note.shadings.as_slice()
        && is_same_load(c.load_kg, note.load.map_or(0.0, Grams::kg))
}

/// The hardest rung that a working rung may step up to: a few above last time's and above the hardest shown clean.
/// Nothing when neither is known.
pub fn reach(at: &Situation<'_>, scored: &[Scored], last: Option<&LadderNote>) -> Option<RungIx> {
    let step = u16::try_from(at.policy.step_rungs).unwrap_or(u16::MAX);
    let up = |ix: RungIx, by: u16| RungIx(ix.0.saturating_add(by));
    let (first, top) = (scored.first()?.candidate.rung, scored.last()?.candidate.rung);
    let mut shown = at.history.rungs.range(first..=top).filter(|(_, note)| note.best > 0);
    let shown = shown.next_back().map(|(ix, _)| up(*ix, step.saturating_add(1)));
    shown.max(last.map(|note| up(note.rung, step)))
}

/// The working rung: the open candidate in reach most likely to land in band, a plain rung where one fits well enough.
/// Last time's is kept while within the margin of the best; near equals go to the easier; when nothing fits, the nearest
/// is taken. Nothing when every candidate is held back.
pub fn working(at: &Situation<'_>, scored: &[Scored], last: Option<&LadderNote>) -> Option<Choice> {
    working_among(at, scored, last, |_| true)
}

/// The same among the candidates that pass.
pub fn working_among(
    at: &Situation<'_>,
    scored: &[Scored],
    last: Option<&LadderNote>,
    pass: impl Fn(&Scored) -> bool,
) -> Option<Choice> {
    // What shuts last time's rung is no reason for a harder one.
    let is_last =
        |s: &&Scored| last.is_some_and(|note| s.candidate.rung == note.rung) && s.candidate.is_plain();
    let shut = scored.iter().find(is_last).filter(|s| !s.candidate.is_open).map(|s| s.candidate.rung);
    let limit = shut.or_else(|| reach(at, scored, last));
    let near_enough = |s: &Scored| limit.is_none_or(|l| s.candidate.rung <= l);
    let is_blocked = !scored.iter().any(|s| s.candidate.is_open && pass(s) && near_enough(s));
    let is_free = |s: &Scored| s.candidate.is_open && pass(s) && (is_blocked || near_enough(s));
    let changes = Changes::of(at, scored, last, is_free);
    let can = |s: &Scored| is_free(s) && changes.allow(s);
    let best = argmax(scored, can)?;
    let held = best_held(scored, |s| s.candidate.is_plain() && pass(s) && near_enough(s));
    if scored[best].p_band < NOTHING_FITS {
        let at = nearest(scored, can).unwrap_or(best);
        return Some(Choice { best_held: held, ..Choice::settled(at, at) });
    }
    let top = scored[best].score;
    let surer = argmax(scored, |s| is_free(s) && !s.candidate.is_plain() && !changes.allow(s));
    let best_held = held.filter(|o| scored[*o].score > top + at.policy.keep_margin);
    let near = |margin: f64| move |s: &Scored| s.score >= top - margin;
    let is_kept = |s: &Scored| last.is_some_and(|note| is_same(s, note));
    let kept = scored.iter().position(|s| can(s) && is_kept(s) && near(at.policy.keep_margin)(s));
    if let Some(kept) = kept {
        return Some(Choice { best_held, is_kept: kept != best, ..Choice::settled(kept, best) });
    }
    let tie = near(at.policy.tie_margin);
    let easiest = easier_of(scored, |s| can(s) && tie(s)).unwrap_or(best);
    let surer = surer.filter(|s| scored[*s].score > scored[easiest].score);
    Some(Choice { best_held, is_tie: easiest != best, surer, ..Choice::settled(easiest, best) })
}

/// Which changes to a rung are thought of.
struct Changes {
    /// No shading and no load, since a plain rung fits well enough.
    none: bool,
    /// Load on this rung and harder ones only: easier ones have a harder open rung that can be done.
    load_from: Option<RungIx>,
}

impl Changes {
    fn of(
        at: &Situation<'_>,
        scored: &[Scored],
        last: Option<&LadderNote>,
        is_free: impl Fn(&Scored) -> bool,
    ) -> Self {
        let plain = || scored.iter().filter(|s| s.candidate.is_plain() && is_free(s));
        // What was done last time has the benefit of the doubt, so that the work does not change to and fro.
        let was_changed = last.is_some_and(|n| !n.shadings.is_empty() || n.load.is_some());
        let lean = match last {
            Some(_) if was_changed => at.policy.keep_margin,
            Some(_) => -at.policy.keep_margin,
            None => 0.0,
        };
        let none = plain().any(|s| s.p_band >= at.policy.plain_enough + lean);
        let load_from = plain().filter(|s| s.p_hard < 0.5).map(|s| s.candidate.rung).next_back();
        Self { none, load_from }
    }

    fn allow(&self, s: &Scored) -> bool {
        let c = &s.candidate;
        c.is_plain() || !self.none && (c.load_kg == 0.0 || self.load_from.is_none_or(|from| c.rung >= from))
    }
}

/// Place of the first rung above one that only a hold-back keeps from being trained: likely enough to be done.
pub fn next_shut(scored: &[Scored], above: RungIx) -> Option<usize> {
    let is_shut = |s: &Scored| s.candidate.is_plain() && !s.candidate.is_open && s.p_hard < 0.5;
    scored.iter().position(|s| s.candidate.rung > above && is_shut(s))
}

/// Place of the candidate with the highest score among those that pass, when it is held back.
pub fn best_held(scored: &[Scored], pass: impl Fn(&Scored) -> bool) -> Option<usize> {
    argmax(scored, pass).filter(|o| !scored[*o].candidate.is_open)
}

/// The attempt rung: harder than the working rung, not beyond `limit`, most likely to land in the attempt band, neither
/// too unlikely to give a clean unit nor (but for the goal itself) too likely to give more than the band. Nothing when
/// none is in reach.
pub fn attempt(
    at: &Situation<'_>,
    scored: &[Scored],
    working: RungIx,
    limit: Option<RungIx>,
) -> Option<Choice> {
    let in_reach = |s: &Scored| {
        s.candidate.rung > working
            && limit.is_none_or(|l| s.candidate.rung <= l)
            && s.outlook.at_least(f64::from(s.band.low), Strain::NONE) >= at.policy.attempt_floor
            && (s.p_easy <= at.policy.attempt_ceiling || at.is_goal(s.candidate.rung))
    };
    let best = argmax(scored, |s| s.candidate.is_open && in_reach(s))?;
    let top = scored[best].score;
    let best_held = best_held(scored, in_reach).filter(|o| scored[*o].score > top + at.policy.keep_margin);
    let tie = at.policy.tie_margin;
    let easiest =
        easier_of(scored, |s| s.candidate.is_open && in_reach(s) && s.score >= top - tie).unwrap_or(best);
    Some(Choice { best_held, is_tie: easiest != best, ..Choice::settled(easiest, best) })
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

/// Place of the easiest among those that pass: the one least likely to be too hard; the easier rung where none is.
fn easier_of(scored: &[Scored], pass: impl Fn(&Scored) -> bool) -> Option<usize> {
    let passing = scored.iter().enumerate().filter(|(_, s)| pass(s));
    let p_hard = |s: &Scored| if s.p_hard > ROUNDING { s.p_hard } else { 0.0 };
    passing.min_by(|(_, a), (_, b)| p_hard(a).total_cmp(&p_hard(b))).map(|(at, _)| at)
}

/// Place of the one without load whose likeliest units are nearest to the middle of its band, by ratio.
fn nearest(scored: &[Scored], pass: impl Fn(&Scored) -> bool) -> Option<usize> {
    let off = |s: &Scored| {
        let middle = 0.5 * libm::log(f64::from(s.band.low) * (f64::from(s.band.high) + 1.0));
        (s.limiting_mean() - middle).abs()
    };
    let passing = scored.iter().enumerate().filter(|(_, s)| s.candidate.load_kg == 0.0 && pass(s));
    passing.min_by(|(_, a), (_, b)| off(a).total_cmp(&off(b))).map(|(at, _)| at)
}
