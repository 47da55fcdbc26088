//! Scene: the setup of a world with the service's default parameters and policy.

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::adjustment::AdjustmentProblem;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::{BadDate, CivilDate};
use nextrung_domain::problem::Problem;
use nextrung_prescribe::policy::Policy;

use crate::simulate::growth::Growth;
use crate::simulate::noise::Noise;
use crate::simulate::trainee::{Setup, Telling};
use crate::simulate::world::World;

/// Why a simulation could not be run.
#[derive(Debug, thiserror::Error)]
pub enum SimulationError {
    /// The first day is no date.
    #[error("the first day of training is no date")]
    BadDay {
        /// Why.
        #[from]
        source: BadDate,
    },
    /// A profile or a set was refused: the ladders lack what the world needs, or the simulation tells impossible sets.
    #[error("{} problems in {what}, the first: {}", problems.len(), problems.first().map_or_else(String::new, ToString::to_string))]
    Refused {
        /// What was refused.
        what: &'static str,
        /// Every problem.
        problems: Vec<Problem>,
    },
    /// The true ladders name what the files lack.
    #[error("{} numbers of the true ladders have no place", problems.len())]
    Ladders {
        /// Every problem.
        problems: Vec<AdjustmentProblem>,
    },
    /// The world's goal or reference stands on no ladder.
    #[error("no ladder has {rung}")]
    NoRung {
        /// The rung.
        rung: &'static str,
    },
}

impl Setup {
    /// A world with defaults; training starts on Monday 2026-01-05.
    pub fn of_world(
        catalog: &Arc<Catalog>,
        world: &World,
        noise: Noise,
        telling: Telling,
    ) -> Result<Self, SimulationError> {
        let start = CivilDate::from_parts(2026, 1, 5)?;
        let refused = |problems| SimulationError::Refused { what: "the profile", problems };
        let parameters = Parameters::default();
        Ok(Self {
            model: Model::new(Arc::clone(catalog), parameters.clone()),
            policy: Policy::default(),
            profile: world.profile(catalog, start).map_err(refused)?,
            start,
            noise,
            truth: parameters,
            growth: Growth::Trend,
            ache: None,
            ladders: Arc::clone(catalog),
            telling,
        })
    }

    /// The training days of the first weeks.
    pub fn training_days(&self, weeks: i32) -> impl Iterator<Item = CivilDate> {
        let days = (0..7 * weeks).map(|day| self.start.plus_days(day));
        days.filter(|date| self.profile.days.has(date.weekday()))
    }
}
