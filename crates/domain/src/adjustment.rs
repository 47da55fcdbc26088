//! Adjustment: difficulties and starting levels learned from athletes, in place of those of the ladder files (F-09).

use serde::{Deserialize, Serialize};

use crate::catalog::Catalog;
use crate::ids::{AbilityId, RungRef};
use crate::ladder::Basis;

/// A rung's difficulty on an ability.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// The rung.
    pub rung: RungRef,
    /// The ability.
    pub ability: AbilityId,
    /// Difficulty, ln units (F-01).
    pub difficulty: f64,
    /// Its standard deviation, ln units.
    pub sd: f64,
}

/// What is believed of the level of somebody of whom nothing is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Start {
    /// The ability.
    pub ability: AbilityId,
    /// Mean of the level, ln units on the anchor.
    pub level: f64,
    /// Standard deviation of the level, ln units.
    pub sd: f64,
}

/// Numbers that replace those of the ladder files; what it does not name stays.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Adjustment {
    /// Difficulties.
    pub steps: Vec<Step>,
    /// Starting levels.
    pub starts: Vec<Start>,
}

/// Why an adjustment does not fit a catalog.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AdjustmentProblem {
    /// No ladder has such a rung.
    #[error("no ladder has {rung}")]
    NoRung {
        /// The rung.
        rung: RungRef,
    },
    /// The ability files have no such ability.
    #[error("there is no ability {ability}")]
    NoAbility {
        /// The ability.
        ability: AbilityId,
    },
    /// The rung asks nothing of the ability.
    #[error("{rung} asks nothing of {ability}")]
    NoDemand {
        /// The rung.
        rung: RungRef,
        /// The ability.
        ability: AbilityId,
    },
    /// The difficulty of an anchor is 0 by definition.
    #[error("{rung} is the anchor of {ability}: its difficulty is 0, not {difficulty}")]
    Anchor {
        /// The rung.
        rung: RungRef,
        /// The ability.
        ability: AbilityId,
        /// The difficulty given.
        difficulty: f64,
    },
    /// A number is not finite, or a standard deviation is below zero.
    #[error("{what}: {mean} with a standard deviation of {sd} is no belief")]
    Number {
        /// The rung or ability it stands for.
        what: String,
        /// The difficulty or level.
        mean: f64,
        /// The standard deviation.
        sd: f64,
    },
}

impl Catalog {
    /// The same catalog with the numbers of an adjustment in place of its own. Fails with every problem found.
    pub fn adjusted(&self, adjustment: &Adjustment) -> Result<Self, Vec<AdjustmentProblem>> {
        let mut catalog = self.clone();
        let mut problems = Vec::new();
        for step in &adjustment.steps {
            if let Err(problem) = put_step(&mut catalog, step) {
                problems.push(problem);
            }
        }
        for start in &adjustment.starts {
            if let Err(problem) = put_start(&mut catalog, start) {
                problems.push(problem);
            }
        }
        if problems.is_empty() { Ok(catalog) } else { Err(problems) }
    }
}

fn put_step(catalog: &mut Catalog, step: &Step) -> Result<(), AdjustmentProblem> {
    let Step { rung, ability, difficulty, sd } = step;
    check(|| rung.to_string(), *difficulty, *sd)?;
    let no_ability = || AdjustmentProblem::NoAbility { ability: ability.clone() };
    let number = catalog.find_ability(ability).ok_or_else(no_ability)?;
    let at = catalog.find(rung).ok_or_else(|| AdjustmentProblem::NoRung { rung: rung.clone() })?;
    let demand = catalog.rung_mut(at).demands.iter_mut().find(|demand| demand.ability == number);
    let no_demand = || AdjustmentProblem::NoDemand { rung: rung.clone(), ability: ability.clone() };
    let demand = demand.ok_or_else(no_demand)?;
    if demand.basis == Basis::Anchor && *difficulty != 0.0 {
        let (rung, ability) = (rung.clone(), ability.clone());
        return Err(AdjustmentProblem::Anchor { rung, ability, difficulty: *difficulty });
    }
    demand.difficulty = *difficulty;
    demand.sd = *sd;
    Ok(())
}

fn put_start(catalog: &mut Catalog, start: &Start) -> Result<(), AdjustmentProblem> {
    let Start { ability, level, sd } = start;
    check(|| ability.to_string(), *level, *sd)?;
    let no_ability = || AdjustmentProblem::NoAbility { ability: ability.clone() };
    let number = catalog.find_ability(ability).ok_or_else(no_ability)?;
    let about = catalog.ability_mut(number);
    about.start_level = *level;
    about.start_sd = *sd;
    Ok(())
}

fn check(what: impl Fn() -> String, mean: f64, sd: f64) -> Result<(), AdjustmentProblem> {
    if mean.is_finite() && sd.is_finite() && sd >= 0.0 {
        Ok(())
    } else {
        Err(AdjustmentProblem::Number { what: what(), mean, sd })
    }
}
