//! Dose: sets, targets, rest and stop rule of an item, and the cut to the athlete's limits.

use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::band::Band;
use nextrung_domain::measure::Unit;

use crate::candidate::{Scored, mean_over_sets};
use crate::history::LadderNote;
use crate::prescription::{Block, Expectation, Item, StopRule};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::situation::Situation;

/// A target unit must be at least this likely on the average set to be asked for.
const LIKELY: f64 = 0.35;
/// The lower end of the target must be at least this likely.
const SURE: f64 = 0.5;
/// Seconds of work reckoned for a set, beside its rest.
const SET_SECONDS: u32 = 40;
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
        None => (3, "Three sets to begin with"),
        Some(_) if is_careful => (3, "Three sets, holding back for now"),
        Some(note) if note.sessions >= SETTLED_SESSIONS && note.misses == 0 => {
            (5, "Five sets: the rung has been held without misses")
        }
        Some(_) => (4, "Four sets"),
    };
    plan(sets, rest_seconds, why)
}

/// Attempts: few.
pub fn attempt_plan(at: &Situation<'_>) -> Plan {
    plan(ATTEMPTS, at.policy.strength_rest, "A few attempts; they do not replace working sets")
}

/// Balance practice: short and often.
pub fn balance_plan(at: &Situation<'_>) -> Plan {
    plan(BALANCE_SETS, at.policy.balance_rest, "Short tries while fresh")
}

pub(crate) fn plan(sets: u16, rest_seconds: u16, why: &str) -> Plan {
    let sentence = format!("{why}, with {} of rest between them.", minutes(rest_seconds));
    let figures = vec![Figure::count("sets", sets, "sets"), Figure::count("rest", rest_seconds, "seconds")];
    Plan { sets, rest_seconds, reason: Reason::new(ReasonCode::SetsChosen, sentence, figures) }
}

fn minutes(seconds: u16) -> String {
    if seconds.is_multiple_of(60) { format!("{} min", seconds / 60) } else { format!("{seconds} s") }
}

/// The band cut to what is likely: the most units not below the band that are likely on the average set, and the fewest
/// that may be called sure.
pub fn target(at: &Situation<'_>, scored: &Scored, plan: &Plan, margin: f64) -> (u16, u16, Option<Reason>) {
    let chance = |units: u16| {
        let [p] = mean_over_sets(at, (plan.sets, plan.rest_seconds), |work| {
            [scored.outlook.at_least(f64::from(units), Strain { work, margin })]
        });
        p
    };
    let Band { low, high } = scored.band;
    let mut top = high;
    while top > low && chance(top) < LIKELY {
        top -= 1;
    }
    let mut bottom = low.min(top);
    while bottom > 1 && chance(bottom) < SURE {
        bottom -= 1;
    }
    let reason = (top != high || bottom != low).then(|| {
        let unit = at.rung(scored.candidate.rung).unit.short();
        let sentence = format!("The band is {low} to {high} {unit}; today {} is likely.", range(bottom, top));
        let figures = vec![
            Figure::count("band-low", low, "units"),
            Figure::count("band-high", high, "units"),
            Figure::chance("p-target-high", chance(top)),
        ];
        Reason::new(ReasonCode::TargetClipped, sentence, figures)
    });
    (bottom, top, reason)
}

/// `3` or `3 to 5`.
pub(crate) fn range(low: u16, high: u16) -> String {
    if low == high { low.to_string() } else { format!("{low} to {high}") }
}

/// What is expected of the sets of an item with a target.
pub fn expectation(
    at: &Situation<'_>,
    scored: &Scored,
    (sets, rest_seconds): (u16, u16),
    target_high: u16,
) -> Expectation {
    let [reached, a, b, c] = mean_over_sets(at, (sets, rest_seconds), |work| {
        let endings = scored.outlook.endings(target_high, Strain { work, margin: 0.0 });
        [endings.reached, endings.failed[0], endings.failed[1], endings.failed[2]]
    });
    let most = f64::from(at.rung(scored.candidate.rung).unit.most());
    let quantile = |p: f64| scored.outlook.quantile(p).min(most);
    Expectation {
        p_band: scored.p_band,
        p_easy: scored.p_easy,
        p_hard: scored.p_hard,
        median: quantile(0.5),
        interval: (quantile(0.1), quantile(0.9)),
        reached,
        failed: [a, b, c],
    }
}

/// When to stop an item early.
pub fn stop_rule(at: &Situation<'_>, block: Block, outlook: &TaskOutlook, unit: Unit) -> StopRule {
    let pain = at.profile.limits.max_pain.get();
    let has_line = outlook.demands().any(|d| d.kind != AbilityKind::Strength);
    let form = if has_line { "or the shape goes twice in a row" } else { "or the form breaks" };
    let (misses, sentence) = match block {
        Block::BalancePractice => {
            (None, format!("End each try while it is still calm. Stop at pain {pain} of 10."))
        }
        Block::Attempt => {
            (Some(2), format!("Stop after two misses in a row, {form}, or at pain {pain} of 10."))
        }
        Block::Working => {
            let what = if unit == Unit::Reps { "reps" } else { "seconds" };
            (
                Some(2),
                format!(
                    "Stop after two sets in a row short of the target {what}, {form}, or at pain {pain} of 10."
                ),
            )
        }
        Block::Test => {
            (Some(1), format!("Stop each set with one clean unit in hand, and at pain {pain} of 10."))
        }
    };
    StopRule { sentence, misses_in_a_row: misses, pain_at_or_over: pain }
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

/// Cuts sets until the session fits the athlete's limits: first from the item with the most above its least, then whole
/// items from the end. Says so in a reason.
pub fn cut_to_limits(at: &Situation<'_>, items: &mut Vec<Item>) -> Option<Reason> {
    let limits = &at.profile.limits;
    let total = |items: &[Item]| items.iter().map(|i| i.sets).sum::<u16>();
    let time = |items: &[Item]| items.iter().map(seconds).sum::<u32>();
    let fits =
        |items: &[Item]| total(items) <= limits.max_sets && time(items) <= u32::from(limits.max_minutes) * 60;
    let before = total(items);
    while !fits(items) && !items.is_empty() {
        let only = items.len() == 1;
        let spare = |i: &Item| i.sets.saturating_sub(if only { 1 } else { fewest(i.block) });
        match items.iter_mut().filter(|i| spare(i) > 0).max_by_key(|i| spare(i)) {
            Some(item) => item.sets -= 1,
            None => {
                items.pop();
            }
        }
    }
    let after = total(items);
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
