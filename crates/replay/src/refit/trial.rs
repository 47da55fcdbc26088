//! Trial: champion against challenger, on athletes whom the challenger never saw (F-09).
//!
//! Each set is foretold from those before it, by both; the log score is what happened (F-05). The difference is bootstrapped
//! by athlete, and only a 99 % interval that lies wholly on the better side, over 20 athletes at least, is an improvement.

use std::sync::Arc;

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::Catalog;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::fit::{Fit, Version};
use super::plan::Plan;
use super::{RefitError, Refitted, Trained, refit};
use crate::dice::Dice;
use crate::score::ScoreError;
use crate::score::difference::Differences;

/// Stream of the bootstrap's random numbers.
const STREAM: u64 = 9;

/// Which athletes are held out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Share of athletes held out, between 0 and 1.
    pub held_out: f64,
    /// Another seed holds out others.
    pub seed: u64,
}

impl Split {
    /// True when the athlete is held out: the first four bytes of the SHA-256 of the seed (decimal), a colon and the name,
    /// as a fraction of all they can be, lie below the share. Other athletes have no part in it.
    pub fn holds_out(&self, athlete: &str) -> bool {
        let digest = Sha256::digest(format!("{}:{athlete}", self.seed));
        let drawn = digest.iter().take(4).fold(0_u32, |sum, byte| sum << 8 | u32::from(*byte));
        f64::from(drawn) / (f64::from(u32::MAX) + 1.0) < self.held_out
    }
}

/// How a challenger did against the champion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// The champion.
    pub champion: Version,
    /// Athletes neither fit was made from in this trial.
    pub athletes: usize,
    /// Their sets.
    pub sets: usize,
    /// Mean log score of a set under the champion, nats; smaller is better.
    pub champion_score: f64,
    /// Under the challenger.
    pub challenger_score: f64,
    /// Challenger less champion, nats a set.
    pub difference: f64,
    /// Its 99 % interval over athletes.
    pub interval: (f64, f64),
}

impl Trial {
    /// Fewer athletes than this are no trial: the ends of a bootstrap over a handful are its best and its worst athlete.
    /// Ours, no source.
    pub const LEAST_ATHLETES: usize = 20;

    /// True when the whole interval lies on the better side, over enough athletes.
    pub fn is_improvement(&self) -> bool {
        self.interval.1 < 0.0 && self.athletes >= Self::LEAST_ATHLETES
    }
}

/// Why a trial could not be held.
#[derive(Debug, thiserror::Error)]
pub enum TrialError {
    /// The refit failed.
    #[error("the challenger could not be fitted")]
    Refit {
        /// Why.
        #[from]
        source: RefitError,
    },
    /// The scores cannot be compared.
    #[error("the scores of {athletes} athletes held out cannot be compared")]
    Score {
        /// How many were held out.
        athletes: usize,
        /// Why.
        #[source]
        source: ScoreError,
    },
}

/// Fits a challenger to the athletes who are not held out, and holds it against the champion on those who are. What is
/// returned, and may be promoted, is the very fit that was scored.
pub fn challenge(
    catalog: &Arc<Catalog>,
    champion: &Fit,
    roster: &[Trained],
    split: Split,
    (version, plan): (Version, &Plan),
) -> Result<Refitted, TrialError> {
    let (held_out, trained): (Vec<Trained>, Vec<Trained>) =
        roster.iter().cloned().partition(|one| split.holds_out(&one.athlete));
    let mut refitted = refit(catalog, champion, &trained, (version, plan))?;
    refitted.fit.trial = Some(hold(catalog, (&refitted.fit, champion), &held_out, split.seed)?);
    Ok(refitted)
}

/// Scores two fits on the same athletes.
pub fn hold(
    catalog: &Catalog,
    (challenger, champion): (&Fit, &Fit),
    athletes: &[Trained],
    seed: u64,
) -> Result<Trial, TrialError> {
    let models = [challenger, champion].map(|fit| fit.model(catalog).map_err(RefitError::from));
    let [challenging, defending] = models;
    let (challenging, defending) = (challenging?, defending?);
    let both = |one: &Trained| scores(&challenging, one).into_iter().zip(scores(&defending, one)).collect();
    let scored: Vec<Vec<(f64, f64)>> = athletes.par_iter().map(both).collect();
    let failed = |source| TrialError::Score { athletes: athletes.len(), source };
    let mut differences = Differences::new();
    let (mut sums, mut sets) = ([0.0; 2], 0_u32);
    for (athlete, scores) in athletes.iter().zip(&scored) {
        for (ours, theirs) in scores {
            differences.add(&athlete.athlete, [*ours, *theirs], 1.0).map_err(failed)?;
            sums = [sums[0] + ours, sums[1] + theirs];
            sets = sets.saturating_add(1);
        }
    }
    let found = differences.mean(&mut Dice::new(seed, STREAM)).map_err(failed)?;
    let mean = |sum: f64| sum / f64::from(sets.max(1));
    Ok(Trial {
        champion: champion.version.clone(),
        athletes: athletes.iter().filter(|athlete| !athlete.sets.is_empty()).count(),
        sets: scored.iter().map(Vec::len).sum(),
        champion_score: mean(sums[1]),
        challenger_score: mean(sums[0]),
        difference: found.mean,
        interval: (found.low, found.high),
    })
}

/// Log score of each set of an athlete, foretold from those before it.
fn scores(model: &Model, athlete: &Trained) -> Vec<f64> {
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    let read = athlete.sets.iter().filter_map(|set| model.read(set));
    read.map(|(task, done)| -state.observe(model, &mut scratch, (&task, &done)).log_mass).collect()
}
