//! Ladder of the day: its test, or its working sets and attempts.

use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use super::{Draft, item_of, pin};
use crate::candidate::{Aim, Scored, in_question, rescore, score};
use crate::choice;
use crate::explain::ItemStory;
use crate::history::LadderNote;
use crate::prescription::Block;
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::{dose, goal, hold_back, story, test_session};

/// What is held in hand on a ladder, ln units, and why: time off, a run of misses, pain not long ago.
fn caution(at: &Situation<'_>, ladder: &LadderId, note: Option<&LadderNote>) -> (f64, Option<Reason>) {
    if at.catalog().rungs_of(ladder).any(|r| hold_back::is_after_pain(at, r)) {
        let sentence = "Pain was logged not long ago: work stays easy until it has been quiet for a while.";
        let figures = vec![Figure::new("held-in-hand", at.policy.pain_margin, "ln-units")];
        return (at.policy.pain_margin, Some(Reason::new(ReasonCode::PainAtOrOverLimit, sentence, figures)));
    }
    let Some(note) = note else { return (0.0, None) };
    let days = at.day() - note.day;
    if days >= at.policy.return_days {
        let sentence =
            format!("{days} days off this ladder: the first session back keeps something in hand.");
        let figures = vec![Figure::count("days-off", days, "days")];
        let reason = Reason::new(ReasonCode::ReturnAfterTimeOff, sentence, figures);
        return (at.policy.return_margin, Some(reason));
    }
    if note.misses >= at.policy.miss_run {
        let sentence =
            format!("{} working sets in a row fell short: something is kept in hand.", note.misses);
        let figures = vec![Figure::count("misses", note.misses, "sets")];
        return (at.policy.miss_margin, Some(Reason::new(ReasonCode::RunOfMisses, sentence, figures)));
    }
    (0.0, None)
}

/// The hardest rung for attempts: the hardest goal on the ladder, unless every goal on it is reached, and no more than
/// two steps above the working rung or what was shown.
fn attempt_limit(
    at: &Situation<'_>,
    ladder: &LadderId,
    candidates: &[Scored],
    working: RungIx,
) -> Option<RungIx> {
    let on_ladder = at.profile.goals.iter().filter(|g| g.rung.ladder == *ladder);
    let open = on_ladder.filter_map(|g| at.catalog().find(&g.rung)).filter(|ix| !goal::is_reached(at, *ix));
    let (first, top) = (candidates.first()?.candidate.rung, candidates.last()?.candidate.rung);
    let mut shown = at.history.rungs.range(first..=top).filter(|(_, note)| note.best > 0);
    let base = shown.next_back().map_or(working, |(ix, _)| working.max(*ix));
    let steps = u16::try_from(2 * at.policy.step_rungs).unwrap_or(u16::MAX);
    let step = RungIx(base.0.saturating_add(steps));
    Some(open.max().map_or(step, |goal| goal.min(step)))
}

/// Adds a ladder's part of the day.
pub(super) fn add(at: &Situation<'_>, ladder: &LadderId, draft: &mut Draft) {
    let number = at.catalog().ladders().iter().position(|l| l.id == *ladder);
    let last = number.and_then(|n| at.history.ladders.get(&n));
    let (margin, careful) = caution(at, ladder, last);
    let plan = dose::working_plan(at, last, careful.is_some());
    let dose = (plan.sets, plan.rest_seconds);
    let mut scored = in_question(at, ladder);
    score(at, &mut scored, Aim::Working, dose, margin);
    let pinned = pin::choice(at, ladder, &scored, draft);
    let free = || choice::working(at, &scored, last);
    let Some(chosen) = pinned.or_else(free) else {
        let wanted = choice::best_held(&scored, |_| true).map(|o| scored[o].candidate.rung);
        draft.hold(at, last.map(|n| n.rung).or(wanted), margin == 0.0);
        return;
    };
    let c = &scored[chosen.at].candidate;
    let is_makeshift = !c.is_plain() || scored[chosen.at].p_band < choice::NOTHING_FITS;
    let next = if is_makeshift { choice::next_shut(&scored, c.rung) } else { None };
    let wanted = chosen.best_held.or(next).map(|o| scored[o].candidate.rung);
    draft.hold(at, wanted, margin == 0.0);
    // Whoever trained a rung last time wants to know why it is not there today.
    draft.hold(at, last.map(|n| n.rung), false);
    if pinned.is_none()
        && let Some(reason) = test_session::needed(at, &scored, number, chosen.best)
        && let Some((item, picked)) = test_session::item(at, &scored, chosen.best, reason)
    {
        let choice = choice::Choice { at: picked, best: picked, ..chosen };
        draft.tests.push((item, ItemStory { choice, scored }));
        return;
    }
    let plan = if last.is_some_and(|note| choice::is_same(&scored[chosen.at], note)) {
        plan
    } else {
        let plan = dose::plan_for_new_rung(plan);
        rescore(at, &mut scored[chosen.at], (plan.sets, plan.rest_seconds), margin);
        plan
    };
    let taken = &scored[chosen.at];
    draft.directions.push(story::direction(at, (&scored, taken), last, careful.as_ref()));
    let mut reasons = match pinned {
        Some(_) => vec![pin::reason(at, &scored, &chosen)],
        None => story::choice_reasons(at, &scored, &chosen, Aim::Working),
    };
    reasons.extend(careful);
    let working_rung = taken.candidate.rung;
    let item = item_of(at, taken, Block::Working, plan, (margin, reasons));
    let has_attempt = margin == 0.0 && add_attempt(at, ladder, (&scored, working_rung), draft);
    draft.working.push((item, ItemStory { choice: chosen, scored }));
    if margin == 0.0 && !has_attempt {
        let sentence = "No attempts today: no harder rung is both open and in reach.";
        let figures = vec![Figure::chance("floor", at.policy.attempt_floor)];
        let reason = Reason::new(ReasonCode::NoAttemptInReach, sentence, figures);
        if let Some((item, _)) = draft.working.last_mut() {
            item.reasons.push(reason);
        }
    }
}

/// Adds attempts at a harder rung of the ladder and returns true, when one is in reach. Attempts are at the plain rung:
/// the real thing.
pub(super) fn add_attempt(
    at: &Situation<'_>,
    ladder: &LadderId,
    (candidates, working): (&[Scored], RungIx),
    draft: &mut Draft,
) -> bool {
    let is_balance = at.catalog().ladder(ladder).is_some_and(|l| l.side == Side::Balance);
    let rest = if is_balance { at.policy.balance_rest } else { at.policy.strength_rest };
    let plan = dose::attempt_plan(rest);
    let limit = attempt_limit(at, ladder, candidates, working);
    let harder = candidates.iter().filter(|s| s.candidate.rung > working && s.candidate.is_plain());
    let mut scored: Vec<Scored> = harder.cloned().collect();
    score(at, &mut scored, Aim::Attempt, (plan.sets, plan.rest_seconds), 0.0);
    let Some(chosen) = choice::attempt(at, &scored, working, limit) else {
        let is_next = |s: &&Scored| {
            limit.is_none_or(|l| s.candidate.rung <= l) && !s.candidate.is_open && s.p_band > 0.3
        };
        draft.hold(at, scored.iter().find(is_next).map(|s| s.candidate.rung), true);
        return false;
    };
    draft.hold(at, chosen.best_held.map(|o| scored[o].candidate.rung), true);
    let reasons = story::choice_reasons(at, &scored, &chosen, Aim::Attempt);
    let item = item_of(at, &scored[chosen.at], Block::Attempt, plan, (0.0, reasons));
    draft.attempts.push((item, ItemStory { choice: chosen, scored }));
    true
}
