//! Chooser: who decides what a simulated athlete does.

use nextrung_domain::band::Band;
use nextrung_domain::date::CivilDate;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::{Block, Item};
use nextrung_prescribe::session::prescribe;

use nextrung_capacity::task::Task;

use crate::simulate::oracle;
use crate::simulate::rule::{Rule, RuleKind};
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
}

impl Chooser {
    /// Every chooser, the service first.
    pub const ALL: [Self; 4] =
        [Self::Service, Self::Thumb(RuleKind::TwoForTwo), Self::Thumb(RuleKind::RepBand), Self::Oracle];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Service => "service",
            Self::Thumb(RuleKind::TwoForTwo) => "two-for-two rule",
            Self::Thumb(RuleKind::RepBand) => "rep-band rule",
            Self::Oracle => "oracle",
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
    /// Week of training, from 0.
    pub week: i32,
}

/// Whoever looks on; false ends the training.
pub type Watch<'w> = dyn FnMut(&Look<'_, '_>) -> bool + 'w;

/// A course of training.
pub struct Course<'s> {
    trainee: Trainee<'s>,
    chooser: Chooser,
    rule: Option<Rule>,
    all_sets: bool,
}

impl<'s> Course<'s> {
    /// Before the first day. Nothing for a rule of thumb whose goal is on no ladder.
    pub fn new(trainee: Trainee<'s>, chooser: Chooser) -> Option<Self> {
        let rule = match chooser {
            Chooser::Thumb(kind) => Some(Rule::new(trainee.setup, kind)?),
            Chooser::Service | Chooser::Oracle => None,
        };
        Some(Self { trainee, chooser, rule, all_sets: false })
    }

    /// Every prescribed working set is done, also after misses, so that each counts alike whoever prescribed it.
    #[must_use]
    pub fn with_all_sets(mut self) -> Self {
        self.all_sets = true;
        self
    }

    /// Trains for `weeks` weeks or until `watch` has seen enough. Fails when a set as told was not sound.
    pub fn train(mut self, weeks: i32, watch: &mut Watch<'_>) -> Result<(), Vec<Problem>> {
        let start = self.trainee.setup.start;
        for day in 0..7 * weeks {
            let date = start.plus_days(day);
            if self.trainee.setup.profile.days.has(date.weekday()) && !self.session(date, day / 7, watch)? {
                break;
            }
        }
        Ok(())
    }

    fn session(&mut self, date: CivilDate, week: i32, watch: &mut Watch<'_>) -> Result<bool, Vec<Problem>> {
        self.trainee.enter(date);
        if let Some(rule) = &mut self.rule {
            return rule.session(&mut self.trainee, week, watch);
        }
        let given = self.trainee.ask(prescribe);
        for item in &given.items {
            let plan = match self.chooser {
                Chooser::Oracle => {
                    oracle::replace(&self.trainee, item).or_else(|| plan_of(&self.trainee, item))
                }
                Chooser::Service | Chooser::Thumb(_) => plan_of(&self.trainee, item),
            };
            let Some(mut plan) = plan else { continue };
            if self.all_sets && plan.work.purpose == Purpose::Working {
                plan.misses = None;
            }
            if !do_item(&mut self.trainee, &plan, week, watch)? {
                return Ok(false);
            }
        }
        Ok(true)
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

fn plan_of(trainee: &Trainee<'_>, item: &Item) -> Option<Plan> {
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

/// Does the sets of an item, keeping to its stop rule. False when `watch` has seen enough.
pub fn do_item(
    trainee: &mut Trainee<'_>,
    plan: &Plan,
    week: i32,
    watch: &mut Watch<'_>,
) -> Result<bool, Vec<Problem>> {
    let band = trainee.setup.policy.working_band(trainee.setup.model.catalog.rung(plan.work.rung));
    let mut missed = 0;
    for _ in 0..plan.sets {
        let (task, performed) = trainee.perform(&plan.work)?;
        let look = Look { trainee, work: &plan.work, task: &task, performed, band, week };
        if !watch(&look) {
            return Ok(false);
        }
        missed = if performed.stop == Stop::Target { 0 } else { missed + 1 };
        if plan.misses.is_some_and(|most| missed >= most) {
            break;
        }
    }
    Ok(true)
}
