//! Refit: rosters whose ladder is wrong in known places, to see whether a refit mends it.
//!
//! The true ladder differs from the files in the steps named, by the same for everybody; athletes have their own departures
//! beside. The service, which believes the files, trains them: rungs are chosen by what was done before.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::params::Parameters;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::adjustment::{Adjustment, Step};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::{AbilityId, RungRef};
use rayon::prelude::*;

use crate::refit::fit::{BadVersion, Fit, Version};
use crate::refit::plan::Plan;
use crate::refit::{RefitError, Refitted, Trained, refit};
use crate::simulate::chooser::{Chooser, Course};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling, Trainee};
use crate::simulate::who::Who;
use crate::simulate::world::World;

/// Weeks of training in the study: half a year.
pub const WEEKS: i32 = 26;

/// A step of a ladder that the files have wrong: from this rung on, all rungs are harder than they say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wrong {
    /// The first rung after the step.
    pub rung: &'static str,
    /// The ability.
    pub ability: &'static str,
    /// By how much the true step is larger, ln units.
    pub by: f64,
}

/// Three steps of the pull ladder, larger, smaller and larger by a factor of 1.4 in reps.
pub const WRONG: [Wrong; 3] = [
    Wrong { rung: "pull/chest-to-bar", ability: "vertical-pull", by: 0.35 },
    Wrong { rung: "pull/archer", ability: "vertical-pull", by: -0.35 },
    Wrong { rung: "pull/one-arm-strap", ability: "vertical-pull", by: 0.35 },
];

/// Two steps on the way to the front lever, which mostly counts seconds.
pub const WRONG_LEVER: [Wrong; 2] = [
    Wrong { rung: "front-lever/advanced-tuck", ability: "straight-arm-pull", by: 0.35 },
    Wrong { rung: "front-lever/tuck", ability: "straight-arm-pull", by: -0.35 },
];

/// Two steps on the way to the free press, on which strength, balance and line may all end a set.
pub const WRONG_PRESS: [Wrong; 2] = [
    Wrong { rung: "press/feet-raised-pike-high", ability: "vertical-push", by: -0.35 },
    Wrong { rung: "hand-balance/free-straight", ability: "hand-balance", by: 0.35 },
];

/// A roster to be simulated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cohort<'a> {
    /// The world.
    pub world: World,
    /// What the files have wrong.
    pub wrong: &'a [Wrong],
    /// How many athletes.
    pub athletes: u64,
    /// Weeks of training, three sessions each.
    pub weeks: i32,
    /// The master seed.
    pub seed: u64,
}

/// The true ladders: a wrong step moves its rung and all after it on the ladder, or, where the anchor is among these, all before
/// it the other way. No difficulty is in doubt, so that people differ by their own departures alone.
pub fn true_ladders(catalog: &Catalog, wrong: &[Wrong]) -> Result<Catalog, SimulationError> {
    let mut steps = Vec::new();
    for number in 0..catalog.rung_count() {
        let rung = RungIx(u16::try_from(number).unwrap_or(u16::MAX));
        for demand in &catalog.rung(rung).demands {
            let mut difficulty = demand.difficulty;
            for wrong in wrong {
                difficulty += shift(catalog, wrong, (demand.ability, rung))?;
            }
            let ability = catalog.ability(demand.ability).id.clone();
            steps.push(Step { rung: catalog.name(rung), ability, difficulty, sd: 0.0 });
        }
    }
    let adjusted = catalog.adjusted(&Adjustment { steps, ..Adjustment::default() });
    adjusted.map_err(|problems| SimulationError::Ladders { problems })
}

/// What one wrong step adds to a difficulty, which counts from the anchor.
fn shift(
    catalog: &Catalog,
    wrong: &Wrong,
    (ability, rung): (AbilityIx, RungIx),
) -> Result<f64, SimulationError> {
    let first = place(catalog, wrong.rung)?;
    let about = catalog.ability(ability);
    let on_it = |rung: RungIx| catalog.ladder_number(rung) == catalog.ladder_number(first);
    if about.id.as_str() != wrong.ability || !on_it(rung) {
        return Ok(0.0);
    }
    let after = |rung: RungIx| if on_it(rung) && rung >= first { wrong.by } else { 0.0 };
    Ok(after(rung) - catalog.find(&about.anchor).map_or(0.0, after))
}

fn place(catalog: &Catalog, rung: &'static str) -> Result<RungIx, SimulationError> {
    let found = RungRef::parse(rung).ok().and_then(|name| catalog.find(&name));
    found.ok_or(SimulationError::NoRung { rung })
}

/// Trains the roster, with the parameters of the model true.
pub fn roster(catalog: &Arc<Catalog>, cohort: &Cohort<'_>) -> Result<Vec<Trained>, SimulationError> {
    let mut setup = Setup::of_world(catalog, &cohort.world, Noise::Logistic, Telling::PLAIN)?;
    setup.ladders = Arc::new(true_ladders(catalog, cohort.wrong)?);
    roster_in(&setup, cohort)
}

/// The same in a setup of one's own.
pub fn roster_in(setup: &Setup, cohort: &Cohort<'_>) -> Result<Vec<Trained>, SimulationError> {
    let one = |number: u64| {
        let trainee = Trainee::new(setup, Who { seed: cohort.seed, number });
        let refused = |problems| SimulationError::Refused { what: "a set", problems };
        let mut sets = Vec::new();
        if let Some(mut course) = Course::new(trainee, Chooser::Service) {
            for date in setup.training_days(cohort.weeks) {
                course.enter(date);
                course.session(&mut |_| true).map_err(refused)?;
            }
            sets.clone_from(&course.trainee().log);
        }
        Ok(Trained { athlete: format!("athlete-{number}"), sets, intake: BTreeMap::new() })
    };
    (0..cohort.athletes).into_par_iter().map(one).collect()
}

/// What a refit made of a step that was wrong, ln units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mended {
    /// The step.
    pub wrong: Wrong,
    /// Its size in the ladder files: from the rung before, the nearest that was refitted.
    pub on_file: f64,
    /// Its true size.
    pub truth: f64,
    /// Its size by the refit.
    pub found: f64,
    /// The refit's own doubt.
    pub sd: f64,
    /// Athletes who trained both rungs.
    pub shared: usize,
}

/// Why the study could not be made.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// The roster could not be simulated.
    #[error("the roster could not be simulated")]
    Simulation {
        /// Why.
        #[from]
        source: SimulationError,
    },
    /// The refit failed.
    #[error("the refit failed")]
    Refit {
        /// Why.
        #[from]
        source: RefitError,
    },
    /// A name is no version.
    #[error("a name is no version")]
    Version {
        /// Why.
        #[from]
        source: BadVersion,
    },
}

/// Simulates a roster, refits from the ladder files and the first parameters, and holds the steps that were wrong and of
/// which enough athletes trained both sides against the truth.
pub fn study(
    catalog: &Arc<Catalog>,
    cohort: &Cohort<'_>,
    plan: &Plan,
) -> Result<(Refitted, Vec<Mended>), StudyError> {
    let roster = roster(catalog, cohort)?;
    let files = Fit::of_files(Version::new("files")?, catalog, Parameters::default());
    let refitted = refit(catalog, &files, &roster, (Version::new("refitted")?, plan))?;
    let truth = true_ladders(catalog, cohort.wrong)?;
    let mut mended = Vec::new();
    for wrong in cohort.wrong {
        let first = place(catalog, wrong.rung)?;
        let is_it = |name: &str| AbilityId::new(name).ok().and_then(|id| catalog.find_ability(&id));
        let ability = is_it(wrong.ability);
        let step = refitted.account.steps.iter().find(|s| s.to.rung == first && Some(s.ability) == ability);
        let Some(step) = step else { continue };
        let true_difficulty =
            |rung: RungIx| truth.rung(rung).demand_on(step.ability).map_or(0.0, |asked| asked.difficulty);
        mended.push(Mended {
            wrong: *wrong,
            on_file: step.on_file,
            truth: true_difficulty(step.to.rung) - true_difficulty(step.from.rung),
            found: step.found,
            sd: step.sd,
            shared: step.shared,
        });
    }
    Ok((refitted, mended))
}
