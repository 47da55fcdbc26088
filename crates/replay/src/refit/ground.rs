//! Ground: the log posterior of a roster, and its slopes, at any point of a refit (F-09).

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::done::Done;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::smooth::{Smoothed, SmoothedAbility, smooth};
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::adjustment::{Adjustment, Step};
use nextrung_domain::catalog::{Catalog, RungIx};
use rayon::prelude::*;

use super::cholesky::Cholesky;
use super::dial::Dial;
use super::lean::{Lean, SPREAD, START, STEPS, Spread};
use super::plan::Plan;
use super::point::Point;
use super::reach::{Demand, Reach};
use super::{RefitError, Trained};

/// What a refit climbs: sums run in the order of the roster, so that the bits do not depend on the number of threads.
#[derive(Debug)]
pub struct Ground<'a> {
    base: &'a Catalog,
    plain: Catalog,
    roster: &'a [Trained],
    plan: &'a Plan,
    /// Which difficulties may move.
    pub reach: Reach,
    parameters: &'a Parameters,
    origin: Point,
    kinds: [bool; 3],
    has_reports: bool,
    doing: BTreeMap<AbilityIx, Vec<RungIx>>,
}

/// What was seen at one point.
#[derive(Debug, Clone)]
pub struct Look {
    /// The point.
    pub point: Point,
    /// Log evidence of each athlete.
    pub evidence: Vec<f64>,
    /// The sum of these and of the log prior, up to a constant.
    pub value: f64,
    /// What the dials are turned by: `value`, less half the ln determinant of the information when the plan counts the doubt
    /// of difficulties and starts. That is the log posterior with these integrated out, and keeps spreads from being taken
    /// too small because each difficulty was fitted to few athletes.
    pub merit: f64,
    /// Gradient and information of the log posterior by ability.
    pub leans: BTreeMap<AbilityIx, Lean>,
}

/// What one athlete's history says.
type Pull = (f64, Vec<(AbilityIx, Lean)>);

impl<'a> Ground<'a> {
    /// A roster on the ladder files `base`, seen from the catalog and parameters of the parent.
    pub fn new(
        (base, parent): (&'a Catalog, &'a Model),
        roster: &'a [Trained],
        plan: &'a Plan,
    ) -> Result<Self, RefitError> {
        let reach = Reach::of(base, roster, plan);
        let origin = Point::of(&parent.catalog, &reach.free, plan.dials.len());
        let mut ground = Self {
            base,
            plain: without_doubt(&parent.catalog)?,
            roster,
            plan,
            reach,
            parameters: &parent.parameters,
            origin,
            kinds: [false; 3],
            has_reports: roster.iter().flat_map(|athlete| &athlete.sets).any(|set| set.reserve.is_some()),
            doing: BTreeMap::new(),
        };
        ground.survey()?;
        Ok(ground)
    }

    /// Notes the abilities and the kinds that were trained at all.
    fn survey(&mut self) -> Result<(), RefitError> {
        let model = self.model(&self.origin)?;
        for athlete in self.roster {
            for (task, _) in read(&model, athlete) {
                for demand in task.demands() {
                    self.kinds[demand.kind.index()] = true;
                    self.doing.entry(demand.ability).or_default();
                }
            }
        }
        for (ability, rung) in &self.reach.free {
            self.doing.entry(*ability).or_default().push(*rung);
        }
        Ok(())
    }

    /// Where the climb begins: the numbers of the parent.
    pub fn origin(&self) -> &Point {
        &self.origin
    }

    /// Abilities that were trained.
    pub fn abilities(&self) -> impl Iterator<Item = AbilityIx> + '_ {
        self.doing.keys().copied()
    }

    /// True when turning the dial would change anything.
    pub fn hangs_on(&self, dial: Dial) -> bool {
        match dial.kind() {
            Some(kind) => self.kinds[kind.index()],
            None => self.has_reports,
        }
    }

    /// The parameters at a point.
    pub fn parameters(&self, point: &Point) -> Parameters {
        point.parameters(self.parameters, &self.plan.dials)
    }

    /// The model at a point. Difficulties are taken as known, also those that do not move: their doubt is common to all
    /// athletes and no part of the departures of each.
    pub fn model(&self, point: &Point) -> Result<Model, RefitError> {
        let all = (0..self.base.abilities().len()).filter_map(|at| u8::try_from(at).ok()).map(AbilityIx);
        let adjustment = point.adjustment(self.base, all, |_| 0.0);
        let catalog = self.plain.adjusted(&adjustment).map_err(|problems| RefitError::Parent { problems })?;
        Ok(Model::new(Arc::new(catalog), self.parameters(point)))
    }

    /// The log prior of a point, up to a constant: difficulties near the ladder files, all else near the parent.
    pub fn prior(&self, point: &Point) -> f64 {
        let square = |off: f64, sd: f64| -0.5 * (off / sd) * (off / sd);
        let steps = point.steps.iter().map(|(demand, difficulty)| {
            let (file, sd) = self.file(*demand);
            square(difficulty - file, sd)
        });
        let starts = self.doing.keys().map(|ability| {
            let (now, then) = (point.starts[ability.at()], self.origin.starts[ability.at()]);
            square(now.0 - then.0, self.plan.weak_sd) + square(libm::log(now.1 / then.1), self.plan.weak_sd)
        });
        let turns = point.turns.iter().map(|turn| square(*turn, self.plan.weak_sd));
        steps.sum::<f64>() + starts.sum::<f64>() + turns.sum::<f64>()
    }

    fn file(&self, (ability, rung): Demand) -> (f64, f64) {
        self.base.rung(rung).demand_on(ability).map_or((0.0, 1.0), |asked| (asked.difficulty, asked.sd))
    }

    /// Smooths the whole roster at a point.
    pub fn look(&self, point: Point) -> Result<Look, RefitError> {
        let model = self.model(&point)?;
        let pulls: Vec<Pull> =
            self.roster.par_iter().map(|athlete| self.pull(&model, &point, athlete)).collect();
        let none = |(ability, rungs): (&AbilityIx, &Vec<RungIx>)| (*ability, Lean::none(rungs.clone()));
        let mut leans: BTreeMap<AbilityIx, Lean> = self.doing.iter().map(none).collect();
        let mut evidence = Vec::with_capacity(pulls.len());
        for (of_athlete, pulls) in pulls {
            evidence.push(of_athlete);
            for (ability, pull) in pulls {
                if let Some(lean) = leans.get_mut(&ability) {
                    lean.add(&pull);
                }
            }
        }
        for (ability, lean) in &mut leans {
            self.hold(&point, *ability, lean);
        }
        let value = evidence.iter().sum::<f64>() + self.prior(&point);
        if !value.is_finite() {
            return Err(RefitError::Evidence { value });
        }
        let merit = if self.plan.counts_doubt { value - 0.5 * ln_determinant(&leans) } else { value };
        Ok(Look { point, evidence, value, merit, leans })
    }

    fn pull(&self, model: &Model, point: &Point, athlete: &Trained) -> Pull {
        let Smoothed { abilities, log_evidence } = smooth(model, &read(model, athlete), self.plan.sweeps);
        let lean = |smoothed: &SmoothedAbility| {
            let ability = &smoothed.ability;
            let (level, start_sd) = point.starts[ability.at()];
            let offset_sd = model.parameters.of(model.catalog.ability(*ability).kind).offset_sd;
            let free = self.doing.get(ability).map_or(&[][..], Vec::as_slice);
            (*ability, Lean::of(smoothed, Spread { level, start_sd, offset_sd }, free))
        };
        (log_evidence, abilities.iter().map(lean).collect())
    }

    /// Adds the prior to what the roster says of one ability, and pins what the plan leaves.
    fn hold(&self, point: &Point, ability: AbilityIx, lean: &mut Lean) {
        for (at, rung) in lean.rungs.clone().into_iter().enumerate() {
            let (file, sd) = self.file((ability, rung));
            lean.hold(STEPS + at, point.steps[&(ability, rung)] - file, sd);
        }
        let (now, then) = (point.starts[ability.at()], self.origin.starts[ability.at()]);
        lean.hold(START, now.0 - then.0, self.plan.weak_sd);
        lean.hold(SPREAD, libm::log(now.1 / then.1), self.plan.weak_sd);
        if !self.plan.starts {
            lean.pin(START);
        }
        if !self.plan.spreads {
            lean.pin(SPREAD);
        }
    }
}

/// The same catalog with every difficulty known.
fn without_doubt(catalog: &Catalog) -> Result<Catalog, RefitError> {
    let rungs = (0..catalog.rung_count()).filter_map(|number| u16::try_from(number).ok()).map(RungIx);
    let known = |rung: RungIx| {
        catalog.rung(rung).demands.iter().map(move |demand| Step {
            rung: catalog.name(rung),
            ability: catalog.ability(demand.ability).id.clone(),
            difficulty: demand.difficulty,
            sd: 0.0,
        })
    };
    let adjustment = Adjustment { steps: rungs.flat_map(known).collect(), starts: Vec::new() };
    catalog.adjusted(&adjustment).map_err(|problems| RefitError::Parent { problems })
}

/// Of all abilities; infinite where an information is not positive definite, as it may be away from the top.
fn ln_determinant(leans: &BTreeMap<AbilityIx, Lean>) -> f64 {
    let of =
        |lean: &Lean| Cholesky::of(&lean.information).map_or(f64::INFINITY, |root| root.ln_determinant());
    leans.values().map(of).sum()
}

/// Tasks and outcomes of one athlete; a set on a rung that is no longer in any ladder says nothing.
pub fn read(model: &Model, athlete: &Trained) -> Vec<(Task, Done)> {
    athlete.sets.iter().filter_map(|set| model.read(set)).collect()
}
