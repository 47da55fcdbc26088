//! Balance practice: first in the session, on the balance ladders that the goals ask for.

use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::{Demand, Side};

use super::{Draft, item_of, ladder, pin};
use crate::candidate::{Aim, Scored, in_question, score};
use crate::choice::ROUNDING;
use crate::explain::ItemStory;
use crate::opening::Asked;
use crate::prescription::{Block, Item};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::wording::{amount, capital, small};
use crate::{choice, dose, opening, story};

/// Balance comes into question while it is within this of what limits a goal, ln units.
const NEAR_LIMIT: f64 = 0.4;

/// Balance ladders to practise: those that are goals themselves, and those that train the balance a goal wants for.
pub(crate) fn ladders(at: &Situation<'_>, wanted: &[LadderId]) -> Vec<LadderId> {
    let balance = at.catalog().ladders().iter().filter(|l| l.side == Side::Balance);
    balance.filter(|l| wanted.contains(&l.id) || goals_ask(at, &l.id)).map(|l| l.id.clone()).collect()
}

fn is_balance(at: &Situation<'_>, demand: &Demand) -> bool {
    at.catalog().ability(demand.ability).kind == AbilityKind::Balance
}

/// True when balance limits a goal rung, or nearly does, and the ladder's rungs train that balance.
fn goals_ask(at: &Situation<'_>, ladder: &LadderId) -> bool {
    at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung)).any(|goal| {
        if !at.rung(goal).demands.iter().any(|d| is_balance(at, d)) {
            return false;
        }
        let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), goal, &[], 1.0));
        let least = outlook.demands().map(|d| d.belief.mean).fold(f64::INFINITY, f64::min);
        outlook.demands().any(|d| {
            d.kind == AbilityKind::Balance
                && d.belief.mean <= least + NEAR_LIMIT + ROUNDING
                && at.catalog().rungs_of(ladder).any(|r| at.rung(r).demand_on(d.ability).is_some())
        })
    })
}

/// Where the practice of a ladder is to lead: the rung wanted now, the goals on the ladder, the goals that want its balance.
fn ways(at: &Situation<'_>, ladder: &LadderId, wanted: Option<RungIx>) -> Vec<RungIx> {
    let goals = at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung));
    let (here, elsewhere): (Vec<RungIx>, Vec<RungIx>) =
        goals.partition(|g| at.catalog().ladder_of(*g).id == *ladder);
    let balanced = elsewhere.into_iter().filter(|g| at.rung(*g).demands.iter().any(|d| is_balance(at, d)));
    wanted.into_iter().chain(here).chain(balanced).collect()
}

/// Sets on a rung that a gate asks more of than is likely yet; nothing when it stands on another ladder.
fn build(
    at: &Situation<'_>,
    scored: &[Scored],
    Asked { rung: asked, at_least, opens }: Asked,
) -> Option<(Item, ItemStory)> {
    let place = scored.iter().position(|s| s.candidate.rung == asked && s.candidate.is_plain())?;
    let rung = at.rung(asked);
    let sentence = format!(
        "{} asks for {} of {}: build it here.",
        capital(&at.rung(opens).name),
        amount(at_least, rung.unit),
        small(&rung.name)
    );
    let figures = vec![Figure::count("asked", at_least, "units")];
    let reasons = vec![Reason::new(ReasonCode::GateUnmet, sentence, figures)];
    let plan = dose::building_plan(at);
    let item = item_of(at, &scored[place], Block::BalancePractice, plan, (0.0, reasons));
    let choice = choice::Choice::settled(place, place);
    Some((item, ItemStory { choice, scored: scored.to_vec() }))
}

/// Adds the practice of one balance ladder: on a rung that asks for balance when one is open and in reach, else on what
/// leads there, and on what the next rung still wants shown. Practice is on plain rungs.
pub(super) fn add(at: &Situation<'_>, ladder: &LadderId, draft: &mut Draft) {
    let plan = dose::balance_plan(at);
    let mut scored = in_question(at, ladder);
    score(at, &mut scored, Aim::Working, (plan.sets, plan.rest_seconds), 0.0);
    let asks = |s: &Scored| at.rung(s.candidate.rung).demands.iter().any(|d| is_balance(at, d));
    let goals = at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung));
    let limit: Option<RungIx> = goals.filter(|g| at.catalog().ladder_of(*g).id == *ladder).max();
    let wanted = choice::best_held(&scored, |s| {
        asks(s) && s.candidate.is_plain() && limit.is_none_or(|l| s.candidate.rung <= l)
    });
    let wanted = wanted.map(|o| scored[o].candidate.rung);
    let in_reach = |s: &Scored| {
        let low = at.policy.attempt_band(at.rung(s.candidate.rung)).low;
        asks(s) && s.outlook.at_least(f64::from(low), Strain::NONE) >= at.policy.attempt_floor
    };
    let plain = |s: &Scored| s.candidate.is_plain();
    let pinned = pin::choice(at, ladder, &scored, draft);
    let free = || {
        choice::working_among(at, &scored, None, |s| plain(s) && in_reach(s))
            .or_else(|| choice::working_among(at, &scored, None, plain))
    };
    let Some(chosen) = pinned.or_else(free) else {
        draft.hold(at, scored.first().map(|s| s.candidate.rung), true);
        return;
    };
    draft.hold(at, wanted, true);
    for way in ways(at, ladder, None) {
        draft.openings.extend(opening::towards(at, way));
    }
    let first = "Balance practice comes first, while fresh.";
    let figures = vec![Figure::count("sets", plan.sets, "sets")];
    let mut reasons = vec![Reason::new(ReasonCode::BalancePracticeFirst, first, figures)];
    match pinned {
        Some(_) => reasons.push(pin::reason(at, &scored, &chosen)),
        None => reasons.extend(story::choice_reasons(at, &scored, &chosen, Aim::Working)),
    }
    let taken = &scored[chosen.at];
    let rung = taken.candidate.rung;
    let item = item_of(at, taken, Block::BalancePractice, plan, (0.0, reasons));
    let lacking = ways(at, ladder, wanted).into_iter().find_map(|w| opening::bottleneck(at, w));
    let is_tried = |ix: RungIx| draft.openings.iter().any(|o| o.rung == ix);
    let lacking = lacking.filter(|asked| asked.rung != rung && !is_tried(asked.rung));
    let building = lacking.and_then(|asked| build(at, &scored, asked));
    if limit.is_some() {
        ladder::add_attempt(at, ladder, (&scored, rung), draft);
    }
    draft.practice.push((item, ItemStory { choice: chosen, scored }));
    draft.practice.extend(building);
}
