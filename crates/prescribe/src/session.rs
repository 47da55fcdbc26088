//! Session: puts the day's prescription together.

mod ladder;
mod pin;
pub(crate) mod practice;

use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use crate::candidate::{Candidate, Scored};
use crate::choice::Choice;
use crate::day::{Day, decide, is_hurt, ladders_of_day, wanted_ladders};
use crate::dose::{self, Plan, cut_to_limits, expectation, stop_rule};
use crate::explain::ItemStory;
use crate::goal;
use crate::hold_back::{self, HoldBack, HoldBackKind};
use crate::opening::{self, Opening};
use crate::prescription::{
    Block, Direction, GoalState, GoalStatus, Item, Kind, LadderDirection, Prescription, StopRule,
};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::story;

/// Most gates tried in one session.
const MOST_OPENINGS: usize = 2;

/// The parts of a day's work while it is put together.
#[derive(Default)]
struct Draft {
    practice: Vec<(Item, ItemStory)>,
    tests: Vec<(Item, ItemStory)>,
    attempts: Vec<(Item, ItemStory)>,
    working: Vec<(Item, ItemStory)>,
    openings: Vec<Opening>,
    hold_backs: Vec<HoldBack>,
    directions: Vec<LadderDirection>,
    notes: Vec<Reason>,
}

impl Draft {
    /// Names what holds a rung back, and what could be shown today to open it.
    fn hold(&mut self, at: &Situation<'_>, rung: Option<RungIx>, may_open: bool) {
        let Some(rung) = rung else { return };
        merge(&mut self.hold_backs, hold_back::of_rung(at, rung));
        if may_open && let Some(opening) = opening::towards(at, rung) {
            self.openings.push(opening);
        }
    }

    /// Every item in the order of the session: balance practice, tests while fresh, attempts, working sets.
    fn items(mut self, at: &Situation<'_>) -> (Vec<(Item, ItemStory)>, Vec<HoldBack>, Vec<LadderDirection>) {
        let mut tests: Vec<(Item, ItemStory)> = Vec::new();
        for opening in std::mem::take(&mut self.openings) {
            let name = at.catalog().name(opening.rung);
            let planned = [&self.practice, &self.tests, &self.attempts, &self.working];
            let is_done_anyway = |i: &Item| {
                i.rung == name
                    && i.shadings.is_empty()
                    && i.load_kg == 0.0
                    && i.target_high >= opening.at_least
            };
            let is_planned = planned.into_iter().flatten().chain(&tests).any(|(i, _)| is_done_anyway(i));
            let is_test = |(i, _): &(Item, ItemStory)| i.rung == name;
            if !is_planned && !tests.iter().any(is_test) && tests.len() < MOST_OPENINGS {
                tests.push(opening::item(at, &opening));
            }
        }
        // A set that shows what a gate asks for takes the place of attempts at the same rung.
        self.attempts.retain(|(a, _)| !tests.iter().any(|(t, _)| t.rung == a.rung));
        tests.append(&mut self.tests);
        let mut items = self.practice;
        items.extend(tests.into_iter().chain(self.attempts).chain(self.working));
        (items, self.hold_backs, self.directions)
    }
}

/// What an item is made of beside its candidate.
pub(crate) struct ItemParts {
    pub(crate) block: Block,
    pub(crate) plan: Plan,
    pub(crate) target: (u16, u16),
    pub(crate) stop_rule: StopRule,
    pub(crate) reasons: Vec<Reason>,
}

/// The work of a session of these sides, balance practice with it.
fn drafted(at: &Situation<'_>, wanted: &[LadderId], sides: &[Side]) -> Draft {
    let mut draft = Draft::default();
    for ladder in practice::ladders(at, wanted) {
        practice::add(at, &ladder, &mut draft);
    }
    for ladder in ladders_of_day(at, wanted, sides) {
        ladder::add(at, &ladder, &mut draft);
    }
    // What pain keeps out of the day altogether is said all the same.
    for ladder in wanted.iter().filter_map(|ladder| at.catalog().ladder(ladder)) {
        let is_out = ladder.side != Side::Balance && !sides.contains(&ladder.side);
        if is_out && is_hurt(at, wanted, ladder.side) {
            draft.hold(at, at.catalog().rungs_of(&ladder.id).next(), false);
        }
    }
    draft
}

/// What a session of these sides would hold on the day, cut to the athlete's limits, and what would be held back.
pub(crate) fn of_sides(
    at: &Situation<'_>,
    wanted: &[LadderId],
    sides: &[Side],
) -> (Vec<Item>, Vec<HoldBack>) {
    let (mut items, hold_backs, _) = drafted(at, wanted, sides).items(at);
    cut_to_limits(at, &mut items);
    (items.into_iter().map(|(item, _)| item).collect(), hold_backs)
}

/// Where a ladder goes on a day against last time, and the candidate its working sets are of, as [`prescribe`] has them;
/// nothing on a day on which it has none.
pub(crate) fn heading(at: &Situation<'_>, ladder: &LadderId) -> Option<(Direction, Candidate)> {
    let wanted = wanted_ladders(at);
    let Day::Train { sides, .. } = decide(at, &wanted) else { return None };
    let is_up = ladders_of_day(at, &wanted, &sides).contains(ladder);
    if is_up { ladder::heading(at, ladder) } else { None }
}

/// What one athlete should do on one day, and why.
pub fn prescribe(at: &Situation<'_>) -> Prescription {
    prescribe_with_stories(at).0
}

/// The prescription with what was considered for each of its items, in the same order.
pub fn prescribe_with_stories(at: &Situation<'_>) -> (Prescription, Vec<ItemStory>) {
    let wanted = wanted_ladders(at);
    let day = decide(at, &wanted);
    let (mut draft, mut reasons) = match &day {
        Day::Rest(reason) => (Draft::default(), vec![reason.clone()]),
        Day::Train { sides, reasons } => (drafted(at, &wanted, sides), reasons.clone()),
    };
    let goals = goal::statuses(at);
    reasons.append(&mut draft.notes);
    let (mut items, hold_backs, directions) = draft.items(at);
    let cut = cut_to_limits(at, &mut items);
    let (items, stories): (Vec<Item>, Vec<ItemStory>) = items.into_iter().unzip();
    let kind = kind_of(matches!(day, Day::Rest(_)), &items, &hold_backs);
    reasons.extend(goal_reasons(at, &goals));
    reasons.extend(cut);
    if at.profile.is_minor(at.date) {
        let sentence = "The athlete is a minor: qualified supervision is asked for.";
        let years = at.profile.birth_date.map(|birth| at.date.years_since(birth));
        let figures = years.map(|y| Figure::count("age", y, "years")).into_iter().collect();
        reasons.push(Reason::new(ReasonCode::MinorSupervision, sentence, figures));
    }
    let first = match kind {
        Kind::HeldBack => hold_backs.first().map(|h| h.detail.clone()),
        Kind::Training | Kind::Test | Kind::Rest => reasons.first().map(|r| r.sentence.clone()),
    };
    let prescription = Prescription {
        date: at.date,
        policy_version: at.policy.version.clone(),
        model_version: format!("{MODEL_VERSION}/{}", at.model.parameters.version),
        ladder_versions: at.catalog().ladders().iter().map(|l| (l.id.clone(), l.version)).collect(),
        kind,
        headline: story::headline(at, kind, &items, first.as_deref()),
        cautions: story::cautions(at, &items),
        items,
        hold_backs,
        directions,
        goals,
        reasons,
    };
    (prescription, stories)
}

fn kind_of(is_rest: bool, items: &[Item], hold_backs: &[HoldBack]) -> Kind {
    let has_work = items.iter().any(|i| matches!(i.block, Block::Working | Block::Attempt));
    let is_practice = items.iter().any(|i| i.block == Block::BalancePractice);
    // A gate tried beside the practice makes no test session; a test for want of knowledge does.
    let finds_out = |i: &Item| {
        i.reasons.iter().any(|r| matches!(r.code, ReasonCode::NothingKnown | ReasonCode::DoubtTooWide))
    };
    let is_test = |i: &Item| i.block == Block::Test && (!is_practice || finds_out(i));
    match items.is_empty() {
        true if is_rest => Kind::Rest,
        true if !hold_backs.is_empty() => Kind::HeldBack,
        true => Kind::Rest,
        false if !has_work && items.iter().any(is_test) => Kind::Test,
        false => Kind::Training,
    }
}

fn goal_reasons(at: &Situation<'_>, goals: &[GoalStatus]) -> Vec<Reason> {
    let mut reasons = Vec::new();
    for g in goals.iter().filter(|g| g.state == GoalState::Reached) {
        let figures = vec![Figure::chance("p-band-low", g.p_band)];
        reasons.push(Reason::new(ReasonCode::GoalReached, g.sentence.clone(), figures));
    }
    for gone in at.profile.goals.iter().filter(|g| at.catalog().find(&g.rung).is_none()) {
        let sentence = format!("The goal {} stands on no ladder any more: please choose another.", gone.rung);
        reasons.push(Reason::new(ReasonCode::LeadsToGoal, sentence, Vec::new()));
    }
    if at.profile.goals.is_empty() {
        let sentence = if at.history.ladders.is_empty() {
            "No goal is set: a plain start with pulling, pushing and legs. Set a goal to steer this."
        } else {
            "No goal is set: the ladders trained lately are used. Set a goal to steer this."
        };
        let figures = vec![Figure::count("goals", 0, "goals")];
        reasons.push(Reason::new(ReasonCode::LeadsToGoal, sentence, figures));
    }
    reasons
}

/// An item with its target cut to what is likely.
fn item_of(
    at: &Situation<'_>,
    taken: &Scored,
    block: Block,
    plan: Plan,
    (margin, reasons): (f64, Vec<Reason>),
) -> Item {
    let (low, high, clipped) = dose::target(at, taken, &plan, margin);
    let mut all = reasons;
    all.extend(clipped);
    let unit = at.rung(taken.candidate.rung).unit;
    let stop_rule = stop_rule(at, block, &taken.outlook, (low, unit));
    make_item(at, taken, ItemParts { block, plan, target: (low, high), stop_rule, reasons: all })
}

pub(crate) fn make_item(at: &Situation<'_>, taken: &Scored, parts: ItemParts) -> Item {
    let ItemParts { block, plan, target: (target_low, target_high), stop_rule, mut reasons } = parts;
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
        stop_rule,
        expected: expectation(at, taken, dose, target_high),
        reasons,
        cues: rung.cues.clone(),
    }
}

/// Adds hold-backs that were not named yet; pain and clearances are named once, whatever the rung.
fn merge(all: &mut Vec<HoldBack>, more: Vec<HoldBack>) {
    for hold in more {
        let is_named = |h: &HoldBack| {
            h.kind == hold.kind
                && match hold.kind {
                    HoldBackKind::Pain | HoldBackKind::Clearance => h.opened_by == hold.opened_by,
                    HoldBackKind::Capped => h.detail == hold.detail,
                    HoldBackKind::Gate | HoldBackKind::Equipment | HoldBackKind::Banned => *h == hold,
                }
        };
        if !all.iter().any(is_named) {
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
