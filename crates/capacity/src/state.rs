//! State: what is believed about one athlete, one block of coordinates per ability.
//!
//! Abilities are independent given the sets' causes, so each keeps its own mean and covariance. Coordinates of a block:
//! level, slope, the day's form, the bias of reported reserve, then one offset per rung and shading met so far. An offset
//! not met yet has its prior and is independent of all else; adding it late is the same as having had it from the start.

use nextrung_domain::ability::{AbilityIx, AbilityKind};

use crate::dynamics::Transition;
use crate::linear::Sym;
use crate::model::Model;
use crate::params::{KindParameters, Parameters};
use crate::task::{Offset, OffsetKey, TaskDemand};
use crate::truncated::Gaussian;

/// Coordinate of the level.
pub const LEVEL: usize = 0;
/// Coordinate of the slope, ln units per day.
pub const SLOPE: usize = 1;
/// Coordinate of the day's form.
pub const DAY: usize = 2;
/// Coordinate of the bias of reported reserve.
pub const BIAS: usize = 3;
/// First offset.
pub const OFFSETS: usize = 4;

/// Correlation of a rung's departure with the level from which on the next bound says again what the last ones said.
const TOLD: f64 = 0.1;

/// Most entries of a row: level, day, and the offsets of one demand.
const MOST_ENTRIES: usize = 2 + 1 + crate::task::MOST_SHADINGS;

/// A sparse row that picks the predictor of a task out of a block.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    entries: [(usize, f64); MOST_ENTRIES],
    len: usize,
}

impl Row {
    fn base() -> Self {
        let mut row = Self { entries: [(0, 0.0); MOST_ENTRIES], len: 0 };
        row.push(LEVEL);
        row.push(DAY);
        row
    }

    fn push(&mut self, at: usize) {
        self.entries[self.len] = (at, 1.0);
        self.len += 1;
    }

    /// Coordinate of the departure on the rung, which comes first among the offsets.
    fn rung(&self) -> Option<usize> {
        self.entries().iter().map(|(at, _)| *at).find(|at| *at >= OFFSETS)
    }

    /// The entries.
    pub fn entries(&self) -> &[(usize, f64)] {
        &self.entries[..self.len]
    }
}

/// What the days between two sessions do to level and slope (F-03).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// The trend.
    pub transition: Transition,
    /// Change of the level by time off, ln units.
    pub shift: f64,
    /// Variance added to the level by time off and by what is still strange, ln units squared.
    pub doubt: f64,
}

/// What entering a session does to a block: the days in between (F-03), then a new form of the day (F-04).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// The days in between; nothing when the session is on the day of the one before.
    pub crossing: Option<Crossing>,
    /// Variance of the new day's form, ln units squared.
    pub day_variance: f64,
}

impl Entry {
    /// Into the first session of all.
    pub fn first(p: &KindParameters) -> Self {
        Self { crossing: None, day_variance: p.day_sd * p.day_sd }
    }

    /// Moves a block's mean and covariance into the session.
    pub fn apply(&self, mean: &mut [f64], covariance: &mut Sym) {
        if let Some(Crossing { transition, shift, doubt }) = &self.crossing {
            covariance.propagate(mean, (LEVEL, SLOPE), transition);
            mean[LEVEL] += shift;
            covariance.add(LEVEL, LEVEL, *doubt);
        }
        mean[DAY] = 0.0;
        covariance.renew(DAY, self.day_variance);
    }
}

/// Belief about one ability.
#[derive(Debug, Clone, PartialEq)]
pub struct AbilityState {
    /// Which.
    pub ability: AbilityIx,
    /// Its kind.
    pub kind: AbilityKind,
    /// Means by coordinate.
    pub mean: Vec<f64>,
    /// Covariance by coordinate.
    pub covariance: Sym,
    /// Keys of the offsets, in order of coordinates from [`OFFSETS`].
    pub keys: Vec<OffsetKey>,
    /// The day the block stands at, days since 1970-01-01.
    pub day: i32,
    /// First day of work on the ability.
    pub first_day: i32,
    /// Last day of work on the ability.
    pub last_work: i32,
    /// Session of the day the block stands in; 0 before any.
    pub session: u8,
    /// Work carried in this session, in sets to the limit (F-02).
    pub work: f64,
}

impl AbilityState {
    /// What is believed before the first set, as of `day`.
    pub fn prior(model: &Model, ability: AbilityIx, day: i32) -> Self {
        let about = model.catalog.ability(ability);
        let p = model.parameters.of(about.kind);
        let reserve = &model.parameters.reserve;
        let square = |sd: f64| sd * sd;
        Self {
            ability,
            kind: about.kind,
            mean: vec![about.start_level, p.slope_mean, 0.0, reserve.bias_mean],
            covariance: Sym::diagonal(&[
                square(about.start_sd),
                square(p.slope_sd),
                square(p.day_sd),
                square(reserve.bias_sd),
            ]),
            keys: Vec::new(),
            day,
            first_day: day,
            last_work: day,
            session: 0,
            work: 0.0,
        }
    }

    /// Moves the block to a session; nothing when it stands there already.
    pub fn enter(&mut self, parameters: &Parameters, day: i32, session: u8) {
        if let Some(entry) = self.entry(parameters, day, session) {
            entry.apply(&mut self.mean, &mut self.covariance);
            self.day = self.day.max(day);
            self.session = session;
            self.work = 0.0;
        }
    }

    /// What entering a session does to the block; nothing when it stands there already. Days never go back; an earlier
    /// one is taken for the present one.
    pub fn entry(&self, parameters: &Parameters, day: i32, session: u8) -> Option<Entry> {
        let p = parameters.of(self.kind);
        let crossing = (day > self.day).then(|| self.crossing(p, day));
        let entry = Entry { crossing, ..Entry::first(p) };
        (crossing.is_some() || session != self.session).then_some(entry)
    }

    fn crossing(&self, p: &KindParameters, day: i32) -> Crossing {
        let days = f64::from(day - self.day);
        let idle = f64::from(self.day - self.last_work);
        let (shift, doubt) = p.idleness().over(idle, days);
        let strange = p.familiarisation().over(f64::from(self.day - self.first_day), days);
        let trend = p.trend();
        let within = p.idleness().within_grace(idle, days);
        let transition = if within < days {
            trend.transition(within).then(&trend.standstill(days - within))
        } else {
            trend.transition(days)
        };
        Crossing { transition, shift, doubt: doubt + strange }
    }

    /// Belief about one coordinate.
    pub fn about(&self, coordinate: usize) -> Gaussian {
        let variance = self.covariance.get(coordinate, coordinate);
        Gaussian { mean: self.mean[coordinate], variance }
    }

    /// Coordinate of an offset, if it was met.
    pub fn coordinate(&self, key: OffsetKey) -> Option<usize> {
        self.keys.iter().position(|k| *k == key).map(|at| OFFSETS + at)
    }

    fn ensure(&mut self, p: &KindParameters, offset: &Offset) -> usize {
        self.coordinate(offset.key).unwrap_or_else(|| {
            self.keys.push(offset.key);
            self.mean.push(0.0);
            self.covariance.append(prior_variance(p, offset))
        })
    }

    /// The row of a demand; offsets not met yet are added to the block.
    pub fn row_mut(&mut self, p: &KindParameters, demand: &TaskDemand) -> Row {
        let mut row = Row::base();
        for offset in demand.offsets() {
            row.push(self.ensure(p, offset));
        }
        row
    }

    /// How much sets on the row's rung told so far, from nothing (0) to so much that the next one says it again in part (1): how
    /// far its departure hangs on the level.
    pub fn told(&self, row: &Row) -> f64 {
        let Some(offset) = row.rung() else { return 0.0 };
        let shared = self.covariance.get(offset, LEVEL);
        let enough = TOLD * TOLD * self.covariance.get(offset, offset) * self.covariance.get(LEVEL, LEVEL);
        if enough > 0.0 { (shared * shared / enough).min(1.0) } else { 0.0 }
    }

    /// The row of a demand without changing the block, and the variance of the offsets that were not met yet.
    pub fn row(&self, p: &KindParameters, demand: &TaskDemand) -> (Row, f64) {
        let mut row = Row::base();
        let mut unmet = 0.0;
        for offset in demand.offsets() {
            match self.coordinate(offset.key) {
                Some(at) => row.push(at),
                None => unmet += prior_variance(p, offset),
            }
        }
        (row, unmet)
    }

    /// Belief about the predictor eta of a demand (F-02), with the work carried so far.
    pub fn belief(&self, p: &KindParameters, demand: &TaskDemand) -> Gaussian {
        let (row, unmet) = self.row(p, demand);
        Gaussian {
            mean: crate::linear::dot(row.entries(), &self.mean) - demand.difficulty - p.fatigue * self.work,
            variance: self.covariance.quadratic(row.entries()) + unmet,
        }
    }

    /// Lets work fade over a rest (F-02).
    pub fn rest(&mut self, parameters: &Parameters, rest_seconds: Option<u16>) {
        if self.work > 0.0 {
            let seconds = rest_seconds.map_or(parameters.usual_rest_seconds, f64::from);
            self.work *= libm::exp(-seconds / parameters.recovery_seconds);
        }
    }
}

fn prior_variance(p: &KindParameters, offset: &Offset) -> f64 {
    let own = if offset.own { p.offset_sd * p.offset_sd } else { 0.0 };
    own + offset.file_variance
}

/// Belief about one athlete: a pure function of the ordered log, the ladders, the parameters and the model version.
#[derive(Debug, Clone, PartialEq)]
pub struct AthleteState {
    /// Blocks of the abilities met so far, in ability order.
    pub blocks: Vec<AbilityState>,
    /// Counts of stops by choice near the limit and far from it (F-05).
    pub chosen_counts: (f64, f64),
    /// Sets read so far.
    pub sets: u32,
}

impl AthleteState {
    /// Nothing known yet.
    pub fn new(parameters: &Parameters) -> Self {
        Self { blocks: Vec::new(), chosen_counts: parameters.chosen.prior_counts, sets: 0 }
    }

    /// The block of an ability, if it was met.
    pub fn block(&self, ability: AbilityIx) -> Option<&AbilityState> {
        self.blocks.binary_search_by_key(&ability, |b| b.ability).ok().map(|at| &self.blocks[at])
    }

    /// Place of an ability's block, made from the prior as of `day` when it was not met yet.
    pub fn place_of(&mut self, model: &Model, ability: AbilityIx, day: i32) -> usize {
        match self.blocks.binary_search_by_key(&ability, |b| b.ability) {
            Ok(at) => at,
            Err(at) => {
                self.blocks.insert(at, AbilityState::prior(model, ability, day));
                at
            }
        }
    }

    /// Share of stops by choice below the target that are made near the limit.
    pub fn chosen_near(&self) -> f64 {
        let (near, far) = self.chosen_counts;
        near / (near + far)
    }

    /// The same athlete as of a later day, at the start of a session there. The day never goes back.
    #[must_use]
    pub fn on(&self, parameters: &Parameters, day: i32) -> Self {
        let mut later = self.clone();
        for block in &mut later.blocks {
            let session = if day > block.day { 1 } else { block.session.saturating_add(1) };
            block.enter(parameters, day, session);
        }
        later
    }

    /// Bytes held on the heap and in the state itself, for the cache's budget.
    pub fn bytes(&self) -> usize {
        let block = |b: &AbilityState| {
            size_of::<AbilityState>()
                + b.mean.capacity() * size_of::<f64>()
                + size_of_val(b.covariance.packed())
                + b.keys.capacity() * size_of::<OffsetKey>()
        };
        size_of::<Self>() + self.blocks.iter().map(block).sum::<usize>()
    }
}
