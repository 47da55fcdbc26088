//! Trainee: a simulated athlete in training, with the service's state beside the truth.

use std::sync::Arc;

use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::{Task, mass_ratio};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft, Setting};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::measure::{Grams, Unit};
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::history::History;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::situation::Situation;

use crate::dice::Dice;
use crate::simulate::ache::Ache;
use crate::simulate::growth::Growth;
use crate::simulate::noise::Noise;
use crate::simulate::truth::{Performed, Truth};
use crate::simulate::who::{Side, Who};

/// Everything a simulated athlete is coached with.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Ladders and parameters.
    pub model: Model,
    /// The rules.
    pub policy: Policy,
    /// The athlete's profile.
    pub profile: Profile,
    /// The first day, a Monday.
    pub start: CivilDate,
    /// Noise of the truth.
    pub noise: Noise,
    /// Parameters of the truth; the model's own unless the model is meant to be wrong.
    pub truth: Parameters,
    /// How the truth moves from day to day.
    pub growth: Growth,
    /// How prone to pain athletes are; nothing where no set ends so.
    pub ache: Option<Ache>,
    /// Ladders of the truth, with the same rungs; the model's own unless these are meant to be wrong.
    pub ladders: Arc<Catalog>,
    /// What athletes tell.
    pub telling: Telling,
}

/// What athletes tell of their sets beside the units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Telling {
    /// Share of failures whose cause is not said.
    pub unsaid: f64,
    /// Share of sets of reps at the target with reps in reserve.
    pub reserve: f64,
    /// Share of sets stopped by choice below the target, where there is room for it.
    pub chosen: f64,
    /// Share of those stopped near the limit. The others are stopped at a count that was fixed before the set, so that it
    /// tells nothing of what was there.
    pub near: f64,
    /// Reserve is claimed in three words only: none, a couple (2), plenty (5).
    pub is_coarse: bool,
    /// Share of sessions, and share of the sets of other sessions, of which nobody ever hears.
    pub lost: (f64, f64),
}

impl Telling {
    /// Targets and failures with their cause, nothing else.
    pub const PLAIN: Self =
        Self { unsaid: 0.0, reserve: 0.0, chosen: 0.0, near: 0.5, is_coarse: false, lost: (0.0, 0.0) };
    /// A third of the causes unsaid, reserve on half the sets that reach their target, a sixth stopped by choice.
    pub const MIXED: Self = Self { unsaid: 1.0 / 3.0, reserve: 0.5, chosen: 1.0 / 6.0, ..Self::PLAIN };
}

/// A set to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// What for.
    pub purpose: Purpose,
    /// The rung.
    pub rung: RungIx,
    /// Shadings.
    pub shadings: Vec<ShadingId>,
    /// Kilograms added.
    pub load_kg: f64,
    /// Target; nothing for a set to the limit.
    pub target: Option<u16>,
    /// Rest before it, seconds.
    pub rest_seconds: u16,
}

/// A simulated athlete.
pub struct Trainee<'s> {
    /// What they are coached with.
    pub setup: &'s Setup,
    /// Seed and number.
    pub who: Who,
    /// What is true.
    pub truth: Truth,
    /// What the service believes.
    pub state: AthleteState,
    /// What the service remembers of the training.
    pub history: History,
    /// Every set as it was told, in order.
    pub log: Vec<SetEntry>,
    /// Sets done so far.
    pub sets: u32,
    /// Today.
    pub date: CivilDate,
    number: i64,
    scratch: Scratch,
    telling: Dice,
    silence: Dice,
    is_untold: bool,
}

impl<'s> Trainee<'s> {
    /// A new athlete, drawn from the model's prior.
    pub fn new(setup: &'s Setup, who: Who) -> Self {
        Self {
            setup,
            who,
            truth: Truth::new(setup, who),
            state: AthleteState::new(&setup.model.parameters),
            history: History::default(),
            log: Vec::new(),
            sets: 0,
            date: setup.start,
            number: 0,
            scratch: Scratch::default(),
            telling: who.dice(4),
            silence: who.side_dice(Side::Silence),
            is_untold: false,
        }
    }

    /// A training day begins.
    pub fn enter(&mut self, date: CivilDate) {
        self.date = date;
        self.number = 0;
        self.is_untold = self.silence.chance(self.setup.telling.lost.0);
        self.truth.enter(date.day_number());
    }

    /// Asks something of the situation as the service sees it today.
    pub fn ask<T>(&self, question: impl FnOnce(&Situation<'_>) -> T) -> T {
        let setup = self.setup;
        let state = self.state.on(&setup.model.parameters, self.date.day_number());
        question(&Situation {
            model: &setup.model,
            state: &state,
            history: &self.history,
            profile: &setup.profile,
            policy: &setup.policy,
            date: self.date,
        })
    }

    /// The task of a set.
    pub fn task(&self, work: &Work) -> Task {
        let catalog = &self.setup.model.catalog;
        let share = catalog.rung(work.rung).load_share.as_ref().map(|(share, _)| *share);
        let load = Grams::from_kg(work.load_kg, -200.0, 200.0).filter(|_| work.load_kg != 0.0);
        Task::new(catalog, work.rung, &work.shadings, mass_ratio(share, self.setup.profile.body_mass, load))
    }

    /// Does a set and tells the service, unless nobody ever hears of it. Fails when the set as told is not a sound one: a fault of the simulation.
    pub fn perform(&mut self, work: &Work) -> Result<(Task, Performed), Vec<Problem>> {
        let catalog = &self.setup.model.catalog;
        let unit = catalog.rung(work.rung).unit;
        let task = self.task(work);
        let done = self.truth.perform(&task, work.target, work.rest_seconds);
        self.sets += 1;
        let is_lost = self.silence.chance(self.setup.telling.lost.1) || self.is_untold;
        self.number += i64::from(!is_lost);
        let (y, m, d) = self.date.parts();
        let mut draft = SetDraft {
            client_set_id: format!("s{}", self.sets),
            training_date: Some((i64::from(y), i64::from(m), i64::from(d))),
            session: 1,
            set_number: self.number,
            rung: catalog.name(work.rung).to_string(),
            purpose: Choice::Known(work.purpose),
            shadings: work.shadings.iter().map(ToString::to_string).collect(),
            done: Some((unit, i64::from(done.units))),
            planned_target: work.target.map(i64::from),
            stop: Choice::Known(done.stop),
            rest_seconds: Some(i64::from(work.rest_seconds)),
            load_kg: (work.load_kg != 0.0).then_some(work.load_kg),
            pain: done.pain.map(i64::from),
            ..SetDraft::default()
        };
        self.tell(&mut draft, &done, unit);
        if is_lost {
            return Ok((task, done));
        }
        let entry = draft.check(&Setting { catalog, profile: &self.setup.profile, today: self.date })?;
        if let Some((task, told)) = self.setup.model.read(&entry) {
            self.hear(&task, &told);
        }
        self.history.observe(catalog, &entry);
        self.log.push(entry);
        Ok((task, done))
    }

    fn hear(&mut self, task: &Task, told: &Done) {
        self.state.observe(&self.setup.model, &mut self.scratch, (task, told));
    }

    /// What the athlete says of a set. The draws do not depend on what was done, so that policies can be compared on equal
    /// luck.
    fn tell(&mut self, draft: &mut SetDraft, done: &Performed, unit: Unit) {
        let telling = self.setup.telling;
        let luck: [f64; 4] = std::array::from_fn(|_| self.telling.unit());
        let error = self.telling.normal();
        if done.stop.is_failure() && luck[0] < telling.unsaid {
            draft.stop = Choice::Known(Stop::Failed);
        }
        if luck[1] < telling.chosen && done.pain.is_none() {
            self.choose_to_stop(draft, done, (luck[2], luck[3]));
        } else if done.stop == Stop::Target && unit == Unit::Reps && luck[2] < telling.reserve {
            draft.reps_in_reserve = self.reserve(done, error);
        }
    }

    /// Stops by choice below the target as F-05 has it: near the limit anywhere in the window, or far from it anywhere.
    fn choose_to_stop(&self, draft: &mut SetDraft, done: &Performed, (kind, place): (f64, f64)) {
        let window = self.setup.truth.chosen.window;
        let there = i64::from(crate::simulate::truth::whole(done.capacity));
        let among = |n: i64| {
            let n = i32::try_from(n).unwrap_or(0);
            #[expect(clippy::cast_possible_truncation, reason = "a whole number below n")]
            let drawn = libm::floor(place * f64::from(n)) as i64;
            drawn
        };
        let Some(target) = draft.planned_target else { return };
        let units =
            if kind < self.setup.telling.near { there - among(i64::from(window)) } else { among(target) };
        if units <= there && (0..target).contains(&units) {
            draft.done = draft.done.map(|(unit, _)| (unit, units));
            draft.stop = Choice::Known(Stop::Chosen);
        }
    }

    /// Reps in reserve as the athlete would claim them.
    fn reserve(&self, done: &Performed, error: f64) -> Option<i64> {
        let (ability, ln_capacity) = done.strength?;
        let reserve = &self.setup.truth.reserve;
        let capacity = libm::exp(ln_capacity);
        let left = (capacity - f64::from(done.units)).max(0.0);
        let sd = (reserve.error + reserve.growth * left) / capacity;
        let claimed = libm::exp(ln_capacity + self.truth.bias(ability) + sd * error);
        let whole = crate::simulate::truth::whole((claimed - f64::from(done.units)).clamp(0.0, 10.0));
        let is_coarse = self.setup.telling.is_coarse;
        Some(i64::from(if is_coarse { coarse(whole) } else { whole }))
    }
}

/// A claim in the nearest of three words: none, a couple, plenty.
fn coarse(claimed: u16) -> u16 {
    match claimed {
        0..=1 => 0,
        2..=3 => 2,
        _ => 5,
    }
}
