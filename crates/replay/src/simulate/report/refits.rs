//! Refits: the figures of their study as two tables.

use std::sync::Arc;

use nextrung_capacity::params::Parameters;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::Catalog;

use super::{Size, line};
use crate::refit::dial::Dial;
use crate::refit::plan::Plan;
use crate::simulate::bootstrap::count;
use crate::simulate::refit::{
    Cohort, Mended, StudyError, WEEKS, WRONG, WRONG_LEVER, WRONG_PRESS, Wrong, study,
};
use crate::simulate::world::{LEVER, PRESS, PULL, World};

/// Athletes of a roster.
const ROSTER: u64 = 60;
/// A step counts as found when it is nearer to the truth than this, ln units.
const NEAR: f64 = 0.10;

/// The experiments on refits: what became of the steps that were wrong, then of parameters that were right.
pub fn refit_table(catalog: &Arc<Catalog>, size: Size) -> Result<String, StudyError> {
    let rosters = (size.athletes / ROSTER).max(1);
    let worlds: [(World, &[Wrong]); 3] = [(PULL, &WRONG), (LEVER, &WRONG_LEVER), (PRESS, &WRONG_PRESS)];
    let mut steps = String::from(
        "| world | step to | wrong by | rosters that tell | athletes who trained both | found, mean error | root mean square | stated doubt | error over doubt, sd | within 0.10 |\n\
         |---|---|---|---|---|---|---|---|---|---|\n",
    );
    for (world, wrong) in worlds {
        let mut mended = Vec::new();
        for roster in 0..rosters {
            let cohort =
                Cohort { world, wrong, athletes: ROSTER, weeks: WEEKS, seed: size.seed.wrapping_add(roster) };
            mended.extend(study(catalog, &cohort, &Plan::of_steps())?.1);
        }
        for wrong in wrong {
            let of_it: Vec<&Mended> = mended.iter().filter(|step| step.wrong == *wrong).collect();
            step_row(&mut steps, &world, wrong, (&of_it, rosters));
        }
    }
    Ok(steps + &parameter_rows(catalog, size)?)
}

fn step_row(text: &mut String, world: &World, wrong: &Wrong, (found, rosters): (&[&Mended], u64)) {
    let n = count(found.len().max(1));
    let mean = |of: &dyn Fn(&Mended) -> f64| found.iter().map(|step| of(step)).sum::<f64>() / n;
    let error = |step: &Mended| step.found - step.truth;
    let over = |step: &Mended| error(step) / step.sd;
    let near = found.iter().filter(|step| error(step).abs() < NEAR).count();
    line(
        text,
        format_args!(
            "| {} | {} | {:+.2} | {} of {rosters} | {:.0} | {:+.3} | {:.3} | {:.3} | {:.2} | {near} |",
            world.name,
            wrong.rung,
            wrong.by,
            found.len(),
            mean(&|step| count(step.shared)),
            mean(&error),
            mean(&|step| error(step) * error(step)).sqrt(),
            mean(&|step| step.sd),
            mean(&|step| over(step) * over(step)).sqrt(),
        ),
    );
}

/// One roster of each world, all parameters free, where the first parameters are the true ones.
fn parameter_rows(catalog: &Arc<Catalog>, size: Size) -> Result<String, StudyError> {
    let mut text =
        String::from("\n| parameter | true | pull | front lever | press |\n|---|---|---|---|---|\n");
    let mut fits = Vec::new();
    for world in [PULL, LEVER, PRESS] {
        let cohort = Cohort { world, wrong: &[], athletes: ROSTER, weeks: WEEKS, seed: size.seed };
        fits.push(study(catalog, &cohort, &Plan::default())?.0);
    }
    for kind in AbilityKind::ALL {
        for dial in Dial::OF_A_KIND.map(|about| about(kind)) {
            let told = |place: usize| {
                let turned = fits[place].account.dials.iter();
                let mut of_it = turned.filter(|t| t.name == dial.name() && t.kind == Some(kind));
                let doubt = |sd: f64| format!(" ({:.0} %)", 100.0 * sd);
                of_it.next().map_or_else(String::new, |t| {
                    format!("{:.4}{}", t.to, t.sd.map_or_else(String::new, doubt))
                })
            };
            let truth = dial.value(&Parameters::default());
            line(
                &mut text,
                format_args!(
                    "| {} of {} | {truth:.4} | {} | {} | {} |",
                    dial.name(),
                    kind.word(),
                    told(0),
                    told(1),
                    told(2)
                ),
            );
        }
    }
    Ok(text)
}
