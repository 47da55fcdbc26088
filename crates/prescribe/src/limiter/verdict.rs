//! Verdict: which limiter comes first, and whether the log can tell.

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::stop::Stop;

use super::Limiter;
use super::ability::Causes;
use super::audit::Audit;
use super::log::SpanLog;
use super::nodes::nodes;
use super::rung::Fit;
use crate::goal;
use crate::situation::Situation;

/// Share of what is asked for that must be missing for training to be off.
const TRAINING_OFF: f64 = 0.40;
/// Share of working sets outside the band, beyond what no rung would have spared, at which the rung is off.
const RUNG_OFF: f64 = 0.30;
/// Probability at which a limiter is called the first.
const SURE: f64 = 0.6;
/// Fewest days of log, and efforts on what the goal asks for, from which anything is judged.
const FEWEST_DAYS: i32 = 14;
const FEWEST_EFFORTS: usize = 6;
/// Days of log from which few efforts are a finding and no want of knowledge.
const LONG_ENOUGH: i32 = 28;

/// Why no limiter is called the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doubt {
    /// Nothing was logged in the span.
    NothingLogged,
    /// Nothing logged in the span trains what the goal asks for.
    NothingOnGoal,
    /// Every set was ended by pain or from outside.
    OnlyStopped,
    /// Too few days or sets.
    TooShort,
    /// The goal is reached.
    Reached,
    /// This ability would be the first, but the log says next to nothing of it.
    Unseen(AbilityKind),
    /// These two are as likely as each other.
    NotApart(Limiter, Limiter),
}

/// Which limiter comes first.
#[derive(Debug, Clone)]
pub(super) struct Verdict {
    /// The first; nothing when the log cannot tell.
    pub(super) first: Option<Limiter>,
    /// Why it cannot.
    pub(super) doubt: Option<Doubt>,
    /// By limiter: the probability to be the first. They sum to one.
    pub(super) probability: [f64; 5],
}

impl Verdict {
    /// Counts over the nodes of all beliefs how often each limiter comes first. A habit that is off comes before the
    /// abilities: they cannot grow without training, nor be judged well from wrong rungs.
    pub(super) fn of(
        at: &Situation<'_>,
        log: &SpanLog<'_>,
        (causes, fit, audit): (&Causes, &Fit, &Audit),
    ) -> Self {
        if let Some(doubt) = too_little(log) {
            return Self { first: None, doubt: Some(doubt), probability: even(causes, fit) };
        }
        let mut probability = [0.0; 5];
        let nodes = nodes();
        let one = 1.0 / f64::from(super::nodes::COUNT);
        for (node, shares) in nodes.iter().zip(&causes.drawn) {
            let [.., of_rung, of_days, of_work] = *node;
            let training = audit.missing_by(of_days, of_work) / TRAINING_OFF;
            let rung = if fit.sets == 0.0 { 0.0 } else { fit.excess(of_rung) / RUNG_OFF };
            let first = match (training >= 1.0, rung >= 1.0) {
                (true, true) if rung > training => Limiter::WrongRung,
                (true, _) => Limiter::Training,
                (false, true) => Limiter::WrongRung,
                (false, false) => largest(shares),
            };
            probability[first.index()] += one;
        }
        let (first, second) = top(&probability);
        let doubt = if goal::is_reached(at, log.goal) {
            Some(Doubt::Reached)
        } else if probability[first.index()] < SURE {
            Some(Doubt::NotApart(first, second))
        } else {
            first.kind().filter(|kind| causes.is_unseen(*kind)).map(Doubt::Unseen)
        };
        Self { first: doubt.is_none().then_some(first), doubt, probability }
    }
}

/// Why nothing can be judged, if so.
fn too_little(log: &SpanLog<'_>) -> Option<Doubt> {
    let days = log.days.1 - log.days.0 + 1;
    let is_stopped = |stop: Stop| matches!(stop, Stop::Pain | Stop::Interrupted);
    if log.all.is_empty() {
        Some(Doubt::NothingLogged)
    } else if log.all.iter().all(|l| is_stopped(l.set.stop)) {
        Some(Doubt::OnlyStopped)
    } else if log.on_goal.is_empty() {
        Some(Doubt::NothingOnGoal)
    } else if log.undisturbed().next().is_none() {
        Some(Doubt::OnlyStopped)
    } else if days < FEWEST_DAYS || (log.undisturbed().count() < FEWEST_EFFORTS && days < LONG_ENOUGH) {
        Some(Doubt::TooShort)
    } else {
        None
    }
}

/// As likely as each other, all that come into question.
fn even(causes: &Causes, fit: &Fit) -> [f64; 5] {
    let in_question = Limiter::ALL.map(|limiter| match limiter.kind() {
        Some(kind) => causes.asks(kind),
        None => limiter == Limiter::Training || fit.sets > 0.0,
    });
    let n = in_question.iter().filter(|is| **is).count();
    let share = u32::try_from(n).map_or(0.0, |n| 1.0 / f64::from(n));
    in_question.map(|is| if is { share } else { 0.0 })
}

fn largest(shares: &[f64; 3]) -> Limiter {
    let abilities = [Limiter::Strength, Limiter::Balance, Limiter::Line];
    let all = abilities.into_iter().zip(shares);
    all.reduce(|a, b| if b.1 > a.1 { b } else { a }).map_or(Limiter::Strength, |(limiter, _)| limiter)
}

/// The likeliest and the one after it.
fn top(probability: &[f64; 5]) -> (Limiter, Limiter) {
    let mut order = Limiter::ALL;
    order.sort_by(|a, b| probability[b.index()].total_cmp(&probability[a.index()]));
    (order[0], order[1])
}
