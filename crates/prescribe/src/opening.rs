//! Openings: gates worth a test set today, so that the way to a better rung opens.

use std::collections::BTreeSet;

use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use crate::candidate::{Scored, score_plainly};
use crate::choice::Choice;
use crate::dose::{plan, showing_rule};
use crate::explain::ItemStory;
use crate::hold_back::{expected, is_open, is_open_but_for_units, unmet_units};
use crate::prescription::{Block, Item};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::session::{ItemParts, make_item};
use crate::situation::Situation;
use crate::wording::{amount, capital, clean, percent, small};

/// A gate worth a test set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Opening {
    /// The rung to show something on; it is open.
    pub(crate) rung: RungIx,
    /// Units asked for.
    pub(crate) at_least: u16,
    /// Most units that another gate on the same way asks of it and that are likely too.
    pub(crate) most: u16,
    /// The rung it is on the way to.
    pub(crate) opens: RungIx,
    /// Chance to show what is asked.
    pub(crate) chance: f64,
}

/// Units that a gate on the way asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Asked {
    /// On this rung.
    pub(crate) rung: RungIx,
    /// So many.
    pub(crate) at_least: u16,
    /// For this one.
    pub(crate) opens: RungIx,
}

/// The first gate on the way to a held-back rung that is open to be tried and likely enough to be met today.
pub(crate) fn towards(at: &Situation<'_>, wanted: RungIx) -> Option<Opening> {
    let way = way_to(at, wanted);
    let likely = |asked: &Asked| {
        let chance = expected(at, asked.rung, asked.at_least).0;
        (chance >= at.policy.opening_chance).then_some(chance)
    };
    let was_tried = |rung: RungIx| {
        at.history.rungs.get(&rung).is_some_and(|note| at.day() - note.day < at.policy.opening_days)
    };
    let (first, chance) = way.iter().find_map(|asked| {
        let may = is_open(at, asked.rung) && !was_tried(asked.rung);
        if may { likely(asked).map(|chance| (*asked, chance)) } else { None }
    })?;
    let more = way.iter().filter(|a| a.rung == first.rung && likely(a).is_some()).map(|a| a.at_least);
    let most = more.max().unwrap_or(first.at_least);
    Some(Opening { rung: first.rung, at_least: first.at_least, most, opens: first.opens, chance })
}

/// The first gate on the way to a held-back rung that is open to be trained and not all but sure to be met.
pub(crate) fn bottleneck(at: &Situation<'_>, wanted: RungIx) -> Option<Asked> {
    let is_short = |asked: &Asked| {
        is_open(at, asked.rung) && expected(at, asked.rung, asked.at_least).0 < at.policy.gate_chance
    };
    way_to(at, wanted).into_iter().find(is_short)
}

/// Unmet gates on the way to a rung, what comes first standing first: a rung before those it opens, and of one rung the
/// fewest units first.
fn way_to(at: &Situation<'_>, wanted: RungIx) -> Vec<Asked> {
    let mut way = Vec::new();
    collect(at, wanted, &mut way);
    let order: Vec<RungIx> = way.iter().map(|asked| asked.rung).collect();
    way.sort_by_key(|asked| (order.iter().position(|rung| *rung == asked.rung), asked.at_least));
    way
}

fn collect(at: &Situation<'_>, gated: RungIx, way: &mut Vec<Asked>) {
    if !is_open_but_for_units(at, gated) {
        return;
    }
    for (rung, at_least, _) in unmet_units(at, gated) {
        let asked = Asked { rung, at_least, opens: gated };
        if !way.contains(&asked) {
            collect(at, rung, way);
            way.push(asked);
        }
    }
}

/// The test set for an opening, and its story.
pub(crate) fn item(at: &Situation<'_>, opening: &Opening) -> (Item, ItemStory) {
    let rung = at.rung(opening.rung);
    let dose = plan(1, at.policy.strength_rest, "One set, fresh".to_owned());
    let scored: Vec<Scored> = vec![score_plainly(at, opening.rung, (dose.sets, dose.rest_seconds))];
    let sentence = format!(
        "{} of {} open the way to {}; the chance today is {}.",
        capital(&clean(opening.at_least, rung.unit)),
        small(&rung.name),
        small(&at.rung(opening.opens).name),
        percent(opening.chance)
    );
    let figures =
        vec![Figure::count("asked", opening.at_least, "units"), Figure::chance("p-now", opening.chance)];
    let mut reasons = vec![Reason::new(ReasonCode::GateUnmet, sentence, figures)];
    if opening.most > opening.at_least {
        let sentence =
            format!("{} would count for a later rung as well.", capital(&amount(opening.most, rung.unit)));
        let figures = vec![Figure::count("asked-later", opening.most, "units")];
        reasons.push(Reason::new(ReasonCode::GateUnmet, sentence, figures));
    }
    let target = (opening.at_least, opening.most);
    let stop_rule = showing_rule(at, opening.most, rung.unit);
    let parts = ItemParts { block: Block::Test, plan: dose, target, stop_rule, reasons };
    let item = make_item(at, &scored[0], parts);
    let choice = Choice::settled(0, 0);
    (item, ItemStory { choice, scored })
}

/// Ladders other than those wanted on which a goal needs something shown that is not yet likely, while the rung that
/// asks for it is in reach; balance ladders are left to the practice.
pub(crate) fn ladders_asked(at: &Situation<'_>, wanted: &[LadderId]) -> Vec<LadderId> {
    let mut asked: Vec<LadderId> = Vec::new();
    let mut seen: BTreeSet<RungIx> = BTreeSet::new();
    let mut open: Vec<RungIx> = at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung)).collect();
    while let Some(gated) = open.pop() {
        if !seen.insert(gated) {
            continue;
        }
        for (rung, at_least, _) in unmet_units(at, gated) {
            open.push(rung);
            let ladder = at.catalog().ladder_of(rung);
            let is_new = ladder.id != at.catalog().ladder_of(gated).id
                && ladder.side != Side::Balance
                && !wanted.contains(&ladder.id)
                && !asked.contains(&ladder.id);
            if is_new && is_in_reach(at, gated) && expected(at, rung, at_least).0 < at.policy.opening_chance {
                asked.push(ladder.id.clone());
            }
        }
    }
    asked
}

/// True when the attempt band of the plain rung is likely enough for attempts.
fn is_in_reach(at: &Situation<'_>, rung: RungIx) -> bool {
    let low = at.policy.attempt_band(at.rung(rung)).low;
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0));
    outlook.at_least(f64::from(low), Strain::NONE) >= at.policy.attempt_floor
}
