//! Temper: athletes who choose rungs and targets for themselves, by what they are like. Every size: common practice, no
//! source.
//!
//! They know about what they can do on a usual day, and want what suits their temper rather than what would build most.
//! Their targets are habits, the same few numbers on any rung, and now and then they go to the limit.

use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::Purpose;

use crate::dice::Dice;
use crate::simulate::chooser::{Look, Watch, ended};
use crate::simulate::growth::heaviness;
use crate::simulate::trainee::{Setup, Trainee, Work};
use crate::simulate::who::{Side, Who};

/// What somebody is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Temper {
    /// Wants rungs that are too hard.
    Bold,
    /// Wants rungs that are easy.
    Timid,
    /// Wants something else each time.
    Restless,
}

impl Temper {
    /// Every temper.
    pub const ALL: [Self; 3] = [Self::Bold, Self::Timid, Self::Restless];

    /// Units wanted to the limit, least and most, as parts of what builds most ([`heaviness`]).
    fn wants(self) -> (f64, f64) {
        match self {
            Self::Bold => (0.12, 0.55),
            Self::Timid => (1.7, 4.0),
            Self::Restless => (0.15, 4.0),
        }
    }

    /// Days for which a rung is kept, least and most.
    fn days(self) -> (f64, f64) {
        match self {
            Self::Bold | Self::Timid => (14.0, 28.0),
            Self::Restless => (0.0, 4.0),
        }
    }
}

/// Sets of a session, least and most.
const SETS: (usize, usize) = (3, 6);
/// Rests that are a habit, seconds.
const RESTS: [u16; 5] = [60, 90, 120, 180, 240];
/// Share of the sets to the limit, and of the sessions that are called free training.
const TO_THE_LIMIT: f64 = 0.2;
const FREE: f64 = 0.1;

/// Targets that are a habit.
fn habits(unit: Unit) -> [u16; 5] {
    match unit {
        Unit::Reps => [3, 5, 6, 8, 10],
        Unit::HoldSeconds => [5, 10, 15, 20, 30],
        Unit::LoweringSeconds => [3, 5, 6, 8, 10],
    }
}

/// An athlete's own choices on the ladder of the goal.
#[derive(Debug, Clone)]
pub struct Own {
    temper: Temper,
    path: Vec<RungIx>,
    kept: Option<(RungIx, i32)>,
    habit: usize,
    rest_seconds: u16,
    dice: Dice,
}

impl Own {
    /// Before the first day; nothing when the goal is on no ladder.
    pub fn new(setup: &Setup, who: Who) -> Option<Self> {
        let catalog = &setup.model.catalog;
        let goal = setup.profile.goals.first()?;
        let has_all =
            |ix: &RungIx| catalog.rung(*ix).equipment.iter().all(|e| setup.profile.equipment.contains(e));
        let path: Vec<RungIx> = catalog.rungs_of(&goal.rung.ladder).filter(has_all).collect();
        let mut dice = who.side_dice(Side::Temper);
        let temper = *dice.pick(&Temper::ALL)?;
        let habit = dice.below(5);
        let rest_seconds = *dice.pick(&RESTS)?;
        (!path.is_empty()).then_some(Self { temper, path, kept: None, habit, rest_seconds, dice })
    }

    /// What the athlete is like.
    pub fn temper(&self) -> Temper {
        self.temper
    }

    /// One session on one rung. False when `watch` has seen enough or pain ended it.
    pub fn session(
        &mut self,
        trainee: &mut Trainee<'_>,
        watch: &mut Watch<'_>,
    ) -> Result<bool, Vec<Problem>> {
        let rung = self.rung(trainee);
        let of_rung = trainee.setup.model.catalog.rung(rung);
        let band = trainee.setup.policy.working_band(of_rung);
        let purpose = if self.dice.chance(FREE) { Purpose::Free } else { Purpose::Working };
        for _ in 0..SETS.0 + self.dice.below(SETS.1 - SETS.0 + 1) {
            let near = (self.habit + self.dice.below(2)).min(4);
            let target = (!self.dice.chance(TO_THE_LIMIT)).then_some(habits(of_rung.unit)[near]);
            let rest_seconds = self.rest_seconds;
            let work = Work { purpose, rung, shadings: Vec::new(), load_kg: 0.0, target, rest_seconds };
            let (task, performed) = trainee.perform(&work)?;
            let goes_on = watch(&Look { trainee, work: &work, task: &task, performed, band });
            if !goes_on || ended(&performed) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// The rung of today: the one kept, or the one nearest to what is wanted.
    fn rung(&mut self, trainee: &Trainee<'_>) -> RungIx {
        let today = trainee.date.day_number();
        if let Some((rung, until)) = self.kept
            && today < until
        {
            return rung;
        }
        let (low, high) = self.temper.wants();
        let wanted = self.dice.between(libm::log(low), libm::log(high));
        let (least, most) = self.temper.days();
        let days = i32::from(crate::simulate::truth::whole(self.dice.between(least, most)));
        let catalog = &trainee.setup.model.catalog;
        let off = |rung: RungIx| {
            let task = Task::new(catalog, rung, &[], 1.0);
            let usual = task.demands().iter().map(|d| trainee.truth.usual(d)).fold(f64::INFINITY, f64::min);
            (usual - libm::log(heaviness(catalog.rung(rung).unit)) - wanted).abs()
        };
        let nearest = self.path.iter().copied().min_by(|a, b| off(*a).total_cmp(&off(*b)));
        let rung = nearest.unwrap_or(RungIx(0));
        self.kept = Some((rung, today + days));
        rung
    }
}
