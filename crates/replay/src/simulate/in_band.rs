//! In band: how often a prescribed working set was truly of the size wanted, by who chose it.

use std::sync::Arc;

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Purpose;

use crate::simulate::chooser::{Chooser, Course, Look};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling, Trainee};
use crate::simulate::who::Who;
use crate::simulate::world::World;

/// Weeks of training.
pub const WEEKS: i32 = 12;
/// Weeks that count as the beginning.
const FIRST_WEEKS: i32 = 4;

/// What became of one athlete's working sets.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Outcome {
    /// Working sets, in the first weeks and after.
    pub sets: [u32; 2],
    /// Those in band.
    pub in_band: [u32; 2],
    /// Working sets below the band.
    pub too_hard: u32,
    /// Working sets with a shading or load.
    pub shaded: u32,
    /// Working sets in another unit than the goal's.
    pub other_unit: u32,
    /// Test sets.
    pub tests: u32,
    /// Sessions with working sets, and those among them on another rung or shading than the session before.
    pub sessions: u32,
    /// See `sessions`.
    pub changes: u32,
}

impl Outcome {
    /// Working sets.
    pub fn all(&self) -> u32 {
        self.sets[0] + self.sets[1]
    }

    /// Share of working sets in band; nothing when there were none.
    pub fn share(&self) -> Option<f64> {
        ratio(self.in_band[0] + self.in_band[1], self.all())
    }

    /// The share after the first weeks.
    pub fn late_share(&self) -> Option<f64> {
        ratio(self.in_band[1], self.sets[1])
    }
}

/// A share; nothing of nothing.
pub fn ratio(part: u32, whole: u32) -> Option<f64> {
    (whole > 0).then(|| f64::from(part) / f64::from(whole))
}

/// One experiment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Experiment {
    /// The world.
    pub world: World,
    /// The truth's noise.
    pub noise: Noise,
    /// How many athletes.
    pub athletes: u64,
    /// The master seed.
    pub seed: u64,
}

/// The courses of the same athletes, with the same luck of the day, under one chooser.
pub fn run(
    catalog: &Arc<Catalog>,
    experiment: &Experiment,
    chooser: Chooser,
) -> Result<Vec<Outcome>, SimulationError> {
    let setup = Setup::of_world(catalog, &experiment.world, experiment.noise, Telling::PLAIN)?;
    let goal = setup.profile.goals.first().and_then(|g| catalog.find(&g.rung));
    let unit = goal.map(|ix| catalog.rung(ix).unit);
    let mut courses = Vec::new();
    for number in 0..experiment.athletes {
        let trainee = Trainee::new(&setup, Who { seed: experiment.seed, number });
        let no_rung = SimulationError::NoRung { rung: experiment.world.goal };
        let course = Course::new(trainee, chooser).ok_or(no_rung)?;
        let mut counter = Counter { unit, ..Counter::default() };
        let mut watch = |look: &Look<'_, '_>| {
            counter.count(look);
            true
        };
        let refused = |problems| SimulationError::Refused { what: "a set", problems };
        course.with_all_sets().train(WEEKS, &mut watch).map_err(refused)?;
        courses.push(counter.course);
    }
    Ok(courses)
}

#[derive(Default)]
struct Counter {
    course: Outcome,
    unit: Option<Unit>,
    last: Option<(i32, RungIx, Vec<ShadingId>)>,
}

impl Counter {
    fn count(&mut self, look: &Look<'_, '_>) {
        let course = &mut self.course;
        match look.work.purpose {
            Purpose::Test => course.tests += 1,
            Purpose::Working => {
                let phase = usize::from(look.week() >= FIRST_WEEKS);
                let (low, high) = (f64::from(look.band.low), f64::from(look.band.high) + 1.0);
                let capacity = look.performed.capacity;
                course.sets[phase] += 1;
                course.in_band[phase] += u32::from((low..high).contains(&capacity));
                course.too_hard += u32::from(capacity < low);
                let work = look.work;
                course.shaded += u32::from(!work.shadings.is_empty() || work.load_kg != 0.0);
                let unit = look.trainee.setup.model.catalog.rung(work.rung).unit;
                course.other_unit += u32::from(self.unit.is_some_and(|goal| goal != unit));
                self.note_change(look);
            }
            Purpose::Attempt | Purpose::Practice | Purpose::Free => {}
        }
    }

    fn note_change(&mut self, look: &Look<'_, '_>) {
        let now = (look.trainee.date.day_number(), look.work.rung, look.work.shadings.clone());
        let is_new_session = self.last.as_ref().is_none_or(|last| last.0 != now.0);
        if is_new_session {
            let is_change = self.last.as_ref().is_some_and(|last| (last.1, &last.2) != (now.1, &now.2));
            self.course.sessions += 1;
            self.course.changes += u32::from(is_change);
        }
        self.last = Some(now);
    }
}
