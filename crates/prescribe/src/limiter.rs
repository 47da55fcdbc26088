//! Limiters: what holds an athlete back from a goal rung (F-13). Strength, balance and line are judged by what would end a
//! set at the goal; the wrong rung and too little training by what was done.

mod ability;
mod audit;
mod log;
mod nodes;
mod rung;
mod verdict;
mod words;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::set::SetEntry;
use serde::{Deserialize, Serialize};

pub use audit::AuditLine;

use crate::limiter::ability::Causes;
use crate::limiter::audit::Audit;
use crate::limiter::log::SpanLog;
use crate::limiter::rung::Fit;
use crate::limiter::verdict::Verdict;
use crate::reason::Figure;
use crate::situation::Situation;
use crate::story;

/// Level of the central intervals.
pub const LEVEL: f64 = 0.8;
/// Half the width of such an interval of the normal distribution, in standard deviations (its 0.9 quantile).
const HALF: f64 = 1.281_551_565_544_600_5;
/// Sets shown as evidence for a limiter, at most.
const MOST_EVIDENCE: usize = 5;

/// What can hold an athlete back, in the order of the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limiter {
    /// A strength the goal asks for.
    Strength,
    /// Balance.
    Balance,
    /// The line of the movement.
    Line,
    /// Working sets too easy or too hard.
    WrongRung,
    /// Too little training, or too much of it play.
    Training,
}

impl Limiter {
    /// Every limiter, in the order of the contract.
    pub const ALL: [Self; 5] = [Self::Strength, Self::Balance, Self::Line, Self::WrongRung, Self::Training];

    /// Its name in sentences.
    pub fn words(self) -> &'static str {
        match self {
            Self::Strength => "strength",
            Self::Balance => "balance",
            Self::Line => "the line of the movement",
            Self::WrongRung => "the wrong rung",
            Self::Training => "too little training",
        }
    }

    /// Its place in [`ALL`](Self::ALL).
    pub fn index(self) -> usize {
        match self {
            Self::Strength => 0,
            Self::Balance => 1,
            Self::Line => 2,
            Self::WrongRung => 3,
            Self::Training => 4,
        }
    }

    /// The kind of ability, for the three that are one.
    pub fn kind(self) -> Option<AbilityKind> {
        match self {
            Self::Strength => Some(AbilityKind::Strength),
            Self::Balance => Some(AbilityKind::Balance),
            Self::Line => Some(AbilityKind::Line),
            Self::WrongRung | Self::Training => None,
        }
    }
}

/// The days looked at and what was logged.
#[derive(Debug, Clone, Copy)]
pub struct Span<'a> {
    /// The first day.
    pub start: CivilDate,
    /// The last day.
    pub end: CivilDate,
    /// Every set that counts from the beginning of the log to the last day, in training order.
    pub sets: &'a [&'a SetEntry],
}

/// One limiter with what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which.
    pub limiter: Limiter,
    /// How much it holds back, 0 to 1: the share of failures at the goal that the ability causes, the share of working
    /// sets outside the band, or the share of what common practice asks for that was missing.
    pub weight: f64,
    /// The central interval of the weight with level [`LEVEL`].
    pub interval: (f64, f64),
    /// The probability that it is the first; those of all five sum to one.
    pub probability_first: f64,
    /// The figures behind it.
    pub figures: Vec<Figure>,
    /// Sets that show it, the clearest first.
    pub evidence: Vec<ClientSetId>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// What holds an athlete back.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// The goal rung.
    pub goal: RungIx,
    /// What holds back most; nothing when the log cannot tell.
    pub first: Option<Limiter>,
    /// All five, the one that holds back most first.
    pub findings: Vec<Finding>,
    /// The training held against common practice.
    pub audit: Vec<AuditLine>,
    /// The one change proposed first.
    pub change: String,
    /// The whole review in plain sentences.
    pub sentences: Vec<String>,
    /// The cautions that belong to it.
    pub cautions: Vec<String>,
}

/// Everything the review rests on.
struct Evidence<'a> {
    log: SpanLog<'a>,
    causes: Causes,
    fit: Fit,
    audit: Audit,
    verdict: Verdict,
}

/// Reviews a span of days. The situation is that of the span's last day with the sets of that day taken in.
pub fn review(at: &Situation<'_>, goal: RungIx, span: &Span<'_>) -> Review {
    let log = SpanLog::new(at, goal, span);
    let causes = Causes::at_goal(at, goal);
    let fit = Fit::of(at, &log);
    let audit = Audit::of(at, &log, &causes);
    let verdict = Verdict::of(at, &log, (&causes, &fit, &audit));
    let evidence = Evidence { log, causes, fit, audit, verdict };
    let mut findings: Vec<Finding> =
        Limiter::ALL.into_iter().map(|limiter| finding(at, &evidence, limiter)).collect();
    findings.sort_by(|a, b| {
        b.probability_first.total_cmp(&a.probability_first).then(b.weight.total_cmp(&a.weight))
    });
    let change = words::change(at, &evidence);
    Review {
        goal,
        first: evidence.verdict.first,
        sentences: words::sentences(at, &evidence, &findings),
        findings,
        audit: evidence.audit.lines,
        change,
        cautions: story::cautions_of(at, [goal]),
    }
}

fn finding(at: &Situation<'_>, evidence: &Evidence<'_>, limiter: Limiter) -> Finding {
    let Evidence { log, causes, fit, audit, verdict } = evidence;
    let (weight, interval) = match limiter.kind() {
        Some(kind) => (causes.shares[kind.index()], causes.intervals[kind.index()]),
        None if limiter == Limiter::WrongRung => (fit.outside(), fit.interval()),
        None => (audit.missing(), audit.interval()),
    };
    let (figures, shown) = match limiter.kind() {
        Some(kind) => (causes.figures(kind), causes.evidence(at, log, kind)),
        None if limiter == Limiter::WrongRung => (fit.figures(), fit.evidence.clone()),
        None => (audit.figures.clone(), audit.evidence.clone()),
    };
    Finding {
        limiter,
        weight,
        interval: (interval.0.min(weight), interval.1.max(weight)),
        probability_first: verdict.probability[limiter.index()],
        figures,
        evidence: shown.into_iter().take(MOST_EVIDENCE).collect(),
        sentence: words::finding(at, evidence, limiter),
    }
}
