//! Refit: difficulties, scales, noises and starts from a roster, kept under versions (F-09).
//!
//! [`refit`] climbs the log posterior of a roster ([`ground`], [`ascent`]) by the steps of its own derivatives ([`lean`])
//! and along its [`dial`]s, and tells what moved ([`words`]). A rung that too few athletes join to its anchor stays where
//! the ladder file has it ([`reach`]). What came out is a [`fit::Fit`]: it is promoted on a [`shelf`] only when it foretold
//! athletes it never saw better than the one in force ([`trial`]). [`intake`] is what is known of a newcomer.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use nextrung_capacity::params::Parameters;
use nextrung_domain::adjustment::AdjustmentProblem;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::set::SetEntry;

pub mod ascent;
pub mod cholesky;
pub mod climb;
pub mod dial;
pub mod fit;
pub mod ground;
pub mod intake;
pub mod lean;
pub mod plan;
pub mod point;
pub mod reach;
pub mod shelf;
pub mod trial;
pub mod words;

use fit::{Data, Evidence, Fit, FitError, Version};
use ground::Ground;
use intake::{IntakeError, Verdict};
use plan::Plan;
use words::Account;

/// One athlete's training.
#[derive(Debug, Clone, PartialEq)]
pub struct Trained {
    /// The athlete, unique within the roster.
    pub athlete: String,
    /// Sets in training order.
    pub sets: Vec<SetEntry>,
    /// What is known from intake, by name of the measure, in its own unit; empty when nothing is.
    pub intake: BTreeMap<String, f64>,
}

/// Why a refit could not be made.
#[derive(Debug, thiserror::Error)]
pub enum RefitError {
    /// There is no set of any athlete.
    #[error("there is nothing to refit from: no athlete has a set on a ladder")]
    Empty,
    /// Two athletes have one name.
    #[error("{athlete} is on the roster twice")]
    Twice {
        /// The name.
        athlete: String,
    },
    /// Sets are not in training order.
    #[error("the sets of {athlete} are not in training order")]
    Order {
        /// The athlete.
        athlete: String,
    },
    /// The parent cannot be used on these ladders.
    #[error("the fit to begin from cannot be used")]
    Unusable {
        /// Why.
        #[from]
        source: FitError,
    },
    /// A number of a catalog has no place in the ladders.
    #[error("{} numbers have no place, the first: {}", problems.len(), problems.first().map_or_else(String::new, ToString::to_string))]
    Parent {
        /// Every problem.
        problems: Vec<AdjustmentProblem>,
    },
    /// The evidence is not a number: a parameter to begin from is unsound.
    #[error("the log evidence is {value}")]
    Evidence {
        /// What it came to.
        value: f64,
    },
    /// What athletes told at intake could not be learned from.
    #[error("intake could not be learned from")]
    Intake {
        /// Why.
        #[from]
        source: IntakeError,
    },
    /// The second derivatives hold a number that is none.
    #[error("the information about difficulties and starts has no inverse")]
    Information,
}

/// What came of a refit.
#[derive(Debug, Clone)]
pub struct Refitted {
    /// The new numbers.
    pub fit: Fit,
    /// What moved and what stayed.
    pub account: Account,
}

/// Refits difficulties, starts and parameters, from those of `parent`, on the ladder files of `catalog`. The same roster
/// gives the same bits whatever the number of threads.
///
/// # Errors
///
/// [`RefitError`] when the roster is empty or unsound, or `parent` was made on other ladders.
pub fn refit(
    catalog: &Arc<Catalog>,
    parent: &Fit,
    roster: &[Trained],
    (version, plan): (Version, &Plan),
) -> Result<Refitted, RefitError> {
    let data = describe(roster)?;
    let began = parent.model(catalog)?;
    let ground = Ground::new((catalog, &began), roster, plan)?;
    if ground.abilities().next().is_none() {
        return Err(RefitError::Empty);
    }
    let ascent = ascent::ascend(&ground, plan)?;
    let account = Account::of(catalog, &ground, plan, &ascent)?;
    let point = &ascent.look.point;
    let mut adjustment = parent.adjustment.clone();
    let moved = point.adjustment(catalog, ground.abilities(), |demand| account.doubt(demand));
    let named: BTreeSet<_> =
        moved.steps.iter().map(|step| (step.rung.clone(), step.ability.clone())).collect();
    adjustment.steps.retain(|step| !named.contains(&(step.rung.clone(), step.ability.clone())));
    adjustment.starts.retain(|start| moved.starts.iter().all(|other| other.ability != start.ability));
    adjustment.steps.extend(moved.steps);
    adjustment.starts.extend(moved.starts);
    let after = ascent.look.evidence.iter().sum();
    let fit = Fit {
        parent: Some(parent.version.clone()),
        parameters: Parameters { version: version.to_string(), ..ground.parameters(point) },
        version,
        adjustment,
        intake: Vec::new(),
        data: Some(data),
        evidence: Some(Evidence { before: ascent.evidence_before, after }),
        trial: None,
        ..parent.clone()
    };
    let mut refitted = Refitted { fit, account };
    refitted.account.intake = intake::learn(&refitted.fit.model(catalog)?, roster, plan.sweeps)?;
    let kept = refitted.account.intake.iter().filter_map(Verdict::kept);
    refitted.fit.intake = kept.cloned().collect();
    Ok(refitted)
}

/// Checks the roster and says what it holds.
fn describe(roster: &[Trained]) -> Result<Data, RefitError> {
    let mut names = BTreeSet::new();
    for Trained { athlete, sets, .. } in roster {
        if !names.insert(athlete) {
            return Err(RefitError::Twice { athlete: athlete.clone() });
        }
        if !sets.is_sorted_by_key(SetEntry::place) {
            return Err(RefitError::Order { athlete: athlete.clone() });
        }
    }
    let days = || roster.iter().flat_map(|athlete| &athlete.sets).map(|set| set.date);
    let (first, last) = days().min().zip(days().max()).ok_or(RefitError::Empty)?;
    Ok(Data {
        athletes: roster.iter().filter(|athlete| !athlete.sets.is_empty()).count(),
        sets: roster.iter().map(|athlete| athlete.sets.len()).sum(),
        first,
        last,
    })
}
