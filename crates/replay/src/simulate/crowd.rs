//! Crowd: rosters of any size whose truth is known, athlete by athlete.
//!
//! An athlete's bits follow from the plan's lists and weeks, the seed and the athlete's number alone, so that any part of a
//! roster can be made by itself. [`mail`] brings their sets into a log, [`foretold`] says what somebody who knows the truth
//! would have said of each set, [`files`] writes a roster as files.

use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::BadId;

use crate::athlete_log::AthleteLog;
use crate::score::ScoreError;
use crate::simulate::chooser::Look;
use crate::simulate::crowd::foretold::OracleSet;
use crate::simulate::family::Family;
use crate::simulate::scene::SimulationError;
use crate::simulate::season::{Season, Watcher};
use crate::simulate::standing::Standing;
use crate::simulate::trainee::{Setup, Trainee};
use crate::simulate::who::{Side, Who};
use crate::simulate::world::World;

pub mod files;
pub mod foretold;
pub mod mail;

/// What a roster is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct CrowdPlan {
    /// Kinds of truth, taken in turn.
    pub families: Vec<Family>,
    /// Worlds, taken in turn for each round of families.
    pub worlds: Vec<World>,
    /// How many athletes.
    pub athletes: u64,
    /// Weeks of training of each.
    pub weeks: i32,
    /// The master seed.
    pub seed: u64,
}

/// Why an athlete could not be made.
#[derive(Debug, thiserror::Error)]
pub enum CrowdError {
    /// The plan names no family or no world.
    #[error("a roster needs a family and a world")]
    Nobody,
    /// The ladders lack what a world needs.
    #[error("the world {world} cannot be set up")]
    Scene {
        /// The world's name.
        world: &'static str,
        /// Why.
        #[source]
        source: SimulationError,
    },
    /// The goal is on no ladder, or a set was not sound.
    #[error("athlete {number} cannot be simulated")]
    Simulation {
        /// The athlete's number.
        number: u64,
        /// Why.
        #[source]
        source: SimulationError,
    },
    /// The truth's own chances are none.
    #[error("what is true of a set of athlete {number} gives no chances")]
    Chances {
        /// The athlete's number.
        number: u64,
        /// Why.
        #[source]
        source: ScoreError,
    },
    /// A set's key is too long to be doubled.
    #[error("a set of athlete {number} has no sound key")]
    Key {
        /// The athlete's number.
        number: u64,
        /// Why.
        #[source]
        source: BadId,
    },
}

/// One athlete with all that is known of them.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedAthlete {
    /// What reached the log.
    pub log: AthleteLog,
    /// One for each set that stands at the end of the log, in training order.
    pub oracle: Vec<OracleSet>,
    /// The family's name.
    pub family: &'static str,
    /// The world.
    pub world: World,
    /// Sets truly done, of which some may never have been told.
    pub performed: u32,
}

/// A roster, made as it is asked for.
#[derive(Debug, Clone)]
pub struct Roster {
    scenes: Vec<(Family, World, Setup)>,
    plan: CrowdPlan,
}

/// A roster by its plan; nobody is simulated yet.
///
/// # Errors
///
/// [`CrowdError`] when the plan names no family or no world, or the ladders lack what a world needs.
pub fn roster(catalog: &Arc<Catalog>, plan: CrowdPlan) -> Result<Roster, CrowdError> {
    let mut scenes = Vec::new();
    for world in &plan.worlds {
        for family in &plan.families {
            let setup = family.setup(catalog, world);
            let setup = setup.map_err(|source| CrowdError::Scene { world: world.name, source })?;
            scenes.push((*family, *world, setup));
        }
    }
    if scenes.is_empty() { Err(CrowdError::Nobody) } else { Ok(Roster { scenes, plan }) }
}

impl Roster {
    /// Every athlete, in order, each made when it is its turn.
    pub fn athletes(&self) -> impl Iterator<Item = Result<SimulatedAthlete, CrowdError>> + '_ {
        (0..self.plan.athletes).map(|number| self.athlete(number))
    }

    /// The athlete of a number, whether the plan goes so far or not.
    ///
    /// # Errors
    ///
    /// [`CrowdError`]: a fault of the simulation or of the ladders.
    pub fn athlete(&self, number: u64) -> Result<SimulatedAthlete, CrowdError> {
        let (family, world, setup) = self.scene(number)?;
        let mut notes = Notes::default();
        let trainee = self.follow(number, &mut notes)?;
        let told = trainee.log.iter().zip(&notes.standings);
        let oracle: Result<Vec<OracleSet>, ScoreError> =
            told.map(|(set, standing)| OracleSet::new(set, *standing)).collect();
        let sender = (&setup.profile, setup.start);
        let events =
            mail::deliver(&family.mail, sender, &trainee.log, &mut trainee.who.side_dice(Side::Mail));
        Ok(SimulatedAthlete {
            log: AthleteLog {
                athlete: name(number),
                events: events.map_err(|source| CrowdError::Key { number, source })?,
            },
            oracle: oracle.map_err(|source| CrowdError::Chances { number, source })?,
            family: family.name,
            world: *world,
            performed: trainee.sets,
        })
    }

    /// An athlete's training as it truly goes, before anything of it is sent.
    ///
    /// # Errors
    ///
    /// As [`Roster::athlete`].
    pub fn follow(&self, number: u64, watcher: &mut dyn Watcher) -> Result<Trainee<'_>, CrowdError> {
        let (family, world, setup) = self.scene(number)?;
        let failed = |source| CrowdError::Simulation { number, source };
        let who = Who { seed: self.plan.seed, number };
        let season = Season::new(setup, who, (family.chooser, family.habit))
            .ok_or(failed(SimulationError::NoRung { rung: world.goal }))?;
        let refused = |problems| failed(SimulationError::Refused { what: "a set", problems });
        season.train(self.plan.weeks, watcher).map_err(refused)
    }

    /// What the athlete of a number is coached with.
    fn scene(&self, number: u64) -> Result<&(Family, World, Setup), CrowdError> {
        let count = u64::try_from(self.scenes.len()).unwrap_or(1);
        let at = usize::try_from(number % count.max(1)).unwrap_or(0);
        self.scenes.get(at).ok_or(CrowdError::Nobody)
    }
}

/// The athlete's id in logs and files.
fn name(number: u64) -> String {
    format!("athlete-{number:07}")
}

/// What was true of each set that was told, in order.
#[derive(Default)]
struct Notes {
    standings: Vec<Standing>,
}

impl Watcher for Notes {
    fn set(&mut self, look: &Look<'_, '_>) {
        // A set that nobody hears of is not in the log.
        if look.trainee.log.len() > self.standings.len() {
            self.standings.push(look.performed.standing);
        }
    }
}
