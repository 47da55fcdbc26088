//! Rules of thumb: how rungs are chosen without a model.

use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::Purpose;

use crate::simulate::chooser::{Look, Watch, ended};
use crate::simulate::trainee::{Setup, Trainee, Work};

/// Working sets a session, and rest between them in seconds: as the service on a usual day.
const SETS: u16 = 4;
/// Test sets on the first day, at most.
const TESTS: u16 = 8;

/// The rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RuleKind {
    /// Two or more reps over the goal in the last set of two sessions running: up (NSCA, from memory). Back when the best
    /// was under the band in two sessions running.
    TwoForTwo,
    /// Best of the session in the band: stay; above: up; below: down (common practice, no source).
    RepBand,
}

/// A rule at work on one ladder: the plain rungs of the goal's unit for which the athlete has the equipment. Gates are not
/// asked, which is to the rule's advantage.
#[derive(Debug, Clone)]
pub struct Rule {
    kind: RuleKind,
    path: Vec<RungIx>,
    at: usize,
    tested: bool,
    over: u8,
    under: u8,
}

impl Rule {
    /// Before the first day; nothing when the goal is on no ladder.
    pub fn new(setup: &Setup, kind: RuleKind) -> Option<Self> {
        let catalog = &setup.model.catalog;
        let goal = setup.profile.goals.first()?;
        let unit = catalog.rung(catalog.find(&goal.rung)?).unit;
        let fits = |ix: &RungIx| {
            let rung = catalog.rung(*ix);
            rung.unit == unit && rung.equipment.iter().all(|e| setup.profile.equipment.contains(e))
        };
        let path: Vec<RungIx> = catalog.rungs_of(&goal.rung.ladder).filter(fits).collect();
        let at = path.len() / 2;
        (!path.is_empty()).then_some(Self { kind, path, at, tested: false, over: 0, under: 0 })
    }

    /// One session: a test on the first day, working sets on all others.
    pub fn session(
        &mut self,
        trainee: &mut Trainee<'_>,
        watch: &mut Watch<'_>,
    ) -> Result<bool, Vec<Problem>> {
        if self.tested { self.train(trainee, watch) } else { self.test(trainee, watch) }
    }

    /// Sets to the limit from the middle of the ladder up or down, until one lands in the band or the last one passed it.
    fn test(&mut self, trainee: &mut Trainee<'_>, watch: &mut Watch<'_>) -> Result<bool, Vec<Problem>> {
        let mut came_from = 0;
        for _ in 0..TESTS {
            let (units, band, goes_on) = self.set(trainee, (Purpose::Test, None), watch)?;
            if !goes_on {
                return Ok(false);
            }
            let step = i32::from(units > band.high) - i32::from(units < band.low);
            if step == 0 || step == -came_from {
                break;
            }
            came_from = step;
            self.step(step);
        }
        self.tested = true;
        Ok(true)
    }

    fn train(&mut self, trainee: &mut Trainee<'_>, watch: &mut Watch<'_>) -> Result<bool, Vec<Problem>> {
        let mut best = 0;
        let mut last = 0;
        let mut band = Band { low: 1, high: 1 };
        for set in 0..SETS {
            let wanted = self.target(trainee, set);
            let (units, of_rung, goes_on) = self.set(trainee, (Purpose::Working, wanted), watch)?;
            if !goes_on {
                return Ok(false);
            }
            (best, last, band) = (units.max(best), units, of_rung);
        }
        match self.kind {
            RuleKind::TwoForTwo => self.two_for_two(band, best, last),
            RuleKind::RepBand => self.step(i32::from(best > band.high) - i32::from(best < band.low)),
        }
        Ok(true)
    }

    /// The rule's goal is the middle of the band, and its last set goes to the limit; the other rule looks one unit past
    /// the band.
    fn target(&self, trainee: &Trainee<'_>, set: u16) -> Option<u16> {
        let band = trainee.setup.policy.working_band(trainee.setup.model.catalog.rung(self.path[self.at]));
        match self.kind {
            RuleKind::TwoForTwo => (set + 1 < SETS).then(|| goal(band)),
            RuleKind::RepBand => Some(band.high + 1),
        }
    }

    fn two_for_two(&mut self, band: Band, best: u16, last: u16) {
        let over = last >= goal(band) + spare(band);
        self.over = if over { self.over + 1 } else { 0 };
        self.under = if best < band.low { self.under + 1 } else { 0 };
        if self.over >= 2 {
            self.step(1);
        } else if self.under >= 2 {
            self.step(-1);
        }
    }

    fn step(&mut self, by: i32) {
        let last = self.path.len() - 1;
        self.at = match by {
            1 => (self.at + 1).min(last),
            -1 => self.at.saturating_sub(1),
            _ => return,
        };
        (self.over, self.under) = (0, 0);
    }

    /// One set: the units done, the working band of its rung, and whether to go on: not after pain.
    fn set(
        &self,
        trainee: &mut Trainee<'_>,
        (purpose, target): (Purpose, Option<u16>),
        watch: &mut Watch<'_>,
    ) -> Result<(u16, Band, bool), Vec<Problem>> {
        let rung = self.path[self.at];
        let band = trainee.setup.policy.working_band(trainee.setup.model.catalog.rung(rung));
        let rest_seconds = trainee.setup.policy.strength_rest;
        let work = Work { purpose, rung, shadings: Vec::new(), load_kg: 0.0, target, rest_seconds };
        let (task, performed) = trainee.perform(&work)?;
        let look = Look { trainee, work: &work, task: &task, performed, band };
        Ok((performed.units, band, watch(&look) && !ended(&performed)))
    }
}

/// The goal of the two-for-two rule: the middle of the band.
pub(crate) fn goal(band: Band) -> u16 {
    u16::midpoint(band.low, band.high)
}

/// Two reps over a goal of four; as large a part of it in other bands.
pub(crate) fn spare(band: Band) -> u16 {
    goal(band).div_ceil(2)
}
