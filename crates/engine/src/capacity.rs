//! Capacity: what an athlete is estimated to do, rung by rung.

use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::Strain;
use nextrung_capacity::state::{AbilityState, AthleteState, LEVEL, SLOPE};
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, LadderId};
use nextrung_prescribe::policy::Policy;
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;

/// Levels of the central intervals.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.95];
/// Days of a week.
const WEEK: f64 = 7.0;

/// Estimated capacity on one rung, units of the rung.
#[derive(Debug, Clone, PartialEq)]
pub struct RungCapacity {
    /// The rung.
    pub rung: RungIx,
    /// Median.
    pub median: f64,
    /// Central intervals, in the order of [`LEVELS`].
    pub intervals: [(f64, f64); 3],
    /// The working band.
    pub band: Band,
    /// Chance of its lower end.
    pub p_band_low: f64,
}

/// Estimated level of one ability, ln units on its anchor rung.
#[derive(Debug, Clone, PartialEq)]
pub struct AbilityLevel {
    /// The ability.
    pub ability: AbilityIx,
    /// Mean and standard deviation of the level.
    pub level: (f64, f64),
    /// Mean and standard deviation of the trend, ln units a week.
    pub trend: (f64, f64),
}

/// What an athlete is estimated to do.
#[derive(Debug, Clone, PartialEq)]
pub struct CapacityEstimate {
    /// By rung, in catalog order.
    pub rungs: Vec<RungCapacity>,
    /// By ability that those rungs demand, in the order of their ids.
    pub abilities: Vec<AbilityLevel>,
    /// Sequence of the last event it rests on; 0 when it was made from a bare state.
    pub position: u64,
}

impl<S: Store> Engine<S> {
    /// Estimates capacity on a day from the sets trained up to and on it, on the rungs of some ladders, or of all when
    /// none is named. Fails when the athlete does not exist, or on a day before birth or too far ahead.
    pub async fn estimate_capacity(
        &self,
        athlete: &AthleteRef,
        date: CivilDate,
        ladders: &[LadderId],
    ) -> Result<CapacityEstimate, EngineError> {
        let head = self.head(athlete).await?;
        self.check_day(date, &head.profile)?;
        let policy = self.policy_for(athlete, &head).await?;
        let folded = self.folded_for(athlete, &head, date.plus_days(1)).await?;
        let state = folded.state.on(&self.model.parameters, date.day_number());
        let catalog = &self.model.catalog;
        let wanted = |rung: RungIx| ladders.is_empty() || ladders.contains(&catalog.ladder_of(rung).id);
        let found = estimate(&self.model, &state, &policy, wanted);
        Ok(CapacityEstimate { position: head.position, ..found })
    }
}

/// Estimates from a state at the start of a session.
pub(crate) fn estimate(
    model: &Model,
    state: &AthleteState,
    policy: &Policy,
    wanted: impl Fn(RungIx) -> bool,
) -> CapacityEstimate {
    let catalog = &model.catalog;
    let all = catalog.ladders().iter().flat_map(|l| catalog.rungs_of(&l.id));
    let wanted: Vec<RungIx> = all.filter(|rung| wanted(*rung)).collect();
    let demands = wanted.iter().flat_map(|rung| catalog.rung(*rung).demands.iter());
    let mut demanded: Vec<AbilityIx> = demands.map(|demand| demand.ability).collect();
    demanded.sort_unstable_by_key(|ability| &catalog.ability(*ability).id);
    demanded.dedup();
    CapacityEstimate {
        rungs: wanted.into_iter().map(|rung| on_rung(model, state, policy, rung)).collect(),
        abilities: demanded.into_iter().map(|ability| on_ability(model, state, ability)).collect(),
        position: 0,
    }
}

fn on_ability(model: &Model, state: &AthleteState, ability: AbilityIx) -> AbilityLevel {
    let unmet = || AbilityState::prior(model, ability, 0);
    let block = state.block(ability).cloned().unwrap_or_else(unmet);
    let (level, slope) = (block.about(LEVEL), block.about(SLOPE));
    AbilityLevel {
        ability,
        level: (level.mean, level.variance.sqrt()),
        trend: (WEEK * slope.mean, WEEK * slope.variance.sqrt()),
    }
}

fn on_rung(model: &Model, state: &AthleteState, policy: &Policy, ix: RungIx) -> RungCapacity {
    let rung = model.catalog.rung(ix);
    let outlook = state.outlook(model, &Task::new(&model.catalog, ix, &[], 1.0));
    let most = f64::from(rung.unit.most());
    let quantile = |p: f64| outlook.quantile(p).min(most);
    let band = policy.working_band(rung);
    RungCapacity {
        rung: ix,
        median: quantile(0.5),
        intervals: LEVELS.map(|level| (quantile(0.5 - 0.5 * level), quantile(0.5 + 0.5 * level))),
        band,
        p_band_low: outlook.at_least(f64::from(band.low), Strain::NONE),
    }
}
