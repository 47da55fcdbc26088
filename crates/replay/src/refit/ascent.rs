//! Ascent: Newton's steps over difficulties and starts, and parabolas over the dials, in turn (F-09).

use std::collections::BTreeMap;

use nextrung_capacity::linear::Sym;
use nextrung_domain::ability::AbilityIx;

use super::RefitError;
use super::cholesky::Cholesky;
use super::climb::climb;
use super::ground::{Ground, Look};
use super::lean::{SPREAD, START, STEPS};
use super::plan::Plan;
use super::point::Point;

/// Most of Newton's steps in a row.
const MOST_STEPS: u32 = 25;
/// Most halvings of a step that would descend.
const MOST_HALVINGS: i32 = 5;
/// No difficulty, level or ln spread moves further than this in one step, ln units.
const LONGEST: f64 = 0.5;
/// A fall smaller than this is rounding and the sweeps' own error, ln units.
const ROUNDING: f64 = 1e-7;

/// Where an ascent ended.
#[derive(Debug, Clone)]
pub struct Ascent {
    /// What is seen there.
    pub look: Look,
    /// Log evidence where it began, without the prior.
    pub evidence_before: f64,
    /// By dial of the plan: minus the second derivative of the log posterior along it alone; 0 where it was not searched.
    pub bends: Vec<f64>,
}

/// Climbs from the numbers of the parent.
pub fn ascend(ground: &Ground<'_>, plan: &Plan) -> Result<Ascent, RefitError> {
    let first = ground.look(ground.origin().clone())?;
    let evidence_before = first.evidence.iter().sum();
    let mut look = settle(ground, first, plan.still)?;
    let mut bends = vec![0.0; plan.dials.len()];
    let mut width = plan.width;
    for _ in 0..plan.cycles {
        if plan.dials.is_empty() {
            break;
        }
        let before = look.merit;
        look = settle(ground, turn(ground, plan, look, (width, &mut bends))?, plan.still)?;
        if look.merit - before < plan.gain {
            break;
        }
        width *= 0.25;
    }
    Ok(Ascent { look, evidence_before, bends })
}

/// Newton's steps until nothing would move further than `still`. A step that would descend is halved.
fn settle(ground: &Ground<'_>, mut here: Look, still: f64) -> Result<Look, RefitError> {
    for _ in 0..MOST_STEPS {
        let step = newton(&here)?;
        if step.values().flatten().all(|by| by.abs() <= still) {
            break;
        }
        let mut next = None;
        for halvings in 0..MOST_HALVINGS {
            let there = ground.look(moved(&here, &step, libm::ldexp(1.0, -halvings)))?;
            if there.value >= here.value - ROUNDING {
                next = Some(there);
                break;
            }
        }
        match next {
            Some(there) => here = there,
            None => break,
        }
    }
    Ok(here)
}

/// One step of each ability. Away from the top the information need not be positive definite; what is missing is added
/// to its diagonal.
fn newton(look: &Look) -> Result<BTreeMap<AbilityIx, Vec<f64>>, RefitError> {
    let mut steps = BTreeMap::new();
    for (ability, lean) in &look.leans {
        let root = root(&lean.information).ok_or(RefitError::Information)?;
        let step = root.solve(&lean.gradient).into_iter().map(|by| by.clamp(-LONGEST, LONGEST));
        steps.insert(*ability, step.collect());
    }
    Ok(steps)
}

fn root(information: &Sym) -> Option<Cholesky> {
    [0.0, 0.1, 1.0, 10.0, 100.0].into_iter().find_map(|share| {
        let mut raised = information.clone();
        for at in 0..information.dim() {
            raised.add(at, at, share * information.get(at, at).abs());
        }
        Cholesky::of(&raised)
    })
}

fn moved(here: &Look, step: &BTreeMap<AbilityIx, Vec<f64>>, share: f64) -> Point {
    let mut point = here.point.clone();
    for (ability, by) in step {
        let start = &mut point.starts[ability.at()];
        start.0 += share * by[START];
        start.1 *= libm::exp(share * by[SPREAD]);
        for (rung, by) in here.leans[ability].rungs.iter().zip(&by[STEPS..]) {
            if let Some(difficulty) = point.steps.get_mut(&(*ability, *rung)) {
                *difficulty += share * by;
            }
        }
    }
    point
}

/// Turns each dial to its top, then all along the way they went together.
fn turn(
    ground: &Ground<'_>,
    plan: &Plan,
    here: Look,
    (width, bends): (f64, &mut [f64]),
) -> Result<Look, RefitError> {
    let began = here.point.turns.clone();
    let mut here = here;
    for (at, _) in plan.dials.iter().enumerate().filter(|(_, dial)| ground.hangs_on(**dial)) {
        let mut way = vec![0.0; began.len()];
        way[at] = 1.0;
        (here, bends[at]) = along(ground, here, (&way, width))?;
    }
    let way: Vec<f64> = here.point.turns.iter().zip(&began).map(|(to, from)| to - from).collect();
    if way.iter().filter(|by| **by != 0.0).count() > 1 {
        (here, _) = along(ground, here, (&way, 0.5))?;
    }
    Ok(here)
}

/// To the top along one way of turning the dials, and minus the second derivative there.
fn along(ground: &Ground<'_>, here: Look, (way, width): (&[f64], f64)) -> Result<(Look, f64), RefitError> {
    let (start, point) = (here.merit, here.point.clone());
    let mut seen = vec![(0.0, here)];
    let top = climb(start, width, |by| {
        let mut there = point.clone();
        there.turns.iter_mut().zip(way).for_each(|(turn, share)| *turn += by * share);
        // Where the evidence is no number there is no top.
        let Ok(look) = ground.look(there) else { return f64::NEG_INFINITY };
        let merit = look.merit;
        seen.push((by, look));
        merit
    });
    let best = seen.into_iter().find(|(by, _)| *by == top.at);
    best.map(|(_, look)| (look, top.bend)).ok_or(RefitError::Information)
}
