//! Dose: sets, targets, rest and stop rule of an item, and the cut to the athlete's limits.

use nextrung_capacity::outlook::{Endings, Strain, TaskOutlook};
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::band::Band;
use nextrung_domain::measure::Unit;

use crate::candidate::{Scored, mean_over_sets};
use crate::history::LadderNote;
use crate::prescription::{Block, Expectation, Item, StopRule};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;
use crate::wording::{amount, minutes, range, unit_word};

/// A target unit must be at least this likely on the average set to be asked for.
const LIKELY: f64 = 0.35;
/// The lower end of the target must be at least this likely.
const SURE: f64 = 0.5;
/// A longer set than the band must be at least this likely: it is not taken to the limit.
const SURE_LONG: f64 = 0.9;
/// Seconds of work reckoned for a set, beside its rest.
const SET_SECONDS: u32 = 40;
/// Working sets of a usual session.
const USUAL_SETS: u16 = 4;
/// Most attempts; common practice, no source: few, and never in place of working sets.
const ATTEMPTS: u16 = 4;
/// Sets of balance practice; common practice, no source.
const BALANCE_SETS: u16 = 5;
/// Sessions on a rung after which a fifth set is asked for.
const SETTLED_SESSIONS: u16 = 3;

/// How many sets and how much rest, before targets.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Sets.
    pub sets: u16,
    /// Rest between them, seconds.
    pub rest_seconds: u16,
    /// Why.
    pub reason: Reason,
}

/// Working sets: four; three on a return, after misses or pain, or the first time; five on a rung held without misses.
pub fn working_plan(at: &Situation<'_>, last: Option<&LadderNote>, is_careful: bool) -> Plan {
    let rest_seconds = at.policy.strength_rest;
    let (sets, why) = match last {
        _ if is_careful => (3, "Three sets, holding back for now"),
        None => (3, "Three sets to begin with"),
        Some(note) if note.sessions >= SETTLED_SESSIONS && note.misses == 0 => {
            (5, "Five sets, since the rung has been held without misses")
        }
        Some(_) => (USUAL_SETS, "Four sets"),
    };
    plan(sets, rest_seconds, why.to_owned())
}

/// The plan for a rung that is new today: no more sets than the usual four.
pub fn plan_for_new_rung(planned: Plan) -> Plan {
    if planned.sets <= USUAL_SETS {
        return planned;
    }
    plan(USUAL_SETS, planned.rest_seconds, "Four sets".to_owned())
}

/// Attempts: few.
pub fn attempt_plan(rest_seconds: u16) -> Plan {
    plan(ATTEMPTS, rest_seconds, "At most four attempts, which do not replace working sets".to_owned())
}

/// Sets that build what a gate asks for.
pub fn building_plan(at: &Situation<'_>) -> Plan {
    plan(fewest(Block::Working), at.policy.balance_rest, "Three sets to build it".to_owned())
}

/// Balance practice: short and often.
pub fn balance_plan(at: &Situation<'_>) -> Plan {
    plan(BALANCE_SETS, at.policy.balance_rest, "Five short tries".to_owned())
}

pub(crate) fn plan(sets: u16, rest_seconds: u16, why: String) -> Plan {
    let sentence =
        if sets > 1 { format!("{why}, {} of rest between them.", minutes(rest_seconds)) } else { why + "." };
    let figures = vec![Figure::count("sets", sets, "sets"), Figure::count("rest", rest_seconds, "seconds")];
    Plan { sets, rest_seconds, reason: Reason::new(ReasonCode::SetsChosen, sentence, figures) }
}

/// The band cut to what is likely: the most units not below the band that are likely on the average set, and the fewest
/// that may be called sure. Where the band is far below what the athlete can do and nothing harder is open, the sets grow
/// longer instead.
pub fn target(at: &Situation<'_>, scored: &Scored, plan: &Plan, margin: f64) -> (u16, u16, Option<Reason>) {
    let chance = |units: u16| {
        let [p] = mean_over_sets(at, (plan.sets, plan.rest_seconds), |work| {
            [scored.outlook.at_least(f64::from(units), Strain { work, margin })]
        });
        p
    };
    let Band { low, high } = scored.band;
    if scored.p_band < crate::choice::NOTHING_FITS && scored.p_easy > 0.5 {
        return long_sets(at, scored, chance);
    }
    let mut top = high;
    while top > low && chance(top) < LIKELY {
        top -= 1;
    }
    let mut bottom = low.min(top);
    while bottom > 1 && chance(bottom) < SURE {
        bottom -= 1;
    }
    let reason = (top != high || bottom != low).then(|| {
        let unit = at.rung(scored.candidate.rung).unit;
        let sentence = format!(
            "The band is {} {}; today {} {} likely.",
            range(low, high),
            unit_word(high, unit),
            range(bottom, top),
            if top == 1 { "is" } else { "are" }
        );
        let figures = vec![
            Figure::count("band-low", low, "units"),
            Figure::count("band-high", high, "units"),
            Figure::chance("p-target-high", chance(top)),
        ];
        Reason::new(ReasonCode::TargetClipped, sentence, figures)
    });
    (bottom, top, reason)
}

/// Most units of a longer set.
fn longest(unit: Unit) -> u16 {
    match unit {
        Unit::Reps => 15,
        Unit::HoldSeconds => 45,
        Unit::LoweringSeconds => 20,
    }
}

/// The longest target that is still sure, and three quarters of it.
fn long_sets(at: &Situation<'_>, scored: &Scored, chance: impl Fn(u16) -> f64) -> (u16, u16, Option<Reason>) {
    let unit = at.rung(scored.candidate.rung).unit;
    let most = longest(unit).max(scored.band.high);
    let top = (scored.band.high..=most).rev().find(|n| chance(*n) >= SURE_LONG).unwrap_or(scored.band.high);
    let bottom = (top - top / 4).max(1);
    let sentence = format!(
        "The band of {} {} is well below what is possible: longer sets of {} make up for it.",
        range(scored.band.low, scored.band.high),
        unit_word(scored.band.high, unit),
        range(bottom, top)
    );
    let figures = vec![
        Figure::count("band-low", scored.band.low, "units"),
        Figure::count("band-high", scored.band.high, "units"),
        Figure::chance("p-target-high", chance(top)),
    ];
    (bottom, top, Some(Reason::new(ReasonCode::TargetClipped, sentence, figures)))
}

/// How sets with a target are expected to end, averaged over them with their fatigue.
pub(crate) fn endings(at: &Situation<'_>, scored: &Scored, dose: (u16, u16), target: u16) -> Endings {
    let [reached, a, b, c] = mean_over_sets(at, dose, |work| {
        let Endings { reached, failed: [a, b, c] } =
            scored.outlook.endings(target, Strain { work, margin: 0.0 });
        [reached, a, b, c]
    });
    Endings { reached, failed: [a, b, c] }
}

/// What is expected of the sets of an item with a target.
pub fn expectation(at: &Situation<'_>, scored: &Scored, dose: (u16, u16), target_high: u16) -> Expectation {
    let Endings { reached, failed } = endings(at, scored, dose, target_high);
    let most = f64::from(at.rung(scored.candidate.rung).unit.most());
    let quantile = |p: f64| scored.outlook.quantile(p).min(most);
    Expectation {
        p_band: scored.p_band,
        p_easy: scored.p_easy,
        p_hard: scored.p_hard,
        median: quantile(0.5),
        interval: (quantile(0.1), quantile(0.9)),
        reached,
        failed,
    }
}

/// When to stop an item early.
pub fn stop_rule(
    at: &Situation<'_>,
    block: Block,
    outlook: &TaskOutlook,
    (low, unit): (u16, Unit),
) -> StopRule {
    let pain = at.profile.limits.max_pain.get();
    let has_line = outlook.demands().any(|d| d.kind != AbilityKind::Strength);
    let form = if has_line { "when the shape goes twice in a row" } else { "when the form breaks" };
    let (misses, sentence) = match block {
        Block::BalancePractice => {
            (None, format!("End each try while it is still calm. Stop at pain {pain} of 10."))
        }
        Block::Attempt => {
            (Some(2), format!("Stop after two misses in a row, {form}, and at pain {pain} of 10."))
        }
        Block::Working => {
            let short = amount(low, unit);
            (
                Some(2),
                format!("Stop after two sets in a row below {short}, {form}, and at pain {pain} of 10."),
            )
        }
        Block::Test => {
            let (one, more) = match unit {
                Unit::Reps => ("about one clean rep", "how many more there were"),
                Unit::HoldSeconds | Unit::LoweringSeconds => ("about a second", "how it ended"),
            };
            (Some(1), format!("Stop with {one} in hand and note {more}. Stop at pain {pain} of 10."))
        }
    };
    StopRule { sentence, misses_in_a_row: misses, pain_at_or_over: pain }
}

/// When to stop a set that shows what a gate asks for.
pub fn showing_rule(at: &Situation<'_>, most: u16, unit: Unit) -> StopRule {
    let pain = at.profile.limits.max_pain.get();
    let sentence =
        format!("Stop at {}, or sooner when the form breaks. Stop at pain {pain} of 10.", amount(most, unit));
    StopRule { sentence, misses_in_a_row: Some(1), pain_at_or_over: pain }
}

/// Seconds an item takes.
fn seconds(item: &Item) -> u32 {
    u32::from(item.sets) * (u32::from(item.rest_seconds) + SET_SECONDS)
}

/// Fewest sets of a block that are still worth doing.
fn fewest(block: Block) -> u16 {
    match block {
        Block::Working => 3,
        Block::BalancePractice | Block::Attempt => 2,
        Block::Test => 1,
    }
}

/// Place of the item that is missed least: attempts, then working sets beyond the first ladder, tests, practice.
fn least_missed<T>(items: &[(Item, T)]) -> Option<usize> {
    let last = |block: Block| items.iter().rposition(|(i, _)| i.block == block);
    let ladders = items.iter().filter(|(i, _)| i.block == Block::Working).count();
    last(Block::Attempt)
        .or_else(|| last(Block::Working).filter(|_| ladders > 1))
        .or_else(|| last(Block::Test).filter(|_| items.len() > 1))
        .or_else(|| last(Block::BalancePractice))
        .or_else(|| items.len().checked_sub(1))
}

/// Has the reason for the number of sets agree with the number that is left.
fn retell(item: &mut Item) {
    let is_told = |r: &Reason| r.code == ReasonCode::SetsChosen;
    let is_cut = |r: &Reason| r.figures.iter().any(|f| f.name == "sets" && f.value != f64::from(item.sets));
    let Some(place) = item.reasons.iter().position(|r| is_told(r) && is_cut(r)) else { return };
    let why = if item.sets == 1 {
        "One set is left by the limits".to_owned()
    } else {
        format!("{} sets are left by the limits", item.sets)
    };
    item.reasons[place] = plan(item.sets, item.rest_seconds, why).reason;
}

/// Cuts sets until the session fits the athlete's limits: first from the item with the most above its least, then whole
/// items, those missed least first. Says so in a reason.
pub fn cut_to_limits<T>(at: &Situation<'_>, items: &mut Vec<(Item, T)>) -> Option<Reason> {
    let limits = &at.profile.limits;
    let total = |items: &[(Item, T)]| items.iter().map(|(i, _)| i.sets).sum::<u16>();
    let time = |items: &[(Item, T)]| items.iter().map(|(i, _)| seconds(i)).sum::<u32>();
    let fits = |items: &[(Item, T)]| {
        total(items) <= limits.max_sets && time(items) <= u32::from(limits.max_minutes) * 60
    };
    let before = total(items);
    while !fits(items) {
        let only = items.len() == 1;
        let spare = |i: &Item| i.sets.saturating_sub(if only { 1 } else { fewest(i.block) });
        let longest = items.iter_mut().map(|(i, _)| i).filter(|i| spare(i) > 0).max_by_key(|i| spare(i));
        if let Some(item) = longest {
            item.sets -= 1;
        } else if let Some(place) = least_missed(items) {
            items.remove(place);
        } else {
            break;
        }
    }
    let after = total(items);
    if after < before {
        items.iter_mut().for_each(|(item, _)| retell(item));
    }
    (after < before).then(|| {
        let sentence = format!(
            "Cut from {before} to {after} sets to stay within {} sets and {} minutes.",
            limits.max_sets, limits.max_minutes
        );
        let figures = vec![
            Figure::count("sets-before", before, "sets"),
            Figure::count("sets", after, "sets"),
            Figure::count("minutes", time(items) / 60, "minutes"),
        ];
        Reason::new(ReasonCode::CutToLimits, sentence, figures)
    })
}
