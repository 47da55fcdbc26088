//! Tasks: a rung with its shadings and load, as the model sees it (F-02).

use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::measure::Grams;

/// Most demands of a rung, held by the ladder checker.
pub const MOST_DEMANDS: usize = 4;
/// Most shadings the model tells apart on one set; more are counted in the difficulty alone.
pub const MOST_SHADINGS: usize = 3;

/// Names a coordinate of an ability's state: the athlete's own departure on a rung or on a shading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct OffsetKey(u32);

impl OffsetKey {
    /// The departure on a rung.
    pub fn rung(rung: RungIx) -> Self {
        Self(u32::from(rung.0))
    }

    /// The departure on a shading: the ladder's first rung, and the shading's place on the ladder.
    fn shading(first_rung: RungIx, shading: usize) -> Self {
        let place = u32::try_from(shading).unwrap_or(0xfff) & 0xfff;
        Self(1 << 31 | u32::from(first_rung.0) << 12 | place)
    }

    /// The rung, when this is the departure on one.
    pub fn as_rung(self) -> Option<RungIx> {
        if self.0 >> 31 == 0 { u16::try_from(self.0).ok().map(RungIx) } else { None }
    }
}

/// An offset that takes part in a task, with the variance of its prior beyond the kind's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offset {
    /// Which one.
    pub key: OffsetKey,
    /// Variance of the file's difficulty or change, ln units squared.
    pub file_variance: f64,
    /// True for a rung: the athlete's own spread is added.
    pub own: bool,
}

/// What a task asks of one ability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaskDemand {
    /// The ability.
    pub ability: AbilityIx,
    /// Its kind.
    pub kind: AbilityKind,
    /// Difficulty with shadings, ln units.
    pub difficulty: f64,
    offsets: [Offset; 1 + MOST_SHADINGS],
    offset_count: usize,
}

impl TaskDemand {
    /// Offsets that take part.
    pub fn offsets(&self) -> &[Offset] {
        &self.offsets[..self.offset_count]
    }
}

/// A rung with its shadings and load.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// The rung.
    pub rung: RungIx,
    /// Mass moved with load over mass moved without; 1 without load.
    pub mass_ratio: f64,
    demands: [TaskDemand; MOST_DEMANDS],
    demand_count: usize,
}

impl Task {
    /// Builds a task. Shadings the ladder does not know are passed over, since a set that was logged when the ladder had
    /// them must still count.
    pub fn new(catalog: &Catalog, rung: RungIx, shadings: &[ShadingId], mass_ratio: f64) -> Self {
        let ladder = catalog.ladder_of(rung);
        let position = u16::try_from(catalog.position(rung)).unwrap_or(0);
        let first_rung = RungIx(rung.0 - position);
        let base = Offset { key: OffsetKey::rung(rung), file_variance: 0.0, own: true };
        let blank = TaskDemand {
            ability: AbilityIx(0),
            kind: AbilityKind::Strength,
            difficulty: 0.0,
            offsets: [base; 1 + MOST_SHADINGS],
            offset_count: 1,
        };
        let mut task = Self { rung, mass_ratio, demands: [blank; MOST_DEMANDS], demand_count: 0 };
        for demand in catalog.rung(rung).demands.iter().take(MOST_DEMANDS) {
            let mut item = TaskDemand {
                ability: demand.ability,
                kind: catalog.ability(demand.ability).kind,
                difficulty: demand.difficulty,
                ..blank
            };
            item.offsets[0].file_variance = demand.sd * demand.sd;
            for id in shadings {
                let Some(at) = ladder.shadings.iter().position(|s| s.id == *id) else { continue };
                let shading = &ladder.shadings[at];
                let Some((_, change)) = shading.change.iter().find(|(a, _)| *a == demand.ability) else {
                    continue;
                };
                item.difficulty += change;
                if item.offset_count <= MOST_SHADINGS {
                    let key = OffsetKey::shading(first_rung, at);
                    let file_variance = shading.sd * shading.sd;
                    item.offsets[item.offset_count] = Offset { key, file_variance, own: false };
                    item.offset_count += 1;
                }
            }
            task.demands[task.demand_count] = item;
            task.demand_count += 1;
        }
        task
    }

    /// The same task with difficulties and changes taken as exact: what the file doubts of them is left out.
    #[must_use]
    pub fn with_exact_difficulties(mut self) -> Self {
        self.demands.iter_mut().flat_map(|demand| &mut demand.offsets).for_each(|o| o.file_variance = 0.0);
        self
    }

    /// What the task asks, by ability.
    pub fn demands(&self) -> &[TaskDemand] {
        &self.demands[..self.demand_count]
    }
}

/// Mass moved with `load` over mass moved without, for a body of which `share` is moved; 1 when anything is unknown.
pub fn mass_ratio(share: Option<f64>, body_mass: Option<Grams>, load: Option<Grams>) -> f64 {
    match (share, body_mass, load) {
        (Some(share), Some(body), Some(load)) => {
            let moved = share * body.kg();
            (moved + load.kg()) / moved
        }
        _ => 1.0,
    }
}
