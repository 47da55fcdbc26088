//! Chooser: who decides what a simulated athlete does.

use nextrung_domain::band::Band;
use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::{Block, Item};
use nextrung_prescribe::session::prescribe;

use nextrung_capacity::task::Task;

use crate::simulate::oracle;
use crate::simulate::rule::{Rule, RuleKind};
use crate::simulate::temper::Own;
use crate::simulate::trainee::{Trainee, Work};
use crate::simulate::truth::Performed;

/// Who decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chooser {
    /// The service, as it stands.
    Service,
    /// A rule of thumb.
    Thumb(RuleKind),
    /// Somebody who knows the truth.
    Oracle,
    /// Somebody who knows the truth and stays with plain rungs in the goal's unit, as the rules do.
    PlainOracle,
    /// The athlete, by temper.
    Own,
}

impl Chooser {
    /// Every chooser with an aim, the service first.
    pub const ALL: [Self; 5] = [
        Self::Service,
        Self::Thumb(RuleKind::TwoForTwo),
        Self::Thumb(RuleKind::RepBand),
        Self::PlainOracle,
        Self::Oracle,
    ];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Service => "service",
            Self::Thumb(RuleKind::TwoForTwo) => "two-for-two rule",
            Self::Thumb(RuleKind::RepBand) => "rep-band rule",
            Self::Oracle => "oracle",
            Self::PlainOracle => "oracle, plain rungs only",
            Self::Own => "own choice",
        }
    }
}

/// A set that was done, for those who count.
pub struct Look<'a, 's> {
    /// The athlete after the set.
    pub trainee: &'a Trainee<'s>,
    /// The set.
    pub work: &'a Work,
    /// Its task.
    pub task: &'a Task,
    /// How it truly went.
    pub performed: Performed,
    /// The working band of its rung.
    pub band: Band,
}

impl Look<'_, '_> {
    /// Week of training, from 0.
    pub fn week(&self) -> i32 {
        self.trainee.date.days_since(self.trainee.setup.start) / 7
    }
}

/// Whoever looks on; false ends the session.
pub type Watch<'w> = dyn FnMut(&Look<'_, '_>) -> bool + 'w;

/// A course of training.
pub struct Course<'s> {
    trainee: Trainee<'s>,
    chooser: Chooser,
    rule: Option<Rule>,
    own: Option<Own>,
    all_sets: bool,
}

impl<'s> Course<'s> {
    /// Before the first day. Nothing for a rule of thumb, or a choice of one's own, whose goal is on no ladder.
    pub fn new(trainee: Trainee<'s>, chooser: Chooser) -> Option<Self> {
        let (rule, own) = match chooser {
            Chooser::Thumb(kind) => (Some(Rule::new(trainee.setup, kind)?), None),
            Chooser::Own => (None, Some(Own::new(trainee.setup, trainee.who)?)),
            Chooser::Service | Chooser::Oracle | Chooser::PlainOracle => (None, None),
        };
        Some(Self { trainee, chooser, rule, own, all_sets: false })
    }

    /// Every prescribed working set is done, also after misses, so that each counts alike whoever prescribed it.
    #[must_use]
    pub fn with_all_sets(mut self) -> Self {
        self.all_sets = true;
        self
    }

    /// The athlete.
    pub fn trainee(&self) -> &Trainee<'s> {
        &self.trainee
    }

    /// The athlete, when the course is over.
    pub fn into_trainee(self) -> Trainee<'s> {
        self.trainee
    }

    /// Trains for `weeks` weeks; `watch` may end a session early. Fails when a set as told was not sound.
    pub fn train(mut self, weeks: i32, watch: &mut Watch<'_>) -> Result<(), Vec<Problem>> {
        for date in self.trainee.setup.training_days(weeks) {
            self.trainee.enter(date);
            self.session(watch)?;
        }
        Ok(())
    }

    /// A training day begins.
    pub fn enter(&mut self, date: CivilDate) {
        self.trainee.enter(date);
    }

    /// The session of the day, until its end or until `watch` has seen enough. Fails when a set as told was not sound.
    pub fn session(&mut self, watch: &mut Watch<'_>) -> Result<(), Vec<Problem>> {
        if let Some(rule) = &mut self.rule {
            rule.session(&mut self.trainee, watch)?;
            return Ok(());
        }
        if let Some(own) = &mut self.own {
            own.session(&mut self.trainee, watch)?;
            return Ok(());
        }
        let given = self.trainee.ask(prescribe);
        let goal = self.trainee.setup.profile.goals.first().map(|g| g.rung.ladder.clone());
        let is_oracle = matches!(self.chooser, Chooser::Oracle | Chooser::PlainOracle);
        let mut has_chosen = false;
        for item in &given.items {
            let is_choice = is_oracle && matches!(item.block, Block::Working | Block::Test);
            // One choice a session, on the goal's ladder; what the service would test, an oracle knows.
            if is_choice && (has_chosen || Some(&item.rung.ladder) != goal.as_ref()) {
                continue;
            }
            has_chosen |= is_choice;
            let plan = match self.chooser {
                Chooser::Oracle => oracle::replace(&self.trainee, item, |_| true),
                Chooser::PlainOracle => {
                    let unit = self.goal_unit();
                    oracle::replace(&self.trainee, item, |c| c.is_plain && Some(c.unit) == unit)
                }
                Chooser::Service | Chooser::Thumb(_) | Chooser::Own => None,
            };
            let Some(mut plan) = plan.or_else(|| plan_of(&self.trainee, item)) else { continue };
            if self.all_sets && plan.work.purpose == Purpose::Working {
                plan.misses = None;
            }
            if !do_item(&mut self.trainee, &plan, watch)? {
                break;
            }
        }
        Ok(())
    }
}

impl Course<'_> {
    fn goal_unit(&self) -> Option<Unit> {
        let catalog = &self.trainee.setup.model.catalog;
        let goal = self.trainee.setup.profile.goals.first()?;
        catalog.find(&goal.rung).map(|ix| catalog.rung(ix).unit)
    }
}

/// An item as a set to be done some times.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The set.
    pub work: Work,
    /// How often.
    pub sets: u16,
    /// Sets in a row below the target that end the item.
    pub misses: Option<u16>,
}

/// An item of a prescription as it is done; nothing when its rung is on no ladder.
pub fn plan_of(trainee: &Trainee<'_>, item: &Item) -> Option<Plan> {
    let rung = trainee.setup.model.catalog.find(&item.rung)?;
    let purpose = match item.block {
        Block::BalancePractice => Purpose::Practice,
        Block::Attempt => Purpose::Attempt,
        Block::Working => Purpose::Working,
        Block::Test => Purpose::Test,
    };
    let work = Work {
        purpose,
        rung,
        shadings: item.shadings.clone(),
        load_kg: item.load_kg,
        target: Some(item.target_high),
        rest_seconds: item.rest_seconds,
    };
    Some(Plan { work, sets: item.sets, misses: item.stop_rule.misses_in_a_row })
}

/// True for a set after which the athlete goes home: pain ended it.
pub fn ended(performed: &Performed) -> bool {
    performed.pain.is_some()
}

/// Does the sets of an item, keeping to its stop rule. False when `watch` has seen enough or pain ended a set.
pub fn do_item(trainee: &mut Trainee<'_>, plan: &Plan, watch: &mut Watch<'_>) -> Result<bool, Vec<Problem>> {
    let band = trainee.setup.policy.working_band(trainee.setup.model.catalog.rung(plan.work.rung));
    let mut missed = 0;
    for _ in 0..plan.sets {
        let (task, performed) = trainee.perform(&plan.work)?;
        let look = Look { trainee, work: &plan.work, task: &task, performed, band };
        if !watch(&look) || ended(&performed) {
            return Ok(false);
        }
        missed = if performed.stop == Stop::Target { 0 } else { missed + 1 };
        if plan.misses.is_some_and(|most| missed >= most) {
            break;
        }
    }
    Ok(true)
}
