//! Athlete: somebody whose true limiter is known by how they are made.
//!
//! Strength, balance, line: that ability is the lowest at the goal by a clear margin, and the athlete does what the service
//! prescribes. The wrong rung: abilities about even, working sets on rungs of the athlete's own choice, far too easy or far
//! too hard by the truth. Training: abilities about even, far too few days, or hardly anything but play.

use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::band::Band;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::RungRef;
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::Purpose;
use nextrung_prescribe::limiter::Limiter;
use nextrung_prescribe::prescription::Item;
use nextrung_prescribe::session::prescribe;

use crate::dice::Dice;
use crate::simulate::chooser::{Look, Plan, do_item, plan_of};
use crate::simulate::in_band::ratio;
use crate::simulate::trainee::{Setup, Trainee, Work};
use crate::simulate::truth::Truth;
use crate::simulate::who::Who;

/// ln units at the goal of the abilities that do not limit, and how far below the lowest of them the limiting one starts.
const ENOUGH: (f64, f64) = (0.9, 1.7);
const SHORT: (f64, f64) = (0.6, 1.2);
/// ln units at the goal of all abilities where a habit limits.
const EVEN: (f64, f64) = (0.2, 0.9);
/// ln units above the band of rungs far too easy, and below it of rungs far too hard.
const TOO_EASY: (f64, f64) = (0.25, 0.9);
const TOO_HARD: (f64, f64) = (0.4, 1.2);
/// Days between changes of a rung of one's own choice.
const STUBBORN_DAYS: i32 = 21;
/// Share of planned days on which who trains too little turns up, and others.
const RARELY: (f64, f64) = (0.15, 0.35);
const USUALLY: (f64, f64) = (0.86, 0.97);
/// Share of working items that a player makes play of.
const PLAY: (f64, f64) = (0.75, 0.95);
/// ln units of what is played with: one or two are there.
const PLAYED: (f64, f64) = (0.1, 0.9);

/// The rung that says whether an athlete can support the body upside down, and seconds there.
const WALL: &str = "hand-balance/back-to-wall-hold";
const AT_THE_WALL: (f64, f64) = (40.0, 90.0);

/// What an athlete makes of a prescription.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Habit {
    /// Does it.
    Follows,
    /// Puts working sets on a rung so many ln units above the band, with targets of so many units over it; or below it
    /// when negative.
    OwnRung { ln_off: f64, over: u16 },
    /// Makes play of such a share of the working items.
    Plays { share: f64 },
}

/// A simulated athlete with a known limiter.
pub struct Athlete<'s> {
    /// In training.
    pub trainee: Trainee<'s>,
    goal: RungIx,
    habit: Habit,
    turnout: f64,
    /// First and last day of an absence.
    away: (i32, i32),
    dice: Dice,
    own: Option<(i32, RungIx)>,
    /// Working sets, and those whose true capacity was outside the band.
    working: (u32, u32),
}

impl<'s> Athlete<'s> {
    /// An athlete held back by `limiter`.
    pub fn new(setup: &'s Setup, goal: RungIx, limiter: Limiter, who: Who) -> Self {
        let mut dice = who.dice(5);
        let mut trainee = Trainee::new(setup, who);
        let catalog = &setup.model.catalog;
        place(&mut trainee.truth, &Task::new(catalog, goal, &[], 1.0), limiter, &mut dice);
        support(&mut trainee.truth, catalog, &mut dice);
        let is_rare = limiter == Limiter::Training && dice.chance(0.5);
        let habit = match limiter {
            Limiter::Strength | Limiter::Balance | Limiter::Line => Habit::Follows,
            Limiter::WrongRung => own_rung(&mut dice),
            Limiter::Training if is_rare => Habit::Follows,
            Limiter::Training => Habit::Plays { share: dice.between(PLAY.0, PLAY.1) },
        };
        let (low, high) = if is_rare { RARELY } else { USUALLY };
        let turnout = dice.between(low, high);
        let away = absence(setup.start, &mut dice);
        Self { trainee, goal, habit, turnout, away, dice, own: None, working: (0, 0) }
    }

    /// One planned day, on which the athlete may not turn up.
    pub fn day(&mut self, date: CivilDate) -> Result<(), Vec<Problem>> {
        let is_there = self.dice.chance(self.turnout);
        if !is_there || (self.away.0..=self.away.1).contains(&date.day_number()) {
            return Ok(());
        }
        self.trainee.enter(date);
        for item in self.trainee.ask(prescribe).items {
            let Some(plan) = self.plan(&item) else { continue };
            let (sets, outside) = &mut self.working;
            let mut count = |look: &Look<'_, '_>| {
                if look.work.purpose == Purpose::Working {
                    let (low, high) = (f64::from(look.band.low), f64::from(look.band.high) + 1.0);
                    *sets += 1;
                    *outside += u32::from(!(low..high).contains(&look.performed.capacity));
                }
                true
            };
            do_item(&mut self.trainee, &plan, &mut count)?;
        }
        Ok(())
    }

    /// Share of the working sets that truly were outside the band; nothing when there were none.
    pub fn outside(&self) -> Option<f64> {
        ratio(self.working.1, self.working.0)
    }

    /// What becomes of an item.
    fn plan(&mut self, item: &Item) -> Option<Plan> {
        let plan = plan_of(&self.trainee, item)?;
        if plan.work.purpose != Purpose::Working {
            return Some(plan);
        }
        match self.habit {
            Habit::Follows => Some(plan),
            Habit::OwnRung { ln_off, over } => Some(self.own_plan(ln_off, over)),
            Habit::Plays { share } if self.dice.chance(share) => Some(self.play(&plan)),
            Habit::Plays { .. } => Some(plan),
        }
    }

    /// Working sets on a rung of the athlete's own choice, kept for weeks.
    fn own_plan(&mut self, ln_off: f64, over: u16) -> Plan {
        let today = self.trainee.date.day_number();
        let wish = |band: Band| {
            let edge = if ln_off > 0.0 { band.high + 1 } else { band.low };
            libm::log(f64::from(edge)) + ln_off
        };
        let kept = self.own.filter(|(since, _)| today - since < STUBBORN_DAYS);
        let (since, rung) = kept.unwrap_or_else(|| (today, self.nearest(wish)));
        self.own = Some((since, rung));
        let target = self.band(rung).high + over;
        self.sets(rung, (Purpose::Working, Some(target)))
    }

    /// Attempts or unstructured sets at something harder than would build.
    fn play(&mut self, planned: &Plan) -> Plan {
        let wish = self.dice.between(PLAYED.0, PLAYED.1);
        let rung = self.nearest(|_| wish);
        let purpose = if self.dice.chance(0.5) { Purpose::Attempt } else { Purpose::Free };
        let target = (purpose == Purpose::Attempt).then_some(2);
        Plan { sets: planned.sets, ..self.sets(rung, (purpose, target)) }
    }

    fn sets(&self, rung: RungIx, (purpose, target): (Purpose, Option<u16>)) -> Plan {
        let rest_seconds = self.trainee.setup.policy.strength_rest;
        let work = Work { purpose, rung, shadings: Vec::new(), load_kg: 0.0, target, rest_seconds };
        Plan { work, sets: 4, misses: None }
    }

    fn band(&self, rung: RungIx) -> Band {
        let setup = self.trainee.setup;
        setup.policy.working_band(setup.model.catalog.rung(rung))
    }

    /// The rung of the goal's ladder, counted in reps, on which the true ln units are nearest to those wished for.
    fn nearest(&self, wish: impl Fn(Band) -> f64) -> RungIx {
        let catalog: &Catalog = &self.trainee.setup.model.catalog;
        let rungs = catalog.rungs_of(&catalog.ladder_of(self.goal).id);
        let off = |ix: RungIx| {
            let task = Task::new(catalog, ix, &[], 1.0);
            let least =
                task.demands().iter().map(|d| self.trainee.truth.usual(d)).fold(f64::INFINITY, f64::min);
            (least - wish(self.band(ix))).abs()
        };
        let counted = rungs.filter(|ix| catalog.rung(*ix).unit == Unit::Reps);
        counted.map(|ix| (off(ix), ix)).min_by(|a, b| a.0.total_cmp(&b.0)).map_or(self.goal, |(_, ix)| ix)
    }

    /// ln units at the goal by kind of ability, on a day of usual form: the least of each kind.
    pub fn at_goal(&self) -> [f64; 3] {
        let task = Task::new(&self.trainee.setup.model.catalog, self.goal, &[], 1.0);
        AbilityKind::ALL.map(|kind| {
            let of_kind = task.demands().iter().filter(|d| d.kind == kind);
            of_kind.map(|d| self.trainee.truth.usual(d)).fold(f64::INFINITY, f64::min)
        })
    }
}

/// Places the abilities at the goal.
fn place(truth: &mut Truth, goal: &Task, limiter: Limiter, dice: &mut Dice) {
    let (low, high) = if limiter.kind().is_some() { ENOUGH } else { EVEN };
    let etas: Vec<f64> = goal.demands().iter().map(|_| dice.between(low, high)).collect();
    let least = etas.iter().copied().fold(f64::INFINITY, f64::min);
    let short = dice.between(SHORT.0, SHORT.1);
    for (demand, eta) in goal.demands().iter().zip(etas) {
        let is_limiting = Some(demand.kind) == limiter.kind();
        truth.place(demand, if is_limiting { least - short } else { eta });
    }
}

/// Whoever wants to press can stand at the wall: that strength is asked for by the gates alone and must limit nobody.
fn support(truth: &mut Truth, catalog: &Catalog, dice: &mut Dice) {
    let wall = RungRef::parse(WALL).ok().and_then(|name| catalog.find(&name));
    let task = wall.map(|ix| Task::new(catalog, ix, &[], 1.0));
    for demand in task.iter().flat_map(Task::demands) {
        truth.place(demand, libm::log(dice.between(AT_THE_WALL.0, AT_THE_WALL.1)));
    }
}

/// Half choose too easy, half too hard; of those too easy half aim above the band and half at its top, where nothing fails.
fn own_rung(dice: &mut Dice) -> Habit {
    if dice.chance(0.5) {
        let ln_off = dice.between(TOO_EASY.0, TOO_EASY.1);
        let over = if dice.chance(0.5) { 3 } else { 0 };
        return Habit::OwnRung { ln_off, over };
    }
    Habit::OwnRung { ln_off: -dice.between(TOO_HARD.0, TOO_HARD.1), over: 0 }
}

/// A third are away once, for four to nine days.
fn absence(start: CivilDate, dice: &mut Dice) -> (i32, i32) {
    let first = start.day_number() + 14 + i32::try_from(dice.below(50)).unwrap_or(0);
    let days = 4 + i32::try_from(dice.below(6)).unwrap_or(0);
    if dice.chance(1.0 / 3.0) { (first, first + days - 1) } else { (1, 0) }
}
