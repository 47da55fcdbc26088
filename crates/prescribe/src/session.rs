//! Session: puts the day's prescription together.

use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use crate::candidate::{Aim, Scored, of_ladder, score};
use crate::choice::{self, Choice};
use crate::day::{Day, decide, ladders_of_day, wanted_ladders};
use crate::dose::{self, Plan, cut_to_limits, expectation, stop_rule, target};
use crate::explain::ItemStory;
use crate::goal;
use crate::hold_back::{self, HoldBack, HoldBackKind};
use crate::prescription::{Block, Item, Kind, LadderDirection, Prescription};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::{story, test_session};

/// The parts of a day's work while it is put together.
#[derive(Default)]
struct Draft {
    practice: Vec<(Item, ItemStory)>,
    attempts: Vec<(Item, ItemStory)>,
    working: Vec<(Item, ItemStory)>,
    tests: Vec<(Item, ItemStory)>,
    hold_backs: Vec<HoldBack>,
    directions: Vec<LadderDirection>,
}

/// What an item is made of beside its candidate.
pub(crate) struct ItemParts {
    pub(crate) block: Block,
    pub(crate) plan: Plan,
    pub(crate) target: (u16, u16),
    pub(crate) reasons: Vec<Reason>,
}

/// What one athlete should do on one day, and why.
pub fn prescribe(at: &Situation<'_>) -> Prescription {
    prescribe_with_stories(at).0
}

/// The prescription with what was considered for each of its items, in the same order.
pub fn prescribe_with_stories(at: &Situation<'_>) -> (Prescription, Vec<ItemStory>) {
    let wanted = wanted_ladders(at);
    let mut draft = Draft::default();
    let mut reasons = Vec::new();
    let rest = match decide(at, &wanted) {
        Day::Rest(reason) => Some(reason),
        Day::Train { sides, reasons: why } => {
            reasons.extend(why);
            add_balance_practice(at, &wanted, &mut draft);
            for ladder in ladders_of_day(at, &wanted, &sides) {
                add_ladder(at, &ladder, &mut draft);
            }
            None
        }
    };
    let goals = goal::statuses(at);
    let mut parts: Vec<(Item, ItemStory)> = Vec::new();
    for block in [draft.practice, draft.attempts, draft.working, draft.tests] {
        parts.extend(block);
    }
    let (mut items, mut stories): (Vec<Item>, Vec<ItemStory>) = parts.into_iter().unzip();
    let cut = cut_to_limits(at, &mut items);
    stories.truncate(items.len());
    let kind = kind_of(rest.is_some(), &items, &draft.hold_backs);
    reasons.extend(rest);
    reasons.extend(goal_reasons(at, &goals));
    reasons.extend(cut);
    if at.profile.is_minor(at.date) {
        let sentence = "The athlete is a minor: qualified supervision is asked for.";
        reasons.push(Reason::new(ReasonCode::MinorSupervision, sentence, Vec::new()));
    }
    let first = match kind {
        Kind::HeldBack => draft.hold_backs.first().map(|h| h.detail.clone()),
        Kind::Training | Kind::Test | Kind::Rest => reasons.first().map(|r| r.sentence.clone()),
    };
    let prescription = Prescription {
        date: at.date,
        policy_version: at.policy.version.clone(),
        model_version: format!("{MODEL_VERSION}/{}", at.model.parameters.version),
        ladder_versions: at.catalog().ladders().iter().map(|l| (l.id.clone(), l.version)).collect(),
        kind,
        headline: story::headline(kind, &items, first.as_deref()),
        cautions: story::cautions(at, &items),
        items,
        hold_backs: draft.hold_backs,
        directions: draft.directions,
        goals,
        reasons,
    };
    (prescription, stories)
}

fn kind_of(is_rest: bool, items: &[Item], hold_backs: &[HoldBack]) -> Kind {
    let has_work = items.iter().any(|i| matches!(i.block, Block::Working | Block::Attempt));
    match items.is_empty() {
        true if is_rest => Kind::Rest,
        true if !hold_backs.is_empty() => Kind::HeldBack,
        true => Kind::Rest,
        false if !has_work && items.iter().any(|i| i.block == Block::Test) => Kind::Test,
        false => Kind::Training,
    }
}

fn goal_reasons(at: &Situation<'_>, goals: &[crate::prescription::GoalStatus]) -> Vec<Reason> {
    let mut reasons = Vec::new();
    for g in goals.iter().filter(|g| g.state == crate::prescription::GoalState::Reached) {
        let figures = vec![Figure::chance("p-band-low", g.p_band)];
        reasons.push(Reason::new(ReasonCode::GoalReached, g.sentence.clone(), figures));
    }
    if at.profile.goals.is_empty() {
        let sentence = "No goal is set: the ladders trained lately are used. Set a goal to steer this.";
        reasons.push(Reason::new(ReasonCode::LeadsToGoal, sentence, Vec::new()));
    }
    reasons
}

/// What is held in hand on a ladder, ln units, and why: time off, a run of misses, pain not long ago.
fn caution(at: &Situation<'_>, ladder: &LadderId) -> (f64, Option<Reason>) {
    let number = at.catalog().ladders().iter().position(|l| l.id == *ladder);
    let note = number.and_then(|n| at.history.ladders.get(&n));
    let after_pain = at.catalog().rungs_of(ladder).any(|r| hold_back::is_after_pain(at, r));
    if after_pain {
        let sentence = "Pain was logged not long ago: work stays easy until it has been quiet for a while.";
        return (
            at.policy.pain_margin,
            Some(Reason::new(ReasonCode::PainAtOrOverLimit, sentence, Vec::new())),
        );
    }
    let Some(note) = note else { return (0.0, None) };
    let days = at.day() - note.day;
    if days >= at.policy.return_days {
        let sentence =
            format!("{days} days off this ladder: the first sessions back keep something in hand.");
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

/// The hardest goal on a ladder, unless every goal on it is reached; then nothing limits the attempts.
fn attempt_limit(at: &Situation<'_>, ladder: &LadderId) -> Option<RungIx> {
    let on_ladder = at.profile.goals.iter().filter(|g| g.rung.ladder == *ladder);
    let open = on_ladder.filter_map(|g| at.catalog().find(&g.rung)).filter(|ix| !goal::is_reached(at, *ix));
    open.max()
}

fn add_ladder(at: &Situation<'_>, ladder: &LadderId, draft: &mut Draft) {
    let (margin, careful) = caution(at, ladder);
    let number = at.catalog().ladders().iter().position(|l| l.id == *ladder);
    let last = number.and_then(|n| at.history.ladders.get(&n));
    let plan = dose::working_plan(at, last, careful.is_some());
    let candidates = of_ladder(at, ladder);
    let scored = score(at, candidates.clone(), Aim::Working, (plan.sets, plan.rest_seconds), margin);
    let Some(chosen) = choice::working(at, &scored, last) else {
        add_hold_backs(at, ladder, last.map(|n| n.rung), &mut draft.hold_backs);
        return;
    };
    if let Some(held) = chosen.best_held {
        merge(&mut draft.hold_backs, hold_back::of_rung(at, scored[held].candidate.rung));
    }
    if let Some(reason) = test_session::needed(at, &scored, Some(chosen.best)) {
        if let Some(item) = test_session::item(at, ladder, &scored, reason) {
            draft.tests.push((item, ItemStory { choice: chosen, scored }));
        }
        return;
    }
    let taken = &scored[chosen.at];
    draft.directions.push(story::direction(at, taken, last, careful.as_ref()));
    let mut reasons = story::choice_reasons(at, &scored, &chosen, Aim::Working);
    reasons.extend(careful);
    if taken.p_band < 0.2 {
        let sentence = "No open rung of this ladder falls into the band; the nearest was taken.";
        reasons.push(Reason::new(
            ReasonCode::NothingInBand,
            sentence,
            vec![Figure::chance("p-band", taken.p_band)],
        ));
    }
    let working_rung = taken.candidate.rung;
    let item = item_of(at, taken, Block::Working, plan, (margin, reasons));
    if margin == 0.0 {
        add_attempt(at, ladder, (candidates, working_rung), draft);
    }
    draft.working.push((item, ItemStory { choice: chosen, scored }));
}

fn add_attempt(
    at: &Situation<'_>,
    ladder: &LadderId,
    (candidates, working): (Vec<crate::candidate::Candidate>, RungIx),
    draft: &mut Draft,
) {
    let plan = dose::attempt_plan(at);
    let harder = candidates.into_iter().filter(|c| c.rung > working && c.load_kg == 0.0).collect();
    let scored = score(at, harder, Aim::Attempt, (plan.sets, plan.rest_seconds), 0.0);
    let limit = attempt_limit(at, ladder);
    let Some(chosen) = choice::attempt(at, &scored, working, limit) else {
        let held = scored.iter().filter(|s| limit.is_none_or(|l| s.candidate.rung <= l));
        if let Some(next) = held.into_iter().find(|s| !s.candidate.is_open && s.p_band > 0.3) {
            merge(&mut draft.hold_backs, hold_back::of_rung(at, next.candidate.rung));
        }
        return;
    };
    if let Some(held) = chosen.best_held {
        merge(&mut draft.hold_backs, hold_back::of_rung(at, scored[held].candidate.rung));
    }
    let taken = &scored[chosen.at];
    let reasons = story::choice_reasons(at, &scored, &chosen, Aim::Attempt);
    let item = item_of(at, taken, Block::Attempt, plan, (0.0, reasons));
    draft.attempts.push((item, ItemStory { choice: chosen, scored }));
}

fn item_of(
    at: &Situation<'_>,
    taken: &Scored,
    block: Block,
    plan: Plan,
    (margin, reasons): (f64, Vec<Reason>),
) -> Item {
    let (low, high, clipped) = target(at, taken, &plan, margin);
    let mut all = reasons;
    all.extend(clipped);
    make_item(at, taken, ItemParts { block, plan, target: (low, high), reasons: all })
}

pub(crate) fn make_item(at: &Situation<'_>, taken: &Scored, parts: ItemParts) -> Item {
    let ItemParts { block, plan, target: (target_low, target_high), mut reasons } = parts;
    let rung = at.rung(taken.candidate.rung);
    let dose = (plan.sets, plan.rest_seconds);
    reasons.push(plan.reason);
    Item {
        block,
        rung: at.catalog().name(taken.candidate.rung),
        name: rung.name.clone(),
        shadings: taken.candidate.shading.iter().cloned().collect(),
        load_kg: taken.candidate.load_kg,
        sets: dose.0,
        target_low,
        target_high,
        unit: rung.unit,
        rest_seconds: dose.1,
        stop_rule: stop_rule(at, block, &taken.outlook, rung.unit),
        expected: expectation(at, taken, dose, target_high),
        reasons,
        cues: rung.cues.clone(),
    }
}

/// Balance practice first: on the balance ladder whose ability the goals ask for.
fn add_balance_practice(at: &Situation<'_>, wanted: &[LadderId], draft: &mut Draft) {
    for ladder in at.catalog().ladders().iter().filter(|l| l.side == Side::Balance) {
        let asks = wanted.contains(&ladder.id) || goals_ask(at, &ladder.id);
        if !asks {
            continue;
        }
        let plan = dose::balance_plan(at);
        let scored = score(at, of_ladder(at, &ladder.id), Aim::Working, (plan.sets, plan.rest_seconds), 0.0);
        let Some(chosen) = choice::working(at, &scored, None) else {
            add_hold_backs(at, &ladder.id, None, &mut draft.hold_backs);
            continue;
        };
        if let Some(held) = chosen.best_held {
            merge(&mut draft.hold_backs, hold_back::of_rung(at, scored[held].candidate.rung));
        }
        let mut reasons = vec![Reason::new(
            ReasonCode::BalancePracticeFirst,
            "Balance practice comes first, while fresh.",
            Vec::new(),
        )];
        reasons.extend(story::choice_reasons(at, &scored, &chosen, Aim::Working));
        let item = item_of(at, &scored[chosen.at], Block::BalancePractice, plan, (0.0, reasons));
        draft.practice.push((item, ItemStory { choice: chosen, scored }));
    }
}

/// True when a goal rung asks for a balance that the ladder's rungs train.
fn goals_ask(at: &Situation<'_>, ladder: &LadderId) -> bool {
    let is_balance = |a| at.catalog().ability(a).kind == AbilityKind::Balance;
    at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung)).any(|goal| {
        at.rung(goal).demands.iter().filter(|d| is_balance(d.ability)).any(|demand| {
            at.catalog().rungs_of(ladder).any(|r| at.rung(r).demand_on(demand.ability).is_some())
        })
    })
}

/// The hold-backs of a ladder on which nothing is open: of the rung trained last, else of its easiest rung.
fn add_hold_backs(at: &Situation<'_>, ladder: &LadderId, last: Option<RungIx>, found: &mut Vec<HoldBack>) {
    if let Some(rung) = last.or_else(|| at.catalog().rungs_of(ladder).next()) {
        merge(found, hold_back::of_rung(at, rung));
    }
}

fn merge(all: &mut Vec<HoldBack>, more: Vec<HoldBack>) {
    for hold in more {
        let is_same = |h: &HoldBack| {
            h.kind == hold.kind
                && h.detail == hold.detail
                && (h.rung == hold.rung || h.kind == HoldBackKind::Pain)
        };
        if !all.iter().any(is_same) {
            all.push(hold);
        }
    }
}

/// The choice made for an item is needed by explanations only.
impl ItemStory {
    /// The choice.
    pub fn choice(&self) -> &Choice {
        &self.choice
    }
}
