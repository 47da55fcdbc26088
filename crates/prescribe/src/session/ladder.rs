//! Ladder of the day: its test, or its working sets and attempts.

use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use super::{Draft, item_of, pin};
use crate::candidate::{Aim, Candidate, Scored, in_question, rescore, score};
use crate::choice::{self, Choice};
use crate::dose::{self, Plan};
use crate::explain::ItemStory;
use crate::history::LadderNote;
use crate::prescription::{Block, Direction};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::wording::{ago, small};
use crate::{goal, hold_back, story, test_session};

/// What is held in hand on a ladder, ln units, and why: time off, a run of misses, pain not long ago.
fn caution(at: &Situation<'_>, ladder: &LadderId, note: Option<&LadderNote>) -> (f64, Option<Reason>) {
    if at.catalog().rungs_of(ladder).any(|r| hold_back::is_after_pain(at, r)) {
        let sentence =
            "Work stays easy after pain not long ago; if it hurts again, stop and see a professional.";
        let figures = vec![Figure::new("held-in-hand", at.policy.pain_margin, "ln-units")];
        return (at.policy.pain_margin, Some(Reason::new(ReasonCode::PainAtOrOverLimit, sentence, figures)));
    }
    let side = at.catalog().ladder(ladder).map(|l| l.side);
    if let Some(pain) = side.and_then(|side| hold_back::pain_of_the_arms(at, side)) {
        let sentence = format!(
            "Pain was logged {} on {}: the same arms work easy, without attempts.",
            ago(at.day() - pain.day),
            small(&at.rung(pain.rung).name)
        );
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

/// What a ladder's candidates come to today, before any words.
struct Look<'a> {
    /// Its number.
    number: Option<usize>,
    last: Option<&'a LadderNote>,
    /// Held in hand, ln units, and why.
    margin: f64,
    careful: Option<Reason>,
    plan: Plan,
    scored: Vec<Scored>,
    pinned: Option<Choice>,
    /// Nothing when every candidate is held back.
    chosen: Option<Choice>,
}

impl<'a> Look<'a> {
    fn at(at: &Situation<'a>, ladder: &LadderId, draft: &mut Draft) -> Self {
        let number = at.catalog().ladders().iter().position(|l| l.id == *ladder);
        let last = number.and_then(|n| at.history.ladders.get(&n));
        let (margin, careful) = caution(at, ladder, last);
        let plan = dose::working_plan(at, last, careful.is_some());
        let mut scored = in_question(at, ladder);
        score(at, &mut scored, Aim::Working, (plan.sets, plan.rest_seconds), margin);
        let pinned = pin::choice(at, ladder, &scored, draft);
        let chosen = pinned.or_else(|| choice::working(at, &scored, last));
        Self { number, last, margin, careful, plan, scored, pinned, chosen }
    }

    /// The plan of the chosen candidate: a rung that is new today gets no more sets than usual.
    fn settle(&mut self, at: &Situation<'_>, chosen: &Choice) {
        let taken = &mut self.scored[chosen.at];
        if !self.last.is_some_and(|note| choice::is_same(taken, note)) {
            self.plan = dose::plan_for_new_rung(self.plan.clone());
            rescore(at, taken, (self.plan.sets, self.plan.rest_seconds), self.margin);
        }
    }

    /// Why a test comes before the choice, if it does: never before a rung that is insisted on.
    fn test(&self, at: &Situation<'_>, chosen: &Choice) -> Option<Reason> {
        let is_free = self.pinned.is_none();
        is_free.then(|| test_session::needed(at, &self.scored, self.number, chosen.best)).flatten()
    }
}

/// Where a ladder goes against last time, and the candidate its working sets are of; nothing on a day without them.
pub(super) fn heading(at: &Situation<'_>, ladder: &LadderId) -> Option<(Direction, Candidate)> {
    let mut look = Look::at(at, ladder, &mut Draft::default());
    let chosen = look.chosen?;
    if let Some(reason) = look.test(at, &chosen)
        && test_session::item(at, &look.scored, chosen.best, reason).is_some()
    {
        return None;
    }
    look.settle(at, &chosen);
    let taken = &look.scored[chosen.at];
    Some((story::heading(at, (&look.scored, taken), look.last), taken.candidate.clone()))
}

/// Adds a ladder's part of the day.
pub(super) fn add(at: &Situation<'_>, ladder: &LadderId, draft: &mut Draft) {
    let look = Look::at(at, ladder, draft);
    let (last, margin) = (look.last, look.margin);
    let Some(chosen) = look.chosen else {
        let wanted = choice::best_held(&look.scored, |_| true).map(|o| look.scored[o].candidate.rung);
        draft.hold(at, last.map(|n| n.rung).or(wanted), margin == 0.0);
        return;
    };
    let c = &look.scored[chosen.at].candidate;
    let is_makeshift = !c.is_plain() || look.scored[chosen.at].p_band < choice::NOTHING_FITS;
    let next = if is_makeshift { choice::next_shut(&look.scored, c.rung) } else { None };
    let wanted = chosen.best_held.or(next).map(|o| look.scored[o].candidate.rung);
    draft.hold(at, wanted, margin == 0.0);
    // Whoever trained a rung last time wants to know why it is not there today.
    draft.hold(at, last.map(|n| n.rung), false);
    if let Some(reason) = look.test(at, &chosen)
        && let Some((item, picked)) = test_session::item(at, &look.scored, chosen.best, reason)
    {
        let choice = Choice { at: picked, best: picked, ..chosen };
        draft.tests.push((item, ItemStory { choice, scored: look.scored }));
        return;
    }
    add_working(at, ladder, (look, chosen), draft);
}

/// Adds the working sets of a ladder, and its attempts.
fn add_working(
    at: &Situation<'_>,
    ladder: &LadderId,
    (mut look, chosen): (Look<'_>, Choice),
    draft: &mut Draft,
) {
    look.settle(at, &chosen);
    let Look { last, margin, careful, plan, scored, pinned, .. } = look;
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
