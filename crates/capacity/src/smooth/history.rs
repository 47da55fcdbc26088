//! History: a log read once by the filter and taken apart into one chain per ability (F-08).

use std::collections::BTreeMap;

use nextrung_domain::ability::AbilityIx;

use super::LOOK;
use super::chain::{Chain, Word};
use super::hindsight::SmoothedAbility;
use crate::done::Done;
use crate::evidence::{self, Either, Evidence, Standing, observe_either};
use crate::filter::{Scratch, Told};
use crate::linear::Moments;
use crate::logistic::{self, Noise, Pair, PairUpdate};
use crate::model::Model;
use crate::state::{AbilityState, AthleteState, Entry, Row};
use crate::task::{MOST_DEMANDS, Task, TaskDemand};
use crate::truncated::{Gaussian, Update};

/// What one set told one ability.
#[derive(Debug, Clone)]
pub(super) struct Hearing {
    row: Row,
    noise: Noise,
    shift: f64,
    evidence: Evidence,
    /// False when another ability already counts the probability of the set.
    counts: bool,
}

impl Hearing {
    fn standing(&self, before: &Pair) -> Standing {
        let belief = Gaussian { mean: before.mean[0] - self.shift, variance: before.covariance[0] };
        Standing { belief, noise: self.noise }
    }
}

impl Word for Hearing {
    fn row(&self) -> &[(usize, f64)] {
        self.row.entries()
    }

    fn speaks_of_bias(&self) -> bool {
        matches!(self.evidence, Evidence::Reported { .. })
    }

    fn hear(&self, before: &Pair) -> PairUpdate {
        let Standing { belief, noise } = self.standing(before);
        let alone = |Update { log_mass, posterior }: Update| PairUpdate {
            log_mass,
            posterior: Pair {
                mean: [posterior.mean, before.mean[1]],
                covariance: [posterior.variance, 0.0, before.covariance[2]],
            },
        };
        let mut update = match &self.evidence {
            Evidence::Nothing => alone(Update { log_mass: 0.0, posterior: belief }),
            Evidence::Within(interval) => alone(logistic::observe(belief, noise, *interval)),
            Evidence::Either(either) => alone(observe_either(belief, noise, either).0),
            Evidence::Reported { ln_done, report } => {
                let shifted = Pair { mean: [belief.mean, before.mean[1]], ..*before };
                logistic::observe_report(&shifted, noise, *ln_done, *report)
            }
        };
        update.posterior.mean[0] += self.shift;
        if !self.counts {
            update.log_mass = 0.0;
        }
        update
    }
}

/// One ability while the log is being read. Its block stays at the prior and only gains the offsets that are met.
#[derive(Debug, Clone)]
struct Draft {
    prior: AbilityState,
    stands: Vec<Stand>,
    hearings: Vec<Hearing>,
}

impl Draft {
    fn new(prior: AbilityState) -> Self {
        Self { prior, stands: Vec::new(), hearings: Vec::new() }
    }

    fn enter(&mut self, entry: Option<Entry>, (day, session): (i32, u8)) {
        let Some(entry) = entry else { return };
        let day = self.stands.last().map_or(day, |last| last.day.max(day));
        self.stands.push(Stand { day, session, entry, first: self.hearings.len() });
    }

    /// Keeps what a set told; returns its place.
    fn hear(&mut self, model: &Model, demand: &TaskDemand, (told, counts): (&Told, bool)) -> usize {
        let p = model.parameters.of(demand.kind);
        let row = self.prior.row_mut(p, demand);
        let Told { evidence, shift, .. } = *told;
        let evidence = if is_shared(&evidence) { Evidence::Nothing } else { evidence };
        self.hearings.push(Hearing { row, noise: p.noise(), shift, evidence, counts });
        self.hearings.len() - 1
    }
}

/// Where a session stands, the entry into it, and the place of its first hearing.
#[derive(Debug, Clone, Copy)]
struct Stand {
    day: i32,
    session: u8,
    entry: Entry,
    first: usize,
}

/// One ability's chain, and where its sessions stand.
#[derive(Debug, Clone)]
pub(super) struct Strand {
    pub(super) chain: Chain<Hearing>,
    prior: AbilityState,
    stands: Vec<Stand>,
}

impl Strand {
    fn of(Draft { prior, stands, hearings }: Draft) -> Self {
        let start = Moments { mean: prior.mean.clone(), covariance: prior.covariance.clone() };
        let chain = Chain::new(start, hearings, stands.iter().map(|stand| (stand.entry, stand.first)));
        Self { chain, prior, stands }
    }

    /// The block in each session, as the whole history has it.
    pub(super) fn hindsight(&mut self) -> SmoothedAbility {
        let node = |(moments, stand): (Moments, &Stand)| AbilityState {
            mean: moments.mean,
            covariance: moments.covariance,
            day: stand.day,
            session: stand.session,
            last_work: stand.day,
            ..self.prior.clone()
        };
        let nodes = self.chain.hindsight().into_iter().zip(&self.stands).map(node).collect();
        SmoothedAbility { ability: self.prior.ability, nodes }
    }
}

/// A failure whose cause was not said, and its place in the chain of each ability of its task.
#[derive(Debug, Clone)]
struct Blame<'a> {
    set: &'a (Task, Done),
    places: Vec<usize>,
}

/// Share of stops by choice made near the limit; a failure is read without it.
const BY_CHOICE: f64 = 0.5;

/// A log, taken apart.
#[derive(Debug, Clone)]
pub(super) struct History<'a> {
    model: &'a Model,
    pub(super) strands: BTreeMap<AbilityIx, Strand>,
    blames: Vec<Blame<'a>>,
}

impl<'a> History<'a> {
    /// Runs the filter over the log and keeps what it was told. Blame that several abilities may share waits until
    /// every other set was heard by all of them: there may be more than one way to share it that agrees with itself,
    /// and the one found must not hang on the order of the sets.
    pub(super) fn read(model: &'a Model, sets: &'a [(Task, Done)], mut looks: &[i32]) -> Self {
        let mut drafts = BTreeMap::new();
        let mut blames = Vec::new();
        let mut state = AthleteState::new(&model.parameters);
        let mut scratch = Scratch::default();
        for set in sets {
            let (task, done) = set;
            while let Some((day, later)) = looks.split_first().filter(|(day, _)| **day < done.day) {
                look_on(model, &mut state, &mut drafts, *day);
                looks = later;
            }
            let mut entries = [None; MOST_DEMANDS];
            for (entry, demand) in entries.iter_mut().zip(task.demands()) {
                *entry = entry_into(model, &state, demand, done);
            }
            let reading = state.observe(model, &mut scratch, (task, done));
            let mut places = Vec::new();
            for (at, demand) in task.demands().iter().enumerate() {
                let prior = || AbilityState::prior(model, demand.ability, done.day);
                let draft = drafts.entry(demand.ability).or_insert_with(|| Draft::new(prior()));
                draft.enter(entries[at], (done.day, done.session));
                let told = &reading.told()[at];
                let counts = !is_shared(&told.evidence) || places.is_empty();
                let place = draft.hear(model, demand, (told, counts));
                if is_shared(&told.evidence) {
                    places.push(place);
                }
            }
            if !places.is_empty() {
                blames.push(Blame { set, places });
            }
        }
        looks.iter().for_each(|day| look_on(model, &mut state, &mut drafts, *day));
        let strands = drafts.into_iter().map(|(ability, draft)| (ability, Strand::of(draft))).collect();
        let mut history = Self { model, strands, blames };
        if !history.blames.is_empty() {
            for strand in history.strands.values_mut() {
                strand.chain.sweep();
            }
            for blame in &history.blames {
                share_anew(model, &mut history.strands, blame);
            }
        }
        history
    }

    /// One sweep over every ability; after each, the blame it may have a part in is shared anew. Returns how far the
    /// furthest belief about a set moved.
    pub(super) fn sweep(&mut self) -> f64 {
        let mut furthest = 0.0_f64;
        let abilities: Vec<AbilityIx> = self.strands.keys().copied().collect();
        for ability in abilities {
            if let Some(strand) = self.strands.get_mut(&ability) {
                furthest = furthest.max(strand.chain.sweep());
            }
            let has_part = |blame: &&Blame<'_>| blame.set.0.demands().iter().any(|d| d.ability == ability);
            for blame in self.blames.iter().filter(has_part) {
                share_anew(self.model, &mut self.strands, blame);
            }
        }
        furthest
    }
}

/// What entering the set's session does to the ability's block, as the filter is about to do it.
fn entry_into(model: &Model, state: &AthleteState, demand: &TaskDemand, done: &Done) -> Option<Entry> {
    match state.block(demand.ability) {
        Some(block) => block.entry(&model.parameters, done.day, done.session),
        None => Some(Entry::first(model.parameters.of(demand.kind))),
    }
}

/// Every ability met so far goes through the end of a day, where nothing is done.
fn look_on(model: &Model, state: &mut AthleteState, drafts: &mut BTreeMap<AbilityIx, Draft>, day: i32) {
    for block in &mut state.blocks {
        if let Some(draft) = drafts.get_mut(&block.ability) {
            draft.enter(block.entry(&model.parameters, day, LOOK), (day, LOOK));
            block.enter(&model.parameters, day, LOOK);
        }
    }
}

fn is_shared(evidence: &Evidence) -> bool {
    matches!(evidence, Evidence::Either(Either { shared: true, .. }))
}

/// Shares the blame for a failure by what all other sets say of each ability.
fn share_anew(model: &Model, strands: &mut BTreeMap<AbilityIx, Strand>, blame: &Blame<'_>) {
    let (task, done) = blame.set;
    let standing = |(demand, place): (&TaskDemand, &usize)| {
        let (hearing, cavity) = strands[&demand.ability].chain.word(*place);
        hearing.standing(cavity)
    };
    let standings: Vec<Standing> = task.demands().iter().zip(&blame.places).map(standing).collect();
    let verdict = evidence::read(&model.parameters, task, done, &standings, BY_CHOICE);
    for ((demand, place), told) in task.demands().iter().zip(&blame.places).zip(verdict.by_demand) {
        if let Some(strand) = strands.get_mut(&demand.ability) {
            strand.chain.word_mut(*place).evidence = told;
        }
    }
}
