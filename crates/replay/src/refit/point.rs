//! Point: where a refit stands: difficulties, starts and turns of the dials (F-09).

use std::collections::BTreeMap;

use nextrung_capacity::params::Parameters;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::adjustment::{Adjustment, Start, Step};
use nextrung_domain::catalog::Catalog;

use super::dial::{Dial, LEAST_SD};
use super::reach::Demand;

/// Difficulties, starts and turns of the dials.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Difficulties that may move, ln units.
    pub steps: BTreeMap<Demand, f64>,
    /// By ability: mean and standard deviation of the starting level, ln units.
    pub starts: Vec<(f64, f64)>,
    /// How far each dial of the plan was turned.
    pub turns: Vec<f64>,
}

impl Point {
    /// Where the catalog of the parent stands, no dial turned.
    pub fn of(catalog: &Catalog, free: &[Demand], dials: usize) -> Self {
        let difficulty =
            |(ability, rung)| catalog.rung(rung).demand_on(ability).map_or(0.0, |asked| asked.difficulty);
        Self {
            steps: free.iter().map(|demand| (*demand, difficulty(*demand))).collect(),
            starts: catalog.abilities().iter().map(|a| (a.start_level, a.start_sd.max(LEAST_SD))).collect(),
            turns: vec![0.0; dials],
        }
    }

    /// The parameters, from those of the parent. Departures keep some spread, however small.
    pub fn parameters(&self, parent: &Parameters, dials: &[Dial]) -> Parameters {
        let mut parameters = parent.clone();
        for kind in &mut parameters.kinds {
            kind.offset_sd = kind.offset_sd.max(LEAST_SD);
        }
        for (dial, turn) in dials.iter().zip(&self.turns) {
            dial.turn(&mut parameters, *turn);
        }
        parameters
    }

    /// Difficulties with their doubt, and the starts of `abilities`, under the names the ladders use.
    pub fn adjustment(
        &self,
        catalog: &Catalog,
        abilities: impl IntoIterator<Item = AbilityIx>,
        doubt: impl Fn(Demand) -> f64,
    ) -> Adjustment {
        let step = |(demand, difficulty): (&Demand, &f64)| Step {
            rung: catalog.name(demand.1),
            ability: catalog.ability(demand.0).id.clone(),
            difficulty: *difficulty,
            sd: doubt(*demand),
        };
        let start = |ability: AbilityIx| {
            let (level, sd) = self.starts[ability.at()];
            Start { ability: catalog.ability(ability).id.clone(), level, sd }
        };
        Adjustment {
            steps: self.steps.iter().map(step).collect(),
            starts: abilities.into_iter().map(start).collect(),
        }
    }
}
