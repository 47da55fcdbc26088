//! Audit: the training of a span held against common practice. Common practice, no source, for every figure asked for.

use std::collections::BTreeSet;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::ladder::{Demand, Side};
use nextrung_domain::stop::Purpose;

use super::ability::Causes;
use super::log::{Logged, SpanLog};
use super::{HALF, MOST_EVIDENCE};
use crate::reason::Figure;
use crate::situation::Situation;
use crate::wording::percent;

/// Exposures to the skill a week.
const EXPOSURES: (f64, f64) = (3.0, 4.0);
/// Days with balance a week, where the goal wants for balance.
const BALANCE_DAYS: (f64, f64) = (4.0, 6.0);
/// Share of working sets among working sets and play; what the prescriptions of this service come to is about half.
const WORKING_SHARE: f64 = 0.4;
/// Longest gap, days.
const GAP: i32 = 10;
/// Share of arm days on the other side than the one before, where both sides are trained.
const ALTERNATION: f64 = 0.5;
/// Arm days needed to judge alternation.
const FEW_DAYS: usize = 6;
/// Balance is wanted for while it is within this of what limits the goal, ln units; as in balance practice.
const NEAR_LIMIT: f64 = 0.4;
/// A week's count of days scatters at least by this, however alike the weeks were.
const LEAST_SCATTER: f64 = 0.5;

/// One line of the audit.
#[derive(Debug, Clone, PartialEq)]
pub struct AuditLine {
    /// What was counted, a slug.
    pub measure: &'static str,
    /// How much there was.
    pub value: f64,
    /// The least that is asked for.
    pub at_least: Option<f64>,
    /// The most that is asked for.
    pub at_most: Option<f64>,
    /// The unit of all three, a slug.
    pub unit: &'static str,
    /// True when less or more than is asked for.
    pub is_off: bool,
    /// The same in a sentence.
    pub sentence: String,
}

/// What was missing most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lack {
    /// Days on what the goal asks for.
    Exposures,
    /// Working sets among the play.
    Work,
    /// Days with balance.
    Balance,
    /// Time without training in one piece.
    Gap,
}

/// Something counted with its standard deviation, and what is asked for.
#[derive(Debug, Clone, Copy)]
struct Counted {
    lack: Lack,
    value: f64,
    sd: f64,
    asked: f64,
}

impl Counted {
    /// The share missing for a standard normal draw.
    fn missing(&self, z: f64) -> f64 {
        (1.0 - (self.value + self.sd * z) / self.asked).clamp(0.0, 1.0)
    }
}

/// The training of a span.
#[derive(Debug, Clone)]
pub(super) struct Audit {
    /// The lines.
    pub(super) lines: Vec<AuditLine>,
    /// The figures behind the share missing.
    pub(super) figures: Vec<Figure>,
    /// Sets that show what is missing most.
    pub(super) evidence: Vec<ClientSetId>,
    counted: Vec<Counted>,
}

impl Audit {
    /// Counts the training on what the goal asks for.
    pub(super) fn of(at: &Situation<'_>, log: &SpanLog<'_>, causes: &Causes) -> Self {
        let trained: BTreeSet<i32> = log.on_goal.iter().map(Logged::day).collect();
        let mut counted = vec![weekly(log, &trained, (Lack::Exposures, EXPOSURES.0))];
        let mut lines = vec![exposures_line(counted[0].value)];
        if causes.wants_balance(NEAR_LIMIT) {
            let balance = weekly(log, &balance_days(at, log), (Lack::Balance, BALANCE_DAYS.0));
            lines.push(balance_line(balance.value));
            // Few of them hold back only where balance is what is short.
            counted.extend(causes.wants_balance(0.0).then_some(balance));
        }
        if let Some((share, line)) = working_share(at, log) {
            counted.push(share);
            lines.push(line);
        }
        let gap = longest_gap(log, &trained);
        lines.push(gap_line(gap));
        counted.push(Counted {
            lack: Lack::Gap,
            value: 1.0 - idle_share(log, &trained),
            sd: 0.0,
            asked: 1.0,
        });
        lines.extend(alternation_line(at, log));
        let mut audit = Self { lines, figures: Vec::new(), evidence: Vec::new(), counted };
        audit.figures = audit.lines.iter().map(|l| Figure::new(l.measure, l.value, l.unit)).collect();
        audit.evidence = evidence(at, log, audit.lack());
        audit
    }

    /// The largest share missing.
    pub(super) fn missing(&self) -> f64 {
        self.missing_by(0.0, 0.0)
    }

    /// The same for standard normal draws: one for the days, one for the share of working sets.
    pub(super) fn missing_by(&self, of_days: f64, of_work: f64) -> f64 {
        let draw = |c: &Counted| if c.lack == Lack::Work { of_work } else { of_days };
        self.counted.iter().map(|c| c.missing(draw(c))).fold(0.0, f64::max)
    }

    /// The central interval of the share missing.
    pub(super) fn interval(&self) -> (f64, f64) {
        (self.missing_by(HALF, HALF), self.missing_by(-HALF, -HALF))
    }

    /// True when every line is as common practice has it.
    pub(super) fn is_in_order(&self) -> bool {
        self.lines.iter().all(|line| !line.is_off)
    }

    /// True when attempts and play outweigh the working sets.
    pub(super) fn is_mostly_play(&self) -> bool {
        self.counted.iter().any(|c| c.lack == Lack::Work && c.value < 0.5)
    }

    /// What was missing most; nothing when nothing was.
    pub(super) fn lack(&self) -> Option<Lack> {
        let most = self.counted.iter().filter(|c| c.missing(0.0) > 0.0);
        most.max_by(|a, b| a.missing(0.0).total_cmp(&b.missing(0.0))).map(|c| c.lack)
    }
}

/// Days with balance: on a rung that asks for it or that belongs to its practice, as work at the wall does.
fn balance_days(at: &Situation<'_>, log: &SpanLog<'_>) -> BTreeSet<i32> {
    let is_balance = |l: &&Logged<'_>| {
        let rung = at.rung(l.rung);
        let asks = |d: &Demand| at.catalog().ability(d.ability).kind == AbilityKind::Balance;
        l.is_effort() && (rung.side == Side::Balance || rung.demands.iter().any(asks))
    };
    log.all.iter().filter(is_balance).map(Logged::day).collect()
}

/// Days of some kind a week, with the standard deviation from week to week. Whole weeks are counted back from the end.
fn weekly(log: &SpanLog<'_>, days: &BTreeSet<i32>, (lack, asked): (Lack, f64)) -> Counted {
    let (first, last) = log.days;
    let weeks = (last - first + 1) / 7;
    let in_week = |week: i32| {
        let end = last - 7 * week;
        count(days.range(end - 6..=end).count())
    };
    let counts: Vec<f64> = (0..weeks).map(in_week).collect();
    let value = count(days.len()) / log.weeks();
    let n = count(counts.len()).max(1.0);
    let mean = counts.iter().sum::<f64>() / n;
    let spread = counts.iter().map(|c| (c - mean) * (c - mean)).sum::<f64>() / (n - 1.0).max(1.0);
    Counted { lack, value, sd: spread.sqrt().max(LEAST_SCATTER) / n.sqrt(), asked }
}

/// Working sets among working sets and play, with the standard deviation over days; nothing when there was neither.
fn working_share(at: &Situation<'_>, log: &SpanLog<'_>) -> Option<(Counted, AuditLine)> {
    let is_play = |l: &Logged<'_>| matches!(l.set.purpose, Purpose::Attempt | Purpose::Free);
    let mut by_day = std::collections::BTreeMap::<i32, (f64, f64)>::new();
    for logged in &log.on_goal {
        let (work, play) = by_day.entry(logged.day()).or_default();
        *work += f64::from(u8::from(log.builds(at, logged)));
        *play += f64::from(u8::from(is_play(logged)));
    }
    let work: f64 = by_day.values().map(|d| d.0).sum();
    let play: f64 = by_day.values().map(|d| d.1).sum();
    let all = work + play;
    if all == 0.0 {
        return None;
    }
    let share = work / all;
    let off = |(w, p): &(f64, f64)| w - (w + p) * share;
    let variance: f64 = by_day.values().map(|d| off(d) * off(d)).sum::<f64>() / (all * all);
    // Never surer than as many sets, each for itself, could make it.
    let least = 0.25 / (all + 4.0);
    let sentence = format!(
        "{work:.0} working {} and {play:.0} of play (attempts and unstructured sets): {} work; {} or more are common practice.",
        if work == 1.0 { "set" } else { "sets" },
        percent(share),
        percent(WORKING_SHARE)
    );
    let line = line("working-share", share, (Some(WORKING_SHARE), None), "share", sentence);
    Some((
        Counted { lack: Lack::Work, value: share, sd: variance.max(least).sqrt(), asked: WORKING_SHARE },
        line,
    ))
}

/// Days without training between the first day judged, the days trained and the last day judged, one after the other.
fn gaps(log: &SpanLog<'_>, trained: &BTreeSet<i32>) -> Vec<i32> {
    let mut from = log.days.0;
    let mut gaps = Vec::new();
    for day in trained.iter().copied().chain([log.days.1 + 1]) {
        gaps.push((day - from).max(0));
        from = day + 1;
    }
    gaps
}

fn longest_gap(log: &SpanLog<'_>, trained: &BTreeSet<i32>) -> i32 {
    gaps(log, trained).into_iter().max().unwrap_or(0)
}

/// Share of the days that lie in gaps beyond the longest asked for.
fn idle_share(log: &SpanLog<'_>, trained: &BTreeSet<i32>) -> f64 {
    let idle: i32 = gaps(log, trained).into_iter().map(|g| (g - GAP).max(0)).sum();
    f64::from(idle) / f64::from(log.days.1 - log.days.0 + 1)
}

fn exposures_line(value: f64) -> AuditLine {
    let sentence = format!("{} on what the goal asks for; 3 to 4 are common practice.", a_week(value, "day"));
    line("exposures-a-week", value, (Some(EXPOSURES.0), None), "days-a-week", sentence)
}

fn balance_line(value: f64) -> AuditLine {
    let sentence = format!("{} with balance; 4 to 6 short ones are common practice.", a_week(value, "day"));
    line("balance-days-a-week", value, (Some(BALANCE_DAYS.0), Some(BALANCE_DAYS.1)), "days-a-week", sentence)
}

fn gap_line(gap: i32) -> AuditLine {
    let days = if gap == 1 { "day" } else { "days" };
    let sentence = format!("The longest gap was {gap} {days}; no more than {GAP} are common practice.");
    line("longest-gap", f64::from(gap), (None, Some(f64::from(GAP))), "days", sentence)
}

/// How often arm days changed the side, among those on which one side had enough sets to count; nothing where only one
/// side is trained.
fn alternation_line(at: &Situation<'_>, log: &SpanLog<'_>) -> Option<AuditLine> {
    let mut days = std::collections::BTreeMap::<i32, [u16; 2]>::new();
    for logged in &log.all {
        let sets = days.entry(logged.day()).or_default();
        match at.rung(logged.rung).side {
            Side::BentArm => sets[0] += 1,
            Side::StraightArm => sets[1] += 1,
            Side::Balance | Side::Legs => {}
        }
    }
    let side = |[bent, straight]: &[u16; 2]| {
        ((*bent).max(*straight) >= at.policy.side_sets).then_some(bent >= straight)
    };
    let sides: Vec<bool> = days.values().filter_map(side).collect();
    let both = sides.contains(&true) && sides.contains(&false);
    if sides.len() < FEW_DAYS || !both {
        return None;
    }
    let changes = sides.windows(2).filter(|w| w[0] != w[1]).count();
    let share = count(changes) / count(sides.len() - 1);
    let sentence = format!(
        "Bent-arm and straight-arm days alternated {changes} of {} times; every other time or more is common practice.",
        sides.len() - 1
    );
    Some(line("side-alternation", share, (Some(ALTERNATION), None), "share", sentence))
}

fn line(
    measure: &'static str,
    value: f64,
    (at_least, at_most): (Option<f64>, Option<f64>),
    unit: &'static str,
    sentence: String,
) -> AuditLine {
    // Counts are judged as they are told.
    let judged = if unit == "share" { value } else { tenth(value) };
    let is_off = at_least.is_some_and(|least| judged < least) || at_most.is_some_and(|most| judged > most);
    AuditLine { measure, value, at_least, at_most, unit, is_off, sentence }
}

/// A count as it is told, to a tenth.
fn tenth(value: f64) -> f64 {
    libm::round(value * 10.0) / 10.0
}

fn a_week(value: f64, what: &str) -> String {
    let text = format!("{:.1}", tenth(value));
    let plural = if text == "1.0" { "" } else { "s" };
    format!("{} {what}{plural} a week", text.trim_end_matches(".0"))
}

/// Sets that show what is missing: play where work is missing, else the first set after each of the longest gaps.
fn evidence(at: &Situation<'_>, log: &SpanLog<'_>, lack: Option<Lack>) -> Vec<ClientSetId> {
    let Some(lack) = lack else { return Vec::new() };
    if lack == Lack::Work {
        let play = log.on_goal.iter().rev().filter(|l| !log.builds(at, l));
        let play = play.filter(|l| matches!(l.set.purpose, Purpose::Attempt | Purpose::Free));
        return play.take(MOST_EVIDENCE).map(|l| l.set.client_set_id.clone()).collect();
    }
    let mut after: Vec<(i32, &Logged<'_>)> = log
        .on_goal
        .windows(2)
        .map(|w| (w[1].day() - w[0].day(), &w[1]))
        .filter(|(days, _)| *days > 3)
        .collect();
    after.sort_by_key(|(days, l)| (-days, -l.day()));
    after.into_iter().take(MOST_EVIDENCE).map(|(_, l)| l.set.client_set_id.clone()).collect()
}

fn count(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::INFINITY, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_judged_as_they_are_told() {
        for (days, told, is_off) in
            [(6.04, "6 days", false), (6.05, "6.1 days", true), (3.96, "4 days", false)]
        {
            let line = balance_line(days);
            assert!(line.sentence.starts_with(&format!("{told} a week with balance")), "{}", line.sentence);
            assert_eq!(line.is_off, is_off, "{}", line.sentence);
        }
    }
}
