//! Intake: what is known of a newcomer says where they start, by elastic net (F-09).
//!
//! A starting level, smoothed over an athlete's whole history, is regressed on the measures taken at intake (body mass,
//! months of training). The penalty is chosen by cross-validation over athletes; whether the regression is worth anything is
//! asked of athletes who took part neither in the regression nor in the choice of its penalty. If their levels are not
//! foretold better than by the mean of all, it is dropped.
//!
//! It is applied to one athlete: [`IntakePrior::start`] gives the start to put in place of the ability's own
//! ([`Catalog::adjusted`](nextrung_domain::catalog::Catalog::adjusted)) before the athlete's log is folded. An athlete of whom
//! a measure is missing keeps the ability's own.

use std::collections::{BTreeMap, BTreeSet};

use linfa::Dataset;
use linfa::traits::Fit as _;
use linfa_elasticnet::{ElasticNet, ElasticNetError};
use ndarray::{Array1, Array2};
use nextrung_capacity::model::Model;
use nextrung_capacity::smooth::{Sweeps, smooth};
use nextrung_capacity::state::LEVEL;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::adjustment::Start;
use nextrung_domain::ids::AbilityId;
use serde::{Deserialize, Serialize};

use super::Trained;
use super::ground::read;
use crate::simulate::bootstrap::count;

/// Folds of the cross-validation: the athlete's place among those with intake, modulo this.
const FOLDS: usize = 5;
/// Fewer athletes than this say nothing worth asking. Ours, no source.
const LEAST_ATHLETES: usize = 25;
/// Half of the penalty is on absolute values, half on squares.
const L1_RATIO: f64 = 0.5;
/// Penalties tried, as shares of the one under which every weight is 0: each a factor of two below the one before.
const PENALTIES: i32 = 11;

/// One measure as the regression takes it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// Its name.
    pub name: String,
    /// Mean over the athletes, in its own unit.
    pub mean: f64,
    /// Standard deviation over the athletes, above 0.
    pub sd: f64,
    /// ln units of level for one standard deviation more.
    pub weight: f64,
}

/// What intake says about the starting level of an ability.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IntakePrior {
    /// The ability.
    pub ability: AbilityId,
    /// The measures.
    pub measures: Vec<Measure>,
    /// Level of somebody of whom every measure is at its mean, ln units.
    pub level: f64,
    /// Standard deviation of the level given the measures, ln units.
    pub sd: f64,
    /// Penalty, as a share of the one under which every weight is 0.
    pub penalty: f64,
    /// How it was judged.
    pub judged: Judged,
}

/// Root mean square errors of levels of athletes held out, ln units.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// Athletes.
    pub athletes: usize,
    /// Foretold from intake.
    pub with: f64,
    /// Foretold by the mean of the others.
    pub without: f64,
}

/// What became of the intake of one ability.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// It lowers the error on athletes held out.
    Kept(IntakePrior),
    /// It does not, and is dropped.
    Dropped {
        /// The ability.
        ability: AbilityId,
        /// The errors.
        judged: Judged,
    },
    /// Too few athletes have both intake and training.
    Few {
        /// The ability.
        ability: AbilityId,
        /// How many have.
        athletes: usize,
    },
}

impl Verdict {
    /// The prior, when it was kept.
    pub fn kept(&self) -> Option<&IntakePrior> {
        match self {
            Self::Kept(prior) => Some(prior),
            Self::Dropped { .. } | Self::Few { .. } => None,
        }
    }

    /// What a coach reads.
    pub fn sentence(&self) -> String {
        match self {
            Self::Kept(IntakePrior { ability, sd, judged, .. }) => format!(
                "What is known at intake places newcomers in {ability} to {:.2} ln units instead of {:.2} ({} athletes held out \
                 in turn); with it the first doubt is {sd:.2}.",
                judged.with, judged.without, judged.athletes
            ),
            Self::Dropped { ability, judged } => format!(
                "What is known at intake does not say where newcomers start in {ability}: the error is {:.2} ln units with it and \
                 {:.2} without ({} athletes held out in turn). It is not used.",
                judged.with, judged.without, judged.athletes
            ),
            Self::Few { ability, athletes } => format!(
                "Only {athletes} athletes have intake and training in {ability}; {LEAST_ATHLETES} are needed to ask what intake \
                 says."
            ),
        }
    }
}

/// Why intake could not be learned from.
#[derive(Debug, thiserror::Error)]
pub enum IntakeError {
    /// The regression failed.
    #[error("the elastic net of {ability} failed")]
    Net {
        /// The ability.
        ability: AbilityId,
        /// Why.
        #[source]
        source: ElasticNetError,
    },
    /// A measure is not a number.
    #[error("{measure} of {athlete} is {value}")]
    Value {
        /// The athlete.
        athlete: String,
        /// The measure.
        measure: String,
        /// The value.
        value: f64,
    },
}

impl IntakePrior {
    /// The start of a newcomer; nothing when a measure is missing or no number.
    pub fn start(&self, intake: &BTreeMap<String, f64>) -> Option<Start> {
        let mut level = self.level;
        for Measure { name, mean, sd, weight } in &self.measures {
            let value = intake.get(name).filter(|value| value.is_finite())?;
            level += weight * (value - mean) / sd;
        }
        Some(Start { ability: self.ability.clone(), level, sd: self.sd })
    }
}

/// Asks of every ability that was trained what intake says of its starting level; in ability order. Nothing when no athlete
/// has intake.
pub fn learn(model: &Model, roster: &[Trained], sweeps: Sweeps) -> Result<Vec<Verdict>, IntakeError> {
    let names: BTreeSet<&String> = roster.iter().flat_map(|athlete| athlete.intake.keys()).collect();
    let mut cases: BTreeMap<AbilityIx, Vec<Case>> = BTreeMap::new();
    for athlete in roster {
        if let Some((measure, value)) = athlete.intake.iter().find(|(_, value)| !value.is_finite()) {
            let (athlete, measure) = (athlete.athlete.clone(), measure.clone());
            return Err(IntakeError::Value { athlete, measure, value: *value });
        }
        let measures: Vec<f64> = names.iter().filter_map(|name| athlete.intake.get(*name).copied()).collect();
        if names.is_empty() || measures.len() < names.len() {
            continue;
        }
        for smoothed in smooth(model, &read(model, athlete), sweeps).abilities {
            let Some(first) = smoothed.nodes.first() else { continue };
            let (level, doubt) = (first.mean[LEVEL], first.covariance.get(LEVEL, LEVEL));
            let case = Case { measures: measures.clone(), level, doubt };
            cases.entry(smoothed.ability).or_default().push(case);
        }
    }
    let judge = |(ability, cases): (AbilityIx, Vec<Case>)| {
        let ability = &model.catalog.ability(ability).id;
        let net = |source| IntakeError::Net { ability: ability.clone(), source };
        judge(ability, &names, &cases).map_err(net)
    };
    cases.into_iter().map(judge).collect()
}

/// One athlete: measures in order of their names, the smoothed starting level and its variance.
#[derive(Debug, Clone)]
struct Case {
    measures: Vec<f64>,
    level: f64,
    doubt: f64,
}

fn judge(ability: &AbilityId, names: &BTreeSet<&String>, cases: &[Case]) -> Result<Verdict, ElasticNetError> {
    if cases.len() < LEAST_ATHLETES {
        return Ok(Verdict::Few { ability: ability.clone(), athletes: cases.len() });
    }
    let all: Vec<&Case> = cases.iter().collect();
    let (mut with, mut without) = (0.0, 0.0);
    for fold in 0..FOLDS {
        let (held_out, others) = parts(&all, fold);
        let line = Line::of(&others, best_penalty(&others)?)?;
        let mean = others.iter().map(|case| case.level).sum::<f64>() / count(others.len());
        with += held_out.iter().map(|case| square(case.level - line.level(case))).sum::<f64>();
        without += held_out.iter().map(|case| square(case.level - mean)).sum::<f64>();
    }
    let n = count(cases.len());
    let judged = Judged { athletes: cases.len(), with: (with / n).sqrt(), without: (without / n).sqrt() };
    if judged.with >= judged.without {
        return Ok(Verdict::Dropped { ability: ability.clone(), judged });
    }
    let penalty = best_penalty(&all)?;
    let line = Line::of(&all, penalty)?;
    // A level is where it was smoothed to be, give or take what is left in doubt about it.
    let doubt = cases.iter().map(|case| case.doubt).sum::<f64>() / n;
    let measures = names.iter().zip(&line.scales).zip(&line.weights);
    let measure = |((name, (mean, sd)), weight): ((&&String, &(f64, f64)), &f64)| Measure {
        name: (**name).clone(),
        mean: *mean,
        sd: *sd,
        weight: *weight,
    };
    Ok(Verdict::Kept(IntakePrior {
        ability: ability.clone(),
        measures: measures.map(measure).collect(),
        level: line.mean,
        sd: (with / n + doubt).sqrt(),
        penalty,
        judged,
    }))
}

/// Those of a fold, and all others.
fn parts<'c>(cases: &[&'c Case], fold: usize) -> (Vec<&'c Case>, Vec<&'c Case>) {
    let mut parts = (Vec::new(), Vec::new());
    for (at, case) in cases.iter().enumerate() {
        if at % FOLDS == fold { parts.0.push(*case) } else { parts.1.push(*case) }
    }
    parts
}

/// The penalty with the least squared error over the folds; of equals the larger.
fn best_penalty(cases: &[&Case]) -> Result<f64, ElasticNetError> {
    let mut best = (f64::INFINITY, 1.0);
    for halvings in 0..PENALTIES {
        let penalty = libm::ldexp(1.0, -halvings);
        let mut error = 0.0;
        for fold in 0..FOLDS {
            let (held_out, others) = parts(cases, fold);
            let line = Line::of(&others, penalty)?;
            error += held_out.iter().map(|case| square(case.level - line.level(case))).sum::<f64>();
        }
        if error < best.0 {
            best = (error, penalty);
        }
    }
    Ok(best.1)
}

/// A fitted regression on standardised measures.
#[derive(Debug, Clone)]
struct Line {
    mean: f64,
    scales: Vec<(f64, f64)>,
    weights: Vec<f64>,
}

impl Line {
    fn of(cases: &[&Case], share: f64) -> Result<Self, ElasticNetError> {
        let n = count(cases.len());
        let width = cases.first().map_or(0, |case| case.measures.len());
        let scale = |at: usize| {
            let mean = cases.iter().map(|case| case.measures[at]).sum::<f64>() / n;
            let variance = cases.iter().map(|case| square(case.measures[at] - mean)).sum::<f64>() / n;
            // A measure that is the same for everybody says nothing: its standardised values are all 0.
            (mean, if variance > 0.0 { variance.sqrt() } else { 1.0 })
        };
        let scales: Vec<(f64, f64)> = (0..width).map(scale).collect();
        let mean = cases.iter().map(|case| case.level).sum::<f64>() / n;
        let row = |at: usize, of: usize| (cases[at].measures[of] - scales[of].0) / scales[of].1;
        let records = Array2::from_shape_fn((cases.len(), width), |(at, of)| row(at, of));
        let levels = Array1::from_shape_fn(cases.len(), |at| cases[at].level - mean);
        let product = |of: usize| (0..cases.len()).map(|at| row(at, of) * levels[at]).sum::<f64>().abs();
        let most = (0..width).map(product).fold(0.0, f64::max) / (n * L1_RATIO);
        if most <= 0.0 {
            return Ok(Self { mean, scales, weights: vec![0.0; width] });
        }
        let net = ElasticNet::params().penalty(share * most).l1_ratio(L1_RATIO).with_intercept(false);
        let net = net.tolerance(1e-10).max_iterations(10_000).fit(&Dataset::new(records, levels))?;
        Ok(Self { mean, scales, weights: net.hyperplane().to_vec() })
    }

    fn level(&self, case: &Case) -> f64 {
        let standard = case.measures.iter().zip(&self.scales).map(|(value, (mean, sd))| (value - mean) / sd);
        self.mean + standard.zip(&self.weights).map(|(value, weight)| value * weight).sum::<f64>()
    }
}

fn square(x: f64) -> f64 {
    x * x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cases(pairs: &[(f64, f64)]) -> Vec<Case> {
        let case = |(x, level): &(f64, f64)| Case { measures: vec![*x], level: *level, doubt: 0.0 };
        pairs.iter().map(case).collect()
    }

    /// One standardised measure: the covariance, drawn towards 0 by the one half of the penalty and divided by one more than
    /// the other half.
    #[test]
    fn one_measure_is_weighted_as_by_hand() {
        let cases = cases(&[(1.0, 0.2), (2.0, 0.1), (3.0, 0.9), (4.0, 1.2), (6.0, 1.1)]);
        let all: Vec<&Case> = cases.iter().collect();
        let (mean, level) = (3.2, 0.7);
        let sd = (all.iter().map(|c| square(c.measures[0] - mean)).sum::<f64>() / 5.0).sqrt();
        let covariance =
            all.iter().map(|c| (c.measures[0] - mean) / sd * (c.level - level)).sum::<f64>() / 5.0;
        for share in [1.0, 0.25, 0.001] {
            let line = Line::of(&all, share).unwrap();
            let penalty = share * covariance / L1_RATIO;
            let weight = (covariance - 0.5 * penalty) / (1.0 + 0.5 * penalty);
            assert!((line.weights[0] - weight).abs() < 1e-8, "{share}: {} {weight}", line.weights[0]);
            assert!((line.scales[0].0 - mean).abs() < 1e-12 && (line.scales[0].1 - sd).abs() < 1e-12);
        }
    }

    #[test]
    fn a_measure_that_is_the_same_for_all_weighs_nothing() {
        let cases = cases(&[(2.0, 0.2), (2.0, 0.1), (2.0, 0.9)]);
        let all: Vec<&Case> = cases.iter().collect();
        assert_eq!(Line::of(&all, 0.1).unwrap().weights, [0.0]);
    }
}
