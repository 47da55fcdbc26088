//! Scene: what the tests of crowds share.

use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::simulate::crowd::{CrowdPlan, Roster, SimulatedAthlete, roster};
use nextrung_replay::simulate::family::Family;
use nextrung_replay::simulate::world::{PULL, World};

pub(crate) const SEED: u64 = 20_261_128;

pub(crate) fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

pub(crate) fn plan(family: Family, world: World, athletes: u64) -> CrowdPlan {
    CrowdPlan { families: vec![family], worlds: vec![world], athletes, weeks: 16, seed: SEED }
}

pub(crate) fn crowd(family: Family, world: World, athletes: u64) -> Roster {
    roster(&catalog(), plan(family, world, athletes)).unwrap()
}

/// Pullers of a family.
pub(crate) fn pullers(family: Family, athletes: u64) -> Vec<SimulatedAthlete> {
    crowd(family, PULL, athletes).athletes().map(Result::unwrap).collect()
}

/// A count as a number.
pub(crate) fn number(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap())
}
